"""Cutting: the hidden wear steps on, cut after cut, until each band's end.

At a set feed rate wear is proportional to travel, so that a running sum over the cuts of a band does all of
them at once. At a set feed force the chip thins as the band dulls: each cut moves along its WearPath.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bandtrial_lessons.shop.bands import Band, end_of
from bandtrial_lessons.shop.config import Scatter
from bandtrial_lessons.shop.work import Span, Work

Array = NDArray[np.float64]
Index = NDArray[np.integer]
COLUMNS = ("row", "pieces", "travel", "last", "minutes", "wear_used", "complete")
"""Of a record: row of the table, pieces made, travel of one [mm], cut time of the last and of all [min], wear
used at the end, whether the pieces were finished."""


@dataclass
class Cutting:
    """One run through a table of cuts; `records` holds blocks of COLUMNS, `band_of` each row's band."""

    work: Work
    bands: dict[str, Band]
    band_of: NDArray[np.object_]
    scatter: Scatter
    refit: Callable[[Band], Band] | None
    """Fits the band that follows a dead one; None: the rows of a dead band are not cut."""
    records: list[Array] = field(default_factory=list)

    def all(self) -> Array:
        """Make every cut; the records, in the order of the table."""
        forced = self.work.forced
        self.at_set_rate(np.flatnonzero(~forced))
        for id in dict.fromkeys(self.band_of[forced]):
            self.at_set_force(np.flatnonzero(forced & (self.band_of == id)))
        done = np.concatenate([*self.records, np.empty((0, len(COLUMNS)))])
        return done[np.argsort(done[:, 0], kind="stable")]

    def at_set_rate(self, rows: Index) -> None:
        """Running sums of all bands at once; again for the rows that go to new bands, while there are any."""
        w = self.work
        while rows.size:
            ids, code = np.unique(self.band_of[rows].astype(str), return_inverse=True)
            rows, code = rows[np.argsort(code, kind="stable")], np.sort(code)
            bands = [self.bands[id] for id in ids]
            state = np.array([[b.rate, b.wear_used, b.wear_limit, b.cycles, b.cycle_limit] for b in bands])
            rate, E0, E_limit, C0, C_limit = state.T[:, code]
            minutes = w.minutes[rows] * w.pieces[rows]
            E = E0 + sums_within(rate * w.wear[rows] * w.pieces[rows], code)
            C = C0 + sums_within(minutes * w.turns[rows], code)
            dies = (E_limit <= E) | (C_limit <= C)
            after = sums_within(dies.astype(float), code) - dies > 0
            whole = ~dies & ~after
            self.record(rows[whole], w.pieces[rows], w.D[rows], w.minutes[rows], minutes, E, whole)
            self.advance(bands, code[whole], rows[whole], minutes[whole], E[whole], C[whole])
            for at in np.flatnonzero(dies & ~after):
                band = bands[code[at]]
                self.die(int(rows[at]), band)
                later = rows[at + 1 : np.searchsorted(code, code[at], side="right")]
                if later.size and self.refit:
                    self.band_of[later] = self.refit(band).id
            rows = np.sort(rows[after]) if self.refit else rows[:0]

    def record(
        self, rows: Array, pieces: Array, travel: Array, last: Array, minutes: Array, E: Array, which: Any
    ) -> None:
        """A block of whole cuts."""
        columns = (x[which] for x in (pieces, travel, last, minutes, E))
        self.records.append(np.column_stack([rows, *columns, np.ones(len(rows))]))

    def advance(self, bands: list[Band], code: Index, rows: Index, minutes: Array, E: Array, C: Array) -> None:
        """Bring each band's state up to its last whole cut."""
        w, n = self.work, len(bands)
        area = np.bincount(code, w.D[rows] * w.L[rows] * w.pieces[rows] / 100.0, n)
        time = np.bincount(code, minutes, n)
        wear = np.array([b.rate for b in bands])[code] * w.wear[rows] * w.pieces[rows]
        chipped = np.bincount(code, wear * w.chipped_share[rows], n)
        last = np.full(n, -1)
        last[code] = np.arange(len(code))
        for k in np.flatnonzero(last >= 0):
            b = bands[k]
            b.wear_used, b.cycles = float(E[last[k]]), float(C[last[k]])
            b.area, b.minutes, b.chipped = b.area + area[k], b.minutes + time[k], b.chipped + chipped[k]

    def at_set_force(self, rows: Index) -> None:
        """The cuts of one band, one by one, and of those that follow it."""
        w, band = self.work, self.bands[self.band_of[rows[0]]]
        for at, r in enumerate(rows.tolist()):
            span = Span(w, r, band.rate)
            x0, t0 = span.travel(band.wear_used), span.minutes(band.wear_used)
            E = span.wear_at_travel(x0 + w.D[r] * w.pieces[r])
            t1 = span.minutes(E)
            if band.wear_limit <= E or band.cycles + (t1 - t0) * w.turns[r] >= band.cycle_limit:
                self.die(r, band)
                if not self.refit or at + 1 == len(rows):
                    return
                band = self.refit(band)
                self.band_of[rows[at + 1 :]] = band.id
            else:
                self.piece(r, band, span, w.pieces[r], w.D[r], E, 1.0)

    def piece(self, r: int, band: Band, span: Span, pieces: float, travel: float, E: float, complete: float) -> None:
        """Record pieces of row r that take the band to wear used E, and bring its state there."""
        w = self.work
        x1, t0, t1 = span.travel(E), span.minutes(band.wear_used), span.minutes(E)
        last = t1 - (span.minutes(span.wear_at_travel(x1 - travel)) if pieces > 1 else t0)
        self.records.append(np.array([[r, pieces, travel, last, t1 - t0, E, complete]]))
        band.chipped += span.chipped(E) - span.chipped(band.wear_used)
        band.wear_used, band.minutes = E, band.minutes + t1 - t0
        band.cycles += (t1 - t0) * w.turns[r]
        band.area += pieces * travel * w.L[r] / 100.0

    def die(self, r: int, band: Band) -> None:
        """The cut in which the band ends: whole pieces first, then the one that is lost."""
        w, span = self.work, Span(self.work, r, band.rate)
        E0 = band.wear_used
        left = max(band.cycle_limit - band.cycles, 0.0) / w.turns[r]
        breaks = span.wear_at_minutes(span.minutes(E0) + left)
        E = min(breaks, band.wear_limit)
        travel = span.travel(E) - span.travel(E0)
        whole = min(int(travel / w.D[r] + 1e-9), int(w.pieces[r]))
        if whole:
            self.piece(r, band, span, whole, w.D[r], span.wear_at_travel(span.travel(E0) + whole * w.D[r]), 1.0)
        if whole < w.pieces[r]:
            self.piece(r, band, span, 1, travel - whole * w.D[r], E, 0.0)
        stock = w.mechanics[w.which[r]].stock
        band.end = end_of(band, self.scatter, stock.weld_share, broke=breaks < band.wear_limit)


def sums_within(x: Array, code: Index) -> Array:
    """Running sum of x within each stretch of equal codes."""
    total = np.cumsum(x)
    first = np.r_[0, np.flatnonzero(np.diff(code)) + 1]
    before = np.repeat((total - x)[first], np.diff(np.r_[first, len(x)]))
    return total - before if len(x) else total
