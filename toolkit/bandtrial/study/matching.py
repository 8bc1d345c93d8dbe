"""What people call the columns of cuts at the head of their own tables, and the units they put there."""

import re
from collections.abc import Sequence

import pandas as pd

from bandtrial import units
from bandtrial.study import csvfile, files, workbook
from bandtrial.study.columns import COLUMNS, NAMES, key
from bandtrial.study.draft import next_number
from bandtrial.study.files import RawTable
from bandtrial.study.model import Study
from bandtrial.study.problems import Problems, StudyError, folded
from bandtrial.words import nearest

ALSO_CALLED = {
    "cut": "no number cut_no cut_number nr id",
    "started": "date time_stamp datetime start when date_time day",
    "machine": "saw machine_no saw_no",
    "band": "blade band_no blade_no band_number blade_id",
    "material": "grade alloy stock_material matl metal mat",
    "section": "shape profile",
    "work_thickness": "thickness height plate_thickness thick thk material_thickness",
    "cut_travel": "travel length cut_length length_of_cut width depth distance",
    "diameter": "dia od round outside_diameter",
    "wall": "wall_thickness",
    "cut_area": "area sawn_area cross_section square_inches",
    "stacked": "stack pieces_per_cut per_cut bundle",
    "band_speed": "speed blade_speed dial indicated_speed surface_speed surface_feet cutting_speed",
    "feed_rate": "feed",
    "feed_force": "force weight feed_weight pressure load",
    "cut_time": "time minutes seconds duration cutting_time time_of_cut cut_duration elapsed",
    "coolant": "fluid cutting_fluid cooling",
    "motor_power": "power",
    "deviation": "out_of_square error runout drift off_square",
    "roughness": "ra finish surface_finish",
    "pieces": "qty quantity count pcs parts",
    "complete": "finished done",
    "rewelded": "rewelding welded",
    "exclude": "leave_out skip",
    "note": "notes remark remarks comment comments",
}
_CALLED = {key(word): name for name, words in ALSO_CALLED.items() for word in words.split()}
_UNIT_ALONE = {
    "sfpm": "band_speed", "sfm": "band_speed", "fpm": "band_speed", "ft/min": "band_speed", "m/min": "band_speed",
    "ipm": "feed_rate", "in/min": "feed_rate", "mm/min": "feed_rate", "lbs": "feed_force", "lbf": "feed_force",
    "hp": "motor_power", "kw": "motor_power", "watts": "motor_power", "sec": "cut_time", "secs": "cut_time",
    "min": "cut_time", "mins": "cut_time", "minutes": "cut_time", "seconds": "cut_time", "sq in": "cut_area",
    "in2": "cut_area", "cm2": "cut_area",
}  # fmt: skip
"""Units that stand for their column when they are all of a head."""
_UNIT_BEHIND = re.compile(r"(.+?)[\s,_]+(?:in |per )?(sq\.? ?in\.?|[A-Za-z\"']+(?:[/^][A-Za-z0-9]+)?[²2]?\.?)")
_TITLES = 12
"""Rows at the top of a table among which its head is looked for."""


def match(heads: Sequence[str]) -> list[str | None]:
    """For each head the column of cuts it means, None where it means none; each column once.

    >>> match(["Blade", "Thickness (in)", "band speed [ft/min]", "Operator", "SFPM", "Weight lbs", "Length of cut"])
    ['band', 'work_thickness', 'band_speed', None, None, 'feed_force', 'cut_travel']
    """
    names = [key(head_parts(head)[0]) for head in heads]
    taken: dict[int, str] = {}
    for meaning in (NAMES.get, _CALLED.get, _near):
        for n, name in enumerate(names):
            column = meaning(name) if n not in taken and name else None
            if column and column not in taken.values():
                taken[n] = column
    return [taken.get(n) for n in range(len(heads))]


def head_parts(head: str) -> tuple[str, str | None]:
    """Name and unit of a head, the unit in brackets, behind the name, or alone.

    >>> head_parts("Weight lbs"), head_parts("SFPM"), head_parts("Cut time, min."), head_parts("Thickness (in)")
    (('weight', 'lbs'), ('band_speed', 'SFPM'), ('cut_time', 'min.'), ('thickness', 'in'))
    """
    name, unit = units.head(head)
    if unit:
        return name, unit
    bare = " ".join(head.split()).strip(" .:")
    if bare.casefold() in _UNIT_ALONE:
        return _UNIT_ALONE[bare.casefold()], bare
    found = _UNIT_BEHIND.fullmatch(head.strip())
    column = found and _meant(found[1])
    if found and column and COLUMNS[column].is_quantity and units.is_unit(found[2], COLUMNS[column].kind):
        return units.head(found[1].rstrip(", "))[0], found[2]
    return name, None


def _meant(name: str) -> str | None:
    word = key(units.head(name.rstrip(", "))[0])
    return NAMES.get(word) or _CALLED.get(word)


def _near(name: str) -> str | None:
    close = nearest(name, NAMES, 0.87)
    return NAMES[close] if close else None


def head_among(rows: Sequence[Sequence[str]]) -> int:
    """Which of the first rows of a table is its head: the one that names most columns, the first where none names two.

    >>> head_among([["Cuts of March"], [], ["Blade", "Thickness", "Time"], ["B1", "2", "30"]])
    2
    """
    named = [sum(column is not None for column in match(row)) for row in rows[:_TITLES]]
    return named.index(max(named)) if named and max(named) >= 2 else 0


__all__ = ["completed", "match", "matched", "new_bands", "pasted", "read_table", "unit_of"]
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
    usual = COLUMNS[column].unit(system)
    return (head_parts(head)[1] or usual) if usual else ""


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
