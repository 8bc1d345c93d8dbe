"""A first pass over a CSV text: its separator, how wide its rows are, whether it can be read at all."""

import csv
from array import array
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import AnyStr

import numpy as np

from bandtrial.study.files import MEGABYTE
from bandtrial.study.problems import Problems
from bandtrial.study.rawtable import MOST_CELLS, MOST_COLUMNS, MOST_ROWS, is_comment

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
            if width > MOST_COLUMNS:
                raise csv.Error(f"has {width} cells; a table may have {MOST_COLUMNS} columns")
            if not head:
                head = width if _is_head(record, n) else 0
            elif width > head and any(cell.strip() for cell in record[head:]):
                long.append(n)
            if n >= MOST_ROWS or n * head >= MOST_CELLS:
                raise csv.Error(
                    f"one row too many: at most {MOST_ROWS:,} rows and {MOST_CELLS:,} cells are read, split the study"
                )
            if lines.size > _BYTES_AT_ONCE:
                parts.append(n + 1 - begin)
                begin, lines.size = n + 1, 0
    except csv.Error as error:
        at = len(widths) + (0 if " cells" in str(error) else 1)
        problems.add("error", file, _in_words(str(error), separator), row=at)
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
    return not sign and not is_comment(record[0] if record else "") and any(cell.strip() for cell in record)


def _in_words(error: str, separator: str) -> str:
    if "expected after" in error:
        return "a quote mark stands where none may; write a quote mark inside a quoted text twice"
    if "unexpected end" in error:
        return "a quoted text begins here and is never closed; add the quote mark, or restore the file's end"
    if "field limit" in error or "field larger" in error:
        return "a cell is far too long: a quote mark may be missing"
    return error
