"""Files as they come: other encodings and separators are read, damage and malice get one sentence, never a crash."""

import io
import os
import zipfile
from datetime import datetime, time
from pathlib import Path

import openpyxl
import pytest
from bandtrial import study
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from study_folders import BANDS, CUT, HEAD, NAMES, TOML, folder, lines, rows

PLAIN = rows({"note": "first"}, {"note": "second"})


def said(place: Path) -> list[str]:
    return lines(study.check(place))


SAME = {
    "windows line ends": PLAIN.replace("\n", "\r\n").encode(),
    "old mac line ends": PLAIN.replace("\n", "\r").encode(),
    "byte order mark": b"\xef\xbb\xbf" + PLAIN.encode(),
    "no line end at the end": PLAIN.rstrip("\n").encode(),
    "semicolons": PLAIN.replace(",", ";").encode(),
    "semicolons said in the first line": b"sep=;\n" + PLAIN.replace(",", ";").encode(),
    "tabs": PLAIN.replace(",", "\t").encode(),
    "comments and blank rows": PLAIN.replace("\n2,", "\n# half past\n\n,,,\n2,").encode(),
    "empty columns on the right": PLAIN.replace("\n", ",,\n").encode(),
    "quotes": PLAIN.replace("first", '"first"').replace("plate", '"plate"').encode(),
}


@pytest.mark.parametrize("name", SAME)
def test_the_same_table_in_another_form_reads_the_same(tmp_path, name):
    plain = study.open_study(folder(tmp_path / "plain", PLAIN))
    other = study.open_study(folder(tmp_path / "other", SAME[name]))
    assert other.problems == ()
    assert other.cuts.equals(plain.cuts)


def test_rows_count_as_a_spreadsheet_shows_them(tmp_path):
    text = "# a comment\n" + rows({"note": '"two\nlines"'}, {"material": "x"})
    assert said(folder(tmp_path / "study", text)) == [
        'error: cuts.csv, row 4, column material: no material "x" in study.toml (there: plate)'
    ]


ENCODINGS = [("cp1252", "Windows-1252"), ("utf-16", "UTF-16")]


@pytest.mark.parametrize(("encoding", "name"), ENCODINGS)
def test_another_encoding_is_read_and_said(tmp_path, encoding, name):
    place = folder(tmp_path / "study", rows({"note": "Müller, 30 °C"}).encode(encoding))
    assert said(place) == [
        f"warning: cuts.csv: is not UTF-8 and is read as {name}; look at letters with accents, or save it as UTF-8"
    ]
    assert study.open_study(place).cuts["note"].tolist() == ["Müller, 30 °C"]


def test_decimal_commas_of_a_whole_file_are_read_and_those_with_three_places_said(tmp_path):
    text = rows({"work_thickness": "1,250", "cut_travel": "10,0"}, {"work_thickness": "1,5", "cut_travel": "10,0"})
    place = folder(tmp_path / "study", text.replace('"', "").replace("1,250", "1.250").replace("1,5", "1.5")
                   .replace("10,0", "10.0").replace(",", ";").replace("1.250", "1,250").replace("1.5", "1,5")
                   .replace("10.0", "10,0"))  # fmt: skip
    assert said(place) == [
        'warning: cuts.csv, row 2, column work_thickness: "1,250" is read as 1.250, as other numbers of the column '
        "have a decimal comma"
    ]
    assert study.open_study(place).cuts["work_thickness"].tolist() == [1.25 * 25.4, 1.5 * 25.4]


BROKEN = {
    "empty": (b"", "is empty (0 bytes); restore it from a copy, or remove it and start anew"),
    "only blanks": (b"\n \n,,\n", "has no head: the first row should name the columns"),
    "nul characters": (PLAIN.encode().replace(b"plate", b"pl\0te"),
                       "row 2: holds a NUL character: this is no text file, or it is damaged"),
    "unclosed quote": (PLAIN.replace("first", '"first').encode(),
                       "row 2: a quoted text begins here and is never closed; add the quote mark, or restore the "
                       "file's end"),
    "stray quote": (PLAIN.replace("first", '"3/4" plate').encode(),
                    "row 2: a quote mark stands where none may; write a quote mark inside a quoted text twice"),
    "10,000 columns": (b",".join(b"c%d" % n for n in range(10_000)) + b"\n",
                       "row 1: has 10000 cells; a table may have 300 columns"),
    "a line without end": (b"cut," + b"x" * 1_100_000,
                           "row 1: far too long for a row: a quote mark may be missing"),
    "a huge quoted text": (b'cut,note\n1,"' + b"x" * 500_000 + b'"\n',
                           "row 2: a cell is far too long: a quote mark may be missing"),
    "a cell too many": (PLAIN.replace("first", "first, then more").encode(),
                        "row 2: 21 cells where the head has 20; put a text that contains the separator in quotes"),
    "cut off": (PLAIN[: PLAIN.rindex("saw1") + 2].encode(),
                "row 3: the last line was cut off after 3 of 20 cells; complete it or delete it"),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_is_one_sentence(tmp_path, name):
    data, sentence = BROKEN[name]
    place = folder(tmp_path / "study", b"x")
    (place / "cuts.csv").write_bytes(data)
    divider = ", " if sentence.startswith("row") else ": "
    assert said(place)[0] == f"error: cuts.csv{divider}{sentence}"


def test_a_short_row_is_read_and_said(tmp_path):
    place = folder(tmp_path / "study", PLAIN.replace(",yes", "").replace(",,,first", ""))
    assert said(place) == ["warning: cuts.csv, row 2: 17 cells where the head has 20; the missing ones are read as "
                           "empty"]  # fmt: skip


@pytest.mark.parametrize("name", ["study.toml", "bands.csv", "cuts.csv"])
def test_nothing_outside_the_folder_is_read(tmp_path, name):
    place = folder(tmp_path / "study")
    (tmp_path / name).write_bytes((place / name).read_bytes())
    (place / name).unlink()
    (place / name).symlink_to(tmp_path / name)
    words = "is a link that leads out of the study folder; put the file itself there"
    assert said(place)[0] == f"error: {name}: {words}"


def test_missing_files_and_folders_are_named(tmp_path):
    place = folder(tmp_path / "study")
    (place / "bands.csv").unlink()
    (place / "study.toml").unlink()
    os.mkfifo(place / "study.toml")
    assert said(place) == [
        "error: study.toml: is not a file",
        f"error: bands.csv: is missing from {place}",
    ]
    assert said(tmp_path / "none") == [
        f"error: {tmp_path / 'none'}: is not a folder; give the folder that holds study.toml"
    ]


def workbook(place: Path, *changes: dict, head: str = HEAD) -> Path:
    """The study of `folder` as a workbook; cells that are numbers are numbers in it."""
    folder(place)
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Cuts"
    sheet.append(head.split(","))
    for n, change in enumerate(changes, start=1):
        cut = {**CUT, "cut": n, **change}
        sheet.append([_number(cut.get(name)) for name in NAMES])
    bands = book.create_sheet("bands")
    for line in BANDS.splitlines():
        bands.append([cell or None for cell in line.split(",")])
    book.save(place / "cuts.xlsx")
    for name in ("cuts.csv", "bands.csv"):
        (place / name).unlink()
    return place


def _number(cell):
    return float(cell) if isinstance(cell, str) and cell.replace(".", "").isdigit() else cell


def test_a_workbook_reads_as_the_csv_does(tmp_path):
    started = [{"started": datetime(2026, 3, 2, 7)}, {"started": "2026-03-02 07:30", "complete": True}]
    place = workbook(tmp_path / "book", *started)
    plain = folder(tmp_path / "plain", rows({"started": "2026-03-02T07:00"}, {"started": "2026-03-02T07:30"}))
    assert said(place) == []
    assert study.cut_table(study.open_study(place)).equals(study.cut_table(study.open_study(plain)))


def test_a_clock_time_that_a_spreadsheet_took_for_a_time_of_day_is_read_and_said(tmp_path):
    place = workbook(tmp_path / "book", {"cut_time": time(2, 0)})
    assert said(place) == [
        "warning: cuts.xlsx [cuts], row 2, column cut_time: 02:00:00 is a time of day in the spreadsheet, read as "
        "2 min 0 s; a plain number is safer"
    ]
    assert study.open_study(place).cuts["cut_time"].tolist() == [2.0]


def test_a_formula_is_never_worked_out_and_is_said(tmp_path):
    assert said(workbook(tmp_path / "book", {"cut_time": "=60*2"})) == [
        "warning: cuts.xlsx: holds formulas: the values that the spreadsheet stored are used, and a formula without "
        "a stored value is an empty cell",
        "error: cuts.xlsx [cuts], row 2, column cut_time: empty; a cut needs its cut time",
    ]


def test_a_workbook_that_unpacks_without_end_is_refused(tmp_path):
    place = workbook(tmp_path / "book", {})
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", b"<" + b" " * 200_000_000)
    (place / "cuts.xlsx").write_bytes(packed.getvalue())
    assert said(place)[0] == (
        "error: cuts.xlsx: unpacks to 200 MB in 1 parts, as no log of cuts does; at most 100 MB, packed at most 1 "
        "to 200, are read"
    )


@pytest.mark.parametrize("keep", [0, 30, 2000])
def test_a_workbook_that_was_cut_off_is_one_sentence(tmp_path, keep):
    place = workbook(tmp_path / "book", {})
    (place / "cuts.xlsx").write_bytes((place / "cuts.xlsx").read_bytes()[:keep])
    sentence = ("is no xlsx workbook, or it was cut off; save it again as xlsx" if keep else
                "is empty (0 bytes); restore it from a copy, or remove it and start anew")  # fmt: skip
    assert said(place)[0] == f"error: cuts.xlsx: {sentence}"


def test_two_logs_in_one_folder_are_refused(tmp_path):
    place = workbook(tmp_path / "book", {})
    (place / "cuts.csv").write_text(PLAIN)
    assert said(place) == ["error: cuts.xlsx: stands beside cuts.csv; keep the one that is right"]


BYTES = st.one_of(
    st.binary(max_size=400),
    st.text(max_size=200).map(str.encode),
    st.builds(lambda cells: f"{HEAD}\n{','.join(cells)}\n".encode(), st.lists(st.text(max_size=12), max_size=25)),
    st.builds(lambda at, put: PLAIN.encode()[:at] + put + PLAIN.encode()[at:], st.integers(0, len(PLAIN)),
              st.binary(max_size=6)),
)  # fmt: skip
TOML_BYTES = st.one_of(
    st.binary(max_size=200),
    st.builds(lambda at, put: TOML.encode()[:at] + put + TOML.encode()[at:], st.integers(0, len(TOML)),
              st.sampled_from([b"[", b"]", b'"', b"=", b"\n", b"1", b"\xff", b"{}", b".", b"[[x]]\n", b"nan"])),
)  # fmt: skip


@settings(derandomize=True, deadline=None, max_examples=40, suppress_health_check=list(HealthCheck))
@given(cuts=BYTES, bands=BYTES, toml=TOML_BYTES, which=st.sampled_from(["cuts", "bands", "toml"]))
def test_whatever_is_in_a_file_check_answers_in_lines(tmp_path, cuts, bands, toml, which):
    files = {"cuts": PLAIN, "bands": BANDS, "toml": TOML} | {which: {"cuts": cuts, "bands": bands, "toml": toml}[which]}
    place = folder(tmp_path / "study", b"x", files["bands"], files["toml"])
    content = files["cuts"]
    (place / "cuts.csv").write_bytes(content if isinstance(content, bytes) else content.encode())
    for line in said(place):
        assert line.isprintable()
        assert len(line) < 4000
