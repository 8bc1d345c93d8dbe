"""A cut that was saved, and the rows and shop it was checked with."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from bandtrial.study.files import LARGEST, inside
from bandtrial.study.problems import Problem
from bandtrial.study.reading import shop
from bandtrial.study.settings import Settings
from bandtrial.study.typed import Sheet
from bandtrial.study.writing import row as rows

_known_shops: dict[Path, tuple[tuple[bytes, ...], Settings | None, Sheet | None]] = {}


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
    cells = rows.every_cells(cuts, heads, file, decimal)
    return Draft(list(heads), decimal, cells, first, rows.check(cells, heads, file, first, *_shop(folder)))


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
