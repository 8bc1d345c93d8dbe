"""The best setting of a world within limits: a grid over speed and feed, twice refined, change-out and all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from bandtrial_lessons.worlds.latent import Array
from bandtrial_lessons.worlds.limits import kept
from bandtrial_lessons.worlds.longrun import long_run
from bandtrial_lessons.worlds.physics import Physics
from bandtrial_lessons.worlds.sheet import Sheet

CHIPS = (1.5, 50.0)
"""Chip loads looked at where a rate is set or a pace held [um]."""
Box = tuple[tuple[float, float], tuple[float, float]]


@dataclass(frozen=True)
class Best:
    """Indicated speed [m/min], feed [mm/min or N], change-out [cm2, inf: run to the end], cost [EUR/cm2]."""

    indicated: float
    feed: float
    change_after: float
    cost: float


def bite(sheet: Sheet, indicated: Any, feed: Any) -> Any:
    """What a box bounds beside the speed: chip load by the dial [um], or the feed force [N]."""
    return feed if sheet.force_set else np.asarray(feed) * sheet.spacing / indicated


def settings(sheet: Sheet, speeds: Any, bites: Any) -> tuple[Array, Array]:
    """Every pair of them: indicated speed and feed (n,)."""
    V, b = (grid.ravel() for grid in np.meshgrid(speeds, bites, indexing="ij"))
    return V, b if sheet.force_set else b * V / sheet.spacing


def whole_box(sheet: Sheet) -> Box:
    """All that the machine has, and CHIPS."""
    speeds = (sheet.ranges[0][0], sheet.ranges[-1][1])
    return speeds, (sheet.feed_range if sheet.force_set else CHIPS)


def best_setting(physics: Physics, box: Box | None = None, size: int = 32) -> Best:
    """Of the one world in `physics`; box: ((least, greatest indicated speed), (least, greatest bite))."""
    sheet = physics.sheet
    box = box or whole_box(sheet)
    low, high = np.log(box).T
    found: Best | None = None
    at, span = 0.5 * (low + high), high - low
    for _ in range(3):
        ends = (np.clip((a - s / 2, a + s / 2), lo, hi) for a, s, lo, hi in zip(at, span, low, high, strict=True))
        grid = [np.exp(np.linspace(pair[0], pair[1], size)) for pair in ends]
        V, feed = settings(sheet, *grid)
        run = long_run(physics, V, feed)
        ok = np.all([one[0] for one in kept(physics, V, feed, slack=1 + 1e-9).values()], axis=0)
        cost = np.where(ok[:, None], run.cost[0], np.inf)
        i, j = np.unravel_index(np.argmin(cost), cost.shape)
        if np.isfinite(cost[i, j]) and (found is None or cost[i, j] < found.cost):
            found = Best(float(V[i]), float(feed[i]), float(run.age[0, i, j]), float(cost[i, j]))
        if found is None:
            raise ValueError(f"no setting of world {sheet.seed} ({sheet.kind}) keeps its limits")
        at = np.log([found.indicated, float(bite(sheet, found.indicated, found.feed))])
        span = span * 4 / size
    assert found is not None
    return found
