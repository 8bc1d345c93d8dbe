"""The different cells of one column, each read once however often it stands there."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from bandtrial.study.columns import Column
from bandtrial.study.problems import Problems, Severity
from bandtrial.study.rawtable import RawTable
from bandtrial.words import printable


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
