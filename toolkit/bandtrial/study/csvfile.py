"""Tables from CSV: comma, semicolon or tab; quoted or not; ragged or cut off."""

import csv
import io
from collections.abc import Iterator

import numpy as np
import pandas as pd

from bandtrial.study.problems import Problems
from bandtrial.study.rawtable import MOST_CELLS, MOST_COLUMNS, MOST_ROWS, NO_HEAD, RawTable, table, trimmed

LONGEST_LINE = 1_000_000
_LINES_PER_RECORD = 1000


def parse(file: str, text: str, problems: Problems) -> RawTable | None:
    """The table of a CSV text; None, with a problem, where it has none.

    A row with cells beyond the head, and a last line that was cut off, are reported and left out.
    """
    separator = delimiter(text)
    widths = _widths(file, text, separator, problems)
    if widths is None:
        return None
    if not widths.any():
        problems.add("error", file, NO_HEAD)
        return None
    cells = pd.read_csv(
        io.BytesIO(text.encode()),  # a quarter of what StringIO takes
        encoding="utf-8",
        sep=separator,
        header=None,
        names=range(int(widths.max())),
        dtype=object,
        na_filter=False,
        skip_blank_lines=False,
        index_col=False,
        engine="c",
    )
    if text.startswith("sep="):
        cells.iloc[0] = ""
    whole = table(file, cells, problems)
    if whole is None:
        return None
    return trimmed(_even(whole, widths, text, problems))


def delimiter(text: str) -> str:
    """The separator of the head: of comma, semicolon and tab the one it has most of.

    >>> delimiter("# a, b\\ncut;band\\n")
    ';'
    """
    lines = (line for line in _lines(text) if line.strip() and not line.lstrip('"').startswith("#"))
    first = next(lines, "")
    if first.startswith("sep=") and len(first.strip()) == 5:
        return first[4]
    outside = "".join(first.split('"')[::2])
    return max(",;\t", key=outside.count)


def _lines(text: str) -> Iterator[str]:
    """Lines of text with their ends, made one by one."""
    at = 0
    while at < len(text):
        end = text.find("\n", at) + 1 or len(text)
        yield text[at:end]
        at = end


class _Bounded:
    """Lines for the csv reader that refuse a line, or a record of lines, too long to be a row of a table."""

    def __init__(self, text: str) -> None:
        self.lines, self.in_record = _lines(text), 0

    def __iter__(self) -> "_Bounded":
        return self

    def __next__(self) -> str:
        line = next(self.lines)
        self.in_record += 1
        if len(line) > LONGEST_LINE or self.in_record > _LINES_PER_RECORD:
            raise csv.Error("far too long for a row: a quote mark may be missing")
        return line


def _widths(file: str, text: str, separator: str, problems: Problems) -> np.ndarray | None:
    """Number of cells of each row; None, with a problem, where the text can't be split into rows."""
    lines = _Bounded(text)
    widths: list[int] = []
    cells = 0
    try:
        for record in csv.reader(lines, delimiter=separator, strict=True):
            widths.append(len(record))
            lines.in_record = 0
            if len(record) > MOST_COLUMNS:
                raise csv.Error(f"has {len(record)} cells; a table may have {MOST_COLUMNS} columns")
            cells += len(record)
            if len(widths) > MOST_ROWS or cells > MOST_CELLS:
                raise csv.Error(
                    f"one row too many: at most {MOST_ROWS:,} rows and {MOST_CELLS:,} cells are read, split the study"
                )
    except csv.Error as error:
        at = len(widths) + (0 if "cells;" in str(error) else 1)
        problems.add("error", file, _in_words(str(error), separator), row=at)
        return None
    return np.array(widths or [1], dtype=np.int32)


def _in_words(error: str, separator: str) -> str:
    if "expected after" in error:
        return "a quote mark stands where none may; write a quote mark inside a quoted text twice"
    if "unexpected end" in error:
        return "a quoted text begins here and is never closed; add the quote mark, or restore the file's end"
    if "field limit" in error or "field larger" in error:
        return "a cell is far too long: a quote mark may be missing"
    return error


def _even(whole: RawTable, widths: np.ndarray, text: str, problems: Problems) -> RawTable:
    """The table as wide as its head; what was too long, too short or cut off is said."""
    width, at = int(widths[whole.head_row - 1]), widths[whole.rows - 1]
    keep = np.ones(len(at), bool)
    if len(at) and not text.endswith("\n") and at[-1] < width and whole.rows[-1] == len(widths):
        keep[-1] = False
        problems.add(
            "error",
            whole.file,
            f"the last line was cut off after {at[-1]} of {width} cells; complete it or delete it",
            row=int(whole.rows[-1]),
        )
    short = np.flatnonzero(keep & (at < width))
    problems.each(
        "warning",
        whole.file,
        "",
        whole.rows[short],
        [at[short]],
        lambda n: f"{n} cells where the head has {width}; the missing ones are read as empty",
    )
    long = _too_long(whole, at, width)
    keep[long] = False
    problems.each(
        "error",
        whole.file,
        "",
        whole.rows[long],
        [at[long]],
        lambda n: f"{n} cells where the head has {width}; put a text that contains the separator in quotes",
    )
    cells = whole.cells if keep.all() else whole.cells[keep].reset_index(drop=True)
    return RawTable(
        whole.file,
        whole.heads[:width],
        cells[list(range(width))],
        whole.rows[keep],
        whole.head_row,
        delimiter(text) == ";",
    )


def _too_long(whole: RawTable, widths: np.ndarray, width: int) -> list[int]:
    """The rows that have something beyond the head's columns."""
    beyond = np.flatnonzero(widths > width).tolist()
    return [n for n in beyond if any(str(whole.cells.at[n, m]).strip() for m in range(width, widths[n]))]
