"""A raw table as a table of known columns in inside units. Whole columns at once; odd cells one by one."""

import datetime
import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from bandtrial import units
from bandtrial.study.columns import Column, key
from bandtrial.study.dates import read_dates
from bandtrial.study.problems import Problems, near
from bandtrial.study.rawtable import RawTable
from bandtrial.units.numbers import quoted
from bandtrial.units.registry import words

YES, NO = {"yes", "y", "true", "1", "x", "ja", "oui"}, {"no", "n", "false", "0", "nein", "non"}


@dataclass
class Sheet:
    """A table, typed. `frame` holds every known column and, after them, the unknown ones as they were."""

    file: str
    frame: pd.DataFrame
    rows: np.ndarray
    raw: dict[str, np.ndarray] = field(default_factory=dict)
    """Cells as they were written, by known column."""
    unit: dict[str, str | None] = field(default_factory=dict)
    """Unit in the head, by known column."""
    bad: dict[str, np.ndarray] = field(default_factory=dict)
    """Where a cell was empty though needed, or could not be read: already reported."""

    def given(self, column: str, at: Any) -> str:
        """A cell as its writer sees it, with the unit of the head."""
        return with_unit(self.raw[column][at], self.unit[column])


def with_unit(cell: Any, unit: str | None) -> str:
    """A cell with the unit of its head, unless it has one of its own.

    >>> with_unit("1150", "ft/min"), with_unit("5 mm", "in")
    ('1150 ft/min', '5 mm')
    """
    text = str(cell).strip()
    return f"{text} {unit}" if unit and re.fullmatch(r"[\d.,/+\- ]+", text) else text


def typed(raw: RawTable, columns: Sequence[Column], system: str, problems: Problems) -> Sheet:
    """`raw` with its columns read; whatever can't be read is a problem and becomes empty."""
    sheet = Sheet(raw.file, pd.DataFrame(index=pd.RangeIndex(len(raw.rows))), raw.rows)
    place = _places(raw, columns, problems)
    read: dict[str, Any] = {}
    for column in columns:
        at = place.get(column.name)
        cells = np.full(len(raw.rows), "", object) if at is None else raw.cells[at].to_numpy(object)
        unit = None if at is None else units.head(raw.heads[at])[1]
        sheet.raw[column.name], sheet.unit[column.name] = cells, unit
        read[column.name], sheet.bad[column.name] = _column(raw, column, cells, at, unit, system, problems)
    for n, head in enumerate(raw.heads):
        if n not in place.values() and head and head not in read:
            read[head] = raw.cells[n].to_numpy(object)
    sheet.frame = pd.DataFrame(read, index=sheet.frame.index)
    return sheet


def _places(raw: RawTable, columns: Sequence[Column], problems: Problems) -> dict[str, int]:
    """Position of each known column; unknown, doubled and nameless heads and missing columns are reported."""
    known = {key(column.name): column.name for column in columns}
    place: dict[str, int] = {}
    for n, head in enumerate(raw.heads):
        name = known.get(key(units.head(head)[0]))
        if name is None:
            _unknown_head(raw, n, [column.name for column in columns], problems)
        elif name in place:
            problems.add(
                "error",
                raw.file,
                f"the column stands twice, as column {place[name] + 1} and {n + 1}; rename or delete one",
                row=raw.head_row,
                column=name,
                value=head,
            )
        else:
            place[name] = n
    for column in columns:
        if column.needed and column.name not in place:
            with_units = f" [{units.units_of(column.kind)[0]}]" if column.is_quantity else ""
            problems.add(
                "error",
                raw.file,
                f"the column is missing; add a column {quoted(column.name + with_units)}",
                row=raw.head_row,
                column=column.name,
            )
    return place


def _unknown_head(raw: RawTable, n: int, known: list[str], problems: Problems) -> None:
    head = raw.heads[n]
    if not head:
        if any(str(cell).strip() for cell in raw.cells[n]):
            problems.add(
                "warning",
                raw.file,
                f"column {n + 1} has cells but no head, and is left alone; merged heads name only their first column",
                row=raw.head_row,
            )
        return
    close = difflib.get_close_matches(units.head(head)[0], known, n=1, cutoff=0.6)
    hint = f'; did you mean "{close[0]}"?' if close else ""
    problems.add(
        "warning",
        raw.file,
        f"not a column used here, kept as it is{hint}",
        row=raw.head_row,
        column="".join(c if c.isprintable() else " " for c in head[:60]),
        value=head,
    )


def _column(
    raw: RawTable,
    column: Column,
    cells: np.ndarray,
    at: int | None,
    unit: str | None,
    system: str,
    problems: Problems,
) -> tuple[Any, np.ndarray]:
    """Values of a column and where they are bad."""
    if at is None:
        return _nothing(column, len(cells)), np.full(len(cells), column.needed)
    codes, different = pd.factorize(cells, use_na_sentinel=False)
    different = np.asarray(different, dtype=object)
    empty = np.array([_is_empty(cell) for cell in different], bool)
    values, wrong = _read(raw, column, different, empty, unit, system, problems)
    report_empty = column.needed & empty
    for kind, message in [
        (report_empty, lambda cell: _needs(column)),
        (~empty, lambda cell: wrong.get(cell)),
    ]:
        _report(raw, column, cells, codes, different, kind, message, problems)
    bad = report_empty | np.array([cell in wrong for cell in different.tolist()], bool)
    return values[codes], bad[codes]


def _report(
    raw: RawTable,
    column: Column,
    cells: np.ndarray,
    codes: np.ndarray,
    different: np.ndarray,
    which: np.ndarray,
    message: Callable[[Any], str | None],
    problems: Problems,
) -> None:
    """Problems of the different cells `which`, with every row each stands in."""
    told = np.array([bool(which[n]) and message(cell) is not None for n, cell in enumerate(different)], bool)
    at = np.flatnonzero(told[codes]) if told.any() else np.empty(0, int)
    problems.each("error", raw.file, column.name, raw.rows[at], [cells[at]], message)


def _read(
    raw: RawTable,
    column: Column,
    different: np.ndarray,
    empty: np.ndarray,
    unit: str | None,
    system: str,
    problems: Problems,
) -> tuple[np.ndarray, dict[Any, str]]:
    """Values of the different cells of a column, and what is wrong with those that can't be read."""
    if column.is_quantity or column.kind == "count":
        return _quantities(raw, column, different, empty, unit, problems)
    if column.kind == "date":
        return read_dates(raw, column.name, different, empty, system, problems)
    wrong: dict[Any, str] = {}
    values = np.empty(len(different), object)
    for n, cell in enumerate(different):
        values[n] = column.empty if empty[n] else _word(column, cell, wrong)
    if column.kind == "yesno":
        values = values.astype(bool)
    return values, wrong


def _word(column: Column, cell: Any, wrong: dict[Any, str]) -> Any:
    text = str(cell).strip()
    if column.kind in ("name", "text"):
        return re.sub(r"^'(?=[=+\-@])", "", text)  # the mark that keeps spreadsheets from seeing a formula
    folded = text.casefold()
    if column.kind == "yesno":
        if folded not in YES | NO:
            wrong[cell] = f"{quoted(text)} is neither yes nor no"
        return folded not in NO
    choice = re.sub(r"[\s\-]+", "_", folded)
    if choice in column.choices:
        return choice
    offered = dict(column.meant).get(folded.replace("_", " "))
    hint = f'; did you mean "{offered}"?' if offered else near(choice, column.choices)
    wrong[cell] = f"{quoted(text)} is not one of {', '.join(column.choices)}{hint}"
    return column.empty


def _quantities(
    raw: RawTable,
    column: Column,
    different: np.ndarray,
    empty: np.ndarray,
    unit: str | None,
    problems: Problems,
) -> tuple[np.ndarray, dict[Any, str]]:
    kind = "number" if column.kind == "count" else column.kind
    wrong: dict[Any, str] = {}
    values = pd.to_numeric(pd.Series(different, dtype=object), errors="coerce").to_numpy(float, na_value=np.nan)
    plain = np.isfinite(values) & ~np.array([isinstance(cell, bool) for cell in different], bool) & ~empty
    unit, known = _unit(raw, column, kind, unit, bool(plain.any()), problems)
    values = units.convert(np.where(plain, values, np.nan), unit, kind) if known else np.full(len(values), np.nan)
    for n in np.flatnonzero(~plain & ~empty):
        try:
            values[n] = units.read(different[n], kind, unit if known else units.KINDS[kind])
        except units.UnitError as error:
            wrong[different[n]] = str(error)
    for n in np.flatnonzero(values < column.low) if known else []:
        wrong.setdefault(different[n], _too_small(column, different[n], unit, values[n]))
    for n in np.flatnonzero((values > column.high) | ((values == column.low) & (column.low == 0) & (not column.zero))):
        wrong.setdefault(different[n], _out(column, different[n], unit))
    if column.kind == "count":
        for n in np.flatnonzero(np.isfinite(values) & (values != np.round(values))):
            wrong.setdefault(different[n], f"{quoted(different[n])} is not a whole number")
    values = np.where([cell in wrong for cell in different.tolist()], np.nan, values)
    return np.where(empty, np.nan if column.empty is None else column.empty, values), wrong


def _unit(
    raw: RawTable, column: Column, kind: str, unit: str | None, needed: bool, problems: Problems
) -> tuple[str | None, bool]:
    """The unit of a head and whether it can be used; where it can't, one problem for the whole column."""
    example = f"{column.name} [{units.units_of(kind)[0]}]" if units.units_of(kind) else column.name
    if unit is None and needed and units.KINDS[kind]:
        problems.add(
            "error",
            raw.file,
            f"the head names no unit; write it as {quoted(example)}",
            row=raw.head_row,
            column=column.name,
            value=column.name,
        )
        return None, False
    if unit is None or not units.KINDS[kind]:
        return None, True
    try:
        units.convert(1.0, unit, kind)
    except units.UnitError as error:
        problems.add("error", raw.file, str(error), row=raw.head_row, column=column.name, value=unit)
        return None, False
    return unit, True


def _too_small(column: Column, cell: Any, unit: str | None, value: float) -> str:
    given = with_unit(cell, unit)
    if value < 0 or (value == 0 and not column.zero):
        least = "must not be negative" if column.zero else "must be more than 0"
        return f"{given} is not a {words(column.name)}; it {least}"
    return _out(column, cell, unit)


def _out(column: Column, cell: Any, unit: str | None) -> str:
    if column.kind == "count":
        return f"{cell} is not possible; it runs from {column.low:.0f} to {column.high:.0f}"
    shown = units.shown(float(units.from_inside(column.low, column.kind, unit)))
    high = units.shown(float(units.from_inside(column.high, column.kind, unit)))
    span = f"{shown} to {high} {unit or units.KINDS[column.kind]}"
    return f"{with_unit(cell, unit)} is not possible for a {words(column.name)}; it runs from {span}"


def _needs(column: Column) -> str:
    return f"empty; a {'cut' if column.name not in ('stock',) else 'band'} needs its {words(column.name)}"


def _nothing(column: Column, n: int) -> Any:
    if column.kind == "date":
        return np.full(n, np.datetime64("NaT", "us"))
    if column.is_quantity or column.kind == "count":
        return np.full(n, np.nan if column.empty is None else float(column.empty))
    if column.kind == "yesno":
        return np.full(n, bool(column.empty))
    return np.full(n, "" if column.empty is None else column.empty, object)


def _is_empty(cell: Any) -> bool:
    return (
        cell is None
        or (isinstance(cell, float | datetime.date) and cell != cell)
        or (isinstance(cell, str) and not cell.strip())
    )
