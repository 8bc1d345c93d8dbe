"""A table as it lies in its file: heads, cells kept once, and the row numbers a spreadsheet shows."""

import dataclasses
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from bandtrial.study.problems import Problems

FEW = 20_000
"""Different cells of a column that are remembered; a column of numbers of cuts has no two alike."""


class Shared:
    """The different cells met so far, by column; `size` is what they take in memory [bytes]."""

    def __init__(self) -> None:
        self.known: dict[int, dict[object, object]] = {}
        self.size = 0

    def texts(self, column: int, cells: np.ndarray) -> np.ndarray:
        """Cells (n,) of a column, texts, with one object for all that are equal, as far as remembered."""
        known = self.known.setdefault(column, {})
        codes, different = pd.factorize(cells)
        for n, cell in enumerate(different):
            if (kept := known.get(cell)) is None:
                kept = cell
                self.size += sys.getsizeof(cell)
                if len(known) < FEW:
                    known[cell] = cell
            different[n] = kept
        return different[codes]


MOST_COLUMNS = 300
MOST_ROWS = 1_500_000
MOST_CELLS = 25_000_000
"""Of a table as wide as its head, empty ones counted: 200 MB of references alone."""
MOST_TEXT = 300_000_000
"""Bytes that the different cells of a table may take in memory."""
NO_HEAD = "has no head: the first row should name the columns"


@dataclass(frozen=True)
class RawTable:
    """`cells` has a column of objects per head, numbered; `rows` the row number of each line of it."""

    file: str
    heads: list[str]
    cells: pd.DataFrame = field(repr=False)
    rows: np.ndarray = field(repr=False)
    head_row: int = 1
    semicolons: bool = False
    """Whether the file separates by semicolons, as where decimals have commas."""

    def texts(self) -> Iterator[str]:
        """The different texts of each column, one after the other."""
        for n in self.cells:
            yield from (cell for cell in pd.unique(self.cells[n]) if isinstance(cell, str))


def table(file: str, cells: pd.DataFrame, problems: Problems, numbers: np.ndarray | None = None) -> RawTable | None:
    """Find the head, drop blank rows and `#` comments; None, with a problem, where there is no head.

    numbers: row numbers of `cells` as a spreadsheet shows them, 1, 2, ... unless given.
    """
    numbers = np.arange(1, len(cells) + 1) if numbers is None else numbers
    comment = np.array([is_comment(cell) for cell in cells[0].to_numpy(object)], bool)
    kept = np.flatnonzero(~comment & ~_blank_rows(cells))
    if not len(kept):
        problems.add("error", file, NO_HEAD)
        return None
    heads = ["" if cell is None else str(cell).strip() for cell in cells.iloc[kept[0]]]
    body = taken(cells, kept[1:])
    return RawTable(file, heads, body, numbers[kept[1:]], int(numbers[kept[0]]))


def is_comment(cell: object) -> bool:
    """Whether a row that begins with this cell is a comment."""
    return isinstance(cell, str) and cell.lstrip()[:1] == "#"


def taken(cells: pd.DataFrame, at: np.ndarray) -> pd.DataFrame:
    """Rows `at` (rising) of the cells: a view where they follow each other, else a copy column by column."""
    if len(at) and at[-1] - at[0] + 1 == len(at):
        return of_columns({n: cells[n].to_numpy(object)[at[0] : at[-1] + 1] for n in range(cells.shape[1])})
    return of_columns({n: cells[n].to_numpy(object)[at] for n in range(cells.shape[1])})


def of_columns(columns: dict[int, np.ndarray]) -> pd.DataFrame:
    """Cells by column, without a copy."""
    return pd.DataFrame({n: pd.Series(column, dtype=object, copy=False) for n, column in columns.items()}, copy=False)


def trimmed(raw: RawTable) -> RawTable:
    """Without the columns on the right that have neither head nor cells."""
    width = len(raw.heads)
    while width > 1 and not raw.heads[width - 1] and _blank(raw.cells[width - 1]).all():
        width -= 1
    return dataclasses.replace(raw, heads=raw.heads[:width], cells=raw.cells[list(range(width))])


def _blank_rows(cells: pd.DataFrame) -> np.ndarray:
    blank = _blank(cells[0])
    at = np.flatnonzero(blank)
    blank[at] = np.logical_and.reduce([_blank(cells[column].iloc[at]) for column in cells])
    return blank


def _blank(cells: pd.Series) -> np.ndarray:
    """Where cells hold nothing but blanks."""
    codes, different = pd.factorize(cells.to_numpy(object), use_na_sentinel=False)
    return np.array([cell is None or cell != cell or not str(cell).strip() for cell in different], bool)[codes]
