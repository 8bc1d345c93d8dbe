"""Lesson 1's trial: a new band run to its end at one speed, the cutting force read on the way, a mark for "
"dull."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from bandtrial import sawing, words
from bandtrial.sawing import Numbers
from numpy.typing import NDArray

from bandtrial_lessons import textbook
from bandtrial_lessons.reading import nice, nice_all
from bandtrial_lessons.teaching import cutting_life

if TYPE_CHECKING:
    from bandtrial_lessons.shop import Shop

READINGS = 10
"""In a band's life."""
TRAVEL = 100.0
"""Cut travel of each cut [mm]."""
MARKS = (0.68, 0.92)
"""Wear used between which the mark for dull is put [-]."""


@dataclass(frozen=True)
class WearRun:
    """Readings of one band. speed V [m/min]; minutes of cutting so far [min]; force on the band then [N]."""

    speed: float
    feed_rate: float
    minutes: NDArray[np.float64]
    force: NDArray[np.float64]

    def life(self, mark: float) -> float:
        """Minutes at which the force reaches the mark [N], straight lines between readings."""
        return textbook.straight_line_crossing(self.minutes, self.force, mark)

    def around(self, mark: float) -> tuple[float, float]:
        """The readings [min] before and after the force reaches the mark [N]."""
        after = int(np.flatnonzero(self.force >= mark)[0])
        return float(self.minutes[after - 1]), float(self.minutes[after])

    def rows(self, system: str) -> list[tuple[str, str]]:
        """The readings for people."""
        from bandtrial import units

        unit = units.display_unit("force", system)
        force = units.from_inside(self.force, "force", unit)
        return [(words.shown(t, 4), words.shown(f)) for t, f in zip(self.minutes, force, strict=True)]


def cutting_force(power: Numbers, V: Numbers, efficiency: Numbers) -> Numbers:
    """Force on the band 60 P e / V [N]: motor power P [W], drive efficiency e [-], band speed V [m/min].

    >>> cutting_force(1000.0, 60.0, 0.8)
    800.0
    """
    return 60.0 * power * efficiency / V


def run_to_the_end(shop: Shop, V: float, h: float, L: float, system: str) -> WearRun:
    """A new band at speed V [m/min], chip load h [um], in work L [mm], read ten times until it is worn "
    "out."""
    import pandas as pd

    feed = nice(float(sawing.feed_rate(V, h, shop.stock.tooth_spacing)), "feed_rate", system, 3)
    each = float(sawing.cut_time(TRAVEL, feed))
    pieces = max(1, round(cutting_life(shop, V, h, L) / READINGS / each))
    row = {"band": shop.new_band(), "band_speed": V, "feed_rate": feed, "work_thickness": L}
    log = shop.run(pd.DataFrame([row | {"cut_travel": TRAVEL, "pieces": pieces}] * (READINGS + 3)))
    log = log[log["complete"] & (log["pieces"] == pieces)]
    minutes = (each * log["pieces"].cumsum()).to_numpy(float)
    force = cutting_force(log["motor_power"].to_numpy(float), V, shop.machine.drive_efficiency)
    return WearRun(V, feed, nice_all(minutes, "time", system, 3), nice_all(force, "force", system))


def mark_of_dull(shop: Shop, runs: tuple[WearRun, ...], h: float, L: float, system: str) -> float:
    """A force [N], round to three figures, that calls a band dull: as far from any reading as can be had.

    So that a life read off is told apart from the time of a reading.
    """
    mechanics, V = shop.mechanics(), runs[0].speed
    power = [float(mechanics.motor_power(V, h, L, E)) for E in MARKS]
    low, high = cutting_force(np.array(power), V, shop.machine.drive_efficiency)
    marks = nice_all(np.linspace(low, high, 49), "force", system)
    return float(max(marks, key=lambda mark: min(clearance(run, mark) for run in runs)))


def clearance(run: WearRun, mark: float) -> float:
    """Least relative distance of the life at a mark from the time of a reading [-]; 0 where there is no "
    "life."""
    if not run.force[0] < mark <= run.force.max():
        return 0.0
    return float(np.min(np.abs(run.minutes / run.life(mark) - 1.0)))
