"""Save a cut, take the last one back, put back what another program took out.

What is promised: when `append_cut` returns, the cut is on disk, once, in the log's own columns, units and form;
when it raises, the log is as it was. Writers wait for each other; what another program changed in the meantime is
kept, since a cut is only ever added behind what is there. The version found is kept as `.bandtrial/cuts.csv.bak`.
"""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bandtrial.study import files, journal
from bandtrial.study.problems import Problem, StudyError
from bandtrial.study.reading import CUTS_CSV, CUTS_XLSX, shop
from bandtrial.study.settings import Settings
from bandtrial.study.typed import Sheet
from bandtrial.study.writing import row as rows
from bandtrial.study.writing.csvlog import CsvLog, look
from bandtrial.study.writing.disk import FileChanged, append_bytes, refuse, replace, why
from bandtrial.study.writing.keeping import keep_version, note, only_writer

_known_logs: dict[Path, CsvLog] = {}
_known_shops: dict[Path, tuple[tuple[Any, ...], Settings | None, Sheet | None]] = {}
_TRIES = 5


@dataclass(frozen=True)
class SavedCut:
    """A cut as it was saved: its number, its row in a spreadsheet, and what is worth a look."""

    cut: str
    row: int
    problems: tuple[Problem, ...] = ()


def append_cut(path: str | Path, values: Mapping[str, Any]) -> SavedCut:
    """Add a cut to the log of the study folder `path`; on disk when this returns.

    values : column -> value. A number is in the unit of the column's head; a text may carry its own
        ("5/8 in"), a key too ("cut_time [s]"). Without a cut number the next one is taken.

    Raises StudyError, every problem with it, where the cut has an error, and SaveError where it could not be
    saved; then nothing was. Warnings are handed back with the cut.
    """
    folder = Path(path)
    file = _log_of(folder)
    log = _known_logs.get((folder / file).resolve())
    try:
        draft = _early_draft(folder, log, values) if log else None
        with only_writer(folder, file) as keep:
            if file == CUTS_XLSX:
                from bandtrial.study.writing.xlsxlog import append

                return append(folder, keep, values, *_shop(folder))
            return _append(folder, keep, values, draft)
    except OSError as error:
        raise refuse(file, f"could not be written: {why(error)}; nothing was saved") from None


def undo_cut(path: str | Path, cut: str | int | None = None) -> dict[str, str]:
    """Take the last cut out of the log again and return its row, by head. The version before is kept.

    cut : its number, to be sure; SaveError if another cut is the last.
    """
    folder = Path(path)
    file = _log_of(folder)
    with only_writer(folder, file) as keep:
        try:
            if file == CUTS_XLSX:
                from bandtrial.study.writing.xlsxlog import take_out

                return take_out(folder, keep, None if cut is None else str(cut))
            return _take_out(folder, keep, None if cut is None else str(cut))
        except OSError as error:
            raise refuse(file, f"could not be written: {why(error)}; nothing was changed") from None


def restore_cuts(path: str | Path) -> list[SavedCut]:
    """Put back every cut that was saved from here and is no longer in the log, in the order they were saved."""
    folder, put_back = Path(path), []
    for saved in _missing(folder).values():
        put_back.append(append_cut(folder, saved.row))
    return put_back


def forget_cuts(path: str | Path) -> list[str]:
    """Let go every cut that was saved from here and is no longer in the log; their numbers."""
    folder = Path(path)
    file = _log_of(folder)
    missing = _missing(folder)
    with only_writer(folder, file) as keep:
        for cut in missing:
            note(keep, file, "taken out", cut, {})
    return list(missing)


def _missing(folder: Path) -> dict[str, journal.Saved]:
    file = _log_of(folder)
    with only_writer(folder, file):
        if file == CUTS_XLSX:
            from bandtrial.study.writing.xlsxlog import numbers

            there = numbers(folder)
        else:
            there = look(folder / file, None)[0].numbers
    return {cut: saved for cut, saved in journal.remembered(folder, file).items() if cut not in there}


def _log_of(folder: Path) -> str:
    """The name of the log in a study folder."""
    if not folder.is_dir():
        raise refuse(str(folder), "is not a study folder; bandtrial new makes one")
    file = CUTS_XLSX if files.existing(folder, CUTS_XLSX) and not files.existing(folder, CUTS_CSV) else CUTS_CSV
    try:
        if files.inside(folder, folder / file):
            return file
    except OSError as error:
        raise refuse(file, f"can't be opened in {folder}: {why(error)}; nothing was saved") from None
    raise refuse(file, "is a link that leads out of the study folder, or no file; nothing was saved")


def _shop(folder: Path) -> tuple[Settings | None, Sheet | None]:
    """Settings and bands of a study, read again only when one of their files has changed."""
    state = []
    for name in ("study.toml", "bands.csv", "cuts.xlsx"):
        try:
            stat = (folder / name).stat()
            state.append((name, stat.st_ino, stat.st_size, stat.st_mtime_ns))
        except OSError:
            state.append((name, 0, 0, 0))
    known = _known_shops.get(folder.resolve())
    if known is None or known[0] != tuple(state):
        known = (tuple(state), *shop(folder))
        _known_shops[folder.resolve()] = known
    return known[1], known[2]


@dataclass(frozen=True)
class _Draft:
    """A cut as a row for a log with these heads, checked."""

    heads: list[str]
    decimal: str
    cells: list[str]
    problems: tuple[Problem, ...]


def _draft(folder: Path, log: CsvLog, values: Mapping[str, Any]) -> _Draft:
    heads, decimal = list(log.heads), log.decimal
    cells = rows.cells(values, heads, log.path.name, decimal)
    return _Draft(heads, decimal, cells, rows.check(cells, heads, log.path.name, log.rows + 1, *_shop(folder)))


def _early_draft(folder: Path, log: CsvLog, values: Mapping[str, Any]) -> _Draft | None:
    """The draft for the log as it was last seen, made before other writers are kept waiting; None if it has errors.

    They are found again, under the lock, against the log as it is.
    """
    try:
        return _draft(folder, log, values)
    except StudyError:
        return None


def _append(folder: Path, keep: Path, values: Mapping[str, Any], draft: _Draft | None) -> SavedCut:
    path = folder / CUTS_CSV
    cells: list[str] = []
    for _ in range(_TRIES):
        log = _look(path, keep)
        if draft is None or (draft.heads, draft.decimal) != (log.heads, log.decimal):
            draft = _draft(folder, log, values)
        if not cells or log.last[2] != cells:  # else the try before did save it
            cells = rows.numbered(draft.cells, log.number_at, log.numbers, log.highest, path.name, log.rows + 1)
            line = log.line(cells)
            data = line if log.whole else log.newline.encode(log.encoding) + line
            try:
                append_bytes(path, data)
            except FileChanged:
                _known_logs.pop(path.resolve(), None)
                continue
            log.added(data, line, cells, path.stat())
        cut = cells[log.number_at]
        note(keep, path.name, "saved", cut, _by_head(log.heads, cells))
        problems = tuple(dataclasses.replace(one, row=log.rows, rows=(log.rows,)) for one in draft.problems)
        return SavedCut(cut, log.rows, problems)
    raise refuse(CUTS_CSV, "another program keeps changing it; nothing was saved, close it there and save again")


def _look(path: Path, keep: Path) -> CsvLog:
    """The log as it is now. A version not seen before is kept; a last line that was cut off is put aside."""
    log, data = look(path, _known_logs.get(path.resolve()))
    if data is not None:
        keep_version(keep, path, data)
        if log.torn:
            with open(keep / f"{path.name}.cutoff", "ab") as aside:
                aside.write(log.torn + b"\n")
            replace(path, data[: len(data) - len(log.torn)])
            log, _ = look(path, None)
    _known_logs[path.resolve()] = log
    return log


def _take_out(folder: Path, keep: Path, cut: str | None) -> dict[str, str]:
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
    replace(path, data[:begin] + data[end:])
    _known_logs.pop(path.resolve(), None)
    note(keep, path.name, "taken out", number, {})
    return _by_head(log.heads, cells)


def _by_head(heads: list[str], cells: list[str]) -> dict[str, str]:
    return {head: cell for head, cell in zip(heads, cells, strict=False) if cell}


__all__ = ["SavedCut", "StudyError", "append_cut", "forget_cuts", "restore_cuts", "undo_cut"]
