"""The different cells of one column, each read once however often it stands there: quantities, and dates and times.

The order of day and month is never guessed in silence."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from bandtrial import units
from bandtrial.spelling import words
from bandtrial.study.files import RawTable
from bandtrial.study.problems import Problems, Severity
from bandtrial.words import printable, quoted, shown

if TYPE_CHECKING:
    from bandtrial.study.columns import Column


@dataclass
class Distinct:
    """Cells of a column: `all_cells` (n,) as they lie in the file, `codes` (n,) into the different `cells` (m,)."""

    raw: RawTable
    column: Column
    all_cells: np.ndarray
    codes: np.ndarray
    cells: np.ndarray
    empty: np.ndarray
    """Where a different cell is empty (m,)."""
    unit: str | None
    """The unit in the head; None where it has none that can be used."""
    problems: Problems
    wrong: dict[Any, str] = field(default_factory=dict)
    """What is wrong with a cell that can't be read."""

    def report(self, severity: Severity, which: np.ndarray, message: Callable[[Any], str | None]) -> None:
        """A problem for each of the different cells `which` (m,), with every row it stands in."""
        at = np.flatnonzero(which[self.codes]) if which.any() else np.empty(0, int)
        rows, cells = self.raw.rows[at], self.all_cells[at]
        self.problems.each(severity, self.raw.file, self.column.name, rows, [cells], message)


def with_unit(cell: Any, unit: str | None) -> str:
    """A cell with the unit of its head, unless it has one of its own.

    >>> with_unit("1150", "ft/min"), with_unit("5 mm", "in")
    ('1150 ft/min', '5 mm')
    """
    text = printable(cell).strip()
    return f"{text} {unit}" if unit and re.fullmatch(r"[\d.,/+\- ]+", text) else text


_THOUSANDS = re.compile(r"\s*[+-]?[1-9]\d{0,2},\d{3}\s*")
_WITH_POINT = re.compile(r"\s*[+-]?[1-9]\d{0,2}\.\d{3}\s*")
_SURELY_POINT = re.compile(r"\s*[+-]?(?:\d*\.(?:\d{1,2}|\d{4,})|0\.\d+|\d{4,}\.\d+)\s*")


def read_quantities(one: Distinct) -> np.ndarray:
    """Values of the different cells in the inside unit; NaN, and an entry in `one.wrong`, where there is none."""
    kind = "number" if one.column.kind == "count" else one.column.kind
    text = _clock_cells(_decimal_commas(one))
    values = pd.to_numeric(pd.Series(text, dtype=object), errors="coerce").to_numpy(float, na_value=np.nan)
    plain = np.isfinite(values) & ~one.empty & ~np.array([isinstance(cell, bool) for cell in text], bool)
    known = _unit_usable(one, kind, bool(plain.any()))
    unit = one.unit = one.unit if known else None
    values = np.where(plain, values, np.nan)
    values = units.convert(values, unit, kind) if known else np.full(len(values), np.nan)
    for n in np.flatnonzero(~plain & ~one.empty):
        try:
            values[n] = units.read(text[n], kind, unit if known else units.KINDS[kind])
        except units.UnitError as error:
            one.wrong[one.cells[n]] = str(error)
    _possible(one, values, unit)
    clock = np.array([isinstance(cell, datetime.time | datetime.timedelta) for cell in one.cells], bool)
    minutes = dict(zip(one.cells[clock].tolist(), values[clock].tolist(), strict=True))
    one.report("warning", clock, lambda cell: _time_of_day(cell, minutes[cell]) if kind == "time" else None)
    values[np.array([cell in one.wrong for cell in one.cells.tolist()], bool)] = np.nan
    return np.where(one.empty, np.nan if one.column.empty is None else one.column.empty, values)


def _clock_cells(cells: np.ndarray) -> np.ndarray:
    """The cells; where one of a spreadsheet's times can only be h:mm:ss, the other times as that too.

    A spreadsheet keeps 12:40 and 12:40:00 alike; 0:05:12 or 1:02:30 beside it tell which way its writer has.
    """
    clocks = [n for n, cell in enumerate(cells) if isinstance(cell, datetime.time)]
    if not any(cells[n].second and (cells[n].hour or cells[n].minute) for n in clocks):
        return cells
    text = cells.copy()
    text[clocks] = [cells[n].isoformat("seconds") for n in clocks]
    return text


def _decimal_commas(one: Distinct) -> np.ndarray:
    """The cells; where a column of a semicolon-separated file can only have decimal commas, `1,250` with a point."""
    if not one.raw.semicolons:
        return one.cells
    _point_can_be_thousands(one)
    text = [str(cell) for cell in one.cells]
    either = np.array([_THOUSANDS.fullmatch(cell) is not None for cell in text], bool)
    comma = any("," in cell and not two for cell, two in zip(text, either, strict=True))
    if not either.any() or not comma or any("." in cell for cell in text):
        return one.cells
    one.report("warning", either, lambda cell: f"{quoted(cell)} is read as {str(cell).strip().replace(',', '.')}, "
               "as other numbers of the column have a decimal comma")  # fmt: skip
    return np.where(either, np.array([cell.replace(",", ".") for cell in text], object), one.cells)


def _point_can_be_thousands(one: Distinct) -> None:
    """Where nothing else in a semicolon-separated file has a decimal point, `1.500` can mean 1500: an error."""
    either = [cell for cell in one.cells if isinstance(cell, str) and _WITH_POINT.fullmatch(cell)]
    if not either or any(_SURELY_POINT.fullmatch(cell) for cell in one.raw.texts()):
        return
    for cell in either:
        text = cell.strip()
        one.wrong[cell] = (
            f"{quoted(text)} can mean {text.replace('.', ',').rstrip('0').rstrip(',')} or "
            f"{text.replace('.', '')} where semicolons separate the cells; write it as one of these"
        )


def _unit_usable(one: Distinct, kind: str, needed: bool) -> bool:
    """Whether the unit of the head can be used; where it can't, one problem for the whole column."""
    name, offered = one.column.name, units.units_of(kind)
    words_for_it = None
    if not units.KINDS[kind]:
        return True
    if one.unit is None and needed:
        words_for_it = f"the head names no unit; write it as {quoted(f'{name} [{offered[0]}]')}"
    elif one.unit is not None:
        try:
            units.convert(1.0, one.unit, kind)
        except units.UnitError as error:
            words_for_it = str(error)
    if words_for_it is not None:
        one.problems.add("error", one.raw.file, words_for_it, row=one.raw.head_row, column=name, value=one.unit or "")
    return words_for_it is None


def _possible(one: Distinct, values: np.ndarray, unit: str | None) -> None:
    """Note every value that can't be true: negative, absurd, a part of a piece."""
    column = one.column
    with np.errstate(invalid="ignore"):
        outside = (values < column.low) | (values > column.high) | ((values <= 0) & (not column.zero))
        broken = (values != np.round(values)) & np.isfinite(values) & (column.kind == "count")
    for n in np.flatnonzero(outside | broken):
        one.wrong.setdefault(one.cells[n], _impossible(column, one.cells[n], unit, float(values[n])))


def _impossible(column: Column, cell: Any, unit: str | None, value: float) -> str:
    given, name = with_unit(cell, unit), words(column.name)
    if value < 0 or (value == 0 and not column.zero):
        return f"{given} is not a {name}; it {'must not be negative' if column.zero else 'must be more than 0'}"
    if column.kind == "count":
        return f"{given} is not a number of {name}; it must be whole, {column.low:.0f} to {column.high:.0f}"
    low, high = (shown(float(units.from_inside(end, column.kind, unit))) for end in (column.low, column.high))
    span = f"{low} to {high} {unit or units.KINDS[column.kind]}"
    return f"{given} is not possible for a {name}; it runs from {span}"


def _time_of_day(cell: Any, minutes: float) -> str:
    whole, seconds = divmod(round(minutes * 60), 60)
    return f"{cell} is a time of day in the spreadsheet, read as {whole} min {seconds} s; a plain number is safer"


_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})(?:[ T,]+(.*))?")
_TIME = re.compile(r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2}))?(?:\.\d+)?\s*([ap])?\.?m?\.?", re.I)
_ISO = re.compile(r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?)?")
_OFFSET = re.compile(r"\d\d:?\d\d(?::\d\d(?:\.\d+)?)?\s*(Z|UTC|GMT|[+-]\d\d:?\d\d)\s*$")
_FIRST, _LAST = np.datetime64("1950-01-01", "us"), np.datetime64("2100-01-01", "us")
_SAMPLE = "write it as 2026-03-02 or 2026-03-02T14:30"


def read_dates(one: Distinct, system: str) -> np.ndarray:
    """Times of the different cells, wall clock as written; NaT, and an entry in `one.wrong`, where there is none."""
    values = np.full(len(one.cells), np.datetime64("NaT", "us"))
    plain = np.array([isinstance(cell, str) and _ISO.fullmatch(cell) is not None for cell in one.cells], bool)
    if plain.any():
        text = pd.Series(one.cells[plain], dtype=object)
        times = pd.to_datetime(text, format="ISO8601", errors="coerce").to_numpy()
        values[plain] = times.astype("datetime64[us]")
    either: set[Any] = set()
    for n in np.flatnonzero(np.isnat(values) & ~one.empty):
        try:
            values[n] = np.datetime64(_one(one.cells[n], system == "us", either), "us")
        except ValueError as error:
            one.wrong[one.cells[n]] = str(error)
    for n in np.flatnonzero((values < _FIRST) | (values > _LAST)):
        one.wrong[one.cells[n]] = f"{quoted(one.cells[n])} is not a date between 1950 and 2100; {_SAMPLE}"
        values[n] = np.datetime64("NaT", "us")
    _offsets(one, values)
    order = "month/day/year, as units are us" if system == "us" else "day/month/year, as units are metric"
    one.report("warning", np.array([cell in either for cell in one.cells.tolist()], bool), lambda cell:
               f"{quoted(cell)} can be read two ways and is read as {order}; {_SAMPLE}")  # fmt: skip
    return values


def _offsets(one: Distinct, values: np.ndarray) -> None:
    """Say which offsets from universal time were left out: times are those of the clock on the wall."""
    offset = [found[1] if isinstance(cell, str) and (found := _OFFSET.search(cell)) else "" for cell in one.cells]
    written = np.array(offset, object)
    written[np.isnat(values)] = ""
    at = np.flatnonzero((written != "")[one.codes]) if (written != "").any() else np.empty(0, int)
    one.problems.each("warning", one.raw.file, one.column.name, one.raw.rows[at], [written[one.codes[at]]],
                      lambda text: f"{quoted(text)} is left out: times are read as the clock at the machine shows "
                      "them")  # fmt: skip


def _one(cell: Any, month_first: bool, either: set[Any]) -> datetime.datetime:
    """One date with or without a time; ValueError with a sentence."""
    if isinstance(cell, datetime.datetime):
        return cell.replace(tzinfo=None)
    if isinstance(cell, datetime.date):
        return datetime.datetime(cell.year, cell.month, cell.day)
    text = " ".join(str(cell).split())
    try:
        return datetime.datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        pass
    found = _DATE.fullmatch(text)
    if not found:
        raise ValueError(f"{quoted(text)} is not a date; {_SAMPLE}")
    first, sign, second, third, time = found.groups()
    hour, minute, sec = _clock(time, text)
    (year, month, day), doubtful = _order((int(first), int(second), int(third)), len(first) > 2, sign, month_first)
    if doubtful:
        either.add(cell)
    try:
        return datetime.datetime(year if year > 99 else 2000 + year, month, day, hour, minute, sec)
    except ValueError:
        raise ValueError(f"{quoted(text)} is not a date of the calendar; {_SAMPLE}") from None


def _order(
    parts: tuple[int, int, int], year_first: bool, sign: str, month_first: bool
) -> tuple[tuple[int, int, int], bool]:
    """Year, month and day of three numbers, and whether they can be read two ways.

    Points are written day first; a slash either way.
    """
    first, second, third = parts
    if year_first:
        return parts, False
    if sign == "." or (first > 12 >= second):
        return (third, second, first), False
    if second > 12 >= first:
        return (third, first, second), False
    return ((third, first, second) if month_first else (third, second, first)), first != second


def _clock(time: str | None, text: str) -> tuple[int, int, int]:
    if not time:
        return 0, 0, 0
    found = _TIME.fullmatch(time.strip())
    if not found:
        raise ValueError(f"{quoted(text)} has no time of day that can be read; {_SAMPLE}")
    hour, half = int(found[1]), (found[4] or "").lower()
    if half and not 1 <= hour <= 12:
        raise ValueError(f"{quoted(text)} has no time of day that can be read; {_SAMPLE}")
    hour = hour % 12 + 12 if half == "p" else hour % 12 if half == "a" else hour
    return hour, int(found[2]), int(found[3] or 0)
