"""Climb to the mode of a density from its gradient and curvature: Newton steps, damped where they fail."""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SHORT, PATIENCE = 0.5, 3     # steps are too short when this many in a row leave more than this much of the slope
MOST_STRETCH = 20.0          # by how much they are lengthened at most


@dataclass(frozen=True)
class Mode:
    """Where the climb ended: theta (d,), precision (d, d), the slopes there, steps taken, decrement left."""

    theta: np.ndarray
    precision: np.ndarray
    at: object
    steps: int
    decrement: float
    converged: bool


def climb(slopes, start, tolerance=1e-12, most=60, longest=np.inf):
    """Maximise a log density. `slopes(theta, last)` returns an object with merit, gradient (d,), precision (d, d).

    Step (P + lambda diag P)^-1 g, lambda raised until the merit rises (Levenberg's damping), no component
    longer than `longest`. Where P overstates the curvature the steps creep; once PATIENCE undamped ones in a row have
    left more than SHORT of the slope along them, the next are stretched to where the secant sees no slope. Ends with
    the step whose decrement g' P^-1 g is at most `tolerance` (a Newton step squares it: 1e-9 leaves nothing a double
    can hold).
    """
    theta = np.array(start, float)
    here = slopes(theta, None)
    damping, decrement, converged, stretch, slow = 0.0, np.inf, False, 1.0, 0
    step = 0
    while step < most:
        step += 1
        move, decrement = _step(here, damping)
        move *= min(stretch, longest / max(float(np.max(np.abs(move))), 1e-300))
        new = slopes(theta + move, here)
        slack = 1e-10 * (1 + abs(here.merit))
        if np.isfinite(new.merit) and new.merit >= here.merit - slack:
            left = float(new.gradient @ move) / max(float(here.gradient @ move), 1e-300)
            slow = slow + 1 if damping == 0 and left > SHORT else 0
            stretch = float(np.clip(stretch / max(1 - left, 1e-3), 1.0, MOST_STRETCH)) if slow >= PATIENCE else 1.0
            theta, here = theta + move, new
            damping = damping / 10 if damping > 1e-6 else 0.0
            if decrement <= tolerance:
                converged = True
                break
        else:
            damping, stretch, slow = max(10 * damping, 3e-2), 1.0, 0
            if damping > 1e8:
                converged = decrement <= 100 * tolerance
                break
    return Mode(theta, here.precision, here, step, float(decrement), converged)


def _step(here, damping):
    """Damped Newton step and its decrement; damping is raised until the curvature is positive definite.

    Where rounding has left nothing of the curvature but its size, the gradient over the sum of its row's sizes,
    which is at least as damped as any positive definite matrix of that size (Gershgorin).
    """
    P = here.precision
    while True:
        damped = P
        if damping:
            damped = P + damping * np.diag(np.maximum(np.abs(np.diag(P)), 1e-12))
        try:
            np.linalg.cholesky(damped)
            move = np.linalg.solve(damped, here.gradient)
            return move, float(here.gradient @ move)
        except np.linalg.LinAlgError:
            damping = max(10 * damping, 1e-6)
            if damping > 1e12:
                move = here.gradient / np.maximum(np.abs(P).sum(axis=1), 1e-300)
                return move, float(here.gradient @ move)
