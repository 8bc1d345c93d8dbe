"""The same promises for a log kept as a workbook: the whole file is written anew, and put in place at once."""

import io
import re
import warnings
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from bandtrial import units
from bandtrial.disk import replace
from bandtrial.study import workbook
from bandtrial.study.columns import key
from bandtrial.study.cut_checks import as_count
from bandtrial.study.problems import Problems, StudyError, refuse
from bandtrial.study.rawtable import RawTable
from bandtrial.study.reading import CUTS_XLSX
from bandtrial.study.writing import row as rows
from bandtrial.study.writing.keeping import keep_version, note
from bandtrial.study.writing.saved import SavedCut, by_head, draft


def early_draft(folder: Path, cuts: Sequence[Mapping[str, Any]]) -> None:
    """A workbook is read anew each time; nothing can be checked before."""


def append(folder: Path, keep: Path, cuts: Sequence[Mapping[str, Any]], ready: None) -> list[SavedCut]:
    """Add cuts below the last row of the sheet `cuts`; the workbook's one writer is who calls this."""
    path = folder / CUTS_XLSX
    data, raw, at = _read(path)
    used = {str(cell).strip() for cell in raw.cells[at]}
    highest = max(map(as_count, used), default=0)
    first = int(raw.rows[-1] if len(raw.rows) else raw.head_row) + 1
    checked = draft(folder, cuts, raw.heads, ".", raw.file, first)
    cells = rows.numbered(checked.cells, at, used, highest, raw.file, first)
    book, sheet = opened(data)
    for n, row in enumerate(cells, start=first):
        for column, cell in enumerate(row, start=1):
            if cell:
                sheet.cell(n, column).value = float(cell) if re.fullmatch(r"-?\d+(\.\d+)?", cell) else cell
    _save(keep, path, data, book)
    note(keep, path.name, [("saved", row[at], by_head(raw.heads, row)) for row in cells])
    return checked.saved([row[at] for row in cells], first)


def take_out(folder: Path, keep: Path, cut: str | None) -> dict[str, str]:
    """Take the last row of the sheet `cuts` out again."""
    path = folder / CUTS_XLSX
    data, raw, at = _read(path)
    if not len(raw.rows):
        raise refuse(path.name, "has no cut to take out; nothing was changed")
    last = [str(cell) for cell in raw.cells.iloc[-1]]
    if cut is not None and cut != last[at]:
        raise refuse(path.name, f"the last cut is {last[at]}, not {cut}; only the last can be taken out here")
    book, sheet = opened(data)
    sheet.delete_rows(int(raw.rows[-1]))
    _save(keep, path, data, book)
    note(keep, path.name, [("taken out", last[at], {})])
    return by_head(raw.heads, last)


def numbers(folder: Path) -> set[str]:
    """The cut numbers in use."""
    _, raw, at = _read(folder / CUTS_XLSX)
    return {str(cell).strip() for cell in raw.cells[at]}


def _read(path: Path) -> tuple[bytes, RawTable, int]:
    """The workbook's bytes, the sheet `cuts`, and where its column `cut` is."""
    problems = Problems()
    data = path.read_bytes()
    raw = workbook.parse(path.name, data, ("cuts",), problems).get("cuts")
    if raw is None or problems.errors:
        raise StudyError(problems.errors or problems.found)
    if workbook.has_formulas(data):
        raise refuse(path.name, "holds formulas, and saving it from here would lose their stored values; type the "
                     "cut in the spreadsheet, or turn the formulas into values; nothing was saved")  # fmt: skip
    named = [key(units.head(head)[0]) for head in raw.heads]
    if "cut" not in named:
        raise refuse(raw.file, 'has no column "cut" in its head; nothing was saved')
    return data, raw, named.index("cut")


def opened(data: bytes, name: str = "cuts") -> tuple[Any, Any]:
    """A workbook to change, and its sheet of that name."""
    import openpyxl

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(io.BytesIO(data))
    return book, next(sheet for sheet in book.worksheets if sheet.title.strip().casefold() == name)


def _save(keep: Path, path: Path, before: bytes, book: Any) -> None:
    """Write the workbook whole; refuse if another program saved it since it was read."""
    after = io.BytesIO()
    book.save(after)
    keep_version(keep, path, before)
    if path.read_bytes() != before:
        raise refuse(path.name, "was changed by another program just now; nothing was saved, save again")
    replace(path.resolve(), after.getvalue())
