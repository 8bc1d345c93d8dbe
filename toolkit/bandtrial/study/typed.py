"""A raw table as a table of known columns in inside units. Whole columns at once; odd cells one by one."""

import datetime
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from bandtrial import units
from bandtrial.spelling import words
from bandtrial.study.cells import Distinct, read_dates, read_quantities, with_unit
from bandtrial.study.columns import NO, NOT_MEASURED, YES, Column, key
from bandtrial.study.files import RawTable
from bandtrial.study.problems import Problems, Severity, folded, names, unfit_name
from bandtrial.words import Nearest, near, quoted


@dataclass
class Sheet:
    """A table, typed. `frame` holds every known column and, after them, the unknown ones as they were."""

    file: str
    frame: pd.DataFrame
    rows: np.ndarray
    raw: dict[str, np.ndarray] = field(default_factory=dict)
    """Cells as they were written, by known column."""
    unit: dict[str, str | None] = field(default_factory=dict)
    """Unit in the head, by known column; None where it has none that can be used."""
    bad: dict[str, np.ndarray] = field(default_factory=dict)
    """Where a cell was empty though needed, or could not be read: already reported."""

    def given(self, column: str, at: Any) -> str:
        """A cell as its writer sees it, with the unit of the head."""
        return with_unit(self.raw[column][at], self.unit[column])

    def all_given(self, column: str, at: np.ndarray) -> list[str]:
        """`given` of each of the rows `at`."""
        return [self.given(column, n) for n in at]

    def each(
        self, problems: Problems, severity: Severity, column: str, at: np.ndarray, keys: Sequence[Any],
        message: Callable[..., str | None],
    ) -> None:  # fmt: skip
        """A problem for each different combination of `keys`, which stand beside the rows `at`; see `Problems.each`."""
        problems.each(severity, self.file, column, self.rows[at], keys, message)


def typed(raw: RawTable, columns: Sequence[Column], system: str, problems: Problems) -> Sheet:
    """`raw` with its columns read; whatever can't be read is a problem and becomes empty."""
    sheet = Sheet(raw.file, pd.DataFrame(), raw.rows)
    place = _places(raw, columns, problems)
    read: dict[str, Any] = {}
    for column in columns:
        read[column.name] = _column(raw, column, place.get(column.name), system, sheet, problems)
    for n, head in enumerate(raw.heads):
        if head and n not in place.values():
            read[head if head not in read else f"{head} ({n + 1})"] = raw.cells[n]  # as it is, not even a copy
    sheet.frame = pd.DataFrame(read, index=pd.RangeIndex(len(raw.rows)), copy=False)
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
                "error", raw.file,
                f"the column stands twice, as column {place[name] + 1} and {n + 1}; rename or delete one",
                row=raw.head_row, column=name, value=head,
            )  # fmt: skip
        else:
            place[name] = n
    for column in columns:
        if column.needed and column.name not in place:
            with_units = f" [{units.units_of(column.kind)[0]}]" if column.is_quantity else ""
            problems.add(
                "error", raw.file, f"the column is missing; add a column {quoted(column.name + with_units)}",
                row=raw.head_row, column=column.name,
            )  # fmt: skip
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
    hint = near(units.head(head)[0], known, 0.6)
    problems.add(
        "warning", raw.file, f"not a column used here, kept as it is{hint}", row=raw.head_row,
        column="".join(c if c.isprintable() else " " for c in head[:60]), value=head,
    )  # fmt: skip


def _column(raw: RawTable, column: Column, at: int | None, system: str, sheet: Sheet, problems: Problems) -> np.ndarray:
    """Values of a column; its cells, its unit and where it is bad are entered in `sheet`."""
    n, name = len(raw.rows), column.name
    if at is None:
        nowhere = np.broadcast_to(np.array("", object), n)  # one empty cell, seen n times
        sheet.raw[name], sheet.unit[name], sheet.bad[name] = nowhere, None, np.full(n, column.needed)
        return np.asarray(_nothing(column, n))
    cells = raw.cells[at].to_numpy(object)
    codes, found = pd.factorize(cells, use_na_sentinel=False)
    different = np.asarray(found, dtype=object)
    measured = column.is_quantity or column.kind in ("count", "date")
    nothing = column.also_empty or (NOT_MEASURED if measured else frozenset())
    empty = np.array([_is_empty(cell, nothing) for cell in different], bool)
    one = Distinct(raw, column, cells, codes, different, empty, units.head(raw.heads[at])[1], problems)
    unread = np.zeros(len(different), bool)
    if column.is_quantity or column.kind == "count":
        values = read_quantities(one)
        unread = ~empty & np.isnan(values)  # without a unit in the head, of which the column is reported once
    elif column.kind == "date":
        values = read_dates(one, system)
    else:
        values = _words(one)
    if column.every_cell:
        needs = f"a {'band' if name == 'stock' else 'cut'} needs its {'number' if name == 'cut' else words(name)}"
        one.report("error", empty, lambda cell: f"{_said_nothing(cell)}; {needs}")
    wrong = np.array([cell in one.wrong for cell in different.tolist()], bool)
    one.report("error", wrong, one.wrong.__getitem__)
    sheet.raw[name], sheet.unit[name], sheet.bad[name] = (
        cells,
        one.unit,
        (wrong | unread | (column.every_cell & empty))[codes],
    )
    return values[codes]


def _words(one: Distinct) -> np.ndarray:
    """Names, texts, choices, yes and no."""
    values = np.empty(len(one.cells), object)
    for n, cell in enumerate(one.cells):
        values[n] = _when_empty(one.column) if one.empty[n] else _word(one.column, cell, one.wrong)
    return values.astype(bool) if one.column.kind == "yesno" else values


def _word(column: Column, cell: Any, wrong: dict[Any, str]) -> Any:
    text = str(cell).strip()
    if column.kind == "name" and (unfit := unfit_name(text)):
        wrong[cell] = unfit
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
    words_only = re.sub(r"[\s_\-]+", " ", folded)
    if words_only in dict(column.also):
        return dict(column.also)[words_only]
    offered = dict(column.meant).get(words_only)
    hint = f'; did you mean "{offered}"?' if offered else near(choice, column.choices)
    wrong[cell] = f"{quoted(text)} is not one of {', '.join(column.choices)}{hint}"
    return column.empty


def _said_nothing(cell: Any) -> str:
    return f"{quoted(cell)} says nothing" if str(cell).strip() and cell == cell else "empty"


def _when_empty(column: Column) -> Any:
    return "" if column.empty is None else column.empty


def _nothing(column: Column, n: int) -> Any:
    if column.kind == "date":
        return np.full(n, np.datetime64("NaT", "us"))
    if column.is_quantity or column.kind == "count":
        return np.full(n, np.nan if column.empty is None else float(column.empty))
    if column.kind == "yesno":
        return np.full(n, bool(column.empty))
    return np.full(n, _when_empty(column), object)


def _is_empty(cell: Any, nothing: frozenset[str]) -> bool:
    if cell is None or (isinstance(cell, float | datetime.date) and cell != cell):
        return True
    text = str(cell).strip()
    return not text or (bool(nothing) and len(text) < 20 and text.casefold() in nothing)


def same_names(
    sheet: Sheet,
    column: str,
    known: Iterable[str],
    problems: Problems,
    called: Mapping[str, Iterable[str]] | None = None,
) -> None:
    """Enter the known name for each cell of a column that differs from it in case and blanks only, with a warning.

    called : id -> what people call it, each of which may stand for the id too, where it is one thing's alone
    """  # fmt: skip
    ids = set(known)
    cells = sheet.frame[column].to_numpy(object)
    codes, different = pd.factorize(cells)
    unknown = [n for n, name in enumerate(different) if name and name not in ids]
    if not unknown:
        return
    others = [(words, name) for name, every in (called or {}).items() for words in every if words]
    meant = _one_each([*((name, name) for name in ids), *others])
    read = {n: meant[folded(different[n])] for n in unknown if folded(different[n]) in meant}
    if not read:
        return
    at = np.flatnonzero(np.isin(codes, list(read)))
    sheet.each(problems, "warning", column, at, [cells[at]],
               lambda name: f"{quoted(name)} is read as {meant[folded(name)]}")  # fmt: skip
    for n, name in read.items():
        different[n] = name
    sheet.frame[column] = different[codes]


def _one_each(pairs: list[tuple[str, str]]) -> dict[str, str]:
    """Folded name -> id, those of one thing alone."""
    meant: dict[str, set[str]] = {}
    for said, name in pairs:
        meant.setdefault(folded(said), set()).add(name)
    return {said: next(iter(ids)) for said, ids in meant.items() if len(ids) == 1}


def known_names(
    sheet: Sheet, column: str, known: Collection[str], faulty: frozenset[str], where: str, what: str, problems: Problems
) -> np.ndarray:
    """Where a column names something known; an unknown name is a problem, a faulty one is not."""
    cells = sheet.frame[column].to_numpy(object)
    isin = pd.Series(cells).isin(list(known)).to_numpy(bool)
    silent = pd.Series(cells).isin([*faulty, ""]).to_numpy(bool)
    at = np.flatnonzero(~isin & ~silent)
    near, there = Nearest(known), names(known)
    sheet.each(
        problems, "error", column, at, [cells[at]],
        lambda name: f"no {what} {quoted(name)} in {where}{near(name)} (there: {there})",
    )  # fmt: skip
    return isin
