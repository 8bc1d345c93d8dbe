"""The files of a study folder: their bytes and text, and the journal of saved cuts beside a log.

A cut that another program took out again (a spreadsheet that saved an older copy) is noticed by the journal, and can
be put back. One line per event: what, when, number, the row as JSON.
"""

import codecs
import json
import stat
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from bandtrial.disk import plain_file, why
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


FOLDER = ".bandtrial"
LARGEST_JOURNAL = 20_000_000


class Saved(NamedTuple):
    """A cut the journal holds to be in the log: when it was saved, and its cells by head."""

    when: str
    row: dict[str, str]


def journal_of(folder: Path, file: str) -> Path:
    """The journal of the log `file`."""
    return folder / FOLDER / f"{file}.journal"


def journal_line(what: str, cut: str, row: dict[str, str]) -> bytes:
    """A line of the journal; `what` is saved or taken out."""
    when = datetime.now().isoformat(timespec="seconds")
    return (json.dumps([what, when, cut, row], ensure_ascii=False) + "\n").encode()


def remembered(folder: Path, file: str) -> dict[str, Saved]:
    """The cuts that should be in the log, by number; damaged or unfinished lines say nothing."""
    path = journal_of(folder, file)
    try:
        if not plain_file(path) or not inside(folder, path) or path.stat().st_size > LARGEST_JOURNAL:
            return {}
        lines = path.read_bytes().split(b"\n")[:-1]  # what follows the last line end was never finished
    except OSError:
        return {}
    cuts: dict[str, Saved] = {}
    for line in lines:
        try:
            what, when, cut, row = json.loads(line)
        except (ValueError, TypeError, RecursionError):
            continue
        cuts.pop(str(cut), None)
        if what == "saved" and isinstance(row, dict):
            cuts[str(cut)] = Saved(str(when)[:19], {str(head): str(cell) for head, cell in row.items()})
    return cuts
