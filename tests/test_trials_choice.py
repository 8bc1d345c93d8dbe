"""What runs are worth and cost, and the one that tells most of a band's life."""

from statistics import NormalDist
from types import SimpleNamespace

import known_shop as shop
import numpy as np
import pandas as pd
import pytest
from bandtrial import recommend, trials
from bandtrial.trials.choice import SHRINK, gained, how_often, least_after, told
from bandtrial.trials.run import Seen
from known_trials import JOB, fit_with_bands


def test_value_of_readings_against_the_lognormal_theory():
    """Two settings, costs 1 and exp(z - s^2/2), z ~ N(0, s^2), one reading of z with noise t.

    The posterior mean M of the second is lognormal about 1 with log variance v^2 = s^4 / (s^2 + t^2), and
    E min(1, M) = 2 Phi(-v/2): 1 less the price of a call at the money (Black, Scholes 1973; Raiffa, Schlaifer 1961
    for the value of a reading). 4 standard errors of 20 000 draws, and what SHRINK takes of v.
    """
    rng = np.random.default_rng(1)
    s, t, S = 0.6, 0.4, 20_000
    z = s * rng.standard_normal(S)
    z = (z - z.mean()) / z.std() * s
    cost = np.stack([np.ones(S), np.exp(z - s**2 / 2) / np.exp(z - s**2 / 2).mean()], axis=1)
    got = least_after(cost, z[:, None], np.array([[t**2]]), np.ones(2, bool), rng)
    v = s**2 / np.hypot(s, t)
    assert got == pytest.approx(2 * NormalDist().cdf(-v / 2), abs=4 * 0.6 * v / np.sqrt(S) + 0.02 * v)
    assert least_after(cost, np.zeros((S, 0)), np.zeros((0, 0)), np.ones(2, bool), rng) == pytest.approx(1.0)


def test_what_a_reading_gains_by_draw_against_the_lognormal_theory():
    """The same two settings: the second is chosen, and 1 - M gained, where M < 1: with probability Phi(v/2). The mean
    gain is 1 less `least_after`. Tolerances: 4 standard errors of 20 000 draws, and what SHRINK takes of v."""
    rng = np.random.default_rng(1)
    s, t, S = 0.6, 0.4, 20_000
    z = s * rng.standard_normal(S)
    z = (z - z.mean()) / z.std() * s
    cost = np.stack([np.ones(S), np.exp(z - s**2 / 2) / np.exp(z - s**2 / 2).mean()], axis=1)
    none, then = Seen.nothing(S), SimpleNamespace(shown=z[:, None], errors=np.array([[t**2]]))
    first, both = np.array([True, False]), np.ones(2, bool)
    got = gained(cost, none, then, first, both)
    v = s**2 / np.hypot(s, t)
    assert np.mean(got > 0) == pytest.approx(NormalDist().cdf(v / 2), abs=4 * 0.5 / np.sqrt(S) + 0.02 * v)
    assert got.mean() == pytest.approx(1 - 2 * NormalDist().cdf(-v / 2), abs=4 * 0.6 * v / np.sqrt(S) + 0.02 * v)
    assert not gained(cost, then, then, both, both).any()  # the same readings once more


def test_readings_that_show_nothing_are_worth_nothing():
    """Of skew costs, whose mean must not fall by chance: a factor of e^2.6 either way at 99 in 100."""
    rng = np.random.default_rng(2)
    cost = np.exp(rng.standard_normal((4000, 5)))
    blind = least_after(cost, rng.standard_normal((4000, 1)), np.array([[1.0]]), np.ones(5, bool), rng)
    assert blind == pytest.approx(cost.mean(axis=0).min(), rel=0.03)


def test_errors_of_readings_hang_together_as_simulated():
    """Two runs on a new band and one on another, one signal: errors drawn cause by cause against the covariance.

    A band's level moves its middles; a run's own wear moves half its rise in its middle, all in its rise and in every
    later middle of that band. 200 000 draws: standard errors of a covariance stay below 0.3 % of the largest.
    """
    level, away, noise = np.array([[0.3], [0.1], [0.2]]), np.array([0.5, 0.4, 0.2]), np.full((3, 2), 0.01)
    rise = np.array([0.6, 0.8, 1.0])
    shown = np.zeros((4, 3, 2))
    shown[:, :, 1] = rise
    choice, seen = SimpleNamespace(level=level, away=away, noise=noise, shown=shown), Seen.nothing(4)
    for i, name in ((0, "B1"), (1, "B1"), (2, "B2")):
        seen = seen.and_then(choice, i, name)
    z = np.random.default_rng(4).standard_normal((11, 200_000))
    own = (away * rise)[:, None] * z[:3]
    first, other = 0.3 * z[3], 0.2 * z[4]
    told = [first + own[0] / 2, own[0], first + own[0] + own[1] / 2, own[1], other + own[2] / 2, own[2]]
    drawn = np.array(told) + 0.1 * z[5:]
    np.testing.assert_allclose(seen.errors, np.cov(drawn), atol=0.01 * seen.errors.max())
    assert seen.shown.shape == (4, 6)


def test_where_life_is_hardly_known_the_plan_is_the_run_that_tells_most_of_it():
    """Hardly any work ahead, so that no run pays by what it saves; the band on the machine tells soonest."""
    fit = fit_with_bands(sure=1.6)
    study = shop.study(ends=("dull", "in_service", "in_service"))
    study.cuts = pd.DataFrame({"band": ["B2"]})
    assert recommend.recommend(fit, study, *JOB).grade == "rough"
    made = trials.plan(fit, study, *JOB, minutes=30, horizon_cm2=1.0)
    assert not made.stop
    assert made.reason == (
        "band life is too little known yet for more than a rough recommendation: make this run, log it, then plan again"
    )
    assert made.runs[-1].why.startswith("shows most of how fast bands dull, which is hardly known yet")
    assert made.runs[-1].band == "B2"  # another would have to be fitted first


def test_where_no_reading_shows_dulling_one_band_is_used_hard():
    """No signal at all, no band ended: only an end tells of life, so the run is long and may end its band."""
    fit = fit_with_bands(sure=1.6, life=2.0)
    object.__setattr__(fit, "signals", ())
    study = shop.study(ends=("in_service",) * 3)
    run = trials.plan(fit, study, *JOB, minutes=60).runs[-1]
    assert run.why.endswith(
        "; the band may well end: no reading tells its life sooner. Stop when it is dull, crooked or loud"
    )
    assert run.minutes > 16


def test_the_break_in_cut_of_a_new_band_is_part_of_what_a_run_costs():
    from bandtrial.recommend.job import job_of
    from bandtrial.recommend.tried import tried
    from bandtrial.trials.board import lay, options
    from bandtrial.trials.choice import beside

    fit, study = fit_with_bands(sure=0.4), shop.study(ends=("dull", "in_service", "in_service"))
    job = job_of(study, *JOB)
    board = lay(fit, study, job, tried(fit, study, job), np.random.default_rng(1))
    choice = options(board, 16.0, 100.0)
    new = choice.band == "new"
    used = np.minimum(choice.used, 1.0).mean(axis=0) * job.prices.band / job.prices.per_minute
    lost = choice.ends * job.prices.scrapped_piece / job.prices.per_minute
    left = beside(board, choice) - used - lost - job.prices.change_minutes * (choice.band != board.mounted)
    assert left[new] == pytest.approx((choice.minutes / choice.cuts)[new] / 0.5)  # half the feed of a usual cut
    assert left[~new] == pytest.approx(0.0, abs=1e-9)


def test_the_share_of_a_variance_that_readings_tell():
    """Two readings t + e1, t + e2 of t ~ N(0, 2), errors of variance 1 and 3: they tell 4 (1 + 1/3) / (1 + 2 (1 + 1/3))
    of it (normal regression, worked by hand), less what SHRINK takes of a reading's own variance of 2."""
    t = np.sqrt(2) * np.random.default_rng(1).standard_normal(4000)
    t = (t - t.mean()) / t.std() * np.sqrt(2)
    weight = 1 / (1 + 2 * SHRINK) + 1 / (3 + 2 * SHRINK)
    assert told(t, np.stack([t, t], axis=1), np.diag([1.0, 3.0])) == pytest.approx(4 * weight / (1 + 2 * weight))
    assert told(t, np.zeros((4000, 0)), np.zeros((0, 0))) == 0.0


def test_how_often_a_run_pays_is_said_for_every_share():
    """The mean is what is found times how often: 0.005 of 60, 1 of 5."""
    assert how_often(0.3, np.zeros(10)) == "it seldom finds a setting that saves more"
    rare = np.zeros(200)
    rare[3] = 60.0
    assert how_often(0.3, rare) == (
        "once in 100 times or less it finds a setting that saves about 60 (60 to 60), else none"
    )
    assert how_often(5.0, np.full(9, 5.0)) == "it all but surely finds a setting that saves about 5 (5 to 5)"
