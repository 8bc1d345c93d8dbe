"""Write to a CSV log: one cut behind the last, several in a new version of the file."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from bandtrial.disk import FileChanged, append_bytes, replace
from bandtrial.study.problems import StudyError, refuse
from bandtrial.study.reading import CUTS_CSV
from bandtrial.study.writing import row as rows
from bandtrial.study.writing.csvlog import CsvLog, look
from bandtrial.study.writing.keeping import keep_version, note, put_aside
from bandtrial.study.writing.saved import Draft, SavedCut, by_head, draft

_known_logs: dict[Path, CsvLog] = {}
_TRIES = 5


def early_draft(folder: Path, cuts: Sequence[Mapping[str, Any]]) -> Draft | None:
    """The cuts checked for the log as it was last seen, before other writers are kept waiting; None if they have
    errors, which are found again against the log as it is."""
    log = _known_logs.get((folder / CUTS_CSV).resolve())
    try:
        return _draft(folder, log, cuts) if log and cuts else None
    except StudyError:
        return None


def append(folder: Path, keep: Path, cuts: Sequence[Mapping[str, Any]], ready: Draft | None) -> list[SavedCut]:
    """Add cuts to cuts.csv; its one writer is who calls this."""
    path = folder / CUTS_CSV
    cells: list[list[str]] = []
    for _ in range(_TRIES):
        log = _look(path, keep)
        if ready is None or (ready.heads, ready.decimal) != (log.heads, log.decimal):
            ready = _draft(folder, log, cuts)
        if not cells or log.last[2] != cells[-1]:  # else the try before did save them
            cells = rows.numbered(ready.cells, log.number_at, log.numbers, log.highest, path.name, log.rows + 1)
            try:
                _write(path, keep, log, cells)
            except FileChanged:
                _known_logs.pop(path.resolve(), None)
                continue
        log = _known_logs[path.resolve()]
        numbers = [row[log.number_at] for row in cells]
        note(
            keep, path.name, [("saved", cut, by_head(log.heads, row)) for cut, row in zip(numbers, cells, strict=True)]
        )
        return ready.saved(numbers, log.rows - len(cells) + 1)
    raise refuse(CUTS_CSV, "another program keeps changing it; nothing was saved, close it there and save again")


def take_out(folder: Path, keep: Path, cut: str | None) -> dict[str, str]:
    """Take the last cut out of cuts.csv."""
    path = folder / CUTS_CSV
    _known_logs.pop(path.resolve(), None)
    log = _look(path, keep)
    begin, end, cells = log.last
    if not cells:
        raise refuse(path.name, "has no cut to take out; nothing was changed")
    number = cells[log.number_at]
    if cut is not None and cut != number:
        raise refuse(path.name, f"the last cut is {number}, not {cut}; only the last can be taken out here")
    data = path.read_bytes()
    replace(path.resolve(), data[:begin] + data[end:])
    _known_logs[path.resolve()] = look(path, None)[0]
    note(keep, path.name, [("taken out", number, {})])
    return by_head(log.heads, cells)


def numbers(folder: Path) -> set[str]:
    """The cut numbers in use."""
    return look(folder / CUTS_CSV, None)[0].numbers


def _draft(folder: Path, log: CsvLog, cuts: Sequence[Mapping[str, Any]]) -> Draft:
    return draft(folder, cuts, log.heads, log.decimal, log.path.name, log.rows + 1)


def _write(path: Path, keep: Path, log: CsvLog, cells: list[list[str]]) -> None:
    """One row behind the last; several with a new version of the file, so that none is there without the others."""
    lines = [log.line(row) for row in cells]
    data = (b"" if log.whole else log.newline.encode(log.encoding)) + b"".join(lines)
    if len(lines) == 1:
        append_bytes(path, data)
        log.added(data, lines[0], cells[0])
        return
    before = path.read_bytes()
    if not log.is_in(before) or len(before) != log.size:
        raise FileChanged
    keep_version(keep, path, before)
    replace(path.resolve(), before + data)
    _known_logs[path.resolve()] = look(path, None)[0]


def _look(path: Path, keep: Path) -> CsvLog:
    """The log as it is now. A version not seen before is kept; a last line that was cut off is put aside."""
    log, data = look(path, _known_logs.get(path.resolve()))
    if data is not None:
        keep_version(keep, path, data)
        if log.torn:
            put_aside(keep, path, log.torn)
            replace(path.resolve(), data[: len(data) - len(log.torn)])
            log, _ = look(path, None)
    _known_logs[path.resolve()] = log
    return log
