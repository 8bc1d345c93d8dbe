"""Save cuts, take the last one back, put back what another program took out.

What is promised: when `append_cut` or `append_cuts` returns, the cuts are on disk, once, in the log's own columns,
units and form; when it raises, the log is as it was. Writers wait for each other; what another program changed in
the meantime is kept, since cuts are only ever added behind what is there. The version that was found is kept as
`.bandtrial/cuts.csv.bak`, and cuts that a program with an older copy took out again can be put back.
"""

from collections.abc import Mapping, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any

from bandtrial.disk import shortened, why
from bandtrial.study import files
from bandtrial.study.problems import refuse
from bandtrial.study.reading import CUTS_CSV, CUTS_XLSX
from bandtrial.study.writing import csvsave
from bandtrial.study.writing.history import recorded
from bandtrial.study.writing.keeping import note, only_writer
from bandtrial.study.writing.saved import SavedCut


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
    file, way = _log_of(folder)
    try:
        draft = way.early_draft(folder, cuts)
        with only_writer(folder, file) as keep, recorded(folder, keep, file, called):
            return way.append(folder, keep, cuts, draft) if cuts else []
    except OSError as error:
        raise refuse(file, f"could not be written: {why(error)}; nothing was saved") from None


def undo_cut(path: str | Path, cut: str | int | None = None) -> dict[str, str]:
    """Take the last cut out of the log again and return its row, by head. The version before is kept.

    cut : its number, to be sure; SaveError if another cut is the last.
    """
    folder = Path(path)
    file, way = _log_of(folder)
    try:
        with only_writer(folder, file) as keep:
            taken: dict[str, str] = way.take_out(folder, keep, None if cut is None else str(cut))
            return taken
    except OSError as error:
        raise refuse(file, f"could not be written: {why(error)}; nothing was changed") from None


def restore_cuts(path: str | Path) -> list[SavedCut]:
    """Put back every cut that was saved from here and is no longer in the log, in the order they were saved."""
    return append_cuts(path, [saved.row for saved in _missing(Path(path)).values()])


def forget_cuts(path: str | Path) -> list[str]:
    """Let go every cut that was saved from here and is no longer in the log; their numbers."""
    folder = Path(path)
    missing = _missing(folder)
    file, _ = _log_of(folder)
    with only_writer(folder, file) as keep:
        note(keep, file, [("taken out", cut, {}) for cut in missing])
    return list(missing)


def _missing(folder: Path) -> dict[str, files.Saved]:
    file, way = _log_of(folder)
    with only_writer(folder, file):
        there = way.numbers(folder)
    return {cut: saved for cut, saved in files.remembered(folder, file).items() if cut not in there}


def _log_of(folder: Path) -> tuple[str, ModuleType]:
    """The log in a study folder, and the module that writes its kind."""
    if files.no_folder(folder):
        raise refuse(shortened(folder), "is not a study folder; bandtrial new makes one")
    book = files.existing(folder, CUTS_XLSX) and not files.existing(folder, CUTS_CSV)
    file = CUTS_XLSX if book else CUTS_CSV
    try:
        if not files.inside(folder, folder / file):
            raise refuse(file, "is a link that leads out of the study folder, or no file; nothing was saved")
    except OSError as error:
        raise refuse(file, f"can't be opened in {folder}: {why(error)}; nothing was saved") from None
    if not book:
        return file, csvsave
    from bandtrial.study.writing import xlsxlog

    return file, xlsxlog
