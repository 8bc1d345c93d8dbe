"""Another table's columns matched to those of cuts: by name, by what people call them, by hand."""

import re
from pathlib import Path

import pandas as pd

from bandtrial.study import csvfile, files, workbook
from bandtrial.study.called import head_among, head_parts, match
from bandtrial.study.columns import COLUMNS
from bandtrial.study.draft import default_unit, next_number
from bandtrial.study.editing import log_cuts
from bandtrial.study.model import Study
from bandtrial.study.problems import Problems, StudyError, folded
from bandtrial.study.rawtable import RawTable
from bandtrial.words import count

__all__ = ["add", "completed", "match", "matched", "new_bands", "pasted", "read_table", "unit_of"]
MOST = 5000
"""Rows added at once."""
PASTED = "what was pasted"


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


def add(folder: str | Path, table: RawTable) -> int:
    """Append every row of a matched table to the study's log, or none, as one step that can be undone; how many.

    Raises StudyError, with the log as it was, where a row is refused.
    """
    if len(table.rows) > MOST:
        raise ValueError(f"{table.file} has {len(table.rows)} rows; at most {MOST} are added at once. "
                         "Put the table into the study folder as cuts.csv instead.")  # fmt: skip
    rows = [{head: cell for head, cell in zip(table.heads, row, strict=True) if str(cell).strip()}
            for row in table.cells.itertuples(index=False)]  # fmt: skip
    return len(log_cuts(folder, rows, f"{count(len(rows), 'cut')} from {table.file}"))


def pasted(text: str, study: Study) -> RawTable:
    """A block copied from a spreadsheet; one without heads gets those that its cells show, as far as they do."""
    lines = text.strip("\r\n")
    table = read_table(PASTED, (lines + "\n").encode())
    if sum(column is not None for column in match(table.heads)) >= 2:
        return table
    width = len(table.heads)
    table = read_table(PASTED, ("\t".join(f"column {n + 1}" for n in range(width)) + f"\n{lines}\n").encode())
    heads = [_shown_by([str(cell) for cell in table.cells[n]], study) or table.heads[n] for n in range(width)]
    return RawTable(PASTED, heads, table.cells, table.rows - 1, 0, table.semicolons)


def _shown_by(cells: list[str], study: Study) -> str:
    """The column that cells can only be of: names that the study has, dates, times as a watch shows them."""
    given = {folded(cell) for cell in cells if cell.strip()}
    names = {"band": set(study.bands["band"]), "machine": set(study.machines),
             "material": {*study.materials, *(one.name for one in study.materials.values())}}  # fmt: skip
    for column, known in names.items():
        if given and given <= {folded(name) for name in known}:
            return column
    if given and all(re.match(r"\d{4}-\d\d?-\d\d?|\d\d?[./]\d\d?[./]\d{2,4}", cell) for cell in given):
        return "started"
    return "cut_time" if given and all(re.fullmatch(r"\d+:\d\d(:\d\d)?", cell) for cell in given) else ""


def new_bands(table: RawTable, study: Study) -> list[str]:
    """The bands of a matched table that the study does not have."""
    known = {folded(name) for name in study.bands["band"]}
    cells = table.cells[table.heads.index("band")] if "band" in table.heads else ()
    found = {folded(str(cell)): str(cell).strip() for cell in cells if str(cell).strip()}
    return [name for one, name in found.items() if one not in known]


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
