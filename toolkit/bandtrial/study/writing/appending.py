"""Save cuts, take the last one back, put back what another program took out.

What is promised: when `append_cut` or `append_cuts` returns, the cuts are on disk, once, in the log's own columns,
units and form; when it raises, the log is as it was. Writers wait for each other; what another program changed in
the meantime is kept, since cuts are only ever added behind what is there. The version that was found is kept as
`.bandtrial/cuts.csv.bak`, and cuts that a program with an older copy took out again can be put back.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from bandtrial import units
from bandtrial.disk import FileChanged, append_bytes, replace, shortened, why
from bandtrial.study import files, workbook
from bandtrial.study.columns import key
from bandtrial.study.files import CUTS_CSV, CUTS_XLSX, RawTable
from bandtrial.study.problems import StudyError, as_count, refuse
from bandtrial.study.writing.csvlog import CsvLog, look
from bandtrial.study.writing.history import recorded
from bandtrial.study.writing.keeping import keep_version, note, only_writer, put_aside
from bandtrial.study.writing.row import Draft, SavedCut, by_head, draft, numbered

_known_logs: dict[Path, CsvLog] = {}
_TRIES = 5


def append_cut(path: str | Path, values: Mapping[str, Any]) -> SavedCut:
    """Add a cut to the log of the study folder `path`; on disk when this returns.

    values : column -> value. A number is in the unit of the column's head; a text may carry its own
        ("5/8 in"), a key too ("cut_time [s]"). Without a cut number the next one is taken.

    Raises StudyError, every problem with it, where the cut has an error, and SaveError where it could not be
    saved; then nothing was. Warnings are handed back with the cut.
    """
    return append_cuts(path, [values])[0]


def append_cuts(path: str | Path, cuts: Sequence[Mapping[str, Any]], called: str = "") -> list[SavedCut]:
    """Add several cuts, all of them or none; each as `append_cut` takes it. The problems of all are raised at once.

    called : words for it, under which it is kept so that it can be undone (`study.undo`); empty: it is not
    """
    folder = Path(path)
    log = _log_of(folder)
    try:
        draft = log.early_draft(cuts)
        with only_writer(folder, log.file) as keep, recorded(folder, keep, log.file, called):
            return log.append(keep, cuts, draft) if cuts else []
    except OSError as error:
        raise refuse(log.file, f"could not be written: {why(error)}; nothing was saved") from None


def undo_cut(path: str | Path, cut: str | int | None = None) -> dict[str, str]:
    """Take the last cut out of the log again and return its row, by head. The version before is kept.

    cut : its number, to be sure; SaveError if another cut is the last.
    """
    folder = Path(path)
    log = _log_of(folder)
    try:
        with only_writer(folder, log.file) as keep:
            return log.take_out(keep, None if cut is None else str(cut))
    except OSError as error:
        raise refuse(log.file, f"could not be written: {why(error)}; nothing was changed") from None


def restore_cuts(path: str | Path) -> list[SavedCut]:
    """Put back every cut that was saved from here and is no longer in the log, in the order they were saved."""
    return append_cuts(path, [saved.row for saved in _missing(Path(path)).values()])


def forget_cuts(path: str | Path) -> list[str]:
    """Let go every cut that was saved from here and is no longer in the log; their numbers."""
    folder = Path(path)
    missing, file = _missing(folder), _log_of(folder).file
    with only_writer(folder, file) as keep:
        note(keep, file, [("taken out", cut, {}) for cut in missing])
    return list(missing)


def _missing(folder: Path) -> dict[str, files.Saved]:
    log = _log_of(folder)
    with only_writer(folder, log.file):
        there = log.numbers()
    return {cut: saved for cut, saved in files.remembered(folder, log.file).items() if cut not in there}


def _log_of(folder: Path) -> "CsvCuts | BookCuts":
    """The log in a study folder."""
    if files.no_folder(folder):
        raise refuse(shortened(folder), "is not a study folder; bandtrial new makes one")
    book = files.existing(folder, CUTS_XLSX) and not files.existing(folder, CUTS_CSV)
    file = CUTS_XLSX if book else CUTS_CSV
    try:
        if not files.inside(folder, folder / file):
            raise refuse(file, "is a link that leads out of the study folder, or no file; nothing was saved")
    except OSError as error:
        raise refuse(file, f"can't be opened in {folder}: {why(error)}; nothing was saved") from None
    return BookCuts(folder) if book else CsvCuts(folder)


class CsvCuts:
    """Cuts in cuts.csv: one is written behind the last, several with a new version of the file."""

    file = CUTS_CSV

    def __init__(self, folder: Path) -> None:
        self.folder, self.path = folder, folder / CUTS_CSV

    def early_draft(self, cuts: Sequence[Mapping[str, Any]]) -> Draft | None:
        """The cuts checked for the log as it was last seen, before other writers are kept waiting; None if they have
        errors, which are found again against the log as it is."""
        log = _known_logs.get(self.path.resolve())
        try:
            return self._draft(log, cuts) if log and cuts else None
        except StudyError:
            return None

    def append(self, keep: Path, cuts: Sequence[Mapping[str, Any]], ready: Draft | None) -> list[SavedCut]:
        """Add cuts to cuts.csv; its one writer is who calls this."""
        path = self.path
        cells: list[list[str]] = []
        for _ in range(_TRIES):
            log = self._look(keep)
            if ready is None or (ready.heads, ready.decimal) != (log.heads, log.decimal):
                ready = self._draft(log, cuts)
            if not cells or log.last[2] != cells[-1]:  # else the try before did save them
                cells = numbered(ready.cells, log.number_at, log.numbers, log.highest, path.name, log.rows + 1)
                try:
                    self._write(keep, log, cells)
                except FileChanged:
                    _known_logs.pop(path.resolve(), None)
                    continue
            log = _known_logs[path.resolve()]
            note(keep, path.name, [("saved", row[log.number_at], by_head(log.heads, row)) for row in cells])
            return ready.saved([row[log.number_at] for row in cells], log.rows - len(cells) + 1)
        raise refuse(CUTS_CSV, "another program keeps changing it; nothing was saved, close it there and save again")

    def take_out(self, keep: Path, cut: str | None) -> dict[str, str]:
        """Take the last cut out of cuts.csv."""
        path = self.path
        _known_logs.pop(path.resolve(), None)
        log = self._look(keep)
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

    def numbers(self) -> set[str]:
        """The cut numbers in use."""
        return look(self.path, None)[0].numbers

    def _draft(self, log: CsvLog, cuts: Sequence[Mapping[str, Any]]) -> Draft:
        return draft(self.folder, cuts, log.heads, log.decimal, log.path.name, log.rows + 1)

    def _write(self, keep: Path, log: CsvLog, cells: list[list[str]]) -> None:
        """One row behind the last; several with a new version of the file, so that none is there without the others."""
        path, lines = self.path, [log.line(row) for row in cells]
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

    def _look(self, keep: Path) -> CsvLog:
        """The log as it is now. A version not seen before is kept; a last line that was cut off is put aside."""
        path = self.path
        log, data = look(path, _known_logs.get(path.resolve()))
        if data is not None:
            keep_version(keep, path, data)
            if log.torn:
                put_aside(keep, path, log.torn)
                replace(path.resolve(), data[: len(data) - len(log.torn)])
                log, _ = look(path, None)
        _known_logs[path.resolve()] = log
        return log


class BookCuts:
    """Cuts in cuts.xlsx, whose every change writes the whole file anew, and puts it in place at once."""

    file = CUTS_XLSX

    def __init__(self, folder: Path) -> None:
        self.folder, self.path = folder, folder / CUTS_XLSX

    def early_draft(self, cuts: Sequence[Mapping[str, Any]]) -> None:
        """A workbook is read anew each time; nothing can be checked before."""

    def append(self, keep: Path, cuts: Sequence[Mapping[str, Any]], ready: Draft | None) -> list[SavedCut]:
        """Add cuts below the last row of the sheet `cuts`; the workbook's one writer is who calls this."""
        path = self.path
        data, raw, at = self._read()
        used = {str(cell).strip() for cell in raw.cells[at]}
        highest = max(map(as_count, used), default=0)
        first = int(raw.rows[-1] if len(raw.rows) else raw.head_row) + 1
        checked = draft(self.folder, cuts, raw.heads, ".", raw.file, first)
        cells = numbered(checked.cells, at, used, highest, raw.file, first)

        def add(sheet: Any) -> None:
            for n, row in enumerate(cells, start=first):
                workbook.put(sheet, n, {column: cell for column, cell in enumerate(row, start=1) if cell})

        self._save(keep, data, add)
        note(keep, path.name, [("saved", row[at], by_head(raw.heads, row)) for row in cells])
        return checked.saved([row[at] for row in cells], first)

    def take_out(self, keep: Path, cut: str | None) -> dict[str, str]:
        """Take the last row of the sheet `cuts` out again."""
        path = self.path
        data, raw, at = self._read()
        if not len(raw.rows):
            raise refuse(path.name, "has no cut to take out; nothing was changed")
        last = [str(cell) for cell in raw.cells.iloc[-1]]
        if cut is not None and cut != last[at]:
            raise refuse(path.name, f"the last cut is {last[at]}, not {cut}; only the last can be taken out here")
        self._save(keep, data, lambda sheet: sheet.delete_rows(int(raw.rows[-1])))
        note(keep, path.name, [("taken out", last[at], {})])
        return by_head(raw.heads, last)

    def numbers(self) -> set[str]:
        """The cut numbers in use."""
        _, raw, at = self._read()
        return {str(cell).strip() for cell in raw.cells[at]}

    def _read(self) -> tuple[bytes, RawTable, int]:
        """The workbook's bytes, the sheet `cuts`, and where its column `cut` is."""
        data = self.path.read_bytes()
        instead = "type the cut in the spreadsheet, or turn the formulas into values; nothing was saved"
        raw = workbook.to_change(self.path.name, data, "cuts", instead)
        named = [key(units.head(head)[0]) for head in raw.heads]
        if "cut" not in named:
            raise refuse(raw.file, 'has no column "cut" in its head; nothing was saved')
        return data, raw, named.index("cut")

    def _save(self, keep: Path, before: bytes, change: Callable[[Any], None]) -> None:
        """Write the workbook whole; refuse if another program saved it since it was read."""
        path, after = self.path, workbook.changed(before, "cuts", change)
        keep_version(keep, path, before)
        if path.read_bytes() != before:
            raise refuse(path.name, "was changed by another program just now; nothing was saved, save again")
        replace(path.resolve(), after)
