"""Climb to the mode of a density by Newton steps, damped where they fail; weights that tell how far draws about it,
or of another law, can be trusted: Pareto-smoothed, with k-hat and effective draws.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import ArrayLike

SHORT, PATIENCE = 0.5, 3  # steps are too short when this many in a row leave more than this much of the slope
MOST_STRETCH = 20.0  # by how much they are lengthened at most
FIRST, HARDER, SOFTER = 0.1, 8.0, 0.2  # damping after a first failure; its factor after others, and after a good step
NONE, HARDEST = 1e-6, 1e8  # damping below which there is none, and above which the climb ends
FLAT = 1e-3  # least curvature taken for one that is none or negative


class Slopes(Protocol):
    """A log density at one place: its merit, gradient (d,) and precision (d, d), the curvature turned round."""

    merit: float
    gradient: np.ndarray
    precision: np.ndarray


@dataclass(frozen=True)
class Mode:
    """Where the climb ended: theta (d,), the merit and precision (d, d) there, steps taken, decrement left."""

    theta: np.ndarray
    merit: float
    precision: np.ndarray
    steps: int
    decrement: float
    converged: bool


@dataclass
class _Pace:
    """How steps are taken: their damping, by how much they are stretched, and how many in a row crept."""

    damping: float = 0.0
    stretch: float = 1.0
    creeping: int = 0

    def failed(self) -> None:
        """After a step that lost."""
        self.damping, self.stretch, self.creeping = max(HARDER * self.damping, FIRST), 1.0, 0

    def held(self, left: float, gain: float, foretold: float) -> None:
        """After a step that left so much of the slope along it, and gained what it did of what was foretold."""
        self.creeping = self.creeping + 1 if self.damping == 0 and left > SHORT else 0
        longer = self.stretch / max(1 - left, 1e-3)
        self.stretch = min(max(longer, 1.0), MOST_STRETCH) if self.creeping >= PATIENCE else 1.0
        self.damping *= SOFTER if gain > 0.75 * foretold else 1.0 if gain > 0.25 * foretold else 2.0
        if self.damping < NONE:
            self.damping = 0.0


def climb(
    slopes: Callable[[np.ndarray], Slopes],
    start: ArrayLike,
    tolerance: float = 1e-12,
    most: int = 100,
    longest: float = np.inf,
) -> Mode:
    """Maximise a log density.

    Step (P + lambda diag P)^-1 g, no component longer than `longest`; lambda is raised where the merit falls or gains
    less than a quarter of what the quadratic foretold, and lowered where it gains three quarters (Levenberg's damping,
    Marquardt's scale). Where P overstates the curvature the steps creep; once PATIENCE undamped ones in a row have
    left more than SHORT of the slope along them, the next are stretched to where the secant sees no slope. Ends with
    the step from where the decrement g' P^-1 g is at most `tolerance` (a Newton step squares it: 1e-9 leaves nothing a
    double can hold), or a thousandth of it where steps creep, which understates it.
    Source, from memory: Marquardt, J. SIAM 11 (1963), 431-441; quarters: Fletcher, Practical Methods of Optimization
    (1987), 5.2.
    """
    theta = np.array(start, float)
    here, pace = slopes(theta), _Pace()
    step, decrement, converged = 0, np.inf, False
    while step < most and pace.damping <= HARDEST and not converged:
        step += 1
        move, decrement = _step(here, pace.damping)
        move *= min(pace.stretch, longest / max(float(np.abs(move).max()), 1e-300))
        new = slopes(theta + move)
        gain, slope = new.merit - here.merit, float(here.gradient @ move)
        if not isfinite(gain) or gain < -1e-10 * (1 + abs(here.merit)):
            pace.failed()
            continue
        left = float(new.gradient @ move) / max(slope, 1e-300)
        pace.held(left, gain, slope - 0.5 * float(move @ here.precision @ move))
        converged = decrement <= (1e-3 * tolerance if pace.creeping else tolerance)
        theta, here = theta + move, new
    converged = converged or (pace.damping > HARDEST and decrement <= 100 * tolerance)
    return Mode(theta, here.merit, here.precision, step, decrement, converged)


def _step(here: Slopes, damping: float) -> tuple[np.ndarray, float]:
    """Damped Newton step, and the decrement of the undamped one."""
    P, g = here.precision, here.gradient
    try:
        np.linalg.cholesky(P)  # fails where P is not positive definite
        plain = np.linalg.solve(P, g)
        damped = np.linalg.solve(P + np.diag(damping * P.diagonal()), g) if damping else plain
        return damped, float(g @ plain)
    except np.linalg.LinAlgError:
        return _folded(P, g, damping)


def _folded(P: np.ndarray, g: np.ndarray, damping: float) -> tuple[np.ndarray, float]:
    """`_step` for a curvature that is not positive definite: its eigenvalues, where diag P is 1, are taken by their
    sizes, FLAT at least (Nocedal and Wright, Numerical Optimization (2006), 3.4, from memory).

    Where rounding has left nothing of it but its size, the step is the gradient over the sum of its row's sizes, which
    no such matrix exceeds (Gershgorin).
    """
    root = np.sqrt(np.maximum(np.abs(P.diagonal()), 1e-12))
    try:
        values, vectors = np.linalg.eigh(P / np.outer(root, root))
    except np.linalg.LinAlgError:
        return g / np.maximum(np.abs(P).sum(axis=1), 1e-300), np.inf
    values, along = np.maximum(np.abs(values), FLAT), vectors.T @ (g / root)
    return vectors @ (along / (values + damping)) / root, float(along @ (along / values))


def sound_covariance(precision: np.ndarray, scale: np.ndarray, least: float = 0.3) -> np.ndarray:
    """Inverse of a precision whose eigenvalues, in units of 1/scale^2, are lifted to `least` where below it."""
    values, vectors = np.linalg.eigh(precision * np.outer(scale, scale))
    half = scale[:, None] * vectors / np.sqrt(np.maximum(values, least))
    return np.asarray(half @ half.T)


class Smoothed(NamedTuple):
    """Log weights (N,) that sum to one, k-hat, and as many effective draws as they make of N."""

    log_w: np.ndarray
    k_hat: float
    effective: float


def pareto_smooth(log_w: np.ndarray) -> Smoothed:
    """Smooth the largest importance weights with a generalised Pareto tail.

    The M = min(N/5, 3 sqrt(N)) largest weights are replaced by the expected order statistics of a
    generalised Pareto law fitted to them.
    k-hat below 0.7 means that averages over the draws can be trusted at usual sizes; infinite when the
    weights are all the same or not finite.

    Source: Vehtari, Simpson, Gelman, Yao, Gabry, Pareto smoothed importance sampling, JMLR 25 (2024), 1-58;
    fit of the tail: Zhang and Stephens, Technometrics 51 (2009), 316-325, with the weak prior of the former.
    """
    log_w = np.where(np.isfinite(log_w), log_w, -np.inf)
    n = len(log_w)
    log_w = log_w - log_w.max()
    m = int(min(n / 5, 3 * np.sqrt(n)))
    order = np.argsort(log_w)
    tail = order[n - m :]
    cut = np.exp(log_w[order[n - m - 1]])
    excess = np.exp(log_w[tail]) - cut
    k_hat = np.inf
    if m >= 5 and excess[-1] > 0:
        k_hat, scale = fit_generalised_pareto(excess)
        p = (np.arange(m) + 0.5) / m
        smooth = scale * np.expm1(-k_hat * np.log1p(-p)) / k_hat if k_hat else -scale * np.log1p(-p)
        log_w[tail] = np.log(np.minimum(cut + smooth, 1.0) + 1e-300)
    elif m >= 5:
        k_hat = -np.inf  # equal weights: nothing to smooth
    log_w = log_w - np.log(np.exp(log_w).sum())
    return Smoothed(log_w, float(k_hat), float(1 / np.exp(2 * log_w).sum()))


def fit_generalised_pareto(x: np.ndarray) -> tuple[float, float]:
    """Shape k and scale of a generalised Pareto law for sorted exceedances x (m,), density positive from 0.

    Zhang and Stephens' posterior-mean estimate over a data-based grid of b = k/scale, then shrunk to 0.5
    as if by ten more observations (Vehtari et al.).
    """
    m = len(x)
    grid = 30 + int(np.sqrt(m))
    quarter = x[int(m / 4 + 0.5) - 1]
    b = 1 - np.sqrt(grid / (np.arange(1, grid + 1) - 0.5))
    b = b / (3 * max(quarter, 1e-300)) + 1 / x[-1]
    k = np.mean(np.log1p(-b[:, None] * x), axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        profile = m * (np.log(-b / k) - k - 1)
    profile = np.where(np.isfinite(profile), profile, -np.inf)
    w = np.exp(profile - profile.max())
    b_mean = np.sum(b * w) / w.sum()
    k_mean = np.mean(np.log1p(-b_mean * x))
    scale = -k_mean / b_mean
    return float((m * k_mean + 10 * 0.5) / (m + 10)), float(scale)
