"""A study folder's files as bytes and text: none outside the folder, none too large, any encoding."""

import codecs
import stat
from pathlib import Path

from bandtrial.disk import why
from bandtrial.study.problems import Problems

MEGABYTE = 1_000_000
LARGEST = {".toml": 1 * MEGABYTE, ".csv": 150 * MEGABYTE, ".xlsx": 50 * MEGABYTE}
"""Size a file of a study may have, by suffix [bytes]."""


def no_folder(path: Path) -> str:
    """Why `path` can't be a study folder; nothing where it can."""
    try:
        return "" if path.is_dir() else "is not a folder"
    except OSError as error:
        return f"can't be opened: {why(error)}"


def existing(folder: Path, name: str) -> bool:
    """Whether the folder has an entry of that name, a dangling link included."""
    return (folder / name).exists() or (folder / name).is_symlink()


def inside(folder: Path, path: Path) -> bool:
    """Whether `path` is a plain file that, links followed, lies in `folder`; OSError where it does not exist."""
    return path.resolve().is_relative_to(folder.resolve()) and stat.S_ISREG(path.stat().st_mode)


def read_bytes(folder: Path, name: str, problems: Problems) -> bytes | None:
    """The bytes of a file of the folder; None, with a problem, where it can't or must not be read."""
    path = folder / name
    try:
        if not path.resolve().is_relative_to(folder.resolve()):
            return _refuse(problems, name, "is a link that leads out of the study folder; put the file itself there")
        state = path.stat()
        if not stat.S_ISREG(state.st_mode):
            return _refuse(problems, name, "is not a file")
        if state.st_size == 0:
            return _refuse(problems, name, "is empty (0 bytes); restore it from a copy, or remove it and start anew")
        most = LARGEST[path.suffix]
        if state.st_size > most:
            size = f"{state.st_size / MEGABYTE:.0f} MB"
            return _refuse(problems, name, f"is {size}; at most {most // MEGABYTE} MB are read, split the study")
        return path.read_bytes()
    except FileNotFoundError:
        return _refuse(problems, name, f"is missing from {folder}")
    except (OSError, RuntimeError) as error:  # RuntimeError: links in a circle
        words = why(error) if isinstance(error, OSError) else str(error).lower()
        return _refuse(problems, name, f"can't be read: {words}")


def decoded(data: bytes, name: str, problems: Problems) -> str | None:
    """`data` as text with `\\n` line ends: UTF-8, UTF-16 by its mark, else Windows-1252 with a warning."""
    text = as_utf8(data, name, problems)
    return None if text is None else text.decode()


def as_utf8(data: bytes, name: str, problems: Problems) -> bytes | None:
    """As `decoded`, in UTF-8: of a long log, letters of a rare alphabet would take four times its size as text."""
    for encoding in _encodings(data):
        try:
            data = _recoded(data, encoding)
            break
        except UnicodeError:
            continue
    if encoding not in ("utf-8", "utf-8-sig"):
        words = "UTF-16" if encoding == "utf-16" else "Windows-1252"
        problems.add(
            "warning",
            name,
            f"is not UTF-8 and is read as {words}; look at letters with accents, or save it as UTF-8",
        )
    most = LARGEST.get(Path(name).suffix, LARGEST[".csv"])
    if len(data) > most:
        return _refuse(problems, name, f"is {len(data) / MEGABYTE:.0f} MB as UTF-8; at most {most // MEGABYTE} MB are "
                       "read, split the study")  # fmt: skip
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        problems.add("error", name, "holds a NUL character: this is no text file, or it is damaged", row=line)
        return None
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")


def _recoded(data: bytes, encoding: str) -> bytes:
    """`data` in UTF-8, some of it at a time; UnicodeError where it is not in `encoding`. Stops when far too long."""
    decoder, parts, size = codecs.getincrementaldecoder(encoding)(), [], 0
    for at in range(0, len(data), MEGABYTE):
        text = decoder.decode(data[at : at + MEGABYTE], at + MEGABYTE >= len(data))
        if encoding == "utf-8":
            continue
        parts.append(text.encode())
        size += len(parts[-1])
        if size > 2 * LARGEST[".csv"]:
            break
    return data if encoding == "utf-8" else b"".join(parts)


def decode(data: bytes) -> tuple[str, str]:
    """Text and the encoding it was in; every sequence of bytes decodes."""
    for encoding in _encodings(data):
        try:
            return data.decode(encoding), encoding
        except UnicodeError:
            continue
    raise AssertionError("latin-1 decodes every byte")


def _encodings(data: bytes) -> tuple[str, ...]:
    """The encodings to try, in order."""
    if data.startswith(codecs.BOM_UTF8):
        first = "utf-8-sig"
    elif data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        first = "utf-16"
    else:
        first = "utf-8"
    return first, "cp1252", "latin-1"


def _refuse(problems: Problems, name: str, message: str) -> bytes | None:
    problems.add("error", name, message)
    return None
