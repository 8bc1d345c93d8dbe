"""Long tables: read in parts, equal cells kept once, and refused by their size in a sentence."""

import io
import sys

import numpy as np
import openpyxl
import pytest
from bandtrial.study import csvfile, files, workbook
from bandtrial.study.files import FEW, Shared
from bandtrial.study.problems import Problems


def parsed(text: str):
    problems = Problems()
    return csvfile.parse("cuts.csv", text.encode(), problems), [str(p) for p in problems.found]


def test_a_table_read_in_parts_is_the_one_read_at_once(monkeypatch):
    text = '# first\ncut,band,note\n1,B1,x\n\n# later\n2,B1\n3\n4,B1,\u00e9,extra\n5,B1,"two\nlines"\n6,B\U00010348,'
    whole, said = parsed(text)
    monkeypatch.setattr(csvfile, "_CELLS_AT_ONCE", 2)
    parts, again = parsed(text)
    assert said == again and len(said) > 0
    assert parts.heads == whole.heads and parts.rows.tolist() == whole.rows.tolist()
    assert parts.cells.to_numpy().tolist() == whole.cells.to_numpy().tolist()


def test_cells_beyond_the_head_are_said_however_wide_another_row_is():
    raw, said = parsed("cut,band\n1,B1,,\n2,B1,,oops\n3,B1\n")
    assert raw.cells.to_numpy().tolist() == [["1", "B1"], ["3", "B1"]]
    assert said == ["error: cuts.csv, row 3: 4 cells where the head has 2; put a text that contains the separator in "
                    "quotes"]  # fmt: skip


def test_equal_cells_are_one_object_and_different_ones_are_counted():
    shared = Shared()
    first = shared.texts(0, np.array(["".join(["sa", "w1"]), "".join(["saw", "1"]), "saw2"], object))
    second = shared.texts(0, np.array(["".join(["s", "aw1"])], object))
    assert first.tolist() == ["saw1", "saw1", "saw2"] and first[0] is first[1] is second[0]
    assert shared.size == sys.getsizeof("saw1") + sys.getsizeof("saw2")
    shared.texts(1, np.array([str(n) for n in range(FEW + 5)], object))
    assert len(shared.known[1]) == FEW


@pytest.mark.parametrize("most, text, said", [
    ("MOST_TEXT", "cut,note\n1,abcdefgh\n", "cuts.csv, row 2: holds too many different texts: at most 0 MB of them are "
     "read, split the study"),
    ("MOST_ROWS", "cut\n" + "1\n" * 9, "cuts.csv, row 10: one row too many: at most 9 rows and 25,000,000 cells are "
     "read, split the study"),
    ("MOST_CELLS", "cut,a,b\n" + "1\n" * 9, "cuts.csv, row 5: one row too many: at most 1,500,000 rows and 10 cells "
     "are read, split the study"),
])  # fmt: skip
def test_what_would_fill_the_memory_is_refused_by_its_size(monkeypatch, most, text, said):
    limit = {"MOST_TEXT": 120, "MOST_ROWS": 9, "MOST_CELLS": 10}[most]
    for module in (files, csvfile):
        if hasattr(module, most):
            monkeypatch.setattr(module, most, limit)
    raw, found = parsed(text)
    assert raw is None and found == [f"error: {said}"]


def test_a_text_that_grows_as_utf8_is_refused(monkeypatch):
    monkeypatch.setitem(files.LARGEST, ".csv", 1_000_000)
    problems = Problems()
    data = ("cut\n" + "\u20ac" * 400_000).encode("cp1252")
    assert files.as_utf8(data, "cuts.csv", problems) is None
    assert str(problems.errors[0]) == "error: cuts.csv: is 1 MB as UTF-8; at most 1 MB are read, split the study"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"])
def test_texts_over_many_blocks_decode_as_python_decodes_them(monkeypatch, encoding):
    monkeypatch.setattr(files, "MEGABYTE", 7)
    text = "cut,note\r\n1,\u00e9\u00fc\u00df\r2,\u00e0\n" * 50
    data = text.encode(encoding)
    read = files.as_utf8(data, "cuts.csv", Problems())
    assert read.decode() == text.replace("\r\n", "\n").replace("\r", "\n")
    assert files.decoded(data, "cuts.csv", Problems()) == read.decode()


def test_a_sheet_taken_in_parts_is_as_wide_as_its_widest_row(monkeypatch):
    monkeypatch.setattr(workbook, "_CELLS_AT_ONCE", 2)
    book, out = openpyxl.Workbook(), io.BytesIO()
    book.active.title = "cuts"
    for row in (["cut", "band"], [1, "B1"], [], [2, "B1", None, "far"], [3]):
        book.active.append(row)
    book.save(out)
    raw = workbook.parse("cuts.xlsx", out.getvalue(), ("cuts",), Problems())["cuts"]
    assert raw.cells.to_numpy().tolist() == [[1, "B1", "", ""], [2, "B1", "", "far"], [3, "", "", ""]]
    assert raw.rows.tolist() == [2, 4, 5]
    monkeypatch.setattr(workbook, "MOST_CELLS", 6)
    problems = Problems()
    assert workbook.parse("cuts.xlsx", out.getvalue(), ("cuts",), problems) == {}
    assert str(problems.errors[0]).startswith("error: cuts.xlsx [cuts]: has rows too wide: at most 6 cells are read")


def test_a_log_that_is_all_wrong_says_so_in_few_lines(monkeypatch):
    monkeypatch.setattr("bandtrial.study.problems.MOST_ROWS", 10)
    problems = Problems()
    rows = np.arange(2, 40)
    problems.each("error", "cuts.csv", "band", rows, [np.where(rows % 2, "a", "b")], lambda name: f"no band {name}")
    problems.each("error", "cuts.csv", "note", rows, [rows], lambda name: None)
    assert [str(p) for p in problems.found] == [
        "error: cuts.csv, rows 2, 4, 6, 8 and 10, column band: no band b",
        "error: cuts.csv, rows 3, 5, 7, 9 and 11, column band: no band a",
        "error: cuts.csv, band: and 28 more rows like this, each in its own way",
    ]
