"""A shop in a world: make the cuts asked for, log them as a shop does, and know the truth."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from bandtrial.study import append_cuts

from bandtrial_lessons.worlds import setup
from bandtrial_lessons.worlds.bands import Band, Cut, cut, new_band
from bandtrial_lessons.worlds.best import Best, Box, best_setting
from bandtrial_lessons.worlds.laws import CONSTANTS, FORMS
from bandtrial_lessons.worlds.limits import kept
from bandtrial_lessons.worlds.longrun import long_run
from bandtrial_lessons.worlds.physics import Physics
from bandtrial_lessons.worlds.sheet import KINDS, TRAVEL, Work, draw_sheet

BATCH = 5
"""Bands of a batch."""


@dataclass(frozen=True)
class Made:
    """What came of a run: the band it was on, cuts made, minutes, whether the band ended."""

    band: str
    cuts: int
    minutes: float
    ended: bool


class World:
    """World `seed` of a kind of shop (`KINDS`). Without `folder` nothing is written.

    folder : where the study is written; without : a signal that this shop does not log
    """

    def __init__(self, seed: int, kind: str, folder: str | Path | None = None, without: str = "") -> None:
        self.sheet, self.without = draw_sheet(seed, kind), without
        self._rng = np.random.default_rng([seed, KINDS.index(kind), 2])
        self.physics = Physics.of(self._rng.standard_normal((1, len(CONSTANTS))), self.sheet)
        self.bands: dict[str, Band] = {}
        self.minutes = 0.0
        self._batch = 0.0
        self.holding = False
        """Keep rows until `save`: a log made ahead is written at once."""
        self.rows: list[dict[str, Any]] = []
        """All rows so far, as in cuts.csv."""
        self._waiting: list[dict[str, Any]] = []
        self.folder = None if folder is None else setup.write(folder, self.sheet, self.dial, without)

    @property
    def dial(self) -> float:
        """True over indicated band speed."""
        return float(np.exp(self.physics.constants["dial"][0]))

    @property
    def forms(self) -> dict[str, str]:
        """The world's forms, by what they are a law of."""
        c = self.physics.constants
        return {what: names[int(c[f"{what}_form"][0])] for what, names in FORMS.items()}

    @property
    def job(self) -> dict[str, Any]:
        """The job as `recommend` and `plan` take it."""
        names = {"machine": setup.MACHINE, "stock": setup.STOCK, "material": self.sheet.job.name}
        return names | {"thickness_mm": self.sheet.thickness}

    def new_band(self) -> str:
        """Fit a new band; its name, B01, B02, ..."""
        if len(self.bands) % BATCH == 0:
            self._batch = float(self._rng.standard_normal())
        name = f"B{len(self.bands) + 1:02d}"
        self.bands[name] = new_band(self.physics, self._rng, self._batch)
        self._write_bands()
        return name

    def run(self, band: str, indicated: float, feed: float, cuts: int, minutes: float = np.inf,
            work: Work | None = None, pieces: int = 1) -> Made:  # fmt: skip
        """Make `cuts` rows, one at least and none begun after `minutes`; on a new band where `band` is "new" or off.

        indicated [m/min], feed: rate or pace [mm/min], or force [N]. The rows are in the log when this returns.
        """
        work = work or self.sheet.job
        if band not in self.bands or self.bands[band].end != "in_service":
            band = self.new_band()
        rows: list[dict[str, Any]] = []
        mine, spent = self.bands[band], 0.0
        while len(rows) < cuts and (not rows or spent < minutes) and mine.end == "in_service":
            made = cut(self.physics, self._rng, mine, work, indicated, feed, TRAVEL, pieces)
            rows.append(self._row(made, band, work, indicated, feed, pieces, whole=mine.end == "in_service"))
            spent += pieces * made.minutes * made.share
        self.minutes += spent
        if mine.end != "in_service":
            self._write_bands()
        self._waiting += rows
        self.rows += rows
        if not self.holding:
            self.save()
        return Made(band, len(rows), spent, mine.end != "in_service")

    def save(self) -> None:
        """Write the rows that wait."""
        if self.folder is not None and self._waiting:
            append_cuts(self.folder, self._waiting)
        self._waiting = []

    def feed_for(self, indicated: float, h: float, work: Work | None = None) -> float:
        """Feed [mm/min or N] that gives chip load h [um] with a new band; found by trying, where a force is set."""
        work = work or self.sheet.job
        V = self.dial * indicated
        if not self.sheet.force_set:
            return float(h * V / self.sheet.spacing)
        one = np.ones((1, 1))
        tooth = self.physics.force(h * one, 0.02 * one, work.force, work.metal) * self.physics.ratio(0.02 * one)
        return float(tooth[0, 0] * work.thickness / self.sheet.spacing * self.sheet.kerf)

    def reachable(self, indicated: float) -> float:
        """The speed nearest to it that the dial has."""
        near = [float(np.clip(indicated, *pair)) for pair in self.sheet.ranges]
        return min(near, key=lambda V: abs(np.log(V / indicated)))

    def cost(self, indicated: float, feed: float, change_after: float | None = None) -> float:
        """True long-run cost per area [EUR/cm2] of a setting; None: the band is run to its end."""
        if change_after is None or not np.isfinite(change_after):
            return float(long_run(self.physics, indicated, feed).cost[0, 0, -1])
        return float(long_run(self.physics, indicated, feed, [[change_after]]).cost[0, 0, 0])

    def best(self, box: Box | None = None) -> Best:
        """The setting of least true cost within limits, in a box of indicated speeds and bites if given."""
        return best_setting(self.physics, box)

    def broken(self, indicated: float, feed: float) -> list[str]:
        """Limits that a setting truly breaks, by more than 1 %."""
        return [name for name, ok in kept(self.physics, indicated, feed).items() if not ok[0, 0]]

    def lost(self) -> int:
        """Bands that have ended so far."""
        return sum(band.end not in ("in_service", "removed_sound") for band in self.bands.values())

    def take_off(self, band: str) -> None:
        """Take a band off that still cuts."""
        if self.bands[band].end == "in_service":
            self.bands[band].end = "removed_sound"
            self._write_bands()

    def _write_bands(self) -> None:
        if self.folder is not None:
            rows = "".join(f"{name},{setup.STOCK},{setup.MACHINE},{b.end}\n" for name, b in self.bands.items())
            (self.folder / "bands.csv").write_text("band,stock,machine,end\n" + rows, encoding="utf-8")

    def _row(self, made: Cut, band: str, work: Work, indicated: float, feed: float, pieces: int,
             whole: bool) -> dict[str, Any]:  # fmt: skip
        """A row of cuts.csv, rounded as people write; a row whose band ended: how far the last piece got."""
        share = made.share if whole or pieces == 1 else 1.0
        row = {
            "machine": setup.MACHINE,
            "band": band,
            "material": work.name,
            "work_thickness": work.thickness,
            "cut_travel": float(f"{TRAVEL * share:.4g}"),
            "band_speed": float(f"{indicated:.6g}"),
            "cut_time": max(round(60 * made.minutes * share, 1), 0.1),
            "pieces": pieces if whole else max(1, round(pieces * made.share)),
            "complete": whole,
        }
        if self.sheet.kind != "hand":
            row["feed_force" if self.sheet.force_set else "feed_rate"] = float(f"{feed:.6g}")
        readings = {"motor_power": made.power} if self.sheet.power_read else {}
        readings |= {"deviation": made.deviation}
        return row | {name: float(f"{value:.3g}") for name, value in readings.items() if name != self.without}
