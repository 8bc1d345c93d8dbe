"""Long-run averages against closed forms, a textbook's worked example, and slow twins band by band."""

from dataclasses import dataclass, fields

import known_shop as shop
import numpy as np
import pytest
from bandtrial.recommend.job import Prices, job_of
from bandtrial.recommend.longrun import (
    WEAR_KNOTS,
    Breaks,
    ages,
    along_wear,
    evaluate,
    log_tau_at,
    long_run,
    scatter_weights,
)
from bandtrial.recommend.optimise import _lowest
from scipy.special import gamma, gammainc

NEVER = np.array([1e12])


def one_setting(shape=2.5, scatter=0.0, scale=NEVER, size=200):
    """Long run of one draw and one setting whose life is 100 cm2 at 2 cm2/min."""
    log_life = np.array([[np.log(100.0)]])
    age, step = ages(log_life, size)
    log_wear = np.log(age)[None] - log_life[:, :, None]
    weights = scatter_weights(np.array([scatter]), step, size)
    return long_run(
        age, log_wear, np.array([[[0.5]]]), np.array([shape]), weights, Breaks(np.ones(1), scale, np.array([2.0]))
    )


def test_area_of_a_weibull_life_changed_at_an_age():
    """int_0^a exp(-(x/s)^k) dx = s/k Gamma(1/k) P(1/k, (a/s)^k); run to the end it is s Gamma(1 + 1/k).

    Textbook of the incomplete gamma function (DLMF 8.2). Relative 2e-3: trapezoids of a step of 2 % in age.
    """
    run = one_setting(shape=2.5)
    a = run.age[0]
    truth = 100 / 2.5 * gamma(1 / 2.5) * gammainc(1 / 2.5, (a / 100) ** 2.5)
    np.testing.assert_allclose(run.area[0, 0], truth, rtol=2e-3)
    assert run.area[0, 0, -1] == pytest.approx(100 * gamma(1 + 1 / 2.5), rel=1e-3)
    np.testing.assert_allclose(run.minutes, run.area / 2, rtol=1e-12)
    np.testing.assert_allclose(run.ended[0, 0], -np.expm1(-((a / 100) ** 2.5)), atol=1e-3)


def test_band_scatter_against_bands_drawn_one_by_one():
    """200 000 simulated bands with lognormal wear rates and breaks; tolerance 4 of their standard errors."""
    rng = np.random.default_rng(3)
    n, k, sd = 200_000, 3.0, 0.4
    worn = 100 * rng.weibull(k, n) * np.exp(-sd * rng.standard_normal(n))
    broken = 2 * 80.0 * rng.weibull(2.0, n)  # one bend a minute, 2 cm2 a minute
    life = np.minimum(worn, broken)
    run = one_setting(k, sd, scale=np.array([80.0]))
    for j in (60, 110, 130, 199):
        age = run.age[0, j]
        sawn = np.minimum(life, age)
        assert run.area[0, 0, j] == pytest.approx(sawn.mean(), abs=4 * sawn.std() / np.sqrt(n))
        assert run.ended[0, 0, j] == pytest.approx(np.mean(life < age), abs=4 * 0.5 / np.sqrt(n))


def test_weights_are_a_probability_and_keep_the_mean():
    """E exp(b) = exp(s^2 / 2) for a normal b; relative 1e-3: straight lines over steps of 0.05."""
    W = scatter_weights(np.array([0.0, 0.3]), 0.05, 201)
    np.testing.assert_allclose(W[0], np.eye(201), atol=1e-7)
    x = 0.05 * np.arange(201)
    assert W[1, 100].sum() == pytest.approx(1.0, abs=1e-9)
    assert W[1, 100] @ np.exp(x - x[100]) == pytest.approx(np.exp(0.3**2 / 2), rel=1e-3)


def test_cost_is_renewal_reward():
    """1 a minute, changes of 10 min, band 30, piece 5: (t + 10 + 30 + 5 P) / A by hand."""
    run = one_setting()
    prices = Prices(1.0, 10.0, 30.0, 5.0)
    t, area, ended = run.minutes[0, 0, 50], run.area[0, 0, 50], run.ended[0, 0, 50]
    assert run.cost(prices)[0, 0, 50] == pytest.approx((t + 40 + 5 * ended) / area)
    assert run.output(prices)[0, 0, 50] == pytest.approx(area / (t + 10))


@pytest.mark.parametrize(("cost", "speed", "life"), [(True, 42.3228, 56.0), (False, 50.3306, 14.0)])
def test_textbook_optimum_speed(cost, speed, life):
    """Groover, Fundamentals of Modern Manufacturing, machining economics (from memory; answers CHECKS B1).

    n 0.125, C 70 m/min, tool change 2.0 min, 30 per hour, 3 per edge: lowest cost at 42.3228 m/min and life
    56.0 min, greatest output at 50.3306 m/min and 14.0 min. Bands of one and the same life are such tools.
    Relative 2e-3 in speed (parabola over a 1 % grid); life is its 8th power, so 2e-2.
    """
    fit = shop.fit(sure=0.0, n=1)
    V = np.arange(38.0, 56.0, 0.4)
    star = shop.STAR
    job = job_of(shop.study(), "saw1", "s8", "plate", 20.0)
    life_at_star = (70.0 / star) ** 8 * 20.0 / shop.BAND_LENGTH  # contact minutes: 20 mm of each turn of 4000 mm
    one = {
        "q": [0.0],
        "m": [8.0],
        "weibull_shape": [60.0],
        "band_scatter": [0.0],
        "a0": [np.log(life_at_star)],
    }
    object.__setattr__(job, "prices", Prices(0.5, 2.0, 3.0, 0.0))
    for name, value in one.items():
        object.__setattr__(fit, name, np.array(value))
    run = evaluate(fit, job, V, 10.0, size=800)
    loss = (run.cost(job.prices) if cost else 1 / run.output(job.prices))[0, :, -1]
    i = int(np.argmin(loss))
    a, b, _ = np.polyfit(V[i - 2 : i + 3], loss[i - 2 : i + 3], 2)
    best = -b / (2 * a)
    assert best == pytest.approx(speed, rel=2e-3)
    assert np.interp(best, V, run.minutes[0, :, -1]) == pytest.approx(life, rel=2e-2)


def test_thinning_chips_against_a_band_followed_in_small_steps():
    """At a set force the chip thins with wear: the long run against Euler steps of one band after another.

    The twin walks wear used in steps of 0.002 to 20 000 drawn Weibull ends; 4 standard errors.
    """
    fit = shop.fit("force", sure=0.0, n=1)
    object.__setattr__(fit, "band_scatter", np.array([0.0]))
    study = shop.study("force")
    job = job_of(study, "saw1", "s8", "plate", 20.0)
    V, force = np.array([45.0]), np.array([6.0])
    run = evaluate(fit, job, V, force, size=120)
    E = np.arange(0.0, 3.0, 0.002) + 0.001
    h = fit.chip_load_at_force(np.full(E.shape, 6.0 * job.teeth), V[0], 20.0, "plate", "saw1", "s8", wear_used=E)[0]
    Z = h * V[0] / job.stock.tooth_spacing * 20.0 / 100
    tau = np.exp(fit.log_tau(V, h, 20.0, "plate", "saw1", "s8")[0])
    area = np.cumsum(tau * shop.BAND_LENGTH / 20.0 * Z * 0.002)
    minutes = np.cumsum(tau * shop.BAND_LENGTH / 20.0 * 0.002)
    end = np.minimum(np.random.default_rng(5).weibull(3.0, 20_000), 2.9)
    sawn, cut = np.interp(end, E, area), np.interp(end, E, minutes)
    assert run.area[0, 0, -1] == pytest.approx(sawn.mean(), abs=4 * sawn.std() / np.sqrt(20_000))
    assert run.minutes[0, 0, -1] == pytest.approx(cut.mean(), abs=4 * cut.std() / np.sqrt(20_000))


@dataclass(frozen=True)
class Bent(shop.KnownFit):
    """Life falls off past 18 um, five times as fast in the log, a bend rounded over 0.15 as the model's own are."""

    def log_tau(self, band_speed, chip_load, *rest, **kw):
        past = (np.log(np.asarray(chip_load, float)) - np.log(18.0)) / 0.15
        return super().log_tau(band_speed, chip_load, *rest, **kw) - 5.0 * 0.15 * np.logaddexp(past, 0.0)


def test_lives_along_a_thinning_chip_follow_a_bend_of_the_law():
    """Chips from 40 um down to 3, over a bend: against the law asked draw by draw, chip by chip.

    Straight lines over steps d of the log are off by d^2 / 8 of the second slope at most, here 5 / (4 x 0.15).
    """
    fit = shop.fit("force", n=6)
    fit = Bent(**{f.name: getattr(fit, f.name) for f in fields(fit)})
    job = job_of(shop.study("force"), "saw1", "s8", "plate", 20.0)
    V = np.array([30.0, 60.0])
    h = np.random.default_rng(3).uniform(3.0, 40.0, (6, 2, 5))
    at = "plate", "saw1", "s8"
    truth = [[fit.log_tau(np.full(5, V[i]), h[s, i], 20.0, *at)[s] for i in range(2)] for s in range(6)]
    np.testing.assert_allclose(log_tau_at(fit, job, V, h), truth, rtol=0, atol=0.1**2 / 8 * 5 / 0.6)


def test_wear_along_the_area_sawn_against_interpolation():
    """Wear used and pace at an age against numpy's interp over the knots; past the last at its slope. 1e-5 relative:
    single precision over nine intervals."""
    rng = np.random.default_rng(4)
    spans = rng.uniform(5.0, 20.0, (3, 2, len(WEAR_KNOTS) - 1))
    per_wear, pace = rng.uniform(50.0, 90.0, (2, 3, 2, len(WEAR_KNOTS)))
    age = np.sort(rng.uniform(0.0, 250.0, (2, 30)), axis=1)
    wear, minutes = along_wear(age, spans, per_wear, pace)
    assert (age > spans.sum(axis=-1).max()).any()
    for s, n in np.ndindex(3, 2):
        area = np.concatenate([[0.0], np.cumsum(spans[s, n])])
        past = np.maximum(age[n] - area[-1], 0.0) / per_wear[s, n, -1]
        np.testing.assert_allclose(wear[s, n], np.interp(age[n], area, WEAR_KNOTS) + past, rtol=1e-5)
        np.testing.assert_allclose(minutes[s, n], np.interp(age[n], area, pace[s, n]), rtol=1e-5)


def test_the_lowest_point_of_a_curve_by_draw():
    """Against numpy's polyfit through the three points around the least; at an end, and beside a point that no limit
    lets in, the point itself."""
    x = np.log(np.array([30.0, 40.0, 50.0, 65.0]))
    y = np.array([[3.0, 1.0, 1.5, 4.0], [1.0, 2.0, 3.0, 4.0], [np.inf, 1.0, 2.0, 3.0], [3.0, 2.0, 1.0, 1.2]])
    got = _lowest(x, y, np.argmin(y, axis=1))
    a, b, _ = np.polyfit(x[:3], y[0, :3], 2)
    c, d, _ = np.polyfit(x[1:], y[3, 1:], 2)
    np.testing.assert_allclose(got, [-b / (2 * a), x[0], x[1], -d / (2 * c)], rtol=1e-9)


@pytest.mark.parametrize("feed", ["rate", "force"])
def test_a_band_that_breaks_long_before_it_could_wear_out(feed):
    """Minutes per band are those of the Weibull of breaks, s Gamma(1 + 1/k), and no cheaper than cutting itself.

    Life is known to a factor of e^3 only, and is far above the breaks. Relative 2e-2: trapezoids of a wide grid.
    """
    fit, study = shop.fit(feed, sure=0.0, n=50), shop.study(feed)
    far = 12.0 + 3.0 * np.random.default_rng(1).standard_normal(50)
    for name, value in {"a0": far, "break_scale": np.full(50, 2000.0), "break_shape": np.full(50, 2.0)}.items():
        object.__setattr__(fit, name, value)
    job = job_of(study, "saw1", "s8", "plate", 20.0)
    V, bite = np.array([30.0, 45.0]), np.array([12.0, 6.0])
    run = evaluate(fit, job, V, bite, size=60)
    turns = 2 * V * 1000 / shop.BAND_LENGTH  # two bends in each turn of the band
    np.testing.assert_allclose(np.median(run.minutes[:, :, -1], axis=0), 2000 / turns * gamma(1.5), rtol=2e-2)
    h = bite if feed == "rate" else fit.chip_load_at_force(job.feed_of(V, bite), V, 20.0, "plate", "saw1", "s8")
    fastest = h * V / job.stock.tooth_spacing * 20.0 / 100
    assert np.all(run.area[:, :, -1] <= run.minutes[:, :, -1] * fastest * 1.02)
