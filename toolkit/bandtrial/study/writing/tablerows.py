"""The rows of a table as they stand in its file, to be changed one by one: all other bytes of a CSV stay."""

import csv
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from bandtrial import units
from bandtrial.study import workbook
from bandtrial.study.columns import key
from bandtrial.study.problems import refuse
from bandtrial.study.writing.csvlog import Form, Lines, encoded, form_of, is_no_row, row_text

Row = tuple[int, list[str]]


def rows_of(file: str, data: bytes, sheet: str) -> "CsvRows | SheetRows":
    """The rows of a CSV file, or of a sheet of a workbook. StudyError where they can't be told apart."""
    return SheetRows(file, data, sheet) if file.endswith(".xlsx") else CsvRows(file, data)


class _Rows:
    """Rows by their place; `heads` are as written, `rows` are (place, cells) in the order of the file."""

    file: str
    heads: list[str]
    rows: list[Row]

    @property
    def names(self) -> list[str]:
        """The heads without case, blanks and units."""
        return [key(units.head(head)[0]) for head in self.heads]

    def at(self, column: str) -> int:
        """Where a column stands; SaveError where there is none."""
        if key(column) not in self.names:
            raise refuse(self.file, f'has no column "{column}" in its head; nothing was changed')
        return self.names.index(key(column))

    def named(self, column: str, name: str) -> Row:
        """The row with a name in a column; SaveError where there is none, or more than one."""
        found = [row for row in self.rows if self.cell(row[1], column) == name]
        if len(found) != 1:
            words = "no row" if not found else f"{len(found)} rows"
            raise refuse(self.file, f'has {words} with {column} "{name}"; nothing was changed')
        return found[0]

    def cell(self, cells: Sequence[str], column: str) -> str:
        at = self.at(column)
        return cells[at].strip() if at < len(cells) else ""

    def by_name(self, column: str) -> Iterator[tuple[str, dict[str, str]]]:
        """(name, cells by head) of each row that has a name in the column."""
        for _, cells in self.rows if key(column) in self.names else ():
            if name := self.cell(cells, column):
                yield name, {head: cell for head, cell in zip(self.heads, cells, strict=False) if cell}

    def with_cells(self, cells: Sequence[str], changes: Mapping[str, str]) -> list[str]:
        """The cells of a row with those of some columns changed."""
        made = [*cells, *[""] * (len(self.heads) - len(cells))]
        for column, cell in changes.items():
            made[self.at(column)] = cell
        return made

    def lacking(self, columns: Sequence[str]) -> list[str]:
        """Those of the columns that the table does not have."""
        return [column for column in columns if key(units.head(column)[0]) not in self.names]


class CsvRows(_Rows):
    """The rows of a CSV text; a change returns the new bytes."""

    def __init__(self, file: str, data: bytes) -> None:
        self.file = file
        self.form: Form = form_of(data)
        self.decimal = self.form.decimal
        self.heads, self.rows, self.spans = [], [], list[tuple[int, int]]()
        lines, begin = Lines(self.form.text), 0
        try:
            for cells in csv.reader(lines, delimiter=self.form.separator, strict=True):
                span, begin = (begin, lines.at), lines.at
                if is_no_row(cells) or (not self.spans and cells[0].startswith("sep=")):
                    continue
                if not self.spans:
                    self.heads = [cell.strip() for cell in cells]
                else:
                    self.rows.append((len(self.spans), cells))
                self.spans.append(span)
        except csv.Error:
            raise refuse(file, "can't be split into rows, a quote mark is out of place; mend that first (bandtrial "
                         "check shows it), nothing was changed") from None  # fmt: skip
        if not self.heads:
            raise refuse(file, "has no head; nothing was changed")

    def set(self, place: int, cells: Sequence[str] | None) -> bytes:
        """Another row in place of one; None: none."""
        begin, end = self.spans[place]
        text = "" if cells is None else self._line(cells)
        return self._bytes(self.form.text[:begin] + text + self.form.text[end:])

    def add(self, cells: Sequence[str]) -> bytes:
        """One more row, the last."""
        text = self.form.text
        return self._bytes(text + ("" if text.endswith(("\n", "\r")) else self.form.newline) + self._line(cells))

    def add_columns(self, heads: Sequence[str]) -> bytes:
        """Columns behind those there are, empty in every row."""
        made, begin, width = list[str](), 0, len(self.heads) + len(heads)
        lengths = [len(self.heads), *(len(cells) for _, cells in self.rows)]
        for (_, end), length in zip(self.spans, lengths, strict=True):
            line = self.form.text[begin:end]
            bare = line.rstrip("\r\n")
            more = self._line(heads).rstrip("\r\n") if begin == 0 or not made else ""
            tail = self.form.separator + more if more else self.form.separator * (width - length)
            made.append(bare + tail + line[len(bare) :])
            begin = end
        return self._bytes("".join(made) + self.form.text[begin:])

    def _line(self, cells: Sequence[str]) -> str:
        return row_text(cells, self.form.separator, self.form.newline)

    def _bytes(self, text: str) -> bytes:
        return self.form.mark + encoded(text, self.form.codec, self.file, "nothing was changed")


class SheetRows(_Rows):
    """The rows of a sheet; a change returns the bytes of the whole workbook."""

    decimal = "."

    def __init__(self, file: str, data: bytes, sheet: str) -> None:
        self.file, self.data, self.sheet = file, data, sheet
        instead = "change it in the spreadsheet, or turn the formulas into values; nothing was changed"
        raw = workbook.to_change(file, data, sheet, instead)
        self.heads, self.head_row = raw.heads, raw.head_row
        cells = [[str(cell) for cell in row] for row in raw.cells.itertuples(index=False)]
        self.rows = list(zip(raw.rows.tolist(), cells, strict=True))

    def set(self, place: int, cells: Sequence[str] | None) -> bytes:
        """Another row in place of one; None: none."""
        if cells is None:
            return self._with(lambda sheet: sheet.delete_rows(place))
        was = dict(self.rows)[place]
        changed = {n: cell for n, cell in enumerate(cells, 1) if n > len(was) or cell != was[n - 1]}
        return self._with(lambda sheet: workbook.put(sheet, place, changed))

    def add(self, cells: Sequence[str]) -> bytes:
        """One more row, the last."""
        last = self.rows[-1][0] if self.rows else self.head_row
        there = {n: cell for n, cell in enumerate(cells, 1) if cell}
        return self._with(lambda sheet: workbook.put(sheet, last + 1, there))

    def add_columns(self, heads: Sequence[str]) -> bytes:
        """Columns behind those there are, empty in every row."""
        more = dict(enumerate(heads, len(self.heads) + 1))
        return self._with(lambda sheet: workbook.put(sheet, self.head_row, more))

    def _with(self, change: Callable[[Any], None]) -> bytes:
        return workbook.changed(self.data, self.sheet, change)
