"""Tables in every form people send: the same cells whatever the form, and a place named for each that can't be.

Made with Python's own csv writer and openpyxl, so that reader and writer are not the same hands.
"""

import csv
import datetime
import io

import openpyxl
import pytest
from bandtrial import study, units
from bandtrial.study import csvfile, files, workbook
from bandtrial.study.problems import Problems
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from study_folders import BANDS, CUT, HEAD, folder, lines, rows

FIXED = settings(derandomize=True, deadline=None, max_examples=60, suppress_health_check=list(HealthCheck))
WORD = st.text(st.characters(exclude_categories=["Cc", "Cs", "Cf", "Zl", "Zp"], exclude_characters="\ufeff#"),
               min_size=1, max_size=12).filter(lambda s: s.strip() and not s.startswith("sep="))  # fmt: skip
CELL = st.one_of(WORD, st.just(""), st.floats(-1e6, 1e6).map(repr), st.just('say "three", or 4\nlines;\tend'))
FORMS = {"comma": (",", "utf-8"), "semicolon": (";", "utf-8-sig"), "tab": ("\t", "utf-16")}


@st.composite
def tables(draw):
    """Heads of letters, and rows as wide as them whose first cell is not empty."""
    width = draw(st.integers(2, 7))
    heads = [f"h{n}" for n in range(width)]
    body = draw(st.lists(st.tuples(WORD, *[CELL] * (width - 1)), min_size=1, max_size=5))
    return heads, [list(row) for row in body]


@FIXED
@given(tables(), st.sampled_from(sorted(FORMS)), st.sampled_from(["\n", "\r\n"]), st.booleans())
def test_a_table_reads_the_same_in_every_form(table, form, line_end, quote_all):
    (heads, body), (separator, encoding) = table, FORMS[form]
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, lineterminator=line_end,
                        quoting=csv.QUOTE_ALL if quote_all else csv.QUOTE_MINIMAL)  # fmt: skip
    writer.writerows([heads, *body])
    problems = Problems()
    utf8 = files.as_utf8(text.getvalue().encode(encoding), "cuts.csv", problems)
    raw = csvfile.parse("cuts.csv", utf8, problems)
    assert not problems.errors
    assert raw.heads == heads
    assert raw.cells.to_numpy().tolist() == body
    assert len(set(raw.rows)) == len(body)


@settings(FIXED, max_examples=20)
@given(tables())
def test_a_workbook_reads_its_cells(table):
    heads, body = table
    out, book = io.BytesIO(), openpyxl.Workbook()
    book.active.title = " CUTS "
    for row in [heads, *body]:
        book.active.append([cell or None for cell in row])
    for row in book.active.iter_rows():
        for cell in row:
            cell.data_type = "s" if cell.value is not None else "n"  # "=x" typed as a text
    book.save(out)
    problems = Problems()
    raw = workbook.parse("cuts.xlsx", out.getvalue(), ("cuts",), problems)["cuts"]
    assert not problems.found
    assert raw.heads == heads
    assert [[str(cell) for cell in row] for row in raw.cells.to_numpy().tolist()] == body


NUMBERS = st.floats(1.0, 900.0).map(lambda x: round(x, 3))


@FIXED
@given(NUMBERS, st.sampled_from(["{} mm", "{:.3f}mm", " {} MM ", "{} millimeters", "{:.3e} mm"]))
def test_a_cell_with_its_own_unit_goes_before_the_head(tmp_path, value, form):
    place = folder(tmp_path / "study", rows({"work_thickness": form.format(value)}))
    thick = study.open_study(place).cuts["work_thickness"].iloc[0]
    assert thick == pytest.approx(value, rel=6e-4)  # the form with an exponent keeps four digits


WRONG = ("nan", "NaN", "inf", "-inf", "Infinity", "1e999", "-5", "0", "1e-9", "1e12", "#REF!", "#DIV/0!", "=1+1",
         "0x10", "1_000", "5;6", "١٢٣٤٥٦٧٨", "12 34", "--5", "1e", "NULL")  # fmt: skip
ABSURD = st.one_of(st.sampled_from(WRONG), st.floats(1e9, 1e300).map(repr), st.integers(10**9, 10**60).map(str))


@FIXED
@given(ABSURD, st.sampled_from(["work_thickness", "cut_travel", "band_speed", "cut_time", "pieces"]))
def test_what_cannot_be_is_named_with_its_place(tmp_path, text, column):
    place = folder(tmp_path / "study", rows({}, {column: f'"{text}"'.strip('"')}))
    said = lines(study.check(place))
    assert any(line.startswith(f"error: cuts.csv, row 3, column {column}: ") for line in said), said
    assert all(len(line) < 300 and line.isprintable() for line in said)


@FIXED
@given(st.text(max_size=90), st.sampled_from(sorted(units.KINDS)))
def test_any_text_is_a_finite_quantity_or_one_sentence(text, kind):
    try:
        value = units.read(text, kind, units.KINDS[kind] or None)
        assert abs(value) < float("inf")
    except units.UnitError as refused:
        assert str(refused).isprintable() and 10 < len(str(refused)) < 400


DATES = ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M:%S", "%d.%m.%Y %H:%M", "%Y/%m/%d %H:%M", "%m/%d/%Y %I:%M %p"]


@FIXED
@given(st.datetimes(datetime.datetime(1951, 1, 1), datetime.datetime(2099, 12, 31)), st.sampled_from(DATES))
def test_dates_are_read_as_python_writes_them(tmp_path, when, form):
    when = when.replace(second=0, microsecond=0)
    place = folder(tmp_path / "study", rows({"started": when.strftime(form)}))
    assert study.open_study(place).cuts["started"].iloc[0] == when


def sheet(place, fill):
    """A study whose log is a workbook that `fill(sheet)` has changed."""
    folder(place)
    (place / "cuts.csv").unlink()
    book = openpyxl.Workbook()
    book.active.title = "cuts"
    names = [head.partition(" ")[0] for head in HEAD.split(",")]
    book.active.append(HEAD.split(","))
    book.active.append([float(CUT[n]) if CUT.get(n, "").isdigit() else CUT.get(n) for n in names])
    fill(book.active)
    book.save(place / "cuts.xlsx")
    return place


def test_a_title_above_the_head_is_said_column_by_column(tmp_path):
    def fill(log):
        log.insert_rows(1)
        log["A1"] = "Cuts of March"
        log.merge_cells("A1:T1")

    said = lines(study.check(sheet(tmp_path / "study", fill)))
    assert 'error: cuts.xlsx [cuts], row 1, column cut: the column is missing; add a column "cut"' in said
    assert "warning: cuts.xlsx [cuts], row 1: column 2 has cells but no head, and is left alone; merged heads name " \
           "only their first column" in said  # fmt: skip


def test_a_date_kept_as_a_number_is_refused_with_its_row(tmp_path):
    place = sheet(tmp_path / "study", lambda log: log.__setitem__("B2", 46083.5))
    assert lines(study.check(place)) == [
        'error: cuts.xlsx [cuts], row 2, column started: "46083.5" is not a date; write it as 2026-03-02 or '
        "2026-03-02T14:30"
    ]


def test_a_sheet_that_claims_a_million_rows_is_read_for_what_it_holds(tmp_path):
    place = sheet(tmp_path / "study", lambda log: log.cell(1_048_576, 20, "far away"))
    said = lines(study.check(place))
    assert "error: cuts.xlsx [cuts], row 1048576, column cut: empty; a cut needs its number" in said


def test_bands_with_everything_wrong_are_said_at_once(tmp_path):
    bands = BANDS + "B1,s9,saw7,2026-13-01,soon,melted,x\n"
    said = lines(study.check(folder(tmp_path / "study", bands=bands)))
    assert [line.partition(": ")[2].partition(":")[0] for line in said] == [
        f"bands.csv, row 4, column {column}" for column in ("fitted", "removed", "end", "stock", "machine", "band")
    ]
