"""Problems of a study as sentences for who can mend them: where, what was given, what is allowed."""

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, Literal

import numpy as np

from bandtrial.words import quoted

Severity = Literal["error", "warning", "question"]
CONTROL = re.compile("[\\x00-\\x1f\\x7f-\\x9f\\u2028-\\u202e\\u2066-\\u2069]")
"""Characters that steer a terminal or turn the direction of writing: in no name, and not in an answer."""
MOST_ROWS = 100_000
"""Rows with problems of one kind in one column that are looked at; of a log that is all wrong the first say enough."""
MOST = 1000
"""Problems of one kind in one column, or in study.toml, that are listed one by one; the rest are counted."""


@dataclass(frozen=True)
class Problem:
    """One thing to mend or to look at. `row` counts as a spreadsheet shows it: the head is row 1."""

    file: str
    row: int | None
    column: str | None
    value: str
    message: str
    severity: Severity = "error"
    rows: tuple[int, ...] = field(default=(), repr=False)
    """All rows with the same problem, `row` first."""

    def __str__(self) -> str:
        rows = self.rows or (() if self.row is None else (self.row,))
        where, toml = row_words(rows), self.file.endswith(".toml")
        column = f"column {self.column}" if rows and self.column and not toml else self.column or ""
        place = [self.file, where.replace("row", "line") if toml else where, column]
        line = f"{self.severity}: {', '.join(part for part in place if part)}: {self.message}"
        return "".join(c if c.isprintable() else " " for c in line)


class StudyError(Exception):
    """A study that can't be used until its problems are mended; `.problems` holds them all."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = list(problems)
        super().__init__("\n".join(str(problem) for problem in problems))


class SaveError(StudyError):
    """Something could not be saved; nothing of it is in the study. `.problems` says why and what to do."""


def refuse(file: str, why: str) -> SaveError:
    """A SaveError about one file."""
    return SaveError([Problem(file, None, None, "", why)])


class Problems:
    """The problems found so far, equal ones together."""

    def __init__(self) -> None:
        self.found: list[Problem] = []
        self.failed = 0
        """Errors so far, those not listed included."""
        self._asked: dict[tuple[str, Severity], int] = {}

    def add(
        self,
        severity: Severity,
        file: str,
        message: str,
        *,
        row: int | None = None,
        column: str | None = None,
        value: Any = "",
        rows: tuple[int, ...] = (),
    ) -> None:
        """One problem."""
        self.failed += severity == "error"
        self.found.append(Problem(file, row, column, str(value), message, severity, rows))

    def room(self, severity: Severity, file: str) -> bool:
        """Whether one more problem of a file is to be listed; where not, it is counted."""
        so_far = self._asked[file, severity] = self._asked.get((file, severity), 0) + 1
        self.failed += severity == "error" and so_far > MOST
        return so_far <= MOST

    def each(
        self,
        severity: Severity,
        file: str,
        column: str,
        rows: np.ndarray,
        keys: Sequence[Any],
        message: Callable[..., str | None],
    ) -> None:
        """One problem per different combination of `keys` (arrays beside `rows`), with all rows that have it.

        message(*key) words it, or gives None where there is nothing to say after all.
        """
        groups: dict[tuple[Any, ...], list[int]] = {}
        beyond = max(0, len(rows) - MOST_ROWS)
        for row, key in islice(zip(rows.tolist(), zip(*keys, strict=True), strict=True), MOST_ROWS):
            groups.setdefault(key, []).append(row)
        said = len(self.found)
        for key, at in islice(groups.items(), MOST):
            words = message(*key)
            if words is not None:
                self.add(severity, file, words, row=at[0], column=column, value=key[0], rows=tuple(at))
        more = sum(len(rest) for rest in islice(groups.values(), MOST, None)) + beyond
        if more and len(self.found) > said:
            self.add(severity, file, f"and {more} more rows like this, each in its own way", column=column)

    @property
    def errors(self) -> list[Problem]:
        """Those that keep the study from opening."""
        return [problem for problem in self.found if problem.severity == "error"]

    def in_order(self) -> list[Problem]:
        """All problems, study.toml first, then file by file and row by row."""
        rank = {file: n for n, file in enumerate(("study.toml", "bands.csv", "cuts.csv"))}
        listed = sorted(self.found, key=lambda p: (rank.get(p.file, 9), p.file, p.row or 0))
        for (file, severity), count in self._asked.items():
            if count > MOST:
                last = max(n for n, p in enumerate(listed) if p.file == file) + 1
                more = f"and {count - MOST} more {severity}s, which are not listed; mend these first"
                listed.insert(last, Problem(file, None, None, "", more, severity))
        return listed


def folded(name: str) -> str:
    """A name without regard to case, and to blanks at its ends or doubled.

    >>> folded(" Plate  A36 ")
    'plate a36'
    """
    return " ".join(name.split()).casefold()


def unfit_name(name: str) -> str | None:
    """What is wrong with a name of a machine, a band, a cut; None where nothing is.

    >>> unfit_name("saw 1"), unfit_name("saw\\n1")
    (None, '"saw 1" holds a line end or another character that can not be seen; delete it')
    """
    seen = CONTROL.search(name) is None
    return None if seen else f"{quoted(name)} holds a line end or another character that can not be seen; delete it"


def names(known: Iterable[str], most: int = 20) -> str:
    """Known names for a message, the first of many.

    >>> names(["saw2", "saw1"]), names([])
    ('saw1, saw2', 'none yet')
    """
    every = sorted(known)
    return ", ".join(every[:most]) + (f" and {len(every) - most} more" if len(every) > most else "") or "none yet"


def row_words(rows: Sequence[int]) -> str:
    """Rows of a problem in words.

    >>> row_words([4]), row_words([4, 5, 6, 9])
    ('row 4', 'rows 4-6 and 9')
    """
    if not rows:
        return ""
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][1] + 1:
            runs[-1][1] = row
        else:
            runs.append([row, row])
    parts = [str(a) if a == b else f"{a}-{b}" for a, b in runs]
    if len(parts) > 8:
        parts = [*parts[:7], f"{sum(b - a + 1 for a, b in runs[7:])} more"]
    words = parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
    return f"row{'s' if len(set(rows)) > 1 else ''} {words}"


def as_count(number: str) -> int:
    """The number of a cut as a count, 0 where it is none or one of more than 15 digits, which nobody counts on from.

    >>> as_count("12"), as_count("A7"), as_count("9" * 16)
    (12, 0, 0)
    """
    return int(number) if re.fullmatch(r"\d{1,15}", number) else 0
