"""What a writer has to know of a CSV log: its head, its form, the numbers in use. Kept between appends."""

import csv
import hashlib
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from bandtrial import units
from bandtrial.study.columns import key
from bandtrial.study.csvfile import delimiter
from bandtrial.study.files import LARGEST, decode
from bandtrial.study.problems import as_count, refuse

_LINE_END = re.compile(r"\r\n|\r|\n")


@dataclass
class CsvLog:
    """A log as it was when last looked at."""

    path: Path
    size: int
    """Bytes of it that are known."""
    mark: Any
    """A running hash of those bytes: size and time of a file can stay the same while it changes."""
    encoding: str
    delimiter: str
    newline: str
    decimal: str
    heads: list[str]
    number_at: int
    rows: int
    """Rows a spreadsheet shows."""
    whole: bool
    """Whether the last line has its end."""
    last: tuple[int, int, list[str]] = (0, 0, [])
    """Where the last row begins and ends [bytes], and its cells."""
    torn: bytes = b""
    """A last line that was cut off."""
    numbers: set[str] = field(default_factory=set)
    highest: int = 0

    def is_in(self, data: bytes) -> bool:
        """Whether a file with these bytes begins as this log was."""
        return len(data) >= self.size and _mark(memoryview(data)[: self.size]).digest() == self.mark.digest()

    def seen(self, more: bytes) -> None:
        """Take in bytes that stand behind those known."""
        self.size += len(more)
        self.mark.update(more)

    def use(self, number: str) -> None:
        """Take in the number of a cut that is in the log."""
        self.numbers.add(number)
        self.highest = max(self.highest, as_count(number))

    def added(self, data: bytes, line: bytes, cells: list[str]) -> None:
        """Take in the row just written: `data` is its line and what had to stand before it."""
        self.seen(data)
        self.last, self.whole = (self.size - len(line), self.size, cells), True
        self.rows += 1
        self.use(cells[self.number_at])

    def line(self, cells: list[str]) -> bytes:
        """One row in the log's own form; SaveError where its encoding lacks a letter."""
        line = row_text(cells, self.delimiter, self.newline)
        return encoded(line, self.encoding, self.path.name, "nothing was saved")


def row_text(cells: Sequence[str], separator: str, newline: str) -> str:
    """Cells as a line of CSV, with its end."""
    text = io.StringIO()
    csv.writer(text, delimiter=separator, lineterminator=newline).writerow(cells)
    return text.getvalue()


def encoded(text: str, codec: str, file: str, undone: str) -> bytes:
    """A text in the encoding of its file; SaveError where that lacks a letter, with what was `undone` by it."""
    try:
        return text.encode(codec)
    except UnicodeEncodeError as error:
        lacking = error.object[error.start : error.end]
        raise refuse(file, f'its encoding, {codec}, has no "{lacking}"; save the file as UTF-8, or write the text '
                     f"without it; {undone}") from None  # fmt: skip


def look(path: Path, known: CsvLog | None) -> tuple[CsvLog, bytes | None]:
    """The log at `path` as it is now, and its bytes where all of it had to be read.

    What grew at the end since `known` is taken in alone; any other change makes it read the log anew. The file is
    gone through each time, as an edit may keep its size and its time.
    """
    if path.stat().st_size > LARGEST[".csv"]:
        raise refuse(path.name, f"is too large to write to; at most {LARGEST['.csv'] // 1_000_000} MB, begin a "
                     "new study")  # fmt: skip
    data = path.read_bytes()
    if known is not None and known.is_in(data) and (len(data) == known.size or _grown(known, data[known.size :])):
        return known, None
    return _whole(path, data), data


def _mark(data: Any) -> Any:
    """A running hash; of 10 MB it takes some 15 ms."""
    return hashlib.blake2b(data, digest_size=16)


class Form(NamedTuple):
    """How a CSV file is written: its text, the bytes of its mark, and what its rows are made with."""

    text: str
    codec: str
    mark: bytes
    separator: str
    newline: str
    decimal: str


def form_of(data: bytes) -> Form:
    """The form of a CSV file with these bytes."""
    text, encoding = decode(data)
    marks = {"utf-8-sig": ("utf-8", 3), "utf-16": ("utf-16-le" if data[:1] == b"\xff" else "utf-16-be", 2)}
    codec, at = marks.get(encoding, (encoding, 0))
    separator = delimiter(text)
    newline = "\r\n" if "\r\n" in text else "\n"
    decimal = "," if separator == ";" and re.search(r";\d+,\d+;", text) and not re.search(r";\d+\.\d+;", text) else "."
    return Form(text, codec, data[:at], separator, newline, decimal)


def _whole(path: Path, data: bytes) -> CsvLog:
    text, codec, mark, separator, newline, decimal = form_of(data)
    log = CsvLog(path, 0, _mark(b""), codec, separator, newline, decimal, [], -1, 0, text.endswith("\n"))
    log.seen(data)
    _rows(log, text, len(mark))
    if log.number_at < 0:
        raise refuse(path.name, "has no head; nothing was saved")
    return log


class Lines:
    """Lines of a text with their ends, whatever these are, made one by one; `at` is where the next begins."""

    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0

    def __iter__(self) -> "Lines":
        return self

    def __next__(self) -> str:
        if self.at == len(self.text):
            raise StopIteration
        begin, found = self.at, _LINE_END.search(self.text, self.at)
        self.at = found.end() if found else len(self.text)
        return self.text[begin : self.at]


def _rows(log: CsvLog, text: str, at: int) -> None:
    """Take in rows that begin at byte `at` of the file."""
    lines = Lines(text)
    begin, last = 0, (0, 0, [""])
    try:
        for cells in csv.reader(lines, delimiter=log.delimiter, strict=True):
            start, begin = begin, lines.at
            if begin == len(text) and len(cells) < len(log.heads) and not text.endswith(("\n", "\r")):
                log.torn = text[start:].encode(log.encoding)
                break
            log.rows += 1
            if log.number_at < 0:
                _head(log, cells)
            elif not is_no_row(cells):
                last = (start, begin, cells)
                if log.number_at < len(cells):
                    log.use(cells[log.number_at].strip())
    except csv.Error:
        _unreadable(log, text, begin)
    if last[1]:
        first = at + len(text[: last[0]].encode(log.encoding))
        log.last = (first, first + len(text[last[0] : last[1]].encode(log.encoding)), last[2])


def _head(log: CsvLog, cells: list[str]) -> None:
    """Take a row as the head, if it can be."""
    if is_no_row(cells) or (log.rows == 1 and cells[0].startswith("sep=")):
        return
    log.heads = [cell.strip() for cell in cells]
    named = [key(units.head(head)[0]) for head in log.heads]
    if "cut" not in named:
        raise refuse(log.path.name, 'has no column "cut" in its head; nothing was saved')
    log.number_at = named.index("cut")


def is_no_row(cells: list[str]) -> bool:
    """Whether a row is blank or a comment."""
    return not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#")


def _unreadable(log: CsvLog, text: str, begin: int) -> None:
    """A quoted text without an end: on the last line it was cut off, elsewhere the file is damaged."""
    if "\n" not in text[begin:] and log.number_at >= 0:
        log.torn = text[begin:].encode(log.encoding)
        return
    raise refuse(log.path.name, f"can't be split into rows after row {log.rows}, a quote mark is out of place; "
                 "mend that first (bandtrial check shows it), nothing was saved")  # fmt: skip


def _grown(log: CsvLog, added: bytes) -> bool:
    """Take in what was added at the end; False where that is not whole rows."""
    if not log.whole or log.torn or not added.endswith(log.newline.encode(log.encoding)):
        return False
    try:
        text = added.decode(log.encoding)
    except UnicodeDecodeError:
        return False
    _rows(log, text, log.size)
    log.seen(added)
    return True
