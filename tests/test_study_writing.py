"""Saving: a cut is on disk once, in the log's own form, or refused in words with nothing changed."""

import json
import multiprocessing
import os
import platform
import re
import shutil
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from bandtrial import disk, study
from bandtrial.study import files
from bandtrial.study.writing import keeping
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from study_folders import BANDS, HEAD, TOML, folder, lines, rows

CUT = {"machine": "saw1", "band": "B1", "material": "plate", "work_thickness": "1 in", "cut_travel": "254 mm",
       "band_speed": 200, "feed_rate": 5.0, "cut_time": "2:00"}  # fmt: skip
"""The same cut as `study_folders.CUT`, as a form might hand it over: 254 mm is 10 in, 2:00 is 120 s."""


@pytest.fixture
def place(tmp_path):
    return folder(tmp_path / "study", rows({}, {}))


def refused(place: Path, values: dict) -> str:
    before = (place / "cuts.csv").read_bytes()
    with pytest.raises(study.StudyError) as error:
        study.append_cut(place, values)
    assert (place / "cuts.csv").read_bytes() == before
    return str(error.value)


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


def test_a_last_line_that_was_cut_off_is_put_aside_not_lost(place):
    whole = (place / "cuts.csv").read_bytes()
    (place / "cuts.csv").write_bytes(whole + b"3,2026-03-0")
    assert study.append_cut(place, CUT).cut == "3"
    assert (place / "cuts.csv").read_bytes().startswith(whole + b"3,,saw1,")
    assert (place / ".bandtrial/cuts.csv.cutoff").read_bytes() == b"3,2026-03-0\n"


def test_a_damaged_log_is_not_written_to(place):
    (place / "cuts.csv").write_text(rows({"note": "x"}).replace("x", '"x') + "2,,saw1\n")
    assert refused(place, CUT) == (
        "error: cuts.csv: can't be split into rows after row 1, a quote mark is out of place; mend that first "
        "(bandtrial check shows it), nothing was saved"
    )


def test_what_another_program_changed_in_between_is_kept(place):
    study.append_cut(place, CUT)
    text = (place / "cuts.csv").read_text().replace("note", "note,room").replace("\n1,", "\n101,")
    (place / "cuts.csv").write_text(text)
    assert study.append_cut(place, {**CUT, "room": "17 C"}).cut == "102"
    assert (place / "cuts.csv").read_text() == text + "102,,saw1,B1,plate,,1,10,,,200,5,,120,,,,,,,17 C\n"


def test_a_cut_that_another_program_lost_is_noticed_and_can_be_put_back(place):
    old = (place / "cuts.csv").read_bytes()
    study.append_cut(place, {**CUT, "note": "=1"})
    study.append_cut(place, CUT)
    saved = (place / "cuts.csv").read_bytes()
    (place / "cuts.csv").write_bytes(old)  # a spreadsheet that had it open saves its older copy
    when = [json.loads(line)[1] for line in (place / ".bandtrial/cuts.csv.journal").read_text().splitlines()]
    assert lines(study.check(place)) == [
        f"warning: cuts.csv, cut: cut {n}, saved {at}, is no longer in the file; another program may have saved an "
        "older copy. study.restore_cuts(folder) puts it back, study.forget_cuts(folder) lets it go"
        for n, at in zip((3, 4), when, strict=True)
    ]
    assert [one.cut for one in study.restore_cuts(place)] == ["3", "4"]
    assert (place / "cuts.csv").read_bytes() == saved
    (place / "cuts.csv").write_bytes(old)
    assert study.forget_cuts(place) == ["3", "4"]
    assert lines(study.check(place)) == []


@pytest.mark.parametrize("mark", [".~lock.cuts.csv#", "~$cuts.csv"])
def test_a_log_open_in_a_spreadsheet_is_not_written_to(place, mark):
    (place / mark).touch()
    assert refused(place, CUT) == (
        f"error: cuts.csv: is open in a spreadsheet program, which left {mark} beside it; nothing was saved. Close "
        f"it there and save again; if no program has it open, delete {mark}"
    )


@pytest.mark.parametrize("name", ["cuts.csv", ".bandtrial"])
def test_nothing_is_written_outside_the_folder(place, name):
    outside = place.parent / "outside"
    if name == "cuts.csv":
        shutil.move(place / name, outside)
    else:
        outside.mkdir()
    (place / name).symlink_to(outside)
    with pytest.raises(study.SaveError) as error:
        study.append_cut(place, CUT)
    assert "link that leads out of the study folder" in str(error.value)
    assert outside.is_file() or list(outside.iterdir()) == []


@pytest.mark.parametrize("name", ["journal", "lock", "holder", "waiting", "cutoff", "bak"])
def test_nothing_kept_is_written_through_a_link(place, name):
    """The journal was once followed to wherever it led."""
    (place / ".bandtrial").mkdir()
    outside = place.parent / "outside"
    outside.write_text("somebody's own")
    (place / f".bandtrial/cuts.csv.{name}").symlink_to(outside)
    assert refused(place, CUT) == (
        f"error: .bandtrial/cuts.csv.{name}: is a link, or no file, and is not written to; nothing was saved. Delete "
        "it and save again"
    )
    assert outside.read_text() == "somebody's own"
    (place / f".bandtrial/cuts.csv.{name}").unlink()
    assert study.append_cut(place, CUT).cut == "3"


def test_a_link_put_there_meanwhile_is_not_followed(place):
    outside = place.parent / "outside"
    outside.write_text("own\n")
    (place / "link").symlink_to(outside)
    with pytest.raises(OSError):
        disk.append_bytes(place / "link", b"more", follow=False)
    assert outside.read_text() == "own\n"
    disk.append_bytes(place / "link", b"more")
    assert outside.read_text() == "own\nmore"


def test_a_journal_that_is_a_link_is_not_read(place):
    study.append_cut(place, CUT)
    (place / ".bandtrial/cuts.csv.journal").rename(place / "elsewhere")
    (place / ".bandtrial/cuts.csv.journal").symlink_to(place / "elsewhere")
    assert files.remembered(place, "cuts.csv") == {}


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_spare_copies_of_a_killed_writer_go_with_the_next_cut(place, form):
    if form == "xlsx":
        book(place)
    left = [place / f".cuts.{form}.4711.new", place / f"cuts.{form}.0123abcd.new",
            place / f".bandtrial/cuts.{form}.bak.0123abcd.new"]  # fmt: skip
    own = [place / f"cuts.{form}.new", place / f"cuts.{form}.spring.new"]
    (place / ".bandtrial").mkdir()
    for path in left + own:
        path.touch()
    study.append_cut(place, CUT)
    assert [path.exists() for path in left + own] == [False, False, False, True, True]


def test_an_edit_that_keeps_size_and_time_is_noticed(place):
    """Another program writes over the log: as long as before, and with the time it had."""
    study.append_cut(place, CUT)
    log = place / "cuts.csv"
    state, text = log.stat(), log.read_text()
    log.write_text(text.replace("\n3,", "\n4,"))
    os.utime(log, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert log.stat().st_size == state.st_size
    assert study.append_cut(place, CUT).cut == "5"
    assert study.open_study(place).cuts["cut"].tolist() == ["1", "2", "4", "5"]


def test_an_edit_of_the_shop_that_keeps_size_and_time_is_noticed(place):
    study.append_cut(place, CUT)
    bands = place / "bands.csv"
    state = bands.stat()
    bands.write_text(bands.read_text().replace("B1,", "B7,"))
    os.utime(bands, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert refused(place, CUT) == (
        'error: cuts.csv, row 5, column band: no band "B1" in bands.csv; did you mean "B7"? (there: B2, B7)'
    )


HOLD = """
import sys, time
from bandtrial.study.writing.keeping import only_writer
from pathlib import Path
with only_writer(Path(sys.argv[1]), "cuts.csv"):
    print("held", flush=True)
    time.sleep(60)
"""


def test_who_waits_for_another_writer_is_told_who_that_is(place, monkeypatch):
    assert keeping.WAIT == 10.0
    monkeypatch.setattr(keeping, "WAIT", 1.0)
    before = time.time()
    with subprocess.Popen([sys.executable, "-c", HOLD, place], stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout.readline() == "held\n"
        said = refused(place, CUT)
        other.kill()
    words = re.fullmatch(
        r"error: cuts.csv: another program has been saving for 1 s: "
        rf"process {other.pid} on {re.escape(platform.node())} "
        r"since (\d{4}-\d\d-\d\d \d\d:\d\d:\d\d); nothing was saved, try again, or end that program", said)  # fmt: skip
    assert words, said
    assert before - 2 < datetime.fromisoformat(words[1]).timestamp() < time.time()
    assert study.append_cut(place, CUT).cut == "3"  # a killed writer holds nothing


def _append(place: Path, count: int, numbers) -> None:
    numbers.put([study.append_cut(place, CUT).cut for _ in range(count)])


def test_two_writers_at_once_lose_nothing(place):
    numbers = multiprocessing.get_context("spawn").Queue()
    writers = [multiprocessing.get_context("spawn").Process(target=_append, args=(place, 15, numbers)) for _ in "ab"]
    for writer in writers:
        writer.start()
    saved = [cut for _ in writers for cut in numbers.get(timeout=120)]
    for writer in writers:
        writer.join()
    assert sorted(map(int, saved)) == list(range(3, 33))
    assert study.open_study(place).cuts["cut"].tolist() == [str(n) for n in range(1, 33)]


BUSY = """
import sys, time
from bandtrial.study.writing.keeping import only_writer
from pathlib import Path
while True:
    with only_writer(Path(sys.argv[1]), "cuts.csv"):
        time.sleep(0.3)
        print("held", flush=True)
"""


def test_who_saves_all_the_time_leaves_others_their_turn(place):
    """The lock was taken again at once, and who waited for it found it free in a try of fifty."""
    with subprocess.Popen([sys.executable, "-c", BUSY, place], stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout.readline() == "held\n"
        for n in range(3, 9):
            assert study.append_cut(place, CUT).cut == str(n)
        other.kill()
    (place / ".bandtrial/cuts.csv.waiting").touch()  # of a writer that was killed while it waited
    study.append_cut(place, CUT)
    assert not (place / ".bandtrial/cuts.csv.waiting").exists()


def test_what_another_writer_takes_away_meanwhile_is_no_refusal(place, monkeypatch):
    def taken_away(path):
        raise FileNotFoundError(2, "No such file or directory", str(path))

    assert study.append_cut(place, CUT).cut == "3"
    monkeypatch.setattr(keeping, "plain_file", taken_away)
    assert study.append_cut(place, CUT).cut == "4"


def book(place: Path, **cells) -> Path:
    """The study of `place` with a workbook for its cuts; further cells by their address."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "cuts"
    for line in (place / "cuts.csv").read_text().splitlines():
        sheet.append([float(cell) if cell.isdigit() else cell or None for cell in line.split(",")])
    sheet["A2"].comment = openpyxl.comments.Comment("the first of the day", "shift")
    for address, value in cells.items():
        sheet[address] = value
    workbook.save(place / "cuts.xlsx")
    (place / "cuts.csv").unlink()
    return place / "cuts.xlsx"


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
