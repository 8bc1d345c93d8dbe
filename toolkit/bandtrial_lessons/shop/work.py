"""A table of cuts with all that is known before they are made: true speeds, wear per piece, paths."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from bandtrial import sawing
from numpy.typing import NDArray

from bandtrial_lessons.shop.mechanics import Mechanics
from bandtrial_lessons.shop.wear_path import GRID, WearPath, wear_path

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
GROUP = ["machine", "stock", "material", "coolant"]


@dataclass(frozen=True)
class Work:
    """Arrays of one value per cut; `minutes` and `wear`: one piece, a typical band, at a set feed rate."""

    V: Array
    L: Array
    D: Array
    pieces: Array
    forced: NDArray[np.bool_]
    feed: Array
    """Feed rate [mm/min] or feed force [N]."""
    mechanics: tuple[Mechanics, ...]
    which: NDArray[np.integer]
    """Position in `mechanics`."""
    turns: Array
    """Bending cycles per minute."""
    minutes: Array
    wear: Array
    chip_load: Array
    """[um]; at a set feed force unknown before the cut, nan."""
    chipped_share: Array
    """Share of chipped edges in the wear [-], nan at a set feed force."""
    paths: tuple[WearPath, ...]
    path: NDArray[np.integer]
    """Position among the settings of the mechanics' WearPath, at a set feed force."""


def prepare(table: pd.DataFrame, true_speed: Array, mechanics_of: Callable[[tuple[Any, ...]], Mechanics]) -> Work:
    """The work of a checked table of cuts (columns of `settings.read_settings`, and stock)."""
    which, keys = table.groupby(GROUP, sort=False).ngroup().to_numpy(), table[GROUP].drop_duplicates()
    mechanics = tuple(mechanics_of(key) for key in keys.itertuples(index=False, name=None))
    V, L, D, pieces = (
        true_speed,
        *(table[k].to_numpy(float) for k in ("work_thickness", "cut_travel", "pieces")),
    )
    forced = table["forced"].to_numpy(bool)
    feed = np.where(forced, table["feed_force"], table["feed_rate"]).astype(float)
    minutes, wear, h, chipped, turns = np.full((5, len(table)), np.nan)
    path, paths = np.zeros(len(table), dtype=np.intp), []
    for i, m in enumerate(mechanics):
        rows = np.flatnonzero(which == i)
        B = m.machine.sheet.band_length
        turns[rows] = sawing.bend_cycles(V[rows], 1.0, B)
        rows, by_force = rows[~forced[rows]], rows[forced[rows]]
        minutes[rows] = D[rows] / feed[rows]
        h[rows] = sawing.chip_load(V[rows], feed[rows], m.spacing)
        contact = sawing.contact_minutes(minutes[rows], L[rows], B)
        chipped[rows] = m.chipped_share(h[rows], L[rows])
        wear[rows] = m.wear_rate(V[rows], h[rows], L[rows]) * contact
        different, path[by_force] = np.unique(np.column_stack([V, L, feed])[by_force], axis=0, return_inverse=True)
        paths.append(wear_path(m, different[:, 0], different[:, 1], feed_force=different[:, 2]))
    return Work(V, L, D, pieces, forced, feed, mechanics, which, turns, minutes, wear, h, chipped, tuple(paths), path)


class Span:
    """Minutes and travel against wear used for cut r, on a band that wears `rate` times the typical."""

    def __init__(self, work: Work, r: int, rate: float) -> None:
        self.rate = rate
        if work.forced[r]:
            paths = work.paths[work.which[r]]
            i = work.path[r]
            self.grid, self.t, self.x, self.c = GRID, paths.minutes[i], paths.travel[i], paths.chipped[i]
        else:
            self.grid = np.array([0.0, GRID[-1]])
            self.t = self.grid * (work.minutes[r] / work.wear[r])
            self.x = self.grid * (work.D[r] / work.wear[r])
            self.c = self.grid * work.chipped_share[r]

    def minutes(self, E: float) -> float:
        """Cut time from a new band to wear used E [min]."""
        return float(np.interp(E, self.grid, self.t)) / self.rate

    def travel(self, E: float) -> float:
        """Feed travel from a new band to wear used E [mm]."""
        return float(np.interp(E, self.grid, self.x)) / self.rate

    def chipped(self, E: float) -> float:
        """The part of wear used E that is chipped edges, had the band cut nothing else [-]."""
        return float(np.interp(E, self.grid, self.c))

    def wear_at_minutes(self, minutes: float) -> float:
        """Wear used after so many minutes of cutting."""
        return float(np.interp(minutes * self.rate, self.t, self.grid))

    def wear_at_travel(self, travel: float) -> float:
        """Wear used after so much travel [mm]."""
        return float(np.interp(travel * self.rate, self.x, self.grid))
