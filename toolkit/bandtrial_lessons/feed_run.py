"""Lesson 2's trial: a new band at each of seven chip loads, each run to its end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from bandtrial import sawing, units, words
from numpy.typing import NDArray

from bandtrial_lessons.reading import nice_all
from bandtrial_lessons.shown_table import Table

if TYPE_CHECKING:
    from bandtrial_lessons.shop import Shop

CHIP_LOADS = (2.5, 4.0, 6.0, 8.0, 10.0, 14.0, 19.0)
"""[um]; sarwar_2010 gives 5 to 50 for band sawing, so the lightest two are below it on purpose."""
TRAVEL = 20.0
"""Cut travel of each cut [mm]: short, so that the last one matters little."""
PLENTY = 200_000
"""Pieces put before each band; it ends long before."""


@dataclass(frozen=True)
class FeedRun:
    """Seven bands: chip load [um], feed rate [mm/min], area sawn [cm2] and minutes cut until worn out."""

    chip_load: NDArray[np.float64]
    feed_rate: NDArray[np.float64]
    area: NDArray[np.float64]
    minutes: NDArray[np.float64]

    def table(self, system: str) -> Table:
        """For people."""
        kinds = {"chip load": "chip_load", "feed rate": "feed_rate", "cutting time": "time", "area of the band": "area"}
        shown = {head: units.display_unit(kind, system) for head, kind in kinds.items()}
        values = (self.chip_load, self.feed_rate, self.minutes, self.area)
        columns = [[words.shown(x) for x in units.from_inside(value, kind, shown[head])]
                   for value, (head, kind) in zip(values, kinds.items(), strict=True)]  # fmt: skip
        return Table(tuple(f"{head} [{unit}]" for head, unit in shown.items()), tuple(zip(*columns, strict=True)))


def band_at_each_feed(shop: Shop, V: float, L: float, system: str) -> FeedRun:
    """A new band at each chip load, speed V [m/min], work L [mm]; three digits of what was logged."""
    import pandas as pd

    h = nice_all(CHIP_LOADS, "chip_load", system)
    feed = sawing.feed_rate(V, h, shop.stock.tooth_spacing)
    rows = [
        {
            "band": shop.new_band(),
            "band_speed": V,
            "feed_rate": F,
            "work_thickness": L,
            "cut_travel": TRAVEL,
            "pieces": PLENTY,
        }
        for F in feed
    ]
    log = shop.run(pd.DataFrame(rows))
    whole = log[log["complete"]].groupby("band", sort=False)["pieces"].sum().to_numpy(float)
    area, minutes = whole * TRAVEL * L / 100.0, whole * TRAVEL / feed
    return FeedRun(
        h, nice_all(feed, "feed_rate", system), nice_all(area, "area", system, 4), nice_all(minutes, "time", system)
    )
