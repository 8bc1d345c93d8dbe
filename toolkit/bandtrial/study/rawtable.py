"""A table as it lies in its file: heads, cells, and the row numbers a spreadsheet shows."""

import dataclasses
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from bandtrial.study.problems import Problems

MOST_COLUMNS = 300
MOST_ROWS = 1_500_000
MOST_CELLS = 30_000_000
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


def table(file: str, cells: pd.DataFrame, problems: Problems, numbers: np.ndarray | None = None) -> RawTable | None:
    """Find the head, drop blank rows and `#` comments; None, with a problem, where there is no head.

    numbers: row numbers of `cells` as a spreadsheet shows them, 1, 2, ... unless given.
    """
    numbers = np.arange(1, len(cells) + 1) if numbers is None else numbers
    comment = cells[0].map(lambda cell: isinstance(cell, str) and cell.lstrip()[:1] == "#").to_numpy(bool)
    kept = np.flatnonzero(~comment & ~_blank_rows(cells))
    if not len(kept):
        problems.add("error", file, NO_HEAD)
        return None
    heads = ["" if cell is None else str(cell).strip() for cell in cells.iloc[kept[0]]]
    body = cells.iloc[kept[1:]].reset_index(drop=True)
    return RawTable(file, heads, body, numbers[kept[1:]], int(numbers[kept[0]]))


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
