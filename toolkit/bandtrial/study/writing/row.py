"""A cut as a row of its log: values in the columns and units the log already has, checked before they are saved."""

import hashlib
import re
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from bandtrial import units
from bandtrial.study import cut_checks
from bandtrial.study.columns import COLUMNS, CUTS, NAMES, cut_columns, key
from bandtrial.study.files import LARGEST, RawTable, inside
from bandtrial.study.problems import Problem, Problems, StudyError, as_count, names
from bandtrial.study.reading import shop
from bandtrial.study.settings import Settings
from bandtrial.study.typed import Sheet, typed
from bandtrial.words import RISKY, defused, near, quoted

_known_shops: dict[Path, tuple[tuple[bytes, ...], Settings | None, Sheet | None]] = {}


def cells(values: Mapping[str, Any], heads: Sequence[str], file: str, decimal: str = ".") -> list[str]:
    """The row of `values` (head or column name -> value) under `heads`.

    A number goes as it is, in the unit of the log's head; with a unit of its own, in the text ("5/8 in") or in
    the key ("cut_time [s]"), it is converted. StudyError where a name or a unit is not known.
    """
    problems = Problems()
    plain = [NAMES.get(key(name), name) for name, _ in map(units.head, heads)]
    place = {key(name): n for n, name in enumerate(plain)}
    row = [""] * len(heads)
    for name, value in values.items():
        column, unit = units.head(name)
        at = place.get(key(column))
        if at is None:
            problems.add("error", file, f"has no column {quoted(name)}; add it to the head in the file, or "
                         f"leave the value out (columns: {names(plain)}){near(column, plain)}",
                         column=name, value=value)  # fmt: skip
        elif row[at]:
            problems.add("error", file, "is given twice", column=column, value=value)
        elif not _nothing(value):
            try:
                row[at] = _cell(plain[at], value, unit, units.head(heads[at])[1], decimal)
            except units.UnitError as error:
                problems.add("error", file, str(error), column=column, value=value)
    if problems.found:
        raise StudyError(problems.found)
    return row


def every_cells(
    cuts: Sequence[Mapping[str, Any]], heads: Sequence[str], file: str, decimal: str = "."
) -> list[list[str]]:
    """The rows of several cuts; StudyError with what is wrong with any of them."""
    made: list[list[str]] = []
    found: list[Problem] = []
    for values in cuts:
        try:
            made.append(cells(values, heads, file, decimal))
        except StudyError as error:
            found += error.problems
    if found:
        raise StudyError(list(dict.fromkeys(found)))
    return made


def numbered(
    every: Sequence[Sequence[str]], at: int, used: Container[str], highest: int, file: str, first: int
) -> list[list[str]]:
    """The rows with their cut numbers at place `at`: their own, or the next; StudyError where one is in use."""
    made: list[list[str]] = []
    new: set[str] = set()
    problems = Problems()
    for n, row in enumerate(every):
        number = row[at] or str(highest + 1)
        highest = max(highest, as_count(number))
        if number in used or number in new:
            words = f"{quoted(number)} is already the number of a cut; {highest + 1} is free"
            problems.add("error", file, words, row=first + n, column="cut", value=number)
        new.add(number)
        made.append([*row[:at], number, *row[at + 1 :]])
    if problems.found:
        raise StudyError(problems.found)
    return made


def check(every: Sequence[Sequence[str]], heads: Sequence[str], file: str, first: int, known: Settings | None,
          bands: Sheet | None) -> tuple[Problem, ...]:  # fmt: skip
    """Warnings of rows to be added, as the whole log would have them; StudyError on errors. Numbers may be missing."""
    problems, about_the_head = Problems(), Problems()
    at = np.arange(first, first + len(every))
    raw = RawTable(file, list(heads), pd.DataFrame([list(row) for row in every], dtype=object), at, head_row=-1)
    columns = cut_columns(known.all_machines, known.one_speed) if known else CUTS
    without_number = [replace(column, needed=column.needed and column.name != "cut") for column in columns]
    sheet = typed(raw, without_number, known.info["units"] if known else "metric", about_the_head)
    problems.found += [one for one in about_the_head.found if one.row is None or one.row >= first]
    if known is not None:
        cut_checks.check_cuts(sheet, bands, known, problems)
    if problems.errors:
        raise StudyError(problems.in_order())
    return tuple(problems.found)


def _cell(column: str, value: Any, unit: str | None, own: str | None, decimal: str) -> str:
    """One value as text for a column whose head has the unit `own`."""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    known = COLUMNS.get(column)
    if known and known.is_quantity:
        return _quantity(known.kind, value, unit, own, decimal)
    if isinstance(value, float | np.floating) and float(value).is_integer():
        value = int(value)
    if hasattr(value, "isoformat"):
        value = value.isoformat(timespec="seconds") if hasattr(value, "hour") else value.isoformat()
    text = " ".join(str(value).split())
    if known is None or known.kind == "text":
        return defused(text)
    if text.startswith((*RISKY, "#")):
        raise units.UnitError(f"{quoted(text)} may not begin with {text[0]}")
    return text


def _quantity(kind: str, value: Any, unit: str | None, own: str | None, decimal: str) -> str:
    """A quantity in the head's unit `own`; a plain number is taken to be in `unit`, or in the head's."""
    if isinstance(value, str) and unit in (None, own) and re.fullmatch(r"\d+(\.\d+)?", value.strip()):
        return value.strip() if decimal == "." else _number(float(value), decimal)
    inside = units.read(value, kind, unit or own)
    target = own or units.display_unit(kind, "metric")
    number = _number(float(units.from_inside(inside, kind, target)), decimal)
    return number if own else f"{number} {target}"


def _number(value: Any, decimal: str) -> str:
    """Twelve significant digits, no exponent; with a decimal comma never three places, which read as thousands."""
    value = float(value)
    if not np.isfinite(value):
        raise units.UnitError(f"{value} is not a number that can be saved")
    text = np.format_float_positional(float(f"{value:.12g}"), trim="-")
    if decimal == "," and "." in text:
        text += "0" if len(text.partition(".")[2]) == 3 else ""
        text = text.replace(".", ",")
    return text


def _nothing(value: Any) -> bool:
    return value is None or (isinstance(value, float) and value != value) or value is pd.NaT or (
        isinstance(value, str) and not value.strip())  # fmt: skip


@dataclass(frozen=True)
class SavedCut:
    """A cut as it was saved: its number, its row in a spreadsheet, and what is worth a look."""

    cut: str
    row: int
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Draft:
    """Cuts as rows for a log with these heads, checked as if the first came to row `first`."""

    heads: list[str]
    decimal: str
    cells: list[list[str]]
    first: int
    problems: tuple[Problem, ...]

    def saved(self, numbers: Sequence[str], first: int) -> list[SavedCut]:
        """The saved cuts, the first in row `first`, each with its own warnings."""
        made = []
        for n, cut in enumerate(numbers):
            mine = [one for one in self.problems if self.first + n in (one.rows or (one.row,))]
            own = tuple(replace(one, row=first + n, rows=(first + n,)) for one in mine)
            made.append(SavedCut(cut, first + n, own))
        return made


def draft(folder: Path, cuts: Sequence[Mapping[str, Any]], heads: Sequence[str], decimal: str, file: str,
          first: int) -> Draft:  # fmt: skip
    """The cuts as rows under `heads`, checked; StudyError with the problems of them all."""
    cells = every_cells(cuts, heads, file, decimal)
    return Draft(list(heads), decimal, cells, first, check(cells, heads, file, first, *_shop(folder)))


def by_head(heads: Sequence[str], cells: Sequence[str]) -> dict[str, str]:
    """The cells of a row that are not empty, by head."""
    return {head: cell for head, cell in zip(heads, cells, strict=False) if cell}


def _shop(folder: Path) -> tuple[Settings | None, Sheet | None]:
    """Settings and bands of a study, read again only when one of their files has changed."""
    state = [_content(folder / name) for name in ("study.toml", "bands.csv", "cuts.xlsx")]
    known = _known_shops.get(folder.resolve())
    if known is None or known[0] != tuple(state):
        known = (tuple(state), *shop(folder))
        _known_shops[folder.resolve()] = known
    return known[1], known[2]


def _content(path: Path) -> bytes:
    """What tells the content of a file from any other; its size and time may stay the same while it changes."""
    try:
        fit = inside(path.parent, path) and path.stat().st_size <= LARGEST[path.suffix]
        return hashlib.blake2b(path.read_bytes(), digest_size=16).digest() if fit else b""
    except OSError:
        return b""
