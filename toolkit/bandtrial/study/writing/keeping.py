"""The folder `.bandtrial` beside a log: the lock of its writers, its previous version, its journal."""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from bandtrial.study import journal
from bandtrial.study.writing.disk import FileChanged, append_bytes, create, refuse, replace, why

REMEMBERED = 500_000
"""Of the journal kept when it has grown to twice this, the newest: more than a thousand cuts [bytes]."""
WAIT = 30.0
"""How long a writer waits for another [s]."""


@contextmanager
def only_writer(folder: Path, file: str) -> Iterator[Path]:
    """Be the one writer of the log `file` in `folder`; gives the keeping folder. SaveError if that can't be."""
    import filelock

    keep = folder / journal.FOLDER
    _not_open_in_a_spreadsheet(folder, file)
    try:
        keep.mkdir(exist_ok=True)
        if keep.is_symlink() or not (folder / file).resolve().is_relative_to(folder.resolve()):
            raise refuse(file, "is a link that leads out of the study folder, or .bandtrial is; nothing was saved")
        lock = filelock.FileLock(keep / f"{file}.lock", timeout=WAIT, poll_interval=0.005)
        lock.acquire()
    except filelock.Timeout:
        raise refuse(file, f"another program has been saving for {WAIT:.0f} s; nothing was saved, try again") from None
    except OSError as error:
        raise refuse(file, f"can't be locked: {why(error)}; nothing was saved") from None
    try:
        yield keep
    finally:
        lock.release()


def _not_open_in_a_spreadsheet(folder: Path, file: str) -> None:
    """Spreadsheet programs mark an open file by one beside it; saving it there would undo what is saved here."""
    for mark in (f".~lock.{file}#", f"~${file}"):
        if os.path.lexists(folder / mark):
            raise refuse(
                file,
                f"is open in a spreadsheet program, which left {mark} beside it; nothing was saved. Close it there "
                f"and save again; if no program has it open, delete {mark}",
            )


def keep_version(keep: Path, path: Path, data: bytes) -> None:
    """Keep `data`, the file as it is now, as its previous version."""
    replace(keep / f"{path.name}.bak", data)


def note(keep: Path, file: str, events: Sequence[tuple[str, str, dict[str, str]]]) -> None:
    """Enter events, (what, cut, row), in the journal.

    The journal is a second witness: where it can't be written the cut still is.
    """
    path = journal.place(keep.parent, file)
    lines = b"".join(journal.entry(*event) for event in events)
    try:
        if not path.exists():
            create(path, lines)
            return
        append_bytes(path, lines if _ends_whole(path) else b"\n" + lines)
        if path.stat().st_size > 2 * REMEMBERED:
            _shorten(path)
    except (OSError, FileChanged):
        return


def _ends_whole(path: Path) -> bool:
    with open(path, "rb") as file:
        if file.seek(0, os.SEEK_END) == 0:
            return True
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"


def _shorten(path: Path) -> None:
    newest = path.read_bytes()[-REMEMBERED:]
    replace(path, newest.partition(b"\n")[2])
