"""The cuts that are judged, as arrays, with what was typed; and units, points and digits mixed up in it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from bandtrial import units, words
from bandtrial.study.problems import Problems, Severity
from bandtrial.study.sections import assumed_speeds, geometry, true_speeds

if TYPE_CHECKING:
    from bandtrial.study.settings import Settings
    from bandtrial.study.typed import Sheet


@dataclass
class Entries:
    """Cuts (n,) in the order of the log, in inside units; NaN where something is not known."""

    sheet: Sheet
    settings: Settings
    column: dict[str, np.ndarray]
    """Numbers by name: those of the log, and V (true), L, D, area, F = D/t, p, h (chip load), Z."""
    name: dict[str, np.ndarray]
    """Names by column: machine, band, material, stock, section, feed (of the machine), exclude."""
    started: np.ndarray
    problems: Problems
    new: np.ndarray
    """Which cuts are judged; the others are what they are held against."""
    said: set[tuple[int, str]] = field(default_factory=set)
    """Cells, by row and column, of which something is said already."""

    def __len__(self) -> int:
        return len(self.started)

    def __getitem__(self, name: str) -> np.ndarray:
        return self.column[name] if name in self.column else self.name[name]

    def ask(self, column: str, n: int, words: str, severity: Severity = "question", alike: Iterable[int] = ()) -> None:
        """A question about a cut, if it is judged and nothing was said of that cell before; `alike`, it and others."""
        row, rows = int(self.sheet.rows[n]), tuple(int(self.sheet.rows[one]) for one in alike)
        if self.new[n] and (row, column) not in self.said and self.problems.room(severity, self.sheet.file):
            self.said.add((row, column))
            value = self.sheet.raw[column][n]
            self.problems.add(severity, self.sheet.file, words, row=row, column=column, value=value, rows=rows)

    def is_said(self, n: int, columns: Iterable[str]) -> bool:
        """Whether something is said already of one of these cells of a cut."""
        return any((int(self.sheet.rows[n]), column) in self.said for column in columns)

    def typed(self, column: str, n: int) -> str:
        """A cell as its writer sees it, with the unit of the head."""
        return self.sheet.given(column, n)

    def in_its_unit(self, column: str, value: float) -> str:
        """A value in inside units as it would stand in that column."""
        kind = KINDS[column]
        unit = self.sheet.unit.get(column) or units.KINDS[kind]
        return f"{words.shown(float(units.from_inside(value, kind, unit)))} {unit}".strip()


KINDS = {
    "work_thickness": "length", "cut_travel": "length", "diameter": "length", "wall": "length", "cut_area": "area",
    "band_speed": "speed", "feed_rate": "feed_rate", "feed_force": "force", "cut_time": "time", "motor_power": "power",
    "deviation": "length", "roughness": "roughness",
}  # fmt: skip
"""The quantities of a log that are judged, and their kinds."""


def entries(cuts: Sheet, bands: pd.DataFrame | None, settings: Settings, problems: Problems,
            new: np.ndarray | None = None) -> Entries:  # fmt: skip
    """The cuts of a sheet; new : which of them are judged, all unless given."""
    frame = cuts.frame
    machine, band = (frame[name].to_numpy(object) for name in ("machine", "band"))
    of_band = {} if bands is None else dict(zip(bands["band"], bands["stock"], strict=True))
    stock = frame["band"].map(of_band).astype(object).fillna("").to_numpy(object)
    indicated, _ = assumed_speeds(frame, settings.machines, str(settings.info["units"]))
    V = true_speeds(settings.machines, machine, indicated)
    geo = geometry(frame)
    t = frame["cut_time"].to_numpy(float)
    spacing = {name: one.tooth_spacing for name, one in settings.band_stock.items()}
    p = np.array([spacing.get(name, np.nan) for name in stock], float)
    F = geo.cut_travel / t
    column = {name: frame[name].to_numpy(float) for name in KINDS} | {
        "pieces": frame["pieces"].to_numpy(float), "V": V, "L": geo.work_thickness, "D": geo.cut_travel,
        "area": geo.cut_area, "F": F, "p": p, "h": F * p / V, "Z": geo.cut_area / t,
    }  # fmt: skip
    feed = pd.Series(machine).map({name: one.feed for name, one in settings.machines.items()}).astype(object).fillna("")
    names = {"machine": machine, "band": band, "material": frame["material"].to_numpy(object), "stock": stock,
             "section": geo.section, "feed": feed.to_numpy(object), "exclude": frame["exclude"].to_numpy(object),
             **{name: frame[name].to_numpy() for name in ("operation", "complete")}}  # fmt: skip
    judged = np.ones(len(frame), bool) if new is None else new
    said = {(row, str(one.column)) for one in problems.found if one.file == cuts.file for row in one.rows or (one.row,)
            if row is not None}  # fmt: skip
    started = frame["started"].to_numpy("datetime64[s]")
    return Entries(cuts, settings, column, names, started, problems, judged, said)


FACTORS = {
    "time": {60.0: "minutes and seconds mixed up"},
    "length": {25.4: "inches and millimeters mixed up", 39.37: "thousandths and millimeters mixed up"},
    "speed": {3.2808: "ft/min and m/min mixed up"},
    "feed_rate": {25.4: "inches and millimeters mixed up", 60.0: "minutes and seconds mixed up"},
    "force": {4.4482: "lbf and N mixed up", 9.80665: "kgf and N mixed up"},
    "power": {1000.0: "W and kW mixed up", 745.7: "hp and W mixed up"},
    "roughness": {39.37: "microinches and micrometers mixed up"},
    "area": {6.4516: "in2 and cm2 mixed up", 645.16: "in2 and mm2 mixed up", 100.0: "cm2 and mm2 mixed up"},
}  # fmt: skip
"""Ratio of units that are mixed up, by kind of quantity."""
POINT = {10.0: "a slipped decimal point", 100.0: "a slipped decimal point", 1000.0: "a slipped decimal point"}
NEAR = 0.012
"""How near a ratio must come to a factor, as a share, where both values are set and not measured."""


def factor_between(ratio: float, kind: str, near: float = NEAR, point: bool = True) -> str:
    """What turns one value into the other, in words; "" where nothing known does.

    >>> factor_between(25.4, "length"), factor_between(1.3, "length"), factor_between(0.1, "time")
    ('inches and millimeters mixed up', '', 'a slipped decimal point')
    """
    if not (np.isfinite(ratio) and ratio > 0):
        return ""
    for factor, slip in {**FACTORS.get(kind, {}), **(POINT if point else {})}.items():
        if abs(abs(np.log(ratio)) - np.log(factor)) <= near:
            return slip
    return ""


def swapped(text: str, other: str) -> bool:
    """Whether two written numbers differ by two neighboring digits in the wrong order.

    >>> swapped("278 s", "287"), swapped("278", "279"), swapped("1.25", "1.52")
    (True, False, True)
    """
    one, two = digits(text), digits(other)
    if len(one) != len(two) or one == two:
        return False
    off = [n for n, (a, b) in enumerate(zip(one, two, strict=True)) if a != b]
    return len(off) == 2 and off[1] == off[0] + 1 and one[off[0]] == two[off[1]] and one[off[1]] == two[off[0]]


def swaps(text: str) -> list[str]:
    """The numbers that a written one becomes with two neighboring digits exchanged."""
    number = digits(text)
    pairs = [(n, n + 1) for n in range(len(number) - 1)]
    found = []
    for a, b in pairs:
        if number[a].isdigit() and number[b].isdigit() and number[a] != number[b]:
            found.append(number[:a] + number[b] + number[a] + number[b + 1 :])
    return found


def digits(text: str) -> str:
    """The number at the head of a cell, as written."""
    found = re.match(r"\s*([\d.,]+)", str(text))
    return found[1] if found else ""
