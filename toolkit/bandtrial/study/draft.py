"""Cuts not saved yet, typed in a form or about to come from another table: what is wrong with them."""

from collections.abc import Iterable
from copy import copy
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from bandtrial import units
from bandtrial.study import cut_checks, plausible, reading
from bandtrial.study.columns import COLUMNS, cut_columns
from bandtrial.study.files import RawTable
from bandtrial.study.model import Study
from bandtrial.study.problems import Problem, Problems, as_count
from bandtrial.study.sections import geometry
from bandtrial.study.typed import Sheet, typed
from bandtrial.words import table_text

UNLIKE = 2.0
"""Cutting rate over that of the band's earlier cuts (or the other way round) worth a second look."""


class Desk:
    """What drafts are checked against: the settings and bands of a study folder, read once."""

    def __init__(self, folder: str | Path, study: Study) -> None:
        self.study = study
        known, self.bands = reading.shop(Path(folder))
        assert known is not None  # the study opened, so its settings can be read
        self.known = known

    def check(self, draft: RawTable) -> tuple[Sheet, list[Problem]]:
        """The draft in inside units and all its problems, a number that the study has already among them."""
        problems = Problems()
        sheet = typed(draft, cut_columns(self.study.machines, self.known.one_speed), self.study.units, problems)
        cut_checks.check_cuts(sheet, self.bands, self.known, problems)
        used = set(self.study.cuts["cut"])
        number = sheet.frame["cut"].to_numpy(object)
        at = np.flatnonzero([one in used for one in number])
        problems.each("error", draft.file, "cut", sheet.rows[at], [number[at]],
                      lambda one: f'"{one}" is already the number of a cut of the study')  # fmt: skip
        return sheet, problems.in_order()

    def questions(self, sheet: Sheet) -> list[Problem]:
        """Warnings and questions about a draft that is whole: its cuts against physics and the study's own."""
        return plausible.judge_new(sheet, self.study.cuts, self.bands, self.known)

    def check_cut(self, cells: dict[str, str], asking: bool = False) -> tuple[float, list[Problem]]:
        """Cutting rate [cm2/min] (nan while it is not known) and problems of one cut typed into a form.

        cells : by column; a bare number is in the reader's own unit
        asking : whether it is held against all cuts of the study too, which takes 0.1 s; else against its band's
        """
        heads = list(with_units(cells, self.study.units))
        draft = RawTable("this cut", heads, pd.DataFrame([list(cells.values())], dtype=object), np.array([1]))
        sheet, problems = self.check(draft)
        if not any(problem.severity == "error" for problem in problems):
            questions = self.questions(sheet) if asking else []
            known = {problem.message for problem in problems}
            problems += [one for one in questions if one.message not in known]
            if not any(one.column == "cut_time" for one in questions):
                problems += unlike_before(sheet, self.study.cuts)
        return float(cutting_rate(sheet.frame)[0]), problems

    def without(self, cut: str) -> "Desk":
        """This desk for a cut that is in the log and is being changed: it is not held against itself."""
        other = copy(self)
        other.study = replace(self.study, cuts=self.study.cuts[self.study.cuts["cut"] != cut].reset_index(drop=True))
        return other


def with_units(cells: dict[str, str], system: str) -> dict[str, str]:
    """The cells under heads that name the unit of a bare number.

    >>> with_units({"cut_travel": "6", "cut_time": "48", "note": "burr"}, "us")
    {'cut_travel [in]': '6', 'cut_time [s]': '48', 'note': 'burr'}
    """
    of = {name: COLUMNS[name].unit(system) for name in cells}
    return {f"{name} [{of[name]}]" if of[name] else name: cell for name, cell in cells.items()}


def says_nothing(name: str, cell: str) -> bool:
    """Whether a cell says what an empty one says, so that a log without that column can do without it.

    >>> [says_nothing(*one) for one in (("note", ""), ("pieces", "1"), ("complete", "yes"), ("coolant", "dry"))]
    [True, True, True, False]
    """
    plain = {"pieces": "1", "stacked": "1", "complete": "yes", "section": "rectangular"}.get(name, COLUMNS[name].empty)
    return cell in ("", plain)


def in_words(name: str, value: Any, system: str) -> str:
    """A value of a column, in inside units, as a person of the system reads it; empty where there is none.

    >>> in_words("cut_travel", 152.4, "us"), in_words("pieces", 6.0, "us"), in_words("wall", float("nan"), "us")
    ('6 in', '6', '')
    """
    if value is None or value != value:
        return ""
    if COLUMNS[name].kind == "time":
        return clock(value)
    if COLUMNS[name].is_quantity:
        return units.show(value, COLUMNS[name].kind, system)
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def clock(minutes: float) -> str:
    """A time as a watch shows it, m:ss; parts of a second where there are any below a minute.

    >>> clock(0.8), clock(2.5), clock(75.0), clock(0.123)
    ('0:48', '2:30', '75:00', '7.4 s')
    """
    seconds = round(minutes * 60)
    if seconds < 60 and abs(seconds - minutes * 60) > 0.05:
        return f"{minutes * 60:.1f} s"
    return f"{seconds // 60}:{seconds % 60:02}"


def as_entry(name: str, value: Any, system: str) -> str:
    """A value of a column, in inside units, as it would be typed into the form: a bare number in the reader's unit.

    >>> as_entry("cut_travel", 152.4, "us"), as_entry("cut_time", 0.8, "us"), as_entry("exclude", "", "us")
    ('6', '0:48', '')
    """
    unit = COLUMNS[name].unit(system)
    if not unit or COLUMNS[name].kind == "time" or value is None or value != value:
        return str(value)[:19].replace("T", " ") if hasattr(value, "isoformat") else in_words(name, value, system)
    return f"{float(units.from_inside(value, COLUMNS[name].kind, unit)):.6g}"


def used_columns(cuts: pd.DataFrame) -> set[str]:
    """The columns in which some cut says something: more than an empty cell would."""
    return {
        name for name, column in COLUMNS.items()
        if name in cuts and not all(says_nothing(name, in_words(name, one, "us")) for one in pd.unique(cuts[name]))
    }  # fmt: skip


def over_by(cuts: pd.DataFrame, machine: str, now: datetime) -> bool:
    """Whether the last cut of a machine that says when it began is over by `now`; true where none does."""
    timed = cuts[(cuts["machine"] == machine) & ~cuts["started"].isna()]
    if timed.empty:
        return True
    last = timed.iloc[-1]
    return bool(last["started"] + pd.Timedelta(minutes=last["cut_time"] * last["pieces"]) <= pd.Timestamp(now))


COLUMNS_SHOWN = ("cut", "started", "machine", "band", "material", "work_thickness", "cut_travel", "diameter",
                 "band_speed", "feed_rate", "feed_force", "cut_time", "pieces", "exclude", "note")  # fmt: skip


def listed(cuts: pd.DataFrame, words: str, by: str, system: str) -> list[tuple[str, str]]:
    """Cuts as lines of text under each other, and their numbers: those in which all `words` stand, sorted `by` a
    column, or the newest first where that is empty. The first line names the columns, with no number.
    """
    frame = cuts[::-1] if not by else cuts.sort_values(by, kind="stable", na_position="last")
    used = used_columns(cuts) | {"cut", "band", "material", "cut_time"}
    names = [name for name in COLUMNS_SHOWN if name in used]
    rows = [[in_words(name, one, system)[:16] for name, one in zip(names, row, strict=True)]
            for row in frame[names].itertuples(index=False)]  # fmt: skip
    wanted = [word.casefold() for word in words.split()]
    found = [row for row in rows if all(any(word in cell.casefold() for cell in row) for word in wanted)]
    heads = [name.rpartition("_")[2] for name in names]
    lines = [line.replace(" ", "\N{NO-BREAK SPACE}") for line in table_text((heads, *found))]
    return list(zip(lines, ("", *(row[0] for row in found)), strict=True))


def cutting_rate(cuts: pd.DataFrame) -> np.ndarray:
    """Area over time of each row of cuts [cm2/min]."""
    return np.asarray(geometry(cuts).cut_area / cuts["cut_time"].to_numpy(float))


def unlike_before(sheet: Sheet, cuts: pd.DataFrame) -> list[Problem]:
    """A warning where the first cut of a sheet goes much slower or faster than the band's earlier ones.

    Compared is the cutting rate, area over time, with the median of the band's cuts in the same material.
    """
    new = sheet.frame.iloc[0]
    alike = (cuts["band"] == new["band"]) & (cuts["material"] == new["material"]) & (cuts["exclude"] == "")
    if not alike.any():
        return []
    ratio = float(cutting_rate(sheet.frame)[0] / np.nanmedian(cutting_rate(cuts[alike])))
    if not (ratio > UNLIKE or ratio < 1 / UNLIKE):
        return []
    times = f"{ratio:.1f} times as fast" if ratio > 1 else f"{1 / ratio:.1f} times as slow"
    words = f"this cut went {times} as {new['band']} before in {new['material']}; check the time"
    return [Problem(sheet.file, 1, "cut_time", str(sheet.raw["cut_time"][0]), words, "warning")]


def next_number(numbers: Iterable[str]) -> str:
    """The number after the greatest whole one.

    >>> next_number(["7", "8b", "12"]), next_number([])
    ('13', '1')
    """
    return str(max((as_count(str(one)) for one in numbers), default=0) + 1)
