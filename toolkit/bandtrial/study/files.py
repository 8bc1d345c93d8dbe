"""A study folder's files as bytes and text: none outside the folder, none too large, any encoding."""

import codecs
import stat
from pathlib import Path

from bandtrial.study.problems import Problems

MEGABYTE = 1_000_000
LARGEST = {".toml": 1 * MEGABYTE, ".csv": 300 * MEGABYTE, ".xlsx": 50 * MEGABYTE}
"""Size a file of a study may have, by suffix [bytes]."""


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
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        return _refuse(problems, name, f"can't be read: {why.lower()}")


def decoded(data: bytes, name: str, problems: Problems) -> str | None:
    """`data` as text with `\\n` line ends: UTF-8, UTF-16 by its mark, else Windows-1252 with a warning."""
    text, encoding = decode(data)
    if encoding not in ("utf-8", "utf-8-sig"):
        words = "UTF-16" if encoding.startswith("utf-16") else "Windows-1252"
        problems.add(
            "warning",
            name,
            f"is not UTF-8 and is read as {words}; look at letters with accents, or save it as UTF-8",
        )
    if "\0" in text:
        line = text[: text.index("\0")].count("\n") + 1
        problems.add("error", name, "holds a NUL character: this is no text file, or it is damaged", row=line)
        return None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def decode(data: bytes) -> tuple[str, str]:
    """Text and the encoding it was in; every sequence of bytes decodes."""
    if data.startswith(codecs.BOM_UTF8):
        candidates = ["utf-8-sig"]
    elif data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        candidates = ["utf-16"]
    else:
        candidates = ["utf-8"]
    for encoding in [*candidates, "cp1252"]:
        try:
            return data.decode(encoding), encoding
        except UnicodeError:
            continue
    return data.decode("latin-1"), "latin-1"


def _refuse(problems: Problems, name: str, why: str) -> bytes | None:
    problems.add("error", name, why)
    return None
