"""Inference against quadrature, known laws and scipy; it knows no sawing, so neither do these tests."""
import numpy as np
import pytest
from bandtrial.inference import (
    Prior,
    climb,
    draw_spread,
    exchangeable,
    fit_generalised_pareto,
    pareto_smooth,
    resample,
    sample,
)
from bandtrial.inference.proposal import SplitT, turn
from bandtrial.inference.tempered import tempered
from scipy import integrate, stats


class Normal:
    """A correlated normal target with nothing drawn beside it."""

    def __init__(self, mean, covariance):
        self.mean, self.precision = mean, np.linalg.inv(covariance)

    def marginal(self, theta):
        z = theta - self.mean
        return -0.5 * np.einsum("ni,ij,nj->n", z, self.precision, z)

    def density(self, theta, rng):
        return self.marginal(theta), np.zeros((len(theta), 1))


class Bent(Normal):
    """x1 ~ N(0, 1), x2 ~ N(bend x1^2, 0.5^2): moments E x2 = bend, var x2 = 2 bend^2 + 0.25."""

    def __init__(self, bend):
        self.bend = bend

    def marginal(self, theta):
        return -0.5 * theta[:, 0] ** 2 - 0.5 * ((theta[:, 1] - self.bend * theta[:, 0] ** 2) / 0.5) ** 2


class TwoHills(Normal):
    def __init__(self):
        pass

    def marginal(self, theta):
        far = [-0.5 * np.sum((theta - c) ** 2, axis=1) / 0.04 for c in (-3.0, 3.0)]
        return np.logaddexp(*far)


def test_prior_from_a_published_range():
    """Central 90 % of the prior is the range it was made from (arithmetic)."""
    low, _, high = Prior.from_range("n", 0.08, np.sqrt(0.08 * 0.2), 0.2, positive=True).interval(0.9)
    assert (low, high) == pytest.approx((0.08, 0.2), rel=1e-12)


def test_exchangeable_effects_against_quadrature():
    """scipy's adaptive quadrature over the unknown spread; 15 nodes hold 1e-3 where effects are of its size."""
    spread = Prior("s", np.log(0.3), 0.5, True)
    for u in ([0.1, -0.3, 0.4], [0.9], [0.02, 0.01]):
        def integrand(log_s, u=u):
            return np.exp(stats.norm.logpdf(log_s, spread.mean, spread.sd)
                          + stats.norm.logpdf(u, 0, np.exp(log_s)).sum())
        exact = np.log(integrate.quad(integrand, -8, 6, epsabs=0, epsrel=1e-10)[0])
        log_p, slope, _ = exchangeable(np.array(u), spread)
        assert log_p == pytest.approx(exact, abs=1e-3)
        step = 1e-5 * np.eye(len(u))
        numeric = [(exchangeable(u + e, spread)[0] - exchangeable(u - e, spread)[0]) / 2e-5 for e in step]
        assert slope == pytest.approx(numeric, rel=1e-6)


def test_draws_of_the_spread_follow_its_posterior():
    rng = np.random.default_rng(3)
    spread, u = Prior("s", np.log(0.3), 0.5, True), np.array([0.5, -0.6, 0.4, 0.7])
    draws = draw_spread(np.tile(u, (20_000, 1)), spread, rng)
    def weighted(power):
        return integrate.quad(lambda t: np.exp(power * t + stats.norm.logpdf(t, spread.mean, spread.sd)
                                               + stats.norm.logpdf(u, 0, np.exp(t)).sum()), -8, 6)[0]
    assert draws.mean() == pytest.approx(weighted(1) / weighted(0), rel=0.02)   # 4 standard errors of the mean


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


def test_resampling_keeps_the_weights():
    log_w = np.log(np.array([0.1, 0.2, 0.7]))
    counts = np.bincount(resample(log_w, 1000, np.random.default_rng(2)), minlength=3)
    assert counts == pytest.approx([100, 200, 700], abs=1)          # systematic: within one of exact


def test_climb_finds_the_top_of_a_narrow_ridge():
    """Rosenbrock's function (1960): top at (1, 1), from the usual start (-1.2, 1)."""
    class At:
        def __init__(self, t):
            x, y = t
            self.merit = -(100 * (y - x * x) ** 2 + (1 - x) ** 2)
            self.gradient = np.array([400 * x * (y - x * x) + 2 * (1 - x), -200 * (y - x * x)])
            self.precision = np.array([[1200 * x * x - 400 * y + 2, -400 * x], [-400 * x, 200.0]])
    mode = climb(lambda t, _: At(t), [-1.2, 1.0])
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

    mode = climb(lambda t, _: At(t), [-3.0, 4.0], tolerance=1e-12)
    assert mode.converged and mode.steps <= 40
    np.testing.assert_allclose(mode.theta, top, atol=1e-5)


def test_a_proposal_is_turned_by_what_can_be_weighed():
    """Draws on a flank where most log densities are out of all bounds, as with a density that falls off a cliff: the
    proposal moves towards the few that are not, and stays one that can be drawn from."""
    rng = np.random.default_rng(4)
    q = SplitT(np.zeros(3), np.eye(3), np.ones(3), np.ones(3))
    theta = q.draw(400, rng)
    log_ratio = np.where(theta[:, 0] > 0.8, 4 * theta[:, 0], -1e131 * rng.random(400))
    moved = turn(q, theta, log_ratio)
    assert np.isfinite(moved.axes).all() and moved.centre[0] > 0.1
    assert np.isfinite(moved.log_density(moved.draw(10, rng))).all()


def test_importance_draws_of_a_correlated_normal():
    rng = np.random.default_rng(0)
    A = rng.standard_normal((12, 12))
    covariance, mean = A @ A.T / 12 + 0.1 * np.eye(12), np.arange(12.0)
    drawn = sample(Normal(mean, covariance), mean + 0.3, 1.5 * covariance, 4000, np.random.default_rng(1))
    assert drawn.method == "importance"
    assert drawn.good
    sd = np.sqrt(np.diag(covariance))
    assert (drawn.theta.mean(axis=0) - mean) / sd == pytest.approx(np.zeros(12), abs=5 / np.sqrt(drawn.effective))
    assert drawn.theta.std(axis=0) / sd == pytest.approx(np.ones(12), rel=5 / np.sqrt(2 * drawn.effective))


def test_a_centre_that_is_no_mode_is_looked_for_again():
    """Draws 40 sd from a normal's mode lie on a flank; told where it is, they are as good as from the start, and
    counted anew. Mean within 5 standard errors, sd within 15 %. Where no better centre is known, the
    slower sampler finds it."""
    rng = np.random.default_rng(2)
    mean = np.full(4, 40.0)
    asked = []

    def again():
        asked.append(1)
        return mean + 0.2, np.eye(4)

    drawn = sample(Normal(mean, np.eye(4)), np.zeros(4), 0.01 * np.eye(4), 1000, rng, again=again)
    assert len(asked) == 1 and drawn.method == "importance" and drawn.tried < 3000
    assert drawn.theta.mean(axis=0) == pytest.approx(mean, abs=5 / np.sqrt(drawn.effective))
    assert drawn.theta.std(axis=0) == pytest.approx(np.ones(4), rel=0.15)
    near = sample(Normal(mean, np.eye(4)), mean + 0.2, np.eye(4), 1000, rng, again=again)
    assert len(asked) == 1 and near.method == "importance"
    lost = sample(Normal(mean, np.eye(4)), np.zeros(4), 0.01 * np.eye(4), 1000, rng, again=lambda: None)
    assert lost.method == "tempered" or lost.effective >= 100


@pytest.mark.parametrize("bend", [0.7, 1.5])
def test_the_slow_sampler_takes_over_and_says_when_it_has_not_settled(bend):
    """A law bent out of reach of its first guess: either its moments are right or no effective draws are claimed.
    Tolerances: 4 standard errors of 1,000 independent draws, half as much again for the particles' kinship."""
    drawn = sample(Bent(bend), np.zeros(2), np.diag([1.0, 0.25]), 1000, np.random.default_rng(1), rounds=(100,))
    assert drawn.method == "tempered"
    if bend < 1:
        assert drawn.good
    if drawn.good:
        assert drawn.theta[:, 1].mean() == pytest.approx(bend, abs=6 * np.sqrt(2 * bend**2 + 0.25) / np.sqrt(1000))
        assert drawn.theta[:, 1].var() == pytest.approx(2 * bend**2 + 0.25, rel=0.45)
        assert drawn.theta[:, 0].std() == pytest.approx(1.0, rel=0.1)


def test_tempering_finds_both_hills():
    from bandtrial.inference.proposal import SplitT

    q = SplitT(np.zeros(2), 4 * np.eye(2), np.ones(2), np.ones(2))
    theta = tempered(TwoHills(), q, 3000, np.random.default_rng(4))[0]
    assert (theta[:, 0] > 0).mean() == pytest.approx(0.5, abs=0.08)
    assert theta[theta[:, 0] > 0].mean(axis=0) == pytest.approx([3.0, 3.0], abs=0.03)
