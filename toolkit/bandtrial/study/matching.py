"""Another table's columns matched to those of cuts: by name, by what people call them, by hand."""

import difflib
from collections.abc import Callable, Mapping
from pathlib import Path

from bandtrial import units
from bandtrial.study import csvfile, files, workbook
from bandtrial.study.columns import CUTS, key
from bandtrial.study.draft import COLUMNS, default_unit
from bandtrial.study.problems import Problems, StudyError
from bandtrial.study.rawtable import RawTable
from bandtrial.study.writing import append_cut, undo_cut

MOST = 5000
"""Rows added at once; each is on disk before the next."""
ALSO_CALLED = {
    "cut": "no number cut_no cut_number nr id",
    "started": "date time_stamp datetime start when",
    "machine": "saw",
    "band": "blade band_no blade_no band_number",
    "material": "grade alloy stock_material",
    "section": "shape",
    "work_thickness": "thickness height plate_thickness thick",
    "cut_travel": "travel length cut_length width depth",
    "diameter": "dia od round",
    "wall": "wall_thickness",
    "band_speed": "speed blade_speed dial indicated_speed",
    "feed_rate": "feed",
    "feed_force": "force weight feed_weight pressure",
    "cut_time": "time minutes seconds duration cutting_time",
    "coolant": "fluid cutting_fluid cooling",
    "motor_power": "power kw",
    "deviation": "out_of_square error",
    "roughness": "ra finish",
    "pieces": "qty quantity count pcs",
    "complete": "finished done",
    "exclude": "leave_out skip",
    "note": "notes remark remarks comment comments",
}
_CALLED = {key(word): name for name, words in ALSO_CALLED.items() for word in words.split()}


def read_table(name: str, data: bytes) -> RawTable:
    """The table in the bytes of a CSV file or of a workbook's first sheet; StudyError where there is none."""
    problems, table = Problems(), None
    if name.lower().endswith(".xlsx"):
        table = _first_sheet(name, data, problems)
    else:
        table = csvfile.parse(name, files.as_utf8(data, name, problems), problems)
    if table is None:
        raise StudyError(problems.found)
    return table


def _first_sheet(name: str, data: bytes, problems: Problems) -> RawTable | None:
    """The sheet `cuts`, or else the first one that holds a table."""
    found = workbook.parse(name, data, ("cuts",), Problems())
    if not found:
        import io

        import openpyxl

        try:
            sheets = tuple(openpyxl.load_workbook(io.BytesIO(data), read_only=True).sheetnames)
        except Exception:  # what is wrong with it, `parse` says in words
            sheets = ("cuts",)
        found = workbook.parse(name, data, sheets, problems)
    return next(iter(found.values()), None)


def match(heads: list[str]) -> list[str | None]:
    """For each head the column of cuts it means, None where it means none; each column once.

    >>> match(["Blade", "Thickness (in)", "band speed [ft/min]", "Operator"])
    ['band', 'work_thickness', 'band_speed', None]
    """
    known = {key(column.name): column.name for column in CUTS}
    names = [key(units.head(head)[0]) for head in heads]
    taken: dict[int, str] = {}
    for meaning in (known.get, _CALLED.get, lambda name: _near(name, known)):
        for n, name in enumerate(names):
            column = meaning(name) if n not in taken and name else None
            if column and column not in taken.values():
                taken[n] = column
    return [taken.get(n) for n in range(len(heads))]


def _near(name: str, known: Mapping[str, str]) -> str | None:
    close = difflib.get_close_matches(name, known, n=1, cutoff=0.87)
    return known[close[0]] if close else None


def unit_of(head: str, column: str, system: str) -> str:
    """The unit of a matched column: what its head says, else the one usual in the system; "" for a text."""
    usual = default_unit(column, system)
    return (units.head(head)[1] or usual or "") if usual else ""


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
        f"{columns[n]} [{column_units[n]}]" if COLUMNS[str(columns[n])].is_quantity else str(columns[n])
        for n in kept
    ]
    cells = table.cells[kept].set_axis(range(len(kept)), axis=1)
    return RawTable(table.file, heads, cells, table.rows, table.head_row)
