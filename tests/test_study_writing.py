"""Saving: a cut is on disk once, in the log's own form, or refused in words with nothing changed; a new study."""

import openpyxl
import pytest
from bandtrial import study
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from study_folders import AS_TYPED as CUT
from study_folders import BANDS, HEAD, TOML, book, folder, lines, refused, rows


@pytest.fixture
def place(tmp_path):
    return folder(tmp_path / "study", rows({}, {}))


def test_a_cut_is_saved_in_the_units_of_the_heads_and_gets_the_next_number(place):
    before = (place / "cuts.csv").read_text()
    saved = study.append_cut(place, {**CUT, "note": "first"})
    assert (saved.cut, saved.row, saved.problems) == ("3", 4, ())
    assert (place / "cuts.csv").read_text() == before + "3,,saw1,B1,plate,,1,10,,,200,5,,120,,,,,,first\n"
    assert study.open_study(place).cuts["cut"].tolist() == ["1", "2", "3"]


def test_a_key_may_name_the_unit_of_a_number(place):
    study.append_cut(place, {**CUT, "cut_time [min]": 2.0} | {"cut_time": None})
    assert study.open_study(place).cuts["cut_time"].tolist() == [2.0, 2.0, 2.0]


def test_warnings_come_back_with_the_saved_cut(place):
    saved = study.append_cut(place, {**CUT, "cut_time": "4:00"})
    assert lines(saved.problems) == [
        "warning: cuts.csv, row 4, column cut_time: 240 s is read as 4 min 0 s; with its cut travel that is a feed "
        "rate of 2.5 in/min, but feed_rate says 5 in/min; check time, travel and feed rate"
    ]


REFUSED = [
    ({"band": "B9"}, 'error: cuts.csv, row 4, column band: no band "B9" in bands.csv; did you mean "B2"? (there: B1, '
                     "B2)"),
    ({"cut": 2}, 'error: cuts.csv, row 4, column cut: "2" is already the number of a cut; 3 is free'),
    ({"cut": "=1"}, 'error: cuts.csv, cut: "=1" may not begin with ='),
    ({"cut_time": None}, "error: cuts.csv, row 4, column cut_time: empty; a cut needs its cut time"),
    ({"cut_time": float("inf")}, "error: cuts.csv, cut_time: inf is not a number that can be used; write a finite one"),
    ({"work_thickness": "1,250"}, 'error: cuts.csv, work_thickness: "1,250" can mean 1.250 or 1250; write it as one '
                                  "of these"),
    ({"band_sped": 3}, 'error: cuts.csv, band_sped: has no column "band_sped"; add it to the head in the file, or '
                       "leave the value out (columns: band, band_speed, complete, coolant, cut, cut_time, cut_travel, "
                       "diameter, exclude, feed_force, feed_rate, machine, material, motor_power, note, pieces, "
                       'section, started, wall, work_thickness); did you mean "band_speed"?'),
    ({"Cut Time [s]": 3}, "error: cuts.csv, cut_time: is given twice"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "message"), REFUSED, ids=lambda value: str(value)[:25])
def test_a_cut_that_cannot_be_right_is_refused_and_nothing_is_saved(place, change, message):
    assert refused(place, CUT | change) == message


def test_a_fault_elsewhere_in_the_log_does_not_stop_logging(tmp_path):
    place = folder(tmp_path / "study", rows({"material": "unheard of"}))
    assert study.append_cut(place, CUT).cut == "2"


def test_several_cuts_are_saved_together_each_with_its_own_warnings(place):
    before = (place / "cuts.csv").read_bytes()
    saved = study.append_cuts(place, [CUT, {**CUT, "cut": "7", "cut_time": "4:00"}, CUT])
    assert [(one.cut, one.row, len(one.problems)) for one in saved] == [("3", 4, 0), ("7", 5, 1), ("8", 6, 0)]
    assert saved[1].problems[0].row == 5
    assert (place / "cuts.csv").read_bytes().startswith(before)
    assert (place / ".bandtrial/cuts.csv.bak").read_bytes() == before
    assert study.open_study(place).cuts["cut"].tolist() == ["1", "2", "3", "7", "8"]
    assert study.append_cuts(place, []) == []


def test_of_several_cuts_none_is_saved_where_one_is_wrong_and_all_faults_are_said(place):
    before = (place / "cuts.csv").read_bytes()
    with pytest.raises(study.StudyError) as error:
        study.append_cuts(place, [CUT, {**CUT, "band": "Q"}, {**CUT, "cut_time": -3}])
    assert str(error.value).splitlines() == [
        'error: cuts.csv, row 5, column band: no band "Q" in bands.csv (there: B1, B2)',
        "error: cuts.csv, row 6, column cut_time: -3 s is not a cut time; it must be more than 0",
    ]
    with pytest.raises(study.StudyError) as error:
        study.append_cuts(place, [{**CUT, "cut": "9"}, {**CUT, "cut": "2"}])
    assert str(error.value) == ('error: cuts.csv, row 5, column cut: "2" is already the number of a cut; 10 is free')
    assert (place / "cuts.csv").read_bytes() == before


FORMS = {
    "windows": (lambda text: text.replace("\n", "\r\n").encode(), b"\r\n"),
    "byte order mark": (lambda text: b"\xef\xbb\xbf" + text.encode(), b"\n"),
    "utf-16": (lambda text: text.encode("utf-16"), "\n".encode("utf-16-le")),
    "cp1252": (lambda text: text.replace("room", "60 °C").encode("cp1252"), b"\n"),
    "no last line end": (lambda text: text.encode().rstrip(b"\n"), b"\n"),
    "comments": (lambda text: b"# of the spring\n" + text.encode() + b"# half time\n", b"\n"),
    "semicolons, decimal commas": (lambda text: text.replace(",", ";").replace("1.5", "1,5").encode(), b"\n"),
    "own columns": (lambda text: text.replace("exclude", "Room [C]").replace("note", " Note ").encode(), b"\n"),
}  # fmt: skip


@pytest.mark.parametrize("name", FORMS)
def test_what_was_there_stays_as_it_was(tmp_path, name):
    make, end = FORMS[name]
    before = make(rows({"note": "room", "work_thickness": "1.5"}))
    place = folder(tmp_path / "study", before)
    saved = study.append_cut(place, {**CUT, "work_thickness": 1.75, "note": "warm"})
    after = (place / "cuts.csv").read_bytes()
    assert after.startswith(before)
    assert after.endswith(end)
    assert (place / ".bandtrial/cuts.csv.bak").read_bytes() == before
    cuts = study.open_study(place).cuts
    assert cuts["cut"].tolist() == ["1", saved.cut]
    assert cuts["work_thickness"].tolist() == [1.5 * 25.4, 1.75 * 25.4]
    assert cuts["note"].tolist()[1] == "warm"


def test_a_letter_the_encoding_lacks_is_refused(tmp_path):
    place = folder(tmp_path / "study", rows({"note": "60 °C"}).encode("cp1252"))
    assert refused(place, {**CUT, "note": "≥ 60"}) == (
        'error: cuts.csv: its encoding, cp1252, has no "≥"; save the file as UTF-8, or write the text without it; '
        "nothing was saved"
    )


TEXT = st.text(st.characters(codec="utf-8"), max_size=40)


@settings(derandomize=True, deadline=None, max_examples=40, suppress_health_check=list(HealthCheck))
@given(note=TEXT, thickness=st.floats(0.3, 20.0), decimal=st.sampled_from([",", ";"]))
def test_whatever_is_saved_reads_back_and_no_spreadsheet_runs_it(tmp_path, note, thickness, decimal):
    """A cell that begins with one of = + - @ is a formula to a spreadsheet, unless it is a number."""
    text = rows({"work_thickness": "1.5"})
    place = folder(tmp_path / "study", text if decimal == "," else text.replace(",", ";").replace("1.5", "1,5"))
    study.append_cut(place, {**CUT, "note": note, "work_thickness": thickness})
    cuts = study.open_study(place).cuts
    assert cuts["note"].iloc[-1] == " ".join(note.split())
    assert cuts["work_thickness"].iloc[-1] == pytest.approx(thickness * 25.4, rel=1e-11)  # 12 digits are kept
    last = (place / "cuts.csv").read_text().split("\n")[-2].split(decimal)
    assert not any(cell.lstrip('"').startswith(("=", "+", "-", "@")) for cell in last)


def test_numbers_are_not_defused():
    assert [study.defused(text) for text in ("-0.5", "+1,5", "=1", "@x", "-x", "x=1")] == [
        "-0.5", "+1,5", "'=1", "'@x", "'-x", "x=1"]  # fmt: skip


def test_undo_takes_the_last_cut_back_and_keeps_the_version_before(place):
    before = (place / "cuts.csv").read_bytes()
    study.append_cut(place, {**CUT, "note": "wrong band"})
    after = (place / "cuts.csv").read_bytes()
    taken = study.undo_cut(place, 3)
    assert (taken["cut"], taken["note"], taken["cut_time [s]"]) == ("3", "wrong band", "120")
    assert (place / "cuts.csv").read_bytes() == before
    assert (place / ".bandtrial/cuts.csv.bak").read_bytes() == after
    assert lines(study.check(place)) == []
    with pytest.raises(study.SaveError) as error:
        study.undo_cut(place, 7)
    assert str(error.value) == "error: cuts.csv: the last cut is 2, not 7; only the last can be taken out here"


def test_a_workbook_is_added_to_and_keeps_its_comments(place):
    path = book(place)
    before = path.read_bytes()
    saved = study.append_cut(place, {**CUT, "note": "=1+1"})
    assert (saved.cut, saved.row) == ("3", 4)
    assert (place / ".bandtrial/cuts.xlsx.bak").read_bytes() == before
    cuts = study.open_study(place).cuts
    assert (cuts["cut_time"].tolist(), cuts["note"].tolist()[-1]) == ([2.0, 2.0, 2.0], "=1+1")
    sheet = openpyxl.load_workbook(path)["cuts"]
    assert sheet["A2"].comment.text == "the first of the day"
    assert sheet["T4"].data_type == "s"  # a text, not a formula
    assert study.undo_cut(place)["cut"] == "3"
    assert study.open_study(place).cuts["cut"].tolist() == ["1", "2"]


def test_a_workbook_with_formulas_is_not_written_to(place):
    path = book(place, N2="=60*2")
    before = path.read_bytes()
    with pytest.raises(study.SaveError) as error:
        study.append_cut(place, CUT)
    assert str(error.value) == (
        "error: cuts.xlsx: holds formulas, and saving it from here would lose their stored values; type the cut in "
        "the spreadsheet, or turn the formulas into values; nothing was saved"
    )
    assert path.read_bytes() == before


@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_new_study_asks_for_what_it_needs_and_works_once_it_has_it(tmp_path, units):
    place = study.new_study(tmp_path / "deep" / "new", units)
    assert lines(study.check(place)) == [
        "error: study.toml, machines: missing; a study needs at least one [machines.NAME]",
        "error: study.toml, band_stock: missing; a study needs at least one [band_stock.NAME]",
        "error: study.toml, materials: missing; a study needs at least one [materials.NAME]",
        "error: study.toml, line 12, costs.machine_and_labor_per_hour: missing",
        "error: study.toml, line 12, costs.band_change_minutes: missing",
        "error: study.toml, line 12, costs.scrapped_piece: missing",
    ]
    template = (place / "study.toml").read_text()
    filled = "\n".join(line.removeprefix("# ") if " = " in line or line.startswith("# [") else line
                       for line in template.splitlines())  # fmt: skip
    (place / "study.toml").write_text(filled)
    with (place / "bands.csv").open("a") as bands:
        bands.write("B1,s8,saw1,,,in_service,\n")
    cut = study.append_cut(place, {**CUT, "band_speed": "200 ft/min", "feed_rate": "5 in/min"})
    assert lines(study.check(place)) == []
    assert (cut.cut, study.open_study(place).units) == ("1", units)


def test_a_new_study_overwrites_nothing(tmp_path):
    place = folder(tmp_path / "study")
    before = {path.name: path.read_bytes() for path in place.iterdir()}
    with pytest.raises(study.SaveError) as error:
        study.new_study(place)
    assert str(error.value).splitlines() == [
        f"error: {place / name}: is there already, and a new study overwrites nothing; name another folder"
        for name in ("study.toml", "bands.csv", "cuts.csv")
    ]
    assert {path.name: path.read_bytes() for path in place.iterdir()} == before
    assert (TOML.encode(), BANDS.encode()) == (before["study.toml"], before["bands.csv"])
    assert before["cuts.csv"].decode().startswith(HEAD)
