"""The best setting there is: the truth that a recommendation is measured against."""

from dataclasses import dataclass

import numpy as np
from bandtrial import sawing
from numpy.typing import NDArray

from bandtrial_lessons.shop.config import Costs, Scatter
from bandtrial_lessons.shop.limits import Limits, kept
from bandtrial_lessons.shop.long_run import LongRun, expected_turns, priced
from bandtrial_lessons.shop.mechanics import Mechanics

Array = NDArray[np.float64]
CHANGES = np.append(np.geomspace(0.15, 2.5, 14), np.inf)
"""Change-out points tried, over the mean area of a band run to the end; inf: run to the end."""
ROUNDS = 4
SIDE = 15


@dataclass(frozen=True)
class Best:
    """The setting of least long-run cost within the limits."""

    band_speed: float
    """True [m/min]."""
    feed: float
    """Feed rate [mm/min] or feed force [N]."""
    chip_load: float
    """[um]; at a set feed force with a half worn band."""
    change_after: float | None
    """[cm2]; None: run to the end."""
    cost: float
    """[currency/cm2]"""
    cutting_rate: float
    """[cm2/min]"""
    band_life: float
    """Expected area of a band's turn [cm2]."""


class NoSettingError(ValueError):
    """No setting of the machine keeps every limit."""


def best_setting(
    mechanics: Mechanics, scatter: Scatter, costs: Costs, limits: Limits, L: float, changes: bool = True
) -> Best:
    """Least long-run cost over speed, feed and change-out point, on grids that close in on the best.

    L : work thickness [mm]
    changes : False leaves every band in to its end

    Raises `NoSettingError` naming the limits that no setting keeps.
    """
    V_grid = np.concatenate([np.geomspace(*r, SIDE) for r in limits.band_speed_ranges])
    feeds = np.geomspace(*_feed_span(mechanics, limits, V_grid, L), 2 * SIDE)
    step = np.log([V_grid[1] / V_grid[0], feeds[1] / feeds[0]])
    best = _least(mechanics, scatter, costs, limits, L, V_grid, feeds, np.array([np.inf]))
    for _ in range(ROUNDS):
        offsets = np.linspace(-1.0, 1.0, SIDE)
        V = _inside(best.band_speed * np.exp(1.5 * step[0] * offsets), limits.band_speed_ranges)
        feeds = best.feed * np.exp(1.5 * step[1] * offsets)
        after = _change_points(best, CHANGES) if changes else np.array([np.inf])
        best = min(best, _least(mechanics, scatter, costs, limits, L, V, feeds, after, best), key=lambda b: b.cost)
        step = step * 3.0 / (SIDE - 1)
    return best


def _feed_span(mechanics: Mechanics, limits: Limits, V: Array, L: float) -> tuple[float, float]:
    if limits.feed_range:
        return limits.feed_range
    if mechanics.feed_name == "feed_rate":
        low, high = limits.least_chip_load or 1.0, limits.greatest_chip_load or 100.0
        p = mechanics.spacing
        return float(sawing.feed_rate(V.min(), low, p)), float(sawing.feed_rate(V.max(), high, p))
    return float(mechanics.feed_force(1.0, L, 0.0)), float(mechanics.feed_force(100.0, L, 1.0))


def _inside(V: Array, ranges: tuple[tuple[float, float], ...]) -> Array:
    """Speeds moved to the nearest one that the machine has."""
    nearest = np.array([np.clip(V, *r) for r in ranges])
    return np.asarray(nearest[np.abs(nearest - V).argmin(axis=0), np.arange(len(V))])


def _change_points(best: Best, shares: Array) -> Array:
    if best.change_after is None:
        return best.band_life * shares
    return np.append(best.change_after * np.geomspace(0.7, 1.4, 9), np.inf)


def _least(
    mechanics: Mechanics, scatter: Scatter, costs: Costs, limits: Limits, L: float, V: Array, feeds: Array,
    after: Array, fallback: Best | None = None,
) -> Best:  # fmt: skip
    """The best of a grid that keeps the limits."""
    V, feeds = (x.ravel() for x in np.meshgrid(V, feeds, indexing="ij"))
    checks = kept(mechanics, limits, V, L, feeds)
    ok = np.all(list(checks.values()), axis=0)
    if not ok.any():
        if fallback is not None:
            return fallback
        never = [name for name, good in checks.items() if not good.any()] or list(checks)
        raise NoSettingError(f"No setting keeps every limit; none at all keeps {', '.join(never)}.")
    V, feeds = V[ok], feeds[ok]
    turns = expected_turns(mechanics, scatter, V, np.full(len(V), L), feeds, np.tile(after, (len(V), 1)))
    run = priced(mechanics, costs, *turns)
    i, j = np.unravel_index(run.cost.argmin(), run.cost.shape)
    return _best(mechanics, run, int(i), int(j), V, feeds, after, L)


def _best(mechanics: Mechanics, run: LongRun, i: int, j: int, V: Array, feeds: Array, after: Array, L: float) -> Best:
    if mechanics.feed_name == "feed_force":
        h = mechanics.chip_load_at_force(feeds[i], L, 0.5)
    else:
        h = sawing.chip_load(V[i], feeds[i], mechanics.spacing)
    return Best(
        band_speed=float(V[i]),
        feed=float(feeds[i]),
        chip_load=float(h),
        change_after=float(after[j]) if np.isfinite(after[j]) else None,
        cost=float(run.cost[i, j]),
        cutting_rate=float(run.cutting_rate[i, j]),
        band_life=float(run.area[i, j]),
    )
