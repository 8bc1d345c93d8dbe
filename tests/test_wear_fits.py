"""What is fitted: draws against truth, readings that are odd, the same answer wherever it is worked out."""

import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from bandtrial import inference, wear
from bandtrial.study import open_study
from bandtrial.wear import posterior, top
from bandtrial.wear.density import Density
from bandtrial.wear.fitting import fit_rows
from bandtrial.wear.rows import rounding
from bandtrial.wear.terms import NU
from bandtrial.wear.trust import odd_readings
from bent_logs import split
from prior_shops import shop

DEMO = Path(__file__).parents[1] / "trial_data" / "demo_shop"


def test_readings_that_never_change_do_not_drown_the_others():
    """A gauge too coarse to move: its noise is that of its steps, and the draws stay as good as any."""
    rows, *_ = shop(9, n_bands=10, cuts=(20, 21))
    power, gauge = rows.signals
    still = np.full(len(gauge.y), np.log(0.01))
    known = fit_rows(replace(rows, signals=(power, replace(gauge, y=still, rounding=rounding(np.exp(still))))))
    assert known.drawn.good
    place = known.layout.blocks[1].noise
    prior = known.layout.priors[place]
    assert known.drawn.theta[:, place].min() > prior.mean - 6 * prior.sd


def test_readings_that_stray_together_count_for_less():
    """First-order autoregression with r = 0.7 added to the readings: n of them tell a mean as (1 - r)/(1 + r) n would,
    0.18 (Priestley, Spectral Analysis and Time Series, 5.3, from memory); without it, all count, but for chance. Bands
    are long: in short ones growth and levels follow what strays."""
    rows, layout, theta, *_ = shop(9, n_bands=6, cuts=(120, 121))
    rng, drifting = np.random.default_rng(3), []
    for s, block in zip(rows.signals, layout.blocks, strict=True):
        strayed, step = np.zeros(len(s.y)), 2 * np.exp(theta[block.noise])
        for i in range(1, len(s.y)):
            strayed[i] = 0.7 * strayed[i - 1] * (s.bands[i] == s.bands[i - 1]) + step * rng.standard_normal()
        drifting.append(replace(s, y=s.y + strayed))
    weights = []
    for r in (rows, replace(rows, signals=tuple(drifting))):
        density = Density(r, layout)
        with np.errstate(all="ignore"):
            best = top.climb(density, layout.mean.copy())
            weights.append([s.weight for s in posterior.correlated(density, best).signals])
    assert min(weights[0]) > 0.8
    assert max(weights[1]) < 0.5


def test_draws_hold_the_truth_of_shops_drawn_from_the_priors():
    """Short calibration (the full one: tests/benchmarks/calibration.py): of 24 80 % intervals of 8 shops, 13 to 24
    hold the truth (a binomial leaves that range once in 300 tries; fewer means overconfidence)."""
    from calibration import quantities

    inside = 0
    for seed in range(100, 108):
        rows, layout, truth, _ = shop(seed, n_bands=8)
        drawn = fit_rows(rows, draws=1000, seed=seed).drawn
        rank = (quantities(drawn.theta, layout) < quantities(truth[None], layout)).mean(axis=1)
        inside += int(np.sum(np.abs(rank - 0.5) < 0.4))
    assert 13 <= inside <= 24


def test_many_materials_are_not_too_many():
    """Each cut of the demo's log in a material of its own name out of 40: the draws stay good, and the interval of the
    speed exponent meets that of the log as it is."""
    study = open_study(DEMO)
    plain = wear.fit(study, draws=500)
    rows = plain.rows
    names = [f"{name} {i}" for name in rows.levels["material"] for i in range(10)]
    code = rows.X.codes[0] * 10 + np.arange(len(rows.contact)) % 10
    groups = tuple(f"material[{name}]" for name in names)
    many = replace(
        rows,
        X=replace(rows.X, groups=(groups, *rows.X.groups[1:]), codes=(code, *rows.X.codes[1:]), _kept={}),
        levels=rows.levels | {"material": names},
    )
    fitted = fit_rows(many, draws=500)
    assert fitted.drawn.good
    at = [f.layout.names.index("speed_exponent") for f in (plain, fitted)]
    low, high = np.quantile(fitted.drawn.theta[:, at[1]], [0.1, 0.9])
    assert low < np.median(plain.theta[:, at[0]]) < high


def test_a_wear_rate_beyond_all_bounds_counts_as_the_bound():
    """The exposure and the density of an end see the same wear rate: no far-off point wins by what only one of them is
    spared."""
    rows, layout, theta, w = shop(4, n_bands=4)
    density = Density(rows, layout)
    far = theta.copy()
    far[layout.names.index("log_scale")] = -400.0
    with np.errstate(all="ignore"):
        values = density.value(
            np.stack([theta, far], axis=1), np.tile(w[:, None], 2), [np.zeros((4, 2)) for _ in rows.signals]
        )
    assert not values[1] > values[0]


def test_a_reading_far_off_is_named_and_no_other():
    """The chance against scipy.stats: twice the tail of Student's t, times as many readings. z is in standard
    deviations of that law, its scale is sqrt(3/5) of one. Rounding alone: 1e-9."""
    z = np.append(np.random.default_rng(1).standard_t(NU, 300) / np.sqrt(5 / 3), [-9.1, 6.0])
    table = pd.DataFrame({"cut": np.arange(302), "z": z})
    odd = odd_readings(SimpleNamespace(residuals=table))
    assert list(odd["cut"]) == [300]
    assert odd["chance"].iloc[0] == pytest.approx(2 * 302 * stats.t.sf(9.1 * np.sqrt(5 / 3), NU), rel=1e-9)


def test_the_climb_leaves_noise_where_each_name_has_a_level_of_its_own(tmp_path):
    """24 readings of the chip load at the set force and 36 levels: the joint density is highest at no noise at all."""
    split(tmp_path / "study", "material", 12)
    fit = wear.fit(open_study(tmp_path / "study"))
    at = next(
        block.noise
        for s, block in zip(fit.rows.signals, fit.layout.blocks, strict=True)
        if (s.name, len(s.y)) == ("chip_load", 24)
    )
    drawn = fit.theta[:, at]
    assert abs(fit.mode.theta[at] - drawn.mean()) < 2 * drawn.std()


def test_draws_are_the_same_where_a_processor_rounds_otherwise(monkeypatch):
    """Last digits of densities and slopes differ from one kernel of linear algebra to the next; the draws must not."""
    demo, rng = open_study(DEMO), np.random.default_rng(7)
    first = wear.fit(demo).drawn

    def otherwise(method):
        def rounded(*args):
            return tuple(
                [part * (1 + 1e-13 * rng.standard_normal(part.shape)) for part in value]
                if isinstance(value, list)
                else value * (1 + 1e-13 * rng.standard_normal(value.shape))
                for value in method(*args)
            )

        return rounded

    for name in ("placed", "value_and_slopes"):
        monkeypatch.setattr(Density, name, otherwise(getattr(Density, name)))
    second = wear.fit(demo).drawn
    assert second.theta == pytest.approx(first.theta, rel=1e-12, abs=1e-12)  # of the last map alone
    assert second.moves == first.moves


def test_the_worst_of_thousands_of_parameters_is_not_far_off_by_chance_alone():
    """Independent normal draws of 3,000 parameters, told by 8 pairs of chains: the largest drift is over 6 standard
    errors by chance, as Student's t of 7 degrees of freedom has it; half of the chains' way off, one is found."""
    draws = np.random.default_rng(3).standard_normal((3000, 40, 16))
    known = posterior.told(draws)
    assert known.drift < posterior.STILL < 6 < np.max(inference.drift(draws)[0])
    assert known.worst > np.min(known.effective)
    draws[7, 20:] += 2.0
    assert posterior.told(draws).drift > posterior.STILL
