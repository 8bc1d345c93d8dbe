"""Tables as shops have them, brought into the log: workbooks as they come, titles, heads and names of their own."""

import io

import openpyxl
import pytest
from bandtrial import study
from bandtrial.study import draft, editing, matching
from bandtrial.study.matching import head_parts
from study_folders import BANDS, TOML, folder, lines, rows

ONE = TOML[: TOML.index("[machines.saw2]")] + TOML[TOML.index("[band_stock") :].replace(
    "[materials.plate]\n", '[materials.plate]\nname = "A36 plate"\n')  # fmt: skip
ONE_BAND = BANDS.splitlines()[0] + "\n" + BANDS.splitlines()[1] + "\n"
HEADS = ["Blade", "Grade", "Thickness (in)", "Length of cut", "SFPM", "Weight lbs", "Time, sec", "Operator"]
BODY = [["B1", "A36 plate", 1, 10, 200, 20, 120, "JD"], ["b1", "PLATE", "1 1/2", "11", 200, 20, 150, ""]]


def workbook(sheet: str, above: list[list], heads=HEADS, body=BODY) -> bytes:
    out, book = io.BytesIO(), openpyxl.Workbook()
    book.active.title = sheet
    for row in [*above, heads, *body]:
        book.active.append(row)
    book.create_sheet("Notes").append(["nothing of use"])
    book.save(out)
    return out.getvalue()


def csv_text(above: list[list], separator: str = ",") -> bytes:
    whole = [*above, HEADS, *BODY]
    cells = [[f'"{cell}"' if separator in str(cell) else str(cell) for cell in row] for row in whole]
    return "\n".join([*map(separator.join, cells), ""]).encode()


def read(name: str, data: bytes, place) -> tuple[matching.RawTable, draft.Sheet, list]:
    table, opened = matching.read_table(name, data), study.open_study(place)
    columns = matching.match(table.heads)
    units = [matching.unit_of(h, c, "us") if c else "" for h, c in zip(table.heads, columns, strict=True)]
    made = matching.completed(matching.matched(table, columns, units), opened)
    return made, *draft.Desk(place, opened).check(made)


FILES = {
    "a workbook as it comes": ("log.xlsx", workbook("Sheet1", [])),
    "a title above the heads": ("log.xlsx", workbook("Sheet1", [["Cuts of March"], []])),
    "a sheet of another name": ("log.xlsx", workbook("Saw Log 2026", [])),
    "a CSV": ("log.csv", csv_text([])),
    "a CSV with a title": ("log.csv", csv_text([["Cuts of March"], [""]])),
    "tabs": ("paste.txt", csv_text([], "\t")),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_a_shops_own_table_comes_in(tmp_path, name):
    place = folder(tmp_path / "study", rows({}), bands=ONE_BAND, toml=ONE)
    _, sheet, problems = read(*FILES[name], place)
    assert not [problem for problem in problems if problem.severity == "error"], lines(problems)
    assert sheet.frame["cut"].tolist() == ["2", "3"]
    assert sheet.frame[["machine", "band", "material"]].to_numpy().tolist() == [["saw1", "B1", "plate"]] * 2
    assert sheet.frame["band_speed"].tolist() == pytest.approx([60.96] * 2, rel=1e-12)
    assert sheet.frame["feed_force"].tolist() == pytest.approx([20 * 4.4482216] * 2, rel=1e-7)  # lbf, by definition
    assert sheet.frame["cut_time"].tolist() == [2.0, 2.5]
    assert sheet.frame["work_thickness"].tolist() == pytest.approx([25.4, 38.1], rel=1e-12)


def test_its_cuts_are_added_with_numbers_of_their_own(tmp_path):
    place = folder(tmp_path / "study", rows({}), bands=ONE_BAND, toml=ONE)
    made, _, _ = read(*FILES["a workbook as it comes"], place)
    assert editing.log_table(place, made) == 2
    cuts = study.open_study(place).cuts
    assert cuts["cut"].tolist() == ["1", "2", "3"]
    assert cuts["material"].tolist() == ["plate"] * 3


def test_rows_keep_the_numbers_of_their_file(tmp_path):
    place = folder(tmp_path / "study", rows({}), bands=ONE_BAND, toml=ONE)
    bad = [*BODY[:1], ["B9", *BODY[1][1:]]]
    for name, data in (("log.xlsx", workbook("Sheet1", [["Cuts of March"]], body=bad)),
                       ("log.csv", csv_text([["Cuts of March"]]).replace(b"b1,", b"B9,"))):  # fmt: skip
        _, _, problems = read(name, data, place)
        assert [problem.row for problem in problems if problem.severity == "error"] == [4]


def test_a_workbook_without_a_table_says_so():
    book, out = openpyxl.Workbook(), io.BytesIO()
    book.save(out)
    with pytest.raises(study.StudyError) as refused:
        matching.read_table("empty.xlsx", out.getvalue())
    assert lines(refused.value.problems) == [
        "error: empty.xlsx [Sheet]: has no head: the first row should name the columns"
    ]


PARTS = [
    ("SFPM", ("band_speed", "SFPM")), ("Weight lbs", ("weight", "lbs")), ("Time (min)", ("time", "min")),
    ("Cut time, min.", ("cut_time", "min.")), ("Length of cut", ("length_of_cut", None)), ("HP", ("motor_power", "HP")),
    ("Thickness in", ("thickness", "in")), ("Feed in/min", ("feed", "in/min")), ("Area sq in", ("area", "sq in")),
    ("cut_travel [in]", ("cut_travel", "in")), ("band", ("band", None)), ("Note min", ("note_min", None)),
    ("Feed rate", ("feed_rate", None)),
]  # fmt: skip


@pytest.mark.parametrize(("head", "parts"), PARTS)
def test_a_head_says_its_unit_in_brackets_behind_its_name_or_alone(head, parts):
    assert head_parts(head) == parts


def test_with_two_machines_none_is_guessed(tmp_path):
    _, _, problems = read(*FILES["a CSV"], folder(tmp_path / "study", rows({})))
    assert 'error: log.csv, row 1, column machine: the column is missing; add a column "machine"' in lines(problems)
