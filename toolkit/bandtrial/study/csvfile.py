"""Tables from CSV: comma, semicolon or tab; quoted or not; ragged or cut off."""

import io
from pathlib import Path

import numpy as np
import pandas as pd

from bandtrial.study import files
from bandtrial.study.csvshape import LONGEST_LINE, Shape, lines_of, separator_of, shape_of
from bandtrial.study.files import MEGABYTE
from bandtrial.study.problems import Problems
from bandtrial.study.rawtable import MOST_TEXT, NO_HEAD, RawTable, of_columns, table, taken, trimmed
from bandtrial.study.shared import Shared


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
        problems.add("error", file, NO_HEAD)
        return None
    cells = _cells(file, text, separator, shape, problems)
    if cells is None:
        return None
    cut_off = not text.endswith(b"\n")
    del text
    whole = table(file, cells, problems)
    return None if whole is None else trimmed(_even(whole, shape, cut_off, separator, problems))


def _cells(file: str, text: bytes, separator: str, shape: Shape, problems: Problems) -> pd.DataFrame | None:
    """The cells as wide as the head, read some rows at a time, equal texts shared; None where they take too much."""
    columns = {n: np.empty(len(shape.widths), object) for n in range(shape.head)}
    shared = Shared()
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
            if shared.size > MOST_TEXT:
                problems.add("error", file, f"holds too many different texts: at most {MOST_TEXT // MEGABYTE} MB of "
                             "them are read, split the study", row=at)  # fmt: skip
                return None
    if text.startswith(b"sep="):
        for column in columns.values():
            column[0] = ""
    return of_columns(columns)


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
        "warning",
        whole.file,
        "",
        whole.rows[short],
        [at[short]],
        lambda n: f"{n} cells where the head has {width}; the missing ones are read as empty",
    )
    long = np.flatnonzero(np.isin(whole.rows - 1, shape.long))
    keep[long] = False
    problems.each(
        "error",
        whole.file,
        "",
        whole.rows[long],
        [at[long]],
        lambda n: f"{n} cells where the head has {width}; put a text that contains the separator in quotes",
    )
    cells = whole.cells if keep.all() else taken(whole.cells, np.flatnonzero(keep))
    return RawTable(whole.file, whole.heads, cells, whole.rows[keep], whole.head_row, separator == ";")
