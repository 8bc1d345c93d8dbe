"""The top of the posterior of what says how far things scatter, all else integrated out by Laplace's method.

Steps are Gauss and Newton's in parameters and band effects together; the merit is the joint density less half the log
determinant of their curvature, but for the noises, the spreads and the shape: with as many levels as readings, the top
of the joint density has no noise at all. Of that determinant, only what the noises and the spreads do to it is in the
slopes, to first order: the top starts the draws, it is no answer. Damping is Levenberg's, by Marquardt's scale, raised
where a step gains under a quarter of what it should (Fletcher; sources: `inference.climb`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ..inference import on_grid
from .bands import band_scores
from .curvature import Curvature, curvature
from .density import Density

FIRST, HARDER, SOFTER = 0.1, 6.0, 0.2  # damping after a first failure; its factor after others, and after a good step
LEAST_DAMPING = 0.02  # damping below which there is none, and after a step that gains under a quarter of what it should
LONGEST = 2.0  # of a step in a parameter
HARDEST = 1e6  # damping at which a climb ends
NEAR_BY = 64  # parts of an sd to which the end of a climb is told
AFAR, MOST_AFAR = 0.15, 15  # decrement for each parameter down to which a climb is begun; its steps at the most
HELD_BACK = 10.0  # damping above which the effects' own steps are shortened, too
HUNDREDS = 300  # parameters; with more, a point as near in each of them is further off in all
NEAR, LITTLE, PATIENCE = 2.0, 0.1, 3  # decrement near the top; gain that is next to none, so often there: arrived


@dataclass
class Top:
    """Where a climb ended: theta (d,), w (m,), g (list of (m,)), merit, curvature, steps, decrement left, arrived?
    pull_end (m,) and pull_w (list of (m,)): slopes with w of each band's end and of each signal's readings there."""

    theta: np.ndarray
    w: np.ndarray
    g: list[np.ndarray]
    merit: float
    curvature: Curvature
    steps: int
    decrement: float
    converged: bool
    pull_end: np.ndarray
    pull_w: list[np.ndarray]


class _Step(NamedTuple):
    """How far to go: in theta (d,), w (m,) and g (list of (m,)); the decrement of the undamped step in theta, and what
    the merit should gain by this one."""

    theta: np.ndarray
    w: np.ndarray
    g: list[np.ndarray]
    decrement: float
    foretold: float


class _Here:
    """A point of the climb: merit, slopes, curvature."""

    def __init__(self, density: Density, theta: np.ndarray, w: np.ndarray, g: list[np.ndarray]) -> None:
        self.theta, self.w, self.g, self.layout = theta, w, g, density.layout
        value, by_theta, by_w, by_g = density.value_and_slopes(theta[:, None], w[:, None], [a[:, None] for a in g])
        self.by_theta, self.by_w, self.by_g = by_theta[:, 0], by_w[:, 0], [a[:, 0] for a in by_g]
        self.curvature = c = curvature(density, theta, w)
        known = c.eliminated
        self.schur, self.precision, self.dw, self.V_groups = known.schur, known.precision, known.dw, known.V_groups
        self.merit = float(value[0]) - 0.5 * float(np.log(self.schur).sum() + sum(np.log(gg).sum() for gg in c.gg))
        self.merit -= 0.5 * known.log_det
        self._determinant(density)

    def _determinant(self, density: Density) -> None:
        """Slopes of -1/2 log det of the effects' and parameters' curvature with the log spreads and the log noises."""
        known = self.curvature.eliminated
        for place, own, variances in known.scatter:
            self.by_theta[place] += own * np.sum(variances)
        for block, s, followed in zip(density.layout.blocks, density.rows.signals, known.leverage, strict=True):
            sd = np.exp(min(self.theta[block.noise], 20.0))
            self.by_theta[block.noise] += (sd / s.scale(sd)) ** 2 * followed

    def step(self, damping: float) -> _Step:
        """Damped step in theta, then w and g at their own best along it."""
        c = self.curvature
        total = self.by_w - sum(wg / gg * s for wg, gg, s in zip(c.wg, c.gg, self.by_g, strict=True))
        gradient = self.by_theta + self.dw.T @ total
        for C, gg, s in zip(c.with_g, c.gg, self.by_g, strict=True):
            gradient -= (C / gg[:, None]).T @ s
        move = c.eliminated.newton(gradient)
        decrement = float(gradient @ move)
        if damping:
            P = self.precision.copy()
            P[np.diag_indices(len(P))] += damping * np.maximum(np.diag(P), 1e-9)
            move = np.linalg.solve(P, gradient)
        move *= min(1.0, LONGEST / max(float(np.abs(move).max()), 1e-300))
        foretold = float(gradient @ move - 0.5 * move @ (self.precision @ move))
        for (at, place, own), V in zip(c.groups, self.V_groups, strict=True):
            move[at] += self.theta[at] * _grown(1 / V, own, move[place])
        lay, pace = self.layout, HELD_BACK / max(damping, HELD_BACK)
        dw = pace * total / self.schur + self.dw @ move
        dw += (self.w + dw) * _grown(self.schur, np.exp(-2 * self.theta[lay.band_scatter]), move[lay.band_scatter])
        np.clip(dw, -1.0, 1.0, out=dw)
        by_band = []
        for s, wg, gg, C, g, block in zip(self.by_g, c.wg, c.gg, c.with_g, self.g, lay.blocks, strict=True):
            dg = (pace * s - wg * dw - C @ move) / gg
            dg += (g + dg) * _grown(gg, np.exp(-2 * self.theta[block.band]), move[block.band])
            by_band.append(np.clip(dg, -2.0, 2.0))
        return _Step(move, dw, by_band, decrement, foretold)


def _near(density: Density, here: _Here) -> _Here:
    """The point beside that lies on a grid of 1/NEAR_BY of each sd, a power of two: a climb's last digits are the
    processor's own."""
    c = here.curvature
    theta = _gridded(here.theta, np.diag(here.precision))
    w = _gridded(here.w, here.schur)
    return _Here(density, theta, w, [_gridded(g, gg) for g, gg in zip(here.g, c.gg, strict=True)])


def _gridded(x: np.ndarray, precision: np.ndarray) -> np.ndarray:
    return on_grid(x, np.exp2(np.floor(-0.5 * np.log2(np.maximum(precision, 1e-300)))) / NEAR_BY)


def _grown(precision: np.ndarray, own: float | np.ndarray, move: float | np.ndarray) -> np.ndarray:
    """Share by which effects known to `precision`, `own` of it from their spread, grow as log spread does by `move`."""
    return np.asarray(precision / (precision - own + own * np.exp(-2 * move)) - 1)


def climb(
    density: Density,
    theta: np.ndarray,
    w: np.ndarray | None = None,
    g: list[np.ndarray] | None = None,
    tolerance: float = 0.05,
    most: int = 60,
    seen: Callable[[int], None] | None = None,
) -> Top:
    """`Top` from a start theta (d,). Ends where the decrement of the next step is at most `tolerance` (with hundreds of
    parameters, as many times that as there are HUNDREDS), or where steps gain next to nothing.

    seen(steps): called at each step; may raise to stop."""
    zero = np.zeros(density.n_bands)
    here = _Here(density, theta, zero if w is None else w, [zero for _ in density.rows.signals] if g is None else g)
    damping, converged, decrement, step, creeping = 0.0, False, np.inf, 0, 0
    many = max(len(theta) / HUNDREDS, 1.0)
    for step in range(1, most + 1):
        if seen:
            seen(step)
        by = here.step(damping)
        decrement = by.decrement
        new = _Here(density, here.theta + by.theta, here.w + by.w, [a + b for a, b in zip(here.g, by.g, strict=True)])
        gain = new.merit - here.merit
        creeping = creeping + 1 if gain < LITTLE * many and decrement < NEAR * many else 0
        if creeping == PATIENCE:
            here = new if gain > 0 else here
            break
        if not np.isfinite(gain) or gain < -1e-3:
            damping = max(HARDER * damping, FIRST)
            if damping > HARDEST:
                break
            continue
        here, converged = new, decrement <= tolerance * many
        weak = gain < 0.25 * by.foretold and damping < FIRST
        damping = max(2 * damping, LEAST_DAMPING) if weak else damping * SOFTER
        damping = damping if damping >= LEAST_DAMPING else 0.0
        if converged:
            break
    return _top(density, _near(density, here), step, decrement, converged or decrement < NEAR * many)


def climb_from_afar(
    density: Density, theta: np.ndarray, tolerance: float = 0.05, seen: Callable[[int], None] | None = None
) -> Top:
    """`climb` from theta (d,), however far from the top: at first under noise whose pull never lets go, so that no band
    that is foretold far too high is left where it is."""
    near = climb(density.bounded(), theta, tolerance=AFAR * len(theta), most=MOST_AFAR, seen=seen)
    return climb(density, near.theta, near.w, near.g, tolerance, seen=seen)


def _top(density: Density, here: _Here, steps: int, decrement: float, converged: bool) -> Top:
    """`Top` at the point where a climb ended."""
    scores = band_scores(density, here.theta[:, None], here.w[:, None], [a[:, None] for a in here.g])
    _, end, *pulls = scores.of_w
    return Top(
        here.theta,
        here.w,
        here.g,
        here.merit,
        here.curvature,
        steps,
        decrement,
        converged,
        end[:, 0],
        [own[:, 0] for own in pulls],
    )
