"""Tables from CSV files: their separator, their quotes and line ends, their rows."""

import csv
import io
from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import AnyStr

import numpy as np
import pandas as pd

from bandtrial.study import files
from bandtrial.study.files import MEGABYTE, RawTable
from bandtrial.study.problems import Problems

LONGEST_LINE = 1_000_000
_LINES_PER_RECORD = 1000
_CELLS_AT_ONCE, _BYTES_AT_ONCE = 500_000, 8 * MEGABYTE


@dataclass(frozen=True)
class Shape:
    """What a first pass over a CSV text finds out."""

    widths: np.ndarray
    """Number of cells of each row."""
    head: int
    """Number of cells of the head; 0 where there is none."""
    long: list[int]
    """Rows, from 0, with something beyond the head's columns."""
    parts: list[int]
    """Rows to read at once, one part after the other."""


def delimiter(text: str) -> str:
    """The separator of the head: of comma, semicolon and tab the one it has most of.

    >>> delimiter("# a, b\\ncut;band\\n")
    ';'
    """
    return separator_of(lines_of(text))


def separator_of(lines: Iterable[str]) -> str:
    """As `delimiter`, of lines that may be made one by one."""
    first = next((line for line in lines if line.strip() and not line.lstrip('"').startswith("#")), "")
    if first.startswith("sep=") and len(first.strip()) == 5:
        return first[4]
    outside = "".join(first.split('"')[::2])
    return max(",;\t", key=outside.count)


def lines_of(text: AnyStr) -> Iterator[AnyStr]:
    """Lines of text with their ends, made one by one."""
    at, end_of_line = 0, "\n" if isinstance(text, str) else b"\n"
    while at < len(text):
        end = text.find(end_of_line, at) + 1 or len(text)
        yield text[at:end]
        at = end


class _Bounded:
    """Lines for the csv reader that refuse a line, or a record of lines, too long to be a row of a table."""

    def __init__(self, text: bytes) -> None:
        self.lines, self.in_record, self.size = lines_of(text), 0, 0

    def __iter__(self) -> "_Bounded":
        return self

    def __next__(self) -> str:
        line = next(self.lines)
        self.in_record += 1
        self.size += len(line)
        if len(line) > LONGEST_LINE or self.in_record > _LINES_PER_RECORD:
            raise csv.Error("far too long for a row: a quote mark may be missing")
        return line.decode()


def shape_of(file: str, text: bytes, separator: str, problems: Problems) -> Shape | None:
    """The shape of a text; None, with a problem, where it can't be split into rows."""
    lines = _Bounded(text)
    widths, long, parts, head, begin = array("i"), [], [], 0, 0
    try:
        for record in csv.reader(lines, delimiter=separator, strict=True):
            n, width = len(widths), len(record)
            widths.append(width)
            lines.in_record = 0
            if width > files.MOST_COLUMNS:
                raise csv.Error(f"has {width} cells; a table may have {files.MOST_COLUMNS} columns")
            if not head:
                head = width if _is_head(record, n) else 0
            elif width > head and any(cell.strip() for cell in record[head:]):
                long.append(n)
            if n >= files.MOST_ROWS or n * head >= files.MOST_CELLS:
                raise csv.Error(
                    f"one row too many: at most {files.MOST_ROWS:,} rows and {files.MOST_CELLS:,} cells are read, "
                    "split the study"
                )
            if lines.size > _BYTES_AT_ONCE:
                parts.append(n + 1 - begin)
                begin, lines.size = n + 1, 0
    except csv.Error as error:
        at = len(widths) + (0 if " cells" in str(error) else 1)
        problems.add("error", file, _in_words(str(error)), row=at)
        return None
    if len(widths) > begin:
        parts.append(len(widths) - begin)
    return Shape(np.array(widths, dtype=np.int32), head, long, _parts(parts, max(widths, default=1)))


def _parts(parts: list[int], width: int) -> list[int]:
    """Parts of some rows, none with more cells than are read at once, as wide as the widest row."""
    most = max(1, _CELLS_AT_ONCE // max(width, 1))
    return [min(most, rows - at) for rows in parts for at in range(0, rows, most)]


def _is_head(record: list[str], n: int) -> bool:
    """Whether a record is the head where none came before it: no comment, not blank, not `sep=;`."""
    sign = n == 0 and record[:1] and record[0].startswith("sep=")
    return not sign and not files.is_comment(record[0] if record else "") and any(cell.strip() for cell in record)


def _in_words(error: str) -> str:
    if "expected after" in error:
        return "a quote mark stands where none may; write a quote mark inside a quoted text twice"
    if "unexpected end" in error:
        return "a quoted text begins here and is never closed; add the quote mark, or restore the file's end"
    if "field limit" in error or "field larger" in error:
        return "a cell is far too long: a quote mark may be missing"
    return error


def read(folder: Path, name: str, problems: Problems) -> RawTable | None:
    """The table of a CSV file of the folder; None, with a problem, where it has none or can't be read."""
    return parse(name, _text(folder, name, problems), problems)  # no name here: a long log lies in memory once


def _text(folder: Path, name: str, problems: Problems) -> bytes | None:
    data = files.read_bytes(folder, name, problems)
    return None if data is None else files.as_utf8(data, name, problems)


def parse(file: str, text: bytes | None, problems: Problems) -> RawTable | None:
    """The table of a CSV text in UTF-8 with `\\n` line ends; None, with a problem, where it has none.

    A row with cells beyond the head, and a last line that was cut off, are reported and left out.
    """
    if text is None:
        return None
    separator = separator_of(line[:LONGEST_LINE].decode(errors="ignore") for line in lines_of(text))
    shape = shape_of(file, text, separator, problems)
    if shape is None:
        return None
    if not shape.head:
        problems.add("error", file, files.NO_HEAD)
        return None
    cells = _cells(file, text, separator, shape, problems)
    if cells is None:
        return None
    cut_off = not text.endswith(b"\n")
    del text
    whole = files.table(file, cells, problems)
    return None if whole is None else files.trimmed(_even(whole, shape, cut_off, separator, problems))


def _cells(file: str, text: bytes, separator: str, shape: Shape, problems: Problems) -> pd.DataFrame | None:
    """The cells as wide as the head, read some rows at a time, equal texts shared; None where they take too much."""
    columns = {n: np.empty(len(shape.widths), object) for n in range(shape.head)}
    shared = files.Shared()
    at = 0
    with pd.read_csv(
        io.BytesIO(text),
        encoding="utf-8",
        sep=separator,
        header=None,
        names=range(max(int(shape.widths.max()), 1)),
        dtype=object,
        na_filter=False,
        skip_blank_lines=False,
        index_col=False,
        engine="c",
        iterator=True,
    ) as rows:
        for count in shape.parts:  # as wide as the widest row: of a part narrower than its head pandas makes an error
            part = rows.get_chunk(count)
            for n in range(shape.head):
                columns[n][at : at + count] = shared.texts(n, part[n].to_numpy(object))
            at += count
            if shared.size > files.MOST_TEXT:
                problems.add("error", file, f"holds too many different texts: at most {files.MOST_TEXT // MEGABYTE} MB "
                             "of them are read, split the study", row=at)  # fmt: skip
                return None
    if text.startswith(b"sep="):
        for column in columns.values():
            column[0] = ""
    return files.of_columns(columns)


def _even(whole: RawTable, shape: Shape, cut_off: bool, separator: str, problems: Problems) -> RawTable:
    """The table without rows that are too long or cut off; what was too long, too short or cut off is said."""
    width, at = shape.head, shape.widths[whole.rows - 1]
    keep = np.ones(len(at), bool)
    if len(at) and cut_off and at[-1] < width and whole.rows[-1] == len(shape.widths):
        keep[-1] = False
        problems.add(
            "error",
            whole.file,
            f"the last line was cut off after {at[-1]} of {width} cells; complete it or delete it",
            row=int(whole.rows[-1]),
        )
    short = np.flatnonzero(keep & (at < width))
    problems.each(
        "warning", whole.file, "", whole.rows[short], [at[short]],
        lambda n: f"{n} cells where the head has {width}; the missing ones are read as empty",
    )  # fmt: skip
    long = np.flatnonzero(np.isin(whole.rows - 1, shape.long))
    keep[long] = False
    problems.each(
        "error", whole.file, "", whole.rows[long], [at[long]],
        lambda n: f"{n} cells where the head has {width}; put a text that contains the separator in quotes",
    )  # fmt: skip
    cells = whole.cells if keep.all() else files.taken(whole.cells, np.flatnonzero(keep))
    return RawTable(whole.file, whole.heads, cells, whole.rows[keep], whole.head_row, separator == ";")
