"""The different cells of one column, each read once however often it stands there."""

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from bandtrial import units
from bandtrial.study.columns import Column
from bandtrial.study.problems import Problems, Severity
from bandtrial.study.rawtable import RawTable
from bandtrial.units.spelling import words
from bandtrial.words import printable, quoted, shown


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
