"""What a writer has to know of a CSV log: its head, its form, the numbers in use. Kept between appends."""

import csv
import io
import os
import re
from dataclasses import dataclass, field
from pathlib import Path

from bandtrial import units
from bandtrial.study.columns import key
from bandtrial.study.csvshape import delimiter
from bandtrial.study.files import LARGEST, decode
from bandtrial.study.writing.disk import refuse

_TAIL = 4096
_LINE_END = re.compile(r"\r\n|\r|\n")


@dataclass
class CsvLog:
    """A log as it was when last looked at."""

    path: Path
    inode: int
    size: int
    changed: int
    encoding: str
    delimiter: str
    newline: str
    decimal: str
    heads: list[str]
    number_at: int
    rows: int
    """Rows a spreadsheet shows."""
    tail: bytes
    whole: bool
    """Whether the last line has its end."""
    last: tuple[int, int, list[str]] = (0, 0, [])
    """Where the last row begins and ends [bytes], and its cells."""
    torn: bytes = b""
    """A last line that was cut off."""
    numbers: set[str] = field(default_factory=set)
    highest: int = 0

    def unchanged(self, state: os.stat_result) -> bool:
        return (state.st_ino, state.st_size, state.st_mtime_ns) == (self.inode, self.size, self.changed)

    def seen(self, state: os.stat_result) -> None:
        self.inode, self.size, self.changed = state.st_ino, state.st_size, state.st_mtime_ns

    def use(self, number: str) -> None:
        self.numbers.add(number)
        if re.fullmatch(r"\d{1,15}", number):
            self.highest = max(self.highest, int(number))

    def added(self, data: bytes, line: bytes, cells: list[str], state: os.stat_result) -> None:
        """Take in the row just written: `data` is its line and what had to stand before it."""
        end = self.size + len(data)
        self.last, self.tail, self.whole = (end - len(line), end, cells), (self.tail + data)[-_TAIL:], True
        self.rows += 1
        self.use(cells[self.number_at])
        if state.st_size == end:
            self.seen(state)
        else:
            self.size, self.changed = end, 0  # grown again already: the next look reads on from here

    def line(self, cells: list[str]) -> bytes:
        """One row in the log's own form; SaveError where its encoding lacks a letter."""
        text = io.StringIO()
        csv.writer(text, delimiter=self.delimiter, lineterminator=self.newline).writerow(cells)
        try:
            return text.getvalue().encode(self.encoding)
        except UnicodeEncodeError as error:
            lacking = error.object[error.start : error.end]
            raise refuse(self.path.name, f'its encoding, {self.encoding}, has no "{lacking}"; save the file as '
                         "UTF-8, or write the text without it; nothing was saved") from None  # fmt: skip


def look(path: Path, known: CsvLog | None) -> tuple[CsvLog, bytes | None]:
    """The log at `path` as it is now, and its bytes where all of it had to be read.

    What grew at the end since `known` is read alone; any other change makes it read the whole file.
    """
    state = path.stat()
    if known is not None and known.unchanged(state):
        return known, None
    if known is not None and known.inode == state.st_ino and state.st_size > known.size and _grown(path, known):
        return known, None
    if state.st_size > LARGEST[".csv"]:
        raise refuse(path.name, f"is too large to write to; at most {LARGEST['.csv'] // 1_000_000} MB, begin a "
                     "new study")  # fmt: skip
    data = path.read_bytes()
    return _whole(path, data, state), data


def _whole(path: Path, data: bytes, state: os.stat_result) -> CsvLog:
    text, encoding = decode(data)
    marks = {"utf-8-sig": ("utf-8", 3), "utf-16": ("utf-16-le" if data[:1] == b"\xff" else "utf-16-be", 2)}
    codec, at = marks.get(encoding, (encoding, 0))
    separator = delimiter(text)
    newline = "\r\n" if "\r\n" in text else "\n"
    decimal = "," if separator == ";" and re.search(r";\d+,\d+;", text) and not re.search(r";\d+\.\d+;", text) else "."
    log = CsvLog(path, 0, 0, 0, codec, separator, newline, decimal, [], -1, 0, b"", text.endswith("\n"))
    log.seen(state)
    _rows(log, text, at)
    if log.number_at < 0:
        raise refuse(path.name, "has no head; nothing was saved")
    log.tail = data[max(0, len(data) - len(log.torn) - _TAIL) : len(data) - len(log.torn)]
    return log


class _Lines:
    """Lines of a text with their ends, whatever these are, made one by one; `at` is where the next begins."""

    def __init__(self, text: str) -> None:
        self.text, self.at = text, 0

    def __iter__(self) -> "_Lines":
        return self

    def __next__(self) -> str:
        if self.at == len(self.text):
            raise StopIteration
        begin, found = self.at, _LINE_END.search(self.text, self.at)
        self.at = found.end() if found else len(self.text)
        return self.text[begin : self.at]


def _rows(log: CsvLog, text: str, at: int) -> None:
    """Take in rows that begin at byte `at` of the file."""
    lines = _Lines(text)
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
            elif not _no_row(cells):
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
    if _no_row(cells) or (log.rows == 1 and cells[0].startswith("sep=")):
        return
    log.heads = [cell.strip() for cell in cells]
    named = [key(units.head(head)[0]) for head in log.heads]
    if "cut" not in named:
        raise refuse(log.path.name, 'has no column "cut" in its head; nothing was saved')
    log.number_at = named.index("cut")


def _no_row(cells: list[str]) -> bool:
    """Whether a row is blank or a comment."""
    return not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#")


def _unreadable(log: CsvLog, text: str, begin: int) -> None:
    """A quoted text without an end: on the last line it was cut off, elsewhere the file is damaged."""
    if "\n" not in text[begin:] and log.number_at >= 0:
        log.torn = text[begin:].encode(log.encoding)
        return
    raise refuse(log.path.name, f"can't be split into rows after row {log.rows}, a quote mark is out of place; "
                 "mend that first (bandtrial check shows it), nothing was saved")  # fmt: skip


def _grown(path: Path, log: CsvLog) -> bool:
    """Take in what was added at the end; False where the rest may have changed too."""
    with open(path, "rb") as file:
        file.seek(log.size - len(log.tail))
        data = file.read()
        state = os.fstat(file.fileno())
    added = data[len(log.tail) :]
    whole = log.whole and not log.torn and added.endswith(log.newline.encode(log.encoding))
    if data[: len(log.tail)] != log.tail or not whole:
        return False
    try:
        text = added.decode(log.encoding)
    except UnicodeDecodeError:
        return False
    _rows(log, text, log.size)
    log.tail = (log.tail + added)[-_TAIL:]
    log.seen(state)
    return True
