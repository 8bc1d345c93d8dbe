"""Slips that logs of real shops have, made at random in a study folder."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from bent_logs import Table

QUANTITIES = ("work_thickness", "cut_travel", "band_speed", "feed_rate", "feed_force", "cut_time", "motor_power",
              "deviation", "roughness", "pieces")  # fmt: skip
ODD = ("0", "-1", "-0.0", "1e-300", "1e300", "9" * 30, "nan", "inf", "", "x", "1,5", "1 1/2", "0.000001", "1e9")


class Log:
    """The tables of a study that slips are made in, and the random numbers they are made by."""

    def __init__(self, folder: Path, seed: int):
        self.rng = np.random.default_rng(seed)
        self.cuts, self.bands = Table(folder / "cuts.csv"), Table(folder / "bands.csv")

    def some(self, share: float) -> list[list[str]]:
        """Rows of cuts: a run of them, one at least."""
        n = len(self.cuts.rows)
        size = max(round(float(share) * n), 1)
        first = int(self.rng.integers(max(n - size, 0) + 1))
        return self.cuts.rows[first : first + size]

    def column(self, *names: str) -> int:
        """Place of one of the columns that are there."""
        there = [at for name in names or QUANTITIES if (at := self.cuts.at(name)) is not None]
        return there[int(self.rng.integers(len(there)))] if there else 0

    def times(self, rows, at: int, factor: float) -> None:
        for row in rows:
            try:
                row[at] = f"{float(row[at]) * factor:.6g}"
            except ValueError:
                continue

    def added(self, name: str) -> int:
        """Place of a column of cuts.csv, made if it is not there."""
        if self.cuts.at(name) is None:
            self.cuts.head.append(name)
            for row in self.cuts.rows:
                row.append("")
        return self.cuts.at(name)

    def save(self) -> None:
        self.cuts.save()
        self.bands.save()


def minutes_for_seconds(log):
    log.times(log.some(log.rng.choice([0.0, 0.1, 1.0])), log.column("cut_time"), float(log.rng.choice([60, 1 / 60])))


def slipped_digit(log):
    log.times(log.some(log.rng.choice([0.0, 0.02, 0.2])), log.column(), float(log.rng.choice([10, 0.1, 100])))


def other_unit(log):
    log.times(log.some(log.rng.choice([0.1, 0.5, 1.0])), log.column(), float(log.rng.choice([25.4, 3.2808, 0.7457])))


def stuck(log):
    at, rows = log.column("motor_power", "deviation", "roughness", "cut_time"), log.some(log.rng.choice([0.3, 1.0]))
    for row in rows:
        row[at] = rows[0][at]


def vanished_chips(log):
    log.times(log.some(0.05), log.column("cut_time"), float(10 ** log.rng.uniform(1, 3)))


def swapped(log):
    a, b = log.column(), log.column()
    for row in log.some(log.rng.choice([0.0, 0.3, 1.0])):
        row[a], row[b] = row[b], row[a]


def odd_number(log):
    for row in log.some(log.rng.choice([0.0, 0.0, 0.2])):
        row[log.column()] = str(log.rng.choice(ODD))


def doubled(log):
    log.cuts.rows += [list(row) for row in log.some(log.rng.choice([0.02, 0.5, 1.0]))]
    _numbered(log)


def one_band(log):
    at = log.cuts.at("band")
    name = log.some(0.0)[0][at]
    log.cuts.rows = [row for row in log.cuts.rows if row[at] == name]


def few_cuts(log):
    log.cuts.rows = log.some(0.0) if log.rng.random() < 0.5 else log.cuts.rows[: int(log.rng.integers(1, 12))]


def all_excluded(log):
    rows, at = log.cuts.rows if log.rng.random() < 0.5 else log.some(0.5), log.added("exclude")
    for row in rows:
        row[at] = "slipped"


def shuffled(log):
    log.cuts.rows = [log.cuts.rows[i] for i in log.rng.permutation(len(log.cuts.rows))]
    _numbered(log)


def other_ends(log):
    at = log.bands.at("end")
    ends = ["dull", "in_service", "removed_sound", "broken", "weld_broken", "stripped", "crooked"]
    same = str(log.rng.choice(ends)) if log.rng.random() < 0.5 else ""
    for row in log.bands.rows:
        row[at] = same or str(log.rng.choice(ends))


def not_measured(log):
    at = log.column("motor_power", "deviation", "roughness", "feed_rate")
    for row in log.some(log.rng.choice([0.5, 1.0])):
        row[at] = ""


def one_setting(log):
    for at in (log.column("band_speed"), log.column("feed_rate"), log.column("work_thickness")):
        for row in log.cuts.rows:
            row[at] = log.cuts.rows[0][at] if row[at] else ""


def many_pieces(log):
    at = log.added("pieces")
    for row in log.some(log.rng.choice([0.0, 0.3])):
        row[at] = str(int(10 ** log.rng.uniform(1, 5)))


def other_material(log):
    at = log.cuts.at("material")
    names = sorted({row[at] for row in log.cuts.rows})
    for row in log.some(0.3):
        row[at] = str(log.rng.choice(names))


def wandering(log):
    """Readings that stray by the same law for a stretch: a sensor that drifts."""
    rows, at = log.some(0.5), log.column("motor_power", "deviation", "cut_time")
    for row, way in zip(rows, np.cumsum(0.15 * log.rng.standard_normal(len(rows))), strict=True):
        log.times([row], at, float(np.exp(way)))


def falling(log):
    """A signal that falls with use: the column read the wrong way round."""
    rows, at = log.cuts.rows, log.column("motor_power", "deviation", "cut_time")
    values = [row[at] for row in rows]
    for row, value in zip(rows, values[::-1], strict=True):
        row[at] = value


def incomplete(log):
    at = log.added("complete")
    for row in log.some(log.rng.choice([0.0, 0.3, 1.0])):
        row[at] = "no"


def _numbered(log):
    at = log.cuts.at("cut")
    for number, row in enumerate(log.cuts.rows, start=1):
        row[at] = str(number)


SLIPS = (minutes_for_seconds, slipped_digit, other_unit, stuck, vanished_chips, swapped, odd_number, doubled, one_band,
         few_cuts, all_excluded, shuffled, other_ends, not_measured, one_setting, many_pieces, other_material,
         wandering, falling, incomplete)  # fmt: skip


def slipped(folder: Path, seed: int) -> list[str]:
    """One to three slips in the study of a folder; their names."""
    log = Log(folder, seed)
    made = log.rng.choice(len(SLIPS), size=int(log.rng.choice([1, 1, 2, 3])), replace=False)
    for i in made:
        SLIPS[int(i)](log)
    log.save()
    return [SLIPS[int(i)].__name__ for i in made]
