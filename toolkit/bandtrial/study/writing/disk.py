"""Bytes on disk: durable when the call returns, whole or not at all."""

import os
from pathlib import Path

from bandtrial.study.problems import Problem, StudyError


class SaveError(StudyError):
    """Something could not be saved; nothing of it is in the study. `.problems` says why and what to do."""


def refuse(file: str, why: str) -> SaveError:
    """A SaveError about one file."""
    return SaveError([Problem(file, None, None, "", why)])


def why(error: OSError) -> str:
    """An operating system's refusal in words."""
    return (error.strerror or str(error)).lower()


def append_bytes(path: Path, data: bytes) -> None:
    """Append `data` and return when it is on disk; on any failure the file is as long as before.

    OSError if the disk is full or the file may not be written; FileChanged if another program put a new file
    in its place, or wrote over it, meanwhile.
    """
    handle = os.open(path, os.O_RDWR | os.O_APPEND | getattr(os, "O_CLOEXEC", 0))
    try:
        before = os.fstat(handle).st_size
        try:
            written = 0
            while written < len(data):
                written += os.write(handle, data[written:])
            os.fsync(handle)
        except OSError:
            os.ftruncate(handle, before)
            raise
        if os.fstat(handle).st_ino != path.stat().st_ino or os.pread(handle, len(data), before) != data:
            raise FileChanged
    finally:
        os.close(handle)


class FileChanged(Exception):  # noqa: N818 - no error: the writer looks again and repeats
    """Another program changed the file while it was being written."""


def replace(path: Path, data: bytes) -> None:
    """Put `data` in place of the file `path`: readers see the old or the new one, never a part."""
    spare = path.with_name(f".{path.name}.{os.getpid()}.new")
    try:
        with open(spare, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            os.chmod(spare, path.stat().st_mode & 0o777)
        os.replace(spare, path)
        sync_folder(path.parent)
    finally:
        spare.unlink(missing_ok=True)


def create(path: Path, data: bytes) -> None:
    """Write a file that must not exist yet (FileExistsError), on disk when the call returns."""
    with open(path, "xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make the names of a folder durable, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
