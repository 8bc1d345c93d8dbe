"""Logs drawn from the priors on a study's own cuts: by the law of counting processes, and in words."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bandtrial import __main__ as command
from bandtrial import study, wear
from bandtrial.wear import calibration
from bandtrial.wear.layout import build
from bandtrial.wear.terms import WEAR_END

SAMPLE = Path(__file__).parent / "data" / "sample_study"


@pytest.fixture(scope="module")
def rows():
    return wear.fit(study.open_study(SAMPLE), draws=100).rows


def test_ends_are_as_many_as_their_hazard_says(rows):
    """Ends less what the bands ran up of cumulative hazard, E^K, is a martingale: 0 on average, with the variance of as
    many ends as a Poisson law would have (Fleming and Harrington, Counting Processes and Survival Analysis, 1991, 1.3).
    300 logs of cuts five times as long, within 3 standard errors; no band is longer in the work than its log has it."""
    rows = replace(rows, contact=5 * rows.contact)
    layout, rng, ends, hazard = build(rows), np.random.default_rng(1), 0, 0.0
    for _ in range(300):
        theta = calibration.draw_theta(layout, rng)
        w = np.exp(theta[layout.band_scatter]) * rng.standard_normal(len(rows.heads))
        made = calibration.made_by(rows, layout, theta, w, rng)
        log_tau = made.X.times(layout.coefficients(theta[:, None]))[:, 0]
        used = made.totals(made.contact * np.exp(w[made.band] - log_tau))
        ends += made.worn.sum()
        hazard += np.sum(used ** WEAR_END.shape(theta[layout.shape])[0])
        assert (made.totals(made.contact) <= rows.totals(rows.contact) * (1 + 1e-12)).all()
    assert ends > 300 and abs(ends - hazard) < 3 * np.sqrt(hazard)


def test_log_of_the_priors_keeps_the_design_and_every_signal(rows):
    made, truth = calibration.drawn_log(rows, build(rows), np.random.default_rng(2))
    assert made.X.columns == rows.X.columns and len(truth) == len(build(made).mean)
    assert [s.name for s in made.signals] == [s.name for s in rows.signals]
    assert all(len(s.y) >= calibration.LEAST and len(s.y) <= len(t.y)
               for s, t in zip(made.signals, rows.signals, strict=True))  # fmt: skip


def test_calibration_in_words():
    """8 of 20 and 20 of 20 are rarer than 1 in 20 where 4 in 5 are right (binomial: 0.0001 and 0.012); 14 are not."""
    held = [("life", 8), ("speed_exponent", 14), ("weibull_shape", 20)]
    found = calibration.Calibration(tuple(calibration.Held(name, k, 20, (0.5,) * 20) for name, k in held))
    assert str(found) == (
        "20 logs that the priors could have made of these cuts; the 80 % interval held (4 in 5 should) of\n"
        "the life of a typical band at the setting cut most: 8 of 20, which is hardly chance\n"
        "what speed does to it: 14 of 20\n"
        "how alike bands live: 20 of 20, which is hardly chance"
    )


def test_calibration_by_the_command(monkeypatch, capsys):
    monkeypatch.setattr(calibration.calibration, "__defaults__", (2, 1))
    assert command.main(["fit", str(SAMPLE), "--calibration", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["level"] == 0.8 and [one["quantity"] for one in told["quantities"]] == list(calibration.ASKED)
    for one in told["quantities"]:
        inside = [abs(rank - 0.5) < 0.4 for rank in one["ranks"]]
        assert one["logs"] == 2 == len(inside) and one["held"] == sum(inside)


def test_calibration_needs_priors(capsys):
    assert command.main(["fit", str(SAMPLE), "--no-priors", "--calibration"]) == 2
    assert "--no-priors leaves no prior to look at; leave it out" in capsys.readouterr().err
