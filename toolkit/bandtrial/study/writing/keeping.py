"""The folder `.bandtrial` beside a log: the lock of its writers, its previous version, its journal."""

import errno
import os
import platform
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from bandtrial.disk import FileChanged, append_bytes, clear_spares, create, open_to_append, plain_file, replace, why
from bandtrial.study import files
from bandtrial.study.problems import refuse

LARGEST = 1_000_000
"""Of the journal, of which the newest half is then kept: more than a thousand cuts [bytes]."""
WAIT = 10.0
"""How long a writer waits for another [s]."""
TURN = 0.25
"""How long a writer that has saved leaves the lock to one that waits [s]; who saves often would lock out all others."""
_KEPT = ("lock", "holder", "waiting", "bak", "journal", "cutoff")
"""What is kept of a log, each in a file of its own: `cuts.csv.lock` ..."""


@contextmanager
def only_writer(folder: Path, file: str) -> Iterator[Path]:
    """Be the one writer of the log `file` in `folder`; gives the keeping folder. SaveError if that can't be."""
    import filelock

    keep = folder / files.FOLDER
    _not_open_in_a_spreadsheet(folder, file)
    holder, waiting = keep / f"{file}.holder", keep / f"{file}.waiting"
    try:
        keep.mkdir(exist_ok=True)
        if keep.is_symlink() or not (folder / file).resolve().is_relative_to(folder.resolve()):
            raise refuse(file, "is a link that leads out of the study folder, or .bandtrial is; nothing was saved")
        _no_links(keep, file)
        lock = filelock.FileLock(keep / f"{file}.lock", poll_interval=0.005)
        _acquire(lock, waiting)
    except filelock.Timeout:
        raise refuse(file, f"another program has been saving for {WAIT:.0f} s{_held_by(holder)}; nothing was saved, "
                     "try again, or end that program") from None  # fmt: skip
    except NotImplementedError:  # the file system has no locks
        raise refuse(file, "can't be locked: the disk or share it lies on has no locks; nothing was saved, keep the "
                     "study on a disk of this machine") from None  # fmt: skip
    except OSError as error:
        raise refuse(file, f"can't be locked: {why(error)}; nothing was saved") from None
    try:
        _sign(holder)
        for place in (folder, keep):  # spare copies of writers that were killed: nobody else writes now
            clear_spares(place / file)
        for what in _KEPT:
            clear_spares(keep / f"{file}.{what}")
        yield keep
    finally:
        lock.release()
        _let_others(waiting)


def _acquire(lock: Any, waiting: Path) -> None:
    """Take the lock; who has to wait for it says so beside, again and again. filelock.Timeout after `WAIT`."""
    import filelock

    end = time.monotonic() + WAIT
    try:
        lock.acquire(timeout=0)
        return
    except filelock.Timeout:
        pass
    while True:
        with suppress(OSError):
            os.close(open_to_append(waiting, follow=False, new=True))
            os.utime(waiting)
        left = end - time.monotonic()
        try:
            lock.acquire(timeout=min(max(left, 0.0), 2 * TURN))
            break
        except filelock.Timeout:
            if left <= 0:
                raise
    with suppress(OSError):
        waiting.unlink()


def _let_others(waiting: Path) -> None:
    """Leave the lock for a moment to a writer that waits for it, until that one has it."""
    try:
        fresh = time.time() - waiting.stat().st_mtime < 4 * TURN
    except OSError:
        return
    end = time.monotonic() + TURN
    while fresh and time.monotonic() < end:
        time.sleep(0.005)
        if not os.path.lexists(waiting):
            return
    with suppress(OSError):
        waiting.unlink()  # who waited was killed, or says it again


def _no_links(keep: Path, file: str) -> None:
    """What is kept is never written through a link: it may lead to a file of somebody else."""
    for what in _KEPT:
        path = keep / f"{file}.{what}"
        with suppress(FileNotFoundError):
            if plain_file(path):
                continue
            name = f"{files.FOLDER}/{path.name}"
            raise refuse(name, "is a link, or no file, and is not written to; nothing was saved. Delete it and save "
                         "again")  # fmt: skip


def _sign(holder: Path) -> None:
    """Say who has the lock, in place of who had it before. It only helps those who wait: where it can't be written,
    the cut still is.
    """
    since = datetime.now().isoformat(" ", timespec="seconds")
    with suppress(OSError):
        handle = open_to_append(holder, follow=False, new=True)
        try:
            os.ftruncate(handle, 0)
            os.write(handle, f"process {os.getpid()} on {platform.node() or 'this machine'} since {since}".encode())
        finally:
            os.close(handle)


def _held_by(holder: Path) -> str:
    """Who has the lock, for a message; nothing where that is not known."""
    try:
        if not plain_file(holder):
            return ""
        words = holder.read_bytes()[:200].decode("utf-8", "replace")
    except OSError:
        return ""
    return f": {''.join(c if c.isprintable() else ' ' for c in words)}" if words else ""


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


def put_aside(keep: Path, path: Path, torn: bytes) -> None:
    """Keep a last line that was cut off, behind those kept before."""
    try:
        append_bytes(keep / f"{path.name}.cutoff", torn + b"\n", follow=False, new=True)
    except FileChanged:
        raise OSError(errno.EAGAIN, f"{path.name}.cutoff is changed by another program") from None


def note(keep: Path, file: str, events: Sequence[tuple[str, str, dict[str, str]]]) -> None:
    """Enter events, (what, cut, row), in the journal.

    The journal is a second witness: where it can't be written the cut still is.
    """
    path = files.journal_of(keep.parent, file)
    with suppress(OSError, FileChanged):
        append_lines(path, b"".join(files.journal_line(*event) for event in events), LARGEST)


def append_lines(journal: Path, lines: bytes, most: int) -> None:
    """Lines behind those of a journal, which is made if need be; once it is larger than `most` [bytes] the newest half
    of that stays. OSError, FileChanged.
    """
    if not os.path.lexists(journal):
        create(journal, lines)
        return
    append_bytes(journal, lines if ends_whole(journal) else b"\n" + lines, follow=False)
    if journal.stat().st_size > most:
        replace(journal, journal.read_bytes()[-most // 2 :].partition(b"\n")[2])


def ends_whole(path: Path) -> bool:
    """Whether the last line of a file is whole, so that another may follow."""
    if not plain_file(path):
        return True  # nothing is written to it
    with open(path, "rb") as file:
        if file.seek(0, os.SEEK_END) == 0:
            return True
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"
