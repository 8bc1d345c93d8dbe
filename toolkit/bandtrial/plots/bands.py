"""Uncertainty as drawn everywhere: shaded intervals about a median line, a few single draws, data on top."""

from __future__ import annotations

import numpy as np

LEVELS = ((0.8, 0.18), (0.5, 0.30))  # interval and how dark it is drawn


def interval(ax, x, draws, look, label, levels=LEVELS):
    """Median line and 80 % and 50 % intervals of draws (n_draws, n) over x (n,); returns ax."""
    for level, alpha in levels:
        low, high = np.quantile(draws, [(1 - level) / 2, (1 + level) / 2], axis=0)
        ax.fill_between(x, low, high, color=look["color"], alpha=alpha, linewidth=0)
    ax.plot(
        x,
        np.median(draws, axis=0),
        color=look["color"],
        linestyle=look["linestyle"],
        linewidth=1.8,
        label=label,
    )
    return ax


def single_draws(ax, x, draws, look, count=12):
    """A few single draws, evenly picked, as thin lines: what a curve could look like; returns ax."""
    for row in draws[:: max(1, len(draws) // count)][:count]:
        ax.plot(x, row, color=look["color"], linewidth=0.5, alpha=0.35)
    return ax


def thinned(n, most=400):
    """Indices of at most `most` of n points, evenly spaced, so that long logs stay readable."""
    return np.arange(n) if n <= most else np.unique(np.linspace(0, n - 1, most).astype(int))
