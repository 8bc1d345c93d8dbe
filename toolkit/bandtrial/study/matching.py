"""Another table's columns matched to those of cuts: by name, by what people call them, by hand."""

from collections.abc import Callable
from pathlib import Path

import pandas as pd

from bandtrial.study import csvfile, files, workbook
from bandtrial.study.called import head_among, head_parts, match
from bandtrial.study.columns import COLUMNS
from bandtrial.study.draft import default_unit, next_number
from bandtrial.study.model import Study
from bandtrial.study.problems import Problems, StudyError, folded
from bandtrial.study.rawtable import RawTable
from bandtrial.study.writing import append_cut, undo_cut

__all__ = ["add", "completed", "match", "matched", "read_table", "unit_of"]
MOST = 5000
"""Rows added at once; each is on disk before the next."""


def read_table(name: str, data: bytes) -> RawTable:
    """The table in the bytes of a CSV file or a workbook, below its title; StudyError where there is none."""
    problems, table = Problems(), None
    if name.lower().endswith((".xlsx", ".xlsm")):
        table = _best_sheet(name, data, problems)
    else:
        table = csvfile.parse(name, _without_title(files.as_utf8(data, name, problems)), problems)
    if table is None:
        raise StudyError(problems.found)
    return table


def _best_sheet(name: str, data: bytes, problems: Problems) -> RawTable | None:
    """Of the sheets that hold a table, the one whose heads name most columns."""
    found = workbook.parse(name, data, None, problems)
    tables = [_below_title(one) for one in found.values()]
    return max(tables, key=lambda one: sum(column is not None for column in match(one.heads)), default=None)


def _below_title(table: RawTable) -> RawTable:
    """The table from its head on, where a title stands above it."""
    rows = [table.heads, *([str(cell) for cell in row] for row in table.cells.head(20).itertuples(index=False))]
    head = head_among(rows)
    if head == 0:
        return table
    cells = table.cells.iloc[head:].reset_index(drop=True)
    heads = [one.strip() for one in rows[head]]
    return RawTable(table.file, heads, cells, table.rows[head:], int(table.rows[head - 1]))


def _without_title(text: bytes | None) -> bytes | None:
    """A CSV text whose lines above the head are comments, so that rows keep their numbers."""
    if text is None:
        return None
    lines = text.split(b"\n", 20)
    separator = max((",", ";", "\t"), key=lambda sign: sum(line.count(sign.encode()) for line in lines[:-1]))
    head = head_among([line.decode(errors="replace").replace('"', "").split(separator) for line in lines[:-1]])
    if head == 0 or lines[0].startswith(b"sep="):
        return text
    return b"\n".join([*(b"#" + line for line in lines[:head]), *lines[head:]])


def unit_of(head: str, column: str, system: str) -> str:
    """The unit of a matched column: what its head says, else the one usual in the system; "" for a text."""
    usual = default_unit(column, system)
    return (head_parts(head)[1] or usual or "") if usual else ""


def add(folder: str | Path, table: RawTable, progress: Callable[[int], None] = lambda n: None) -> int:
    """Append every row of a matched table to the study's log, or none; the number of rows added.

    progress(n) is called after each row. Raises StudyError, with the log as it was, where a row is refused.
    """
    if len(table.rows) > MOST:
        raise ValueError(f"{table.file} has {len(table.rows)} rows; at most {MOST} are added at once. "
                         "Put the table into the study folder as cuts.csv instead.")  # fmt: skip
    saved: list[str] = []
    try:
        for row in table.cells.itertuples(index=False):
            cells = {head: cell for head, cell in zip(table.heads, row, strict=True) if str(cell).strip()}
            saved.append(append_cut(folder, cells).cut)
            progress(len(saved))
    except BaseException:
        for cut in reversed(saved):
            undo_cut(folder, cut)
        raise
    return len(saved)


def matched(table: RawTable, columns: list[str | None], column_units: list[str]) -> RawTable:
    """The table with the matched columns only, under the heads that a study uses."""
    kept = [n for n, column in enumerate(columns) if column]
    heads = [
        f"{columns[n]} [{column_units[n]}]" if COLUMNS[str(columns[n])].is_quantity else str(columns[n]) for n in kept
    ]
    cells = table.cells[kept].set_axis(range(len(kept)), axis=1)
    return RawTable(table.file, heads, cells, table.rows, table.head_row)


def completed(table: RawTable, study: Study) -> RawTable:
    """A matched table with what a study knows by itself: its only machine, ids for names, numbers for the cuts.

    Numbers go on from the study's own where the table has none.
    """
    heads, cells = list(table.heads), table.cells
    columns = {column: pd.Series(cells[n].to_numpy(object)) for n, column in enumerate(heads)}
    for column, known in (("machine", study.machines), ("material", study.materials)):
        ids = {folded(name): name for name in known} | {
            folded(getattr(one, "name", name)): name for name, one in reversed(known.items())}  # fmt: skip
        if column in columns:
            columns[column] = columns[column].map(lambda cell, ids=ids: ids.get(folded(str(cell)), cell))
        elif len(known) == 1:
            columns[column] = pd.Series([next(iter(known))] * len(cells), dtype=object)
    if "cut" not in columns:
        first = int(next_number(study.cuts["cut"]))
        columns = {"cut": pd.Series([str(first + n) for n in range(len(cells))], dtype=object)} | columns
    made = pd.DataFrame({n: column.astype(object) for n, column in enumerate(columns.values())})
    return RawTable(table.file, list(columns), made, table.rows, table.head_row, table.semicolons)
