"""Bands that break: Weibull in bending cycles, a two-parameter posterior on a grid, exact to the grid.

Its parameters are apart from all others given the cuts, so the posterior factors: a broken band adds
log k + (k-1) log N - k log S - (N/S)^k, any other band -(N/S)^k, N its bending cycles so far. A band that is welded
anew counts as another from then on.
"""

from __future__ import annotations

import numpy as np

GRID = 61
AT_ONCE = 1000  # bands worked on at once: 30 MB an array


def break_draws(cycles, broken, scale, shape, n, rng):
    """n draws of (S, k) from cycles (m,), broken (m,) bool and the priors (inference.Prior) of S and k."""
    a, b, log_p = break_grid(cycles, broken, scale, shape)
    p = np.exp(log_p - log_p.max()).ravel()
    at = np.searchsorted(np.cumsum(p), rng.random(n) * p.sum())
    i, j = np.divmod(np.minimum(at, GRID * GRID - 1), GRID)
    jitter = rng.random((2, n)) - 0.5
    return np.exp(a[i] + jitter[0] * (a[1] - a[0])), np.exp(b[j] + jitter[1] * (b[1] - b[0]))


def break_grid(cycles, broken, scale, shape):
    """log S (GRID,), log k (GRID,) and the log posterior on them (GRID, GRID), up to a constant.

    The grid runs to 4.5 prior sd each side; S also down to where the cycles seen would be unlikely.
    """
    cycles, broken = np.maximum(np.asarray(cycles, float), 1e-9), np.asarray(broken, bool)
    a = scale.mean + scale.sd * np.linspace(-4.5, 4.5, GRID)
    b = shape.mean + shape.sd * np.linspace(-4.5, 4.5, GRID)
    k, log_p = np.exp(b)[None, :, None], np.zeros((GRID, GRID))
    for at in range(0, len(cycles), AT_ONCE):
        log_c = np.log(cycles[at : at + AT_ONCE])
        z = np.clip(k * (log_c - a[:, None, None]), -300, 300)
        log_p += (np.where(broken[at : at + AT_ONCE], np.log(k) + z - log_c, 0.0) - np.exp(z)).sum(axis=2)
    prior = -0.5 * ((a - scale.mean) / scale.sd)[:, None] ** 2 - 0.5 * ((b - shape.mean) / shape.sd) ** 2
    return a, b, log_p + prior
