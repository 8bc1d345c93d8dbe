"""Long logs are worked on in parts: the parts must say what the whole says."""

import importlib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial import study, wear
from bandtrial.watch import watch
from bandtrial.wear import summary
from bandtrial.wear import trust as checks

SAMPLE = Path(__file__).parent / "data/sample_study"
ROUNDING = 1e-9  # sums and products over a part of the cuts or bands round otherwise than over all


@pytest.fixture(scope="module", params=["draws", "normal"])
def fitted(request):
    """The sample, with draws for each band, and as a long log is fitted: normal about its best point."""
    module = importlib.import_module("bandtrial.wear.fitting")
    patch = pytest.MonkeyPatch()
    if request.param == "normal":
        patch.setattr(module, "MANY", 10)
    opened = study.open_study(SAMPLE)
    fit = wear.fit(opened, draws=200)
    patch.undo()
    assert (fit.drawn.method == "normal") == (request.param == "normal")
    return fit, opened


def test_residuals_of_groups_of_bands_are_those_of_all(fitted, monkeypatch):
    fit, _ = fitted
    whole = summary.residuals(fit)
    assert len(summary._groups_of_bands(fit.rows)) == 1
    groups = summary._groups_of_bands(fit.rows, most=15)
    assert len(groups) > 2 and np.array_equal(np.concatenate(groups), np.arange(fit.n_bands))
    monkeypatch.setattr(summary, "_groups_of_bands", lambda rows: groups)
    parts = summary.residuals.__wrapped__(fit)
    pd.testing.assert_frame_equal(parts, whole, rtol=ROUNDING)


def test_what_is_known_of_some_bands_is_what_is_known_of_them_among_all(fitted, monkeypatch):
    fit, _ = fitted
    some = [1, 4, fit.n_bands - 1]
    used, rates = summary.wear_used_draws(fit), summary.band_rate_draws(fit)
    monkeypatch.setattr(summary, "KEPT", 0)
    np.testing.assert_allclose(summary.wear_used_draws(fit, some), used[:, some], rtol=ROUNDING)
    np.testing.assert_allclose(summary.band_rate_draws(fit, some), rates[:, some], rtol=ROUNDING)
    np.testing.assert_allclose(summary.band_rates(fit), np.median(rates, axis=0), rtol=ROUNDING)
    table = summary.wear_used.__wrapped__(fit, 0.5)
    np.testing.assert_allclose(table["high"], np.quantile(used, 0.75, axis=0), rtol=ROUNDING)


def test_a_fit_of_fewer_draws_keeps_answers_of_its_own(fitted):
    fit, _ = fitted
    few = fit.thinned(20)
    assert len(few.wear_used_draws) == 20 and len(fit.wear_used_draws) == fit.n_draws
    assert fit.residuals is fit.residuals and few.residuals is not fit.residuals


def test_the_watch_is_the_same_with_the_cut_table_at_hand(fitted):
    fit, opened = fitted
    alone, at_hand = watch(fit, opened), watch(fit, opened, cuts=study.cut_table(opened))
    assert str(alone) == str(at_hand)
    numbers = [pd.DataFrame(one.bands).drop(columns="alarms") for one in (alone, at_hand)]
    pd.testing.assert_frame_equal(*numbers, rtol=ROUNDING)


def test_checks_of_some_bands_are_theirs_among_all(fitted, monkeypatch):
    fit, _ = fitted
    signals, ends, said = checks.signal_checks(fit), checks.left_out_bands(fit), checks.warnings(fit)
    monkeypatch.setattr(checks, "MOST_BANDS", 4)
    some = [fit.rows.bands[b] for b in checks.checked(fit)]
    assert len(some) == 4 < fit.n_bands and some[0] == fit.rows.bands[0] and some[-1] == fit.rows.bands[-1]
    own = signals[signals["band"].isin(some)].reset_index(drop=True)
    pd.testing.assert_frame_equal(checks.signal_checks(fit), own, rtol=ROUNDING)
    own = ends[ends["band"].isin(some)].reset_index(drop=True)
    pd.testing.assert_frame_equal(checks.left_out_bands(fit), own, rtol=1e-6)  # tails of the weights, fitted again
    monkeypatch.undo()
    monkeypatch.setattr(checks, "MOST_SAID", 0)
    monkeypatch.setattr(checks, "RARE", 0.5)  # so that many bands stand out
    many = checks.warnings(fit)
    assert any("checked: bands lasted far longer or ended far sooner" in line for line in many)
    assert not any(line.startswith("Band ") for line in many) and len(said) < 10
