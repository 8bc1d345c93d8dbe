"""The files of a study folder: their bytes and text, tables as they lie in them, and the journal of saved cuts.

A cut that another program took out again (a spreadsheet that saved an older copy) is noticed by the journal, and can
be put back. One line per event: what, when, number, the row as JSON.
"""

import codecs
import dataclasses
import json
import stat
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from bandtrial.disk import plain_file, why
from bandtrial.study.problems import Problems

CUTS_CSV, BANDS_CSV, CUTS_XLSX = "cuts.csv", "bands.csv", "cuts.xlsx"
MEGABYTE = 1_000_000
LARGEST = {".toml": 1 * MEGABYTE, ".csv": 150 * MEGABYTE, ".xlsx": 50 * MEGABYTE}
"""Size a file of a study may have, by suffix [bytes]."""


def no_folder(path: Path) -> str:
    """Why `path` can't be a study folder; nothing where it can."""
    try:
        return "" if path.is_dir() else "is not a folder"
    except OSError as error:
        return f"can't be opened: {why(error)}"


def existing(folder: Path, name: str) -> bool:
    """Whether the folder has an entry of that name, a dangling link included."""
    return (folder / name).exists() or (folder / name).is_symlink()


def inside(folder: Path, path: Path) -> bool:
    """Whether `path` is a plain file that, links followed, lies in `folder`; OSError where it does not exist."""
    return path.resolve().is_relative_to(folder.resolve()) and stat.S_ISREG(path.stat().st_mode)


def read_bytes(folder: Path, name: str, problems: Problems) -> bytes | None:
    """The bytes of a file of the folder; None, with a problem, where it can't or must not be read."""
    path = folder / name
    try:
        if not path.resolve().is_relative_to(folder.resolve()):
            return _refuse(problems, name, "is a link that leads out of the study folder; put the file itself there")
        state = path.stat()
        if not stat.S_ISREG(state.st_mode):
            return _refuse(problems, name, "is not a file")
        if state.st_size == 0:
            return _refuse(problems, name, "is empty (0 bytes); restore it from a copy, or remove it and start anew")
        most = LARGEST[path.suffix]
        if state.st_size > most:
            size = f"{state.st_size / MEGABYTE:.0f} MB"
            return _refuse(problems, name, f"is {size}; at most {most // MEGABYTE} MB are read, split the study")
        return path.read_bytes()
    except FileNotFoundError:
        return _refuse(problems, name, f"is missing from {folder}")
    except (OSError, RuntimeError) as error:  # RuntimeError: links in a circle
        words = why(error) if isinstance(error, OSError) else str(error).lower()
        return _refuse(problems, name, f"can't be read: {words}")


def decoded(data: bytes, name: str, problems: Problems) -> str | None:
    """`data` as text with `\\n` line ends: UTF-8, UTF-16 by its mark, else Windows-1252 with a warning."""
    text = as_utf8(data, name, problems)
    return None if text is None else text.decode()


def as_utf8(data: bytes, name: str, problems: Problems) -> bytes | None:
    """As `decoded`, in UTF-8: of a long log, letters of a rare alphabet would take four times its size as text."""
    for encoding in _encodings(data):
        try:
            data = _recoded(data, encoding)
            break
        except UnicodeError:
            continue
    if encoding not in ("utf-8", "utf-8-sig"):
        words = "UTF-16" if encoding == "utf-16" else "Windows-1252"
        problems.add(
            "warning", name, f"is not UTF-8 and is read as {words}; look at letters with accents, or save it as UTF-8"
        )
    most = LARGEST.get(Path(name).suffix, LARGEST[".csv"])
    if len(data) > most:
        return _refuse(problems, name, f"is {len(data) / MEGABYTE:.0f} MB as UTF-8; at most {most // MEGABYTE} MB are "
                       "read, split the study")  # fmt: skip
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        problems.add("error", name, "holds a NUL character: this is no text file, or it is damaged", row=line)
        return None
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")


def _recoded(data: bytes, encoding: str) -> bytes:
    """`data` in UTF-8, some of it at a time; UnicodeError where it is not in `encoding`. Stops when far too long."""
    decoder, parts, size = codecs.getincrementaldecoder(encoding)(), [], 0
    for at in range(0, len(data), MEGABYTE):
        text = decoder.decode(data[at : at + MEGABYTE], at + MEGABYTE >= len(data))
        if encoding == "utf-8":
            continue
        parts.append(text.encode())
        size += len(parts[-1])
        if size > 2 * LARGEST[".csv"]:
            break
    return data if encoding == "utf-8" else b"".join(parts)


def decode(data: bytes) -> tuple[str, str]:
    """Text and the encoding it was in; every sequence of bytes decodes."""
    for encoding in _encodings(data):
        try:
            return data.decode(encoding), encoding
        except UnicodeError:
            continue
    raise AssertionError("latin-1 decodes every byte")


def _encodings(data: bytes) -> tuple[str, ...]:
    """The encodings to try, in order."""
    if data.startswith(codecs.BOM_UTF8):
        first = "utf-8-sig"
    elif data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        first = "utf-16"
    else:
        first = "utf-8"
    return first, "cp1252", "latin-1"


def _refuse(problems: Problems, name: str, message: str) -> bytes | None:
    problems.add("error", name, message)
    return None


FOLDER = ".bandtrial"
LARGEST_JOURNAL = 20_000_000


class Saved(NamedTuple):
    """A cut the journal holds to be in the log: when it was saved, and its cells by head."""

    when: str
    row: dict[str, str]


def journal_of(folder: Path, file: str) -> Path:
    """The journal of the log `file`."""
    return folder / FOLDER / f"{file}.journal"


def journal_line(what: str, cut: str, row: dict[str, str]) -> bytes:
    """A line of the journal; `what` is saved or taken out."""
    when = datetime.now().isoformat(timespec="seconds")
    return (json.dumps([what, when, cut, row], ensure_ascii=False) + "\n").encode()


def whole_lines(folder: Path, journal: Path, most: int) -> list[bytes]:
    """The lines of a journal in `folder`; none where it can't be read, or is larger than `most` [bytes]."""
    try:
        if not plain_file(journal) or not inside(folder, journal) or journal.stat().st_size > most:
            return []
        return journal.read_bytes().split(b"\n")[:-1]  # what follows the last line end was never finished
    except OSError:
        return []


def remembered(folder: Path, file: str) -> dict[str, Saved]:
    """The cuts that should be in the log, by number; damaged or unfinished lines say nothing."""
    cuts: dict[str, Saved] = {}
    for line in whole_lines(folder, journal_of(folder, file), LARGEST_JOURNAL):
        try:
            what, when, cut, row = json.loads(line)
        except (ValueError, TypeError, RecursionError):
            continue
        cuts.pop(str(cut), None)
        if what == "saved" and isinstance(row, dict):
            cuts[str(cut)] = Saved(str(when)[:19], {str(head): str(cell) for head, cell in row.items()})
    return cuts


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
