"""Inference against quadrature, known laws and scipy; it knows no sawing, so neither do these tests."""

import numpy as np
import pytest
from bandtrial.inference import (
    Mover,
    Prior,
    climb,
    drift,
    effective,
    fit_generalised_pareto,
    pareto_smooth,
)
from scipy import stats


def test_prior_from_a_published_range():
    """Central 90 % of the prior is the range it was made from (arithmetic)."""
    low, _, high = Prior.from_range("n", 0.08, np.sqrt(0.08 * 0.2), 0.2, positive=True).interval(0.9)
    assert (low, high) == pytest.approx((0.08, 0.2), rel=1e-12)


def test_generalised_pareto_fit_against_scipy():
    """5,000 exceedances drawn by scipy.stats.genpareto: shape within 0.06 (3 standard errors), scale within 6 %."""
    x = np.sort(stats.genpareto.rvs(0.5, scale=2.0, size=5000, random_state=1))
    k, scale = fit_generalised_pareto(x)
    assert k == pytest.approx(0.5, abs=0.06)
    assert scale == pytest.approx(2.0, rel=0.06)


def test_weights_say_when_they_can_be_trusted():
    rng = np.random.default_rng(5)
    x = rng.standard_normal(4000)
    good, k_good, n_good = pareto_smooth(stats.norm.logpdf(x, 0, 0.9) - stats.norm.logpdf(x))
    bad, k_bad, _ = pareto_smooth(stats.cauchy.logpdf(x) - stats.norm.logpdf(x))
    assert k_good < 0.5 < 0.7 < k_bad
    assert np.exp(good).sum() == pytest.approx(1.0, rel=1e-12)
    assert n_good == pytest.approx(np.exp(2 * good).sum() ** -1, rel=1e-12)
    assert pareto_smooth(np.zeros(1000))[2] == pytest.approx(1000.0)
    assert np.exp(bad).sum() == pytest.approx(1.0, rel=1e-12)


def test_climb_finds_the_top_of_a_narrow_ridge():
    """Rosenbrock's function (1960): top at (1, 1), from the usual start (-1.2, 1)."""

    class At:
        def __init__(self, t):
            x, y = t
            self.merit = -(100 * (y - x * x) ** 2 + (1 - x) ** 2)
            self.gradient = np.array([400 * x * (y - x * x) + 2 * (1 - x), -200 * (y - x * x)])
            self.precision = np.array([[1200 * x * x - 400 * y + 2, -400 * x], [-400 * x, 200.0]])

    mode = climb(At, [-1.2, 1.0])
    assert mode.converged
    assert mode.theta == pytest.approx([1.0, 1.0], rel=1e-8)


@pytest.mark.parametrize("overstated", [1.0, 5.0, 25.0])
def test_climb_lengthens_steps_that_creep(overstated):
    """With a curvature overstated 25 times, steps of (1 - 1/25)^k would need 350; the top is known."""
    top, true = np.array([2.0, -1.0]), np.array([[2.0, 0.6], [0.6, 1.0]])

    class At:
        def __init__(self, theta):
            away = theta - top
            self.merit, self.gradient, self.precision = -0.5 * away @ true @ away, -true @ away, overstated * true

    mode = climb(At, [-3.0, 4.0], tolerance=1e-12)
    assert mode.converged and mode.steps <= 40
    np.testing.assert_allclose(mode.theta, top, atol=1e-5)


def moved(law, size, chains=64, warm=40, moves=120, seed=1):
    """Draws (size, moves, chains) of law(z) -> (log density, slopes), the step tuned while warming up."""
    mover = Mover(law, size, chains, np.random.default_rng(seed))
    for _ in range(warm):
        mover.advance(0.8)
    draws = []
    for _ in range(moves):
        mover.advance()
        draws.append(mover.z.copy())
    return np.stack(draws, axis=1)


def normal(mean, covariance):
    precision = np.linalg.inv(covariance)

    def law(z):
        away = z - mean[:, None]
        slope = -precision @ away
        return 0.5 * np.sum(away * slope, axis=0), slope

    return law


def bent(bend):
    """x ~ N(0, 1), y ~ N(bend x^2, 1/4)."""

    def law(z):
        x, y = z
        rest = (y - bend * x * x) / 0.25
        return -0.5 * x * x - 0.125 * rest * rest, np.stack([-x + 2 * bend * x * rest, -rest])

    return law


def test_moves_leave_a_correlated_normal_as_it_is():
    """Means within 5 standard errors and sds within 5 of theirs, by the effective draws that are claimed."""
    rng = np.random.default_rng(0)
    A = rng.standard_normal((12, 12))
    covariance, mean = A @ A.T / 12 + 0.4 * np.eye(12), 0.3 * np.arange(12.0)
    draws = moved(normal(mean, covariance), 12)
    sd, known = np.sqrt(np.diag(covariance)), effective(draws)
    assert np.all(np.abs(draws.mean(axis=(1, 2)) - mean) / sd < 5 / np.sqrt(known))
    assert np.all(np.abs(draws.std(axis=(1, 2)) / sd - 1) < 5 / np.sqrt(2 * effective(draws**2)))


@pytest.mark.parametrize("bend", [0.7, 1.5])
def test_moves_follow_a_bent_law(bend):
    """Moments of the bent law are known: y has mean `bend` and variance 2 bend^2 + 1/4. Five standard errors by the
    effective draws that are claimed."""
    draws = moved(bent(bend), 2, moves=300)
    x, y = draws
    error = np.sqrt((2 * bend**2 + 0.25) / effective(y[None])[0])
    assert abs(y.mean() - bend) < 5 * error
    assert x.std() == pytest.approx(1.0, abs=5 / np.sqrt(2 * effective(x[None] ** 2)[0]))


def test_pairs_know_the_mean_of_a_symmetric_law_far_better_than_as_many_chains():
    """Of a normal law the two of a pair mirror each other to the end, so that their mean is exact."""
    draws = moved(normal(np.zeros(3), np.eye(3)), 3, moves=20)
    assert np.abs(draws.mean(axis=(1, 2))).max() < 1e-10
    assert np.all(effective(draws) == 10 * 20 * 64)


def test_effective_draws_of_an_autoregression():
    """Of chains with correlation r between neighbours, n N (1 - r)/(1 + r) (Priestley, Spectral Analysis and Time
    Series, 5.3, from memory); by the scatter of 256 pairs, within four times its error of (2/256)^(1/2)."""
    rng, r = np.random.default_rng(1), 0.8
    x = np.empty((1, 400, 512))
    x[0, 0] = rng.standard_normal(512)
    for i in range(1, 400):
        x[0, i] = r * x[0, i - 1] + np.sqrt(1 - r * r) * rng.standard_normal(512)
    assert effective(x)[0] == pytest.approx(400 * 512 * (1 - r) / (1 + r), rel=4 * np.sqrt(2 / 256))


def test_drift_is_noticed():
    rng = np.random.default_rng(2)
    still = rng.standard_normal((3, 40, 64))
    wandering = still + np.linspace(0, 1, 40)[:, None]
    assert drift(still)[0].max() < 4.5
    errors, sds = drift(wandering)
    assert errors.min() > 6 and sds == pytest.approx(np.full(3, 0.5), abs=0.1)


def test_a_chain_out_of_all_bounds_does_not_spoil_the_others():
    """A law that is nowhere beyond 3: no draw lies there, and no number is lost."""

    def law(z):
        inside = np.abs(z).max(axis=0) < 3
        return np.where(inside, -0.5 * np.sum(z * z, axis=0), np.nan), np.where(inside, -z, np.nan)

    draws = moved(law, 2)
    assert np.isfinite(draws).all() and np.abs(draws).max() < 3


def test_no_chain_stands_still_where_the_law_is_narrow():
    """Neal's funnel (Slice sampling, Annals of Statistics 31, 2003) from its neck, where steps of its mouth fail."""

    def funnel(z):
        """log v ~ N(0, 1), the others N(0, v)."""
        precision = np.exp(-z[0])
        squares = precision * np.sum(z[1:] ** 2, axis=0)
        value = -0.5 * (z[0] ** 2 + squares + (len(z) - 1) * z[0])
        slope = np.vstack([-z[0] + 0.5 * squares - 0.5 * (len(z) - 1), -precision * z[1:]])
        return value, slope

    mover = Mover(funnel, 8, 32, np.random.default_rng(3), step=0.9)
    z = mover.z.copy()
    z[0], z[1:] = -4.0, np.exp(-2.0) * mover.rng.standard_normal(z[1:].shape)
    mover.restart(z)
    for _ in range(150):
        mover.advance()
    assert (mover.z[0] != -4.0).all()
