"""Bytes on disk: durable when the call returns, whole or not at all. Every file that the package writes comes by here.

`save`, `whole`, `make_folder`, `file_name`  an output (a page, a table, a PDF): written beside, put in place when whole
`append_bytes`, `replace`, `create`  the files of a study

On Windows files are opened as bytes, a file that another program reads is replaced once it lets go (for 2 s), and
there is no fsync of folders; on macOS the disk is asked beyond fsync. A share without locks is refused in words.
None of this was tried on Windows or macOS.
"""

import errno
import os
import re
import secrets
import stat
import time
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

LEFT_BEHIND = 900.0
"""Age from which a spare copy beside an output is one that a killed program left [s]; printing takes 300 s at most."""
IN_USE = (0.05, 0.2, 0.5, 1.0)
"""Windows refuses to replace a file that another program reads just now: waits between tries [s]."""


class NotWrittenError(OSError):
    """An output could not be written, and nothing of it was; the message is a whole sentence with its name."""


class WrongNameError(NotWrittenError):
    """The name given can't be that of an output: it is a folder, a device, or in a folder that does not exist."""


class FileChanged(Exception):  # noqa: N818 - no error: the writer looks again and repeats
    """Another program changed the file while it was being written."""


def why(error: OSError) -> str:
    """An operating system's refusal in words."""
    return (error.strerror or str(error)).lower()


def shortened(path: str | Path) -> str:
    """A path for a message, of a very long one its beginning and its end.

    >>> shortened("trials/study.html"), len(shortened("a" * 5000))
    ('trials/study.html', 203)
    """
    text = str(path)
    return text if len(text) <= 203 else f"{text[:100]}...{text[-100:]}"


def file_name(text: str, suffix: str) -> str:
    """A name for a file that every system takes, whatever is in `text`: 200 bytes at most, no sign with a meaning.

    >>> file_name("setup_saw1_" + "a/b:c", ".html"), file_name("..", ".csv"), file_name("上锯", ".html")
    ('setup_saw1_a_b_c.html', '_.csv', '上锯.html')
    """
    plain = "".join("_" if unicodedata.category(c)[0] == "C" or c in '<>:"/\\|?*' else c for c in text)
    short = plain.strip(". ").encode()[: 200 - len(suffix.encode())].decode(errors="ignore") or "_"
    return (f"_{short}" if re.match(r"(?i)(con|prn|aux|nul|com\d|lpt\d)(\.|$)", short) else short) + suffix


def make_folder(path: str | Path) -> Path:
    """Make the folder an output goes into, if there is none; NotWrittenError where that can't be."""
    try:
        Path(path).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        words = f"the folder '{shortened(path)}' can't be made: {why(error)}; nothing was written"
        raise NotWrittenError(words) from None
    return Path(path)


def save(path: str | Path, content: str | bytes) -> Path:
    """Write an output whole, or NotWrittenError and nothing of it; a text in UTF-8."""
    with whole(path) as (spare,):
        spare.write_bytes(content if isinstance(content, bytes) else content.encode(errors="replace"))
    return Path(path)


@contextmanager
def whole(*paths: str | Path, in_place: bool = True) -> Iterator[tuple[Path, ...]]:
    """Spare files to write outputs into; when the block has ended they are put in place of `paths`, all or none.

    in_place : False to try only whether they could be

    An OSError, here or in the block, becomes a NotWrittenError; whatever is raised, no spare file stays.
    """
    spares: list[Path] = []
    at = Path(paths[0])
    try:
        for at in map(Path, paths):
            _fit_for_output(at)
            with suppress(OSError):
                clear_spares(at, LEFT_BEHIND)
            spares.append(_spare(_resolved(at)))
        yield tuple(spares)
        if not in_place:
            return
        for at, spare in zip(map(Path, paths), spares, strict=True):
            _settle(spare, at)
        for at, spare in zip(map(Path, paths), spares, strict=True):
            _put(spare, _resolved(at))
        with suppress(OSError):  # in place they are, whatever the folder says
            sync_folder(Path(paths[0]).parent)
    except NotWrittenError:
        raise
    except OSError as error:
        raise NotWrittenError(f"'{shortened(at)}' can't be written: {why(error)}; nothing was written") from None
    finally:
        for spare in spares:
            with suppress(OSError):
                spare.unlink(missing_ok=True)


def _fit_for_output(path: Path) -> None:
    """WrongNameError for a name that no file can have here; OSError where it may not be written."""
    name = shortened(path)
    if path.is_dir():
        raise WrongNameError(f"'{name}' is a folder; name a file in it, as {path / 'study.html'}")
    if not path.parent.is_dir():
        parent = shortened(path.parent)
        raise WrongNameError(f"'{name}' can't be written: there is no folder '{parent}'; nothing was written")
    if path.exists():
        if not path.is_file():
            raise WrongNameError(f"'{name}' is not a file that can be replaced; name another")
        os.close(os.open(path, os.O_WRONLY))  # a file that may not be written is not replaced either


def _resolved(path: Path) -> Path:
    """Where a path leads: an output may be kept elsewhere by a link. OSError where links go in a circle."""
    try:
        return path.resolve()
    except RuntimeError:
        raise OSError(errno.ELOOP, "links lead in a circle") from None


def _settle(spare: Path, path: Path) -> None:
    """The bytes of a spare file on disk, with the permissions of the file it will replace."""
    handle = os.open(spare, os.O_RDWR)
    try:
        _sync(handle)
    finally:
        os.close(handle)
    with suppress(FileNotFoundError):
        os.chmod(spare, path.stat().st_mode & 0o777)


def _spare(path: Path) -> Path:
    """A new empty file beside `path`, to be put in its place."""
    spare = path.with_name(f"{path.name[:40]}.{secrets.token_hex(4)}.new")
    os.close(os.open(spare, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
    return spare


def _put(spare: Path, path: Path) -> None:
    for wait in IN_USE if os.name == "nt" else ():
        try:
            os.replace(spare, path)
            return
        except PermissionError:
            time.sleep(wait)
    os.replace(spare, path)


def clear_spares(path: Path, age: float = 0.0) -> None:
    """Delete spare copies of `path` that killed writers left beside it, those older than `age` [s]."""
    left = re.compile(rf"\.?{re.escape(path.name[:40])}\.[0-9a-f]+\.new")
    with os.scandir(path.parent) as entries:
        spares = [entry for entry in entries if left.fullmatch(entry.name)]
    for entry in spares:
        with suppress(OSError):
            if time.time() - entry.stat(follow_symlinks=False).st_mtime >= age:
                os.unlink(entry.path)


def append_bytes(path: Path, data: bytes, follow: bool = True, new: bool = False) -> None:
    """Append `data` and return when it is on disk; on any failure the file is as long as before.

    follow : whether `path` may be a link; new : whether the file may be made

    OSError if the disk is full or the file may not be written; FileChanged if another program put a new file
    in its place, or wrote over it, meanwhile.
    """
    handle = open_to_append(path, follow, new)
    try:
        before = os.fstat(handle).st_size
        try:
            written = 0
            while written < len(data):
                written += os.write(handle, data[written:])
            _sync(handle)
        except OSError:
            os.ftruncate(handle, before)
            raise
        if os.fstat(handle).st_ino != path.stat().st_ino or _at(handle, before, len(data)) != data:
            raise FileChanged
    finally:
        os.close(handle)


def open_to_append(path: Path, follow: bool, new: bool = False) -> int:
    """A handle to read and append with; OSError where `path` is a link, or no file, and is not to be followed."""
    flags = os.O_RDWR | os.O_APPEND | getattr(os, "O_BINARY", 0) | (os.O_CREAT if new else 0)
    handle = os.open(path, flags if follow else flags | getattr(os, "O_NOFOLLOW", 0), 0o666)
    if not follow and not plain_file(path):  # where the system can't refuse by itself
        os.close(handle)
        raise OSError(errno.ELOOP, "is a link, or no file")
    return handle


def plain_file(path: Path) -> bool:
    """Whether `path` is a file itself: no link, no folder, no device. OSError where there is none."""
    return stat.S_ISREG(os.lstat(path).st_mode)


def _at(handle: int, begin: int, size: int) -> bytes:
    os.lseek(handle, begin, os.SEEK_SET)
    data = b""
    while len(data) < size and (block := os.read(handle, size - len(data))):
        data += block
    return data


def replace(path: Path, data: bytes) -> None:
    """Put `data` in place of the file `path`: readers see the old or the new one, never a part."""
    with _filled(path, data) as spare:
        if path.exists():
            os.chmod(spare, path.stat().st_mode & 0o777)
        _put(spare, path)


def create(path: Path, data: bytes) -> None:
    """Write a file that must not exist yet (FileExistsError), whole and on disk when the call returns."""
    with _filled(path, data) as spare:
        try:
            (os.rename if os.name == "nt" else os.link)(spare, path)  # neither replaces a file
        except FileExistsError:
            raise
        except OSError:  # a file system without hard links
            if os.path.lexists(path):
                raise FileExistsError(errno.EEXIST, "is there already") from None
            os.replace(spare, path)


@contextmanager
def _filled(path: Path, data: bytes) -> Iterator[Path]:
    """A spare file for `path` that holds `data`, on disk; put in its place by the block, or gone after it."""
    spare = _spare(path)
    try:
        with open(spare, "wb") as file:
            file.write(data)
            file.flush()
            _sync(file.fileno())
        yield spare
        sync_folder(path.parent)
    finally:
        spare.unlink(missing_ok=True)


def _sync(handle: int) -> None:
    """What was written is on the disk; macOS needs to be asked beyond fsync."""
    if hasattr(fcntl, "F_FULLFSYNC"):
        with suppress(OSError):
            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
            return
    os.fsync(handle)


def sync_folder(folder: Path) -> None:
    """Make the names of a folder durable, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
