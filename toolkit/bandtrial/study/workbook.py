"""Tables from a workbook (xlsx): stored values only, no formula worked out, no memory filled."""

import datetime
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from bandtrial.study.files import MEGABYTE, MOST_CELLS, MOST_COLUMNS, RawTable, of_columns, table, trimmed
from bandtrial.study.problems import Problems, StudyError, names, refuse

_MOST_INFLATED = 100 * MEGABYTE
_LARGEST_PART = 40 * MEGABYTE
"""Of parts that are no sheet: texts, styles."""
_MOST_PARTS = 2000
MOST_ROWS = 1_048_576
_CELLS_AT_ONCE = 500_000
_MOST_SHARE = 200
"""Inflated over packed size of one part; real sheets stay below 50."""


def parse(file: str, data: bytes, sheets: tuple[str, ...] | None, problems: Problems) -> dict[str, RawTable]:
    """The tables of the named sheets, as far as they can be read; what can't is a problem.

    sheets : names, without regard to case and blanks; None: every sheet that holds anything
    """
    if not _safe(file, data, problems):
        return {}
    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # openpyxl's remarks on styles and validation it leaves out
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            return _tables(file, book, sheets, has_formulas(data), problems)
    except Exception as error:  # a damaged workbook fails in as many ways as there are parts in it
        problems.add(
            "error",
            file,
            f"is damaged or no workbook ({type(error).__name__}); open it in a "
            "spreadsheet program and save it again as xlsx",
        )
        return {}


def _safe(file: str, data: bytes, problems: Problems) -> bool:
    """Whether the archive can be opened without filling the memory."""
    try:
        parts = zipfile.ZipFile(io.BytesIO(data)).infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        problems.add("error", file, "is no xlsx workbook, or it was cut off; save it again as xlsx")
        return False
    inflated = sum(part.file_size for part in parts)
    bomb = any(
        (part.file_size > MEGABYTE and part.file_size > _MOST_SHARE * part.compress_size)
        or (part.file_size > _LARGEST_PART and not part.filename.startswith("xl/worksheets/"))
        for part in parts
    )
    if len(parts) > _MOST_PARTS or inflated > _MOST_INFLATED or bomb:
        problems.add(
            "error",
            file,
            f"unpacks to {inflated / MEGABYTE:.0f} MB in {len(parts)} parts, as no log of "
            f"cuts does; at most {_MOST_INFLATED // MEGABYTE} MB, packed at most 1 to {_MOST_SHARE}, "
            "are read",
        )
        return False
    return True


def _tables(
    file: str, book: Any, sheets: tuple[str, ...] | None, formulas: bool, problems: Problems
) -> dict[str, RawTable]:
    tables = {}
    for wanted in book.sheetnames if sheets is None else sheets:
        own = title(book.sheetnames, wanted)
        if own is None:
            if wanted == "cuts":
                problems.add("error", file, f'has no sheet "cuts"; it has {names(book.sheetnames)}')
            continue
        where = f"{file} [{wanted}]"
        found = _read_sheet(where, book[own], problems)
        if found is not None:
            tables[wanted] = trimmed(found)
    if formulas:
        problems.add(
            "warning",
            file,
            "holds formulas: the values that the spreadsheet stored are used, and a "
            "formula without a stored value is an empty cell",
        )
    return tables


def title(titles: list[str], wanted: str) -> str | None:
    """The sheet meant by a name, whose case and outer blanks do not matter; a sheet alone is that of the cuts.

    >>> title(["Cuts ", "Sheet2"], "cuts"), title(["Sheet1"], "cuts"), title(["Sheet1"], "bands")
    ('Cuts ', 'Sheet1', None)
    """
    alone = titles[0] if len(titles) == 1 and wanted == "cuts" else None
    return next((own for own in titles if own.strip().casefold() == wanted.strip().casefold()), alone)


def _read_sheet(where: str, sheet: Any, problems: Problems) -> RawTable | None:
    """The table of a sheet; None, with a problem, where it has none or is too wide or too large."""
    columns, part, numbers, blank = Columns(), [], [], None
    walked = held = 0
    sheet.reset_dimensions()  # what the sheet says of its size may be wrong, or meant to fill the memory
    for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
        if number > MOST_ROWS:
            break  # no spreadsheet has more rows; a damaged one may claim to
        if row is blank:  # the same object for every row that the file leaves out: a million are nothing
            continue
        walked += len(row)
        if walked > MOST_CELLS:
            return _refuse(where, f"has rows too wide: at most {MOST_CELLS:,} cells are read; delete the columns "
                           "without a head", problems)  # fmt: skip
        if row.count(None) == len(row):
            blank = row
            continue
        if len(row) > MOST_COLUMNS and row[MOST_COLUMNS:].count(None) < len(row) - MOST_COLUMNS:
            return _refuse(where, f"has more than {MOST_COLUMNS} columns", problems)
        part.append(row[:MOST_COLUMNS])
        numbers.append(number)
        held += len(part[-1])
        if max(held, len(numbers) * columns.width) > MOST_CELLS:
            return _refuse(where, f"has more than {MOST_CELLS:,} cells; split the study", problems)
        if len(part) * len(row) > _CELLS_AT_ONCE:
            columns.add(part)
            part = []
    columns.add(part)
    cells, at = columns.cells(), np.array(numbers, dtype=int)
    _as_shown(sheet, cells, at)
    return table(where, cells, problems, at)


def _as_shown(sheet: Any, cells: pd.DataFrame, numbers: np.ndarray) -> None:
    """Times of day that the sheet shows without seconds as the texts it shows: 0:05 is not 0:05:00."""
    clocks = [n for n in range(cells.shape[1]) if any(type(cell) is datetime.time for cell in cells[n])]
    if not clocks:
        return
    place = {int(number): row for row, number in enumerate(numbers)}
    columns = {n: cells[n].to_numpy(object).copy() for n in clocks}
    for row in sheet.iter_rows(max_row=int(numbers[-1]), max_col=max(clocks) + 1):
        for cell in row:
            if type(cell.value) is not datetime.time or "s" in str(cell.number_format).casefold():
                continue
            at = place.get(cell.row)
            if at is not None and cell.column - 1 in columns:
                columns[cell.column - 1][at] = f"{cell.value.hour}:{cell.value.minute:02}"
    for n, column in columns.items():
        cells[n] = pd.Series(column, dtype=object, copy=False)


def _refuse(where: str, why: str, problems: Problems) -> RawTable | None:
    problems.add("error", where, why)
    return None


class Columns:
    """The cells of a sheet by column, taken in some rows at a time."""

    def __init__(self) -> None:
        self.parts: list[list[np.ndarray]] = []
        self.rows = 0

    @property
    def width(self) -> int:
        """How many columns there are."""
        return len(self.parts)

    def add(self, rows: list[tuple[Any, ...]]) -> None:
        """Rows after those there are; what is missing on the right of any is empty."""
        width = max(self.width, max(map(len, rows), default=0))
        while self.width < width:
            self.parts.append([np.full(self.rows, "", object)])
        for n, column in enumerate(self.parts):
            cells = np.empty(len(rows), object)
            cells[:] = [_cell(row[n]) if n < len(row) else "" for row in rows]
            column.append(cells)
        self.rows += len(rows)

    def cells(self) -> pd.DataFrame:
        """All of them; one column, of nothing, where there is none. The parts are given up."""
        whole = {}
        for n in range(max(self.width, 1)):
            whole[n] = np.concatenate(self.parts[n]) if self.parts else np.empty(0, object)
            self.parts[n : n + 1] = [[]] if self.parts else []
        return of_columns(whole)


def _cell(value: Any) -> Any:
    """Empty cells as "", whole numbers without a point, everything else as it is."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value


def has_formulas(data: bytes) -> bool:
    """Whether any sheet holds a formula."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for part in archive.namelist():
            if part.startswith("xl/worksheets/") and part.endswith(".xml"):
                with archive.open(part) as sheet:
                    tail = b""
                    while block := sheet.read(MEGABYTE):
                        if re.search(rb"<(?:\w+:)?f[ >/]", tail + block):
                            return True
                        tail = block[-8:]
    return False


def to_change(file: str, data: bytes, sheet: str, instead: str) -> RawTable:
    """The table of a sheet that is to be changed. StudyError where it can't be read, or where saving it from here would
    lose what it holds; instead : what else to do, and that nothing was done.
    """
    problems = Problems()
    raw = parse(file, data, (sheet,), problems).get(sheet)
    if raw is None or problems.errors:
        raise StudyError(problems.errors or problems.found)
    if has_formulas(data):
        raise refuse(file, f"holds formulas, and saving it from here would lose their stored values; {instead}")
    return raw


def changed(data: bytes, name: str, change: Callable[[Any], None]) -> bytes:
    """The workbook with what `change` does to its sheet of that name."""
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(data))
    change(book[str(title(book.sheetnames, name))])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def put(sheet: Any, row: int, cells: Mapping[int, str]) -> None:
    """Enter cells, by column from 1, into a row of a sheet; numbers as numbers."""
    for column, cell in cells.items():
        number = re.fullmatch(r"-?\d+(\.\d+)?", cell)
        sheet.cell(row, column).value = float(cell) if number else cell or None
