"""Is that so? What is asked of a log whose cells can all be read, word for word, and that clean logs are left alone.

`benchmarks/planted_slips.py` plants 35 kinds of slips in 20 logs; here one for each way of noticing is planted in the
demo shop, which is clean.
"""

import csv
import io
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial import study
from bandtrial.__main__ import main
from bandtrial.study import draft
from bandtrial.study.files import RawTable
from bandtrial.study.plausible.entries import factor_between, swapped
from study_folders import BANDS, folder, lines, rows

DEMO = Path(__file__).parents[1] / "trial_data/demo_shop"
THIN = Path(__file__).parents[1] / "trial_data/thin_shop"


def table(name: str) -> list[dict[str, str]]:
    with (DEMO / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def planted(tmp_path, change, name="cuts.csv") -> Path:
    """The demo shop after change(rows) on one of its tables."""
    place = tmp_path / "study"
    shutil.copytree(DEMO, place)
    made = table(name)
    change(made)
    out = io.StringIO()
    writer = csv.DictWriter(out, list(made[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(made)
    (place / name).write_text(out.getvalue(), encoding="utf-8")
    return place


def put(row: int, **cells):
    """A change of cells of a row, as a spreadsheet counts it; names without their units."""

    def change(made):
        for name, cell in cells.items():
            head = next(head for head in made[0] if head.partition(" ")[0] == name)
            made[row - 2][head] = cell

    return change


@pytest.mark.parametrize("place", [DEMO, THIN])
def test_clean_logs_are_left_alone(place):
    assert study.check(place) == []


NEIGHBORS = "where the cuts before and after it have"
SLIPS = {  # what is planted, and what is said of it
    "inches under mm": (put(31, cut_travel="9.449"),
        f"question: cuts.csv, row 31, column cut_travel: 9.449 mm, {NEIGHBORS} 240.0 mm; inches and millimeters mixed "
        "up?"),
    "digits": (put(110, feed_force="320"),
        f"question: cuts.csv, row 110, column feed_force: 320 N, {NEIGHBORS} 230 N; digits in the wrong order?"),
    "a tenth of the power": (put(30, motor_power="0.1"),
        "question: cuts.csv, row 30, column motor_power: 0.1 kW is 10.1 times less than such cuts took before; a "
        "slipped decimal point? About 1.01 kW would fit"),
    "two digits of a time beside a set feed": (put(151, cut_time="76"),
        "question: cuts.csv, row 151, column cut_time: 76 s: at that the cut went 12 % slower than the cuts like it; "
        "digits in the wrong order? About 67.6 s would fit"),
    "two digits of the only other speed of a band": (put(146, band_speed="85"),
        "question: cuts.csv, row 146, column band_speed: 85 m/min, where the other cuts of its band in this material "
        "have 58 m/min; digits in the wrong order?"),
    "another band just before a change": (put(152, band="U7"),
        'question: cuts.csv, row 152, column band: "U7" on upright, where the cuts before and after are of U6; the '
        "right band?"),
    "beyond the machine": (put(110, feed_force="1900"),
        "warning: cuts.csv, row 110, column feed_force: 1900 N is outside the feed force of cutoff, 50 N to 900 N"),
    "minutes for seconds at a force": (put(110, cut_time="1.15"),
        "question: cuts.csv, row 110, column cut_time: 1.15 s: at that the cut went 60 times as fast as the cuts like "
        "it; minutes and seconds mixed up? About 69 s would fit"),
    "an offset": (put(60, started="2027-03-16T07:34+01:00"),
        'warning: cuts.csv, row 60, column started: "+01:00" is left out: times are read as the clock at the machine '
        "shows them"),
    "too early": (put(60, started="2027-03-15T13:45"),
        'question: cuts.csv, row 60, column started: "2027-03-15T13:45" is 40 min before the cut in row 59 can have '
        "ended (35 x 73 s); is that so?"),
    "twice": (lambda made: made.insert(40, {**made[39], "cut": "999"}),
        'question: cuts.csv, row 42, column cut: "999" is in all else the row 41, cut "40"; logged twice?'),
    "another band": (put(60, band="U2"),
        'question: cuts.csv, row 60, column band: "U2" on upright, where the cuts before and after are of U3; the '
        "right band?"),
    "before it was fitted": (put(2, started="2027-02-28T07:00"),
        'warning: cuts.csv, row 2, column started: "2027-02-28T07:00" is before band U1 was fitted, 2027-03-01'),
    "a meter that stands still": (lambda made: [row.update({"motor_power [kW]": "1.166"}) for row in made[20:32]],
        "question: cuts.csv, row 22, column motor_power: 1.166 kW in 12 cuts in a row, to row 33, though these differ; "
        "does the meter stand still?"),
}  # fmt: skip


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_said_with_its_place_and_what_was_typed(tmp_path, name):
    change, line = SLIPS[name]
    said = lines(study.check(planted(tmp_path, change)))
    assert line in said
    assert len(said) <= 2, said


def test_the_last_cut_of_a_setting_is_held_against_the_two_before(tmp_path):
    """10 in, 10 in, 1 in, and then another speed; no other cut says which of them is usual."""
    own, other = {"feed_rate": ""}, {"feed_rate": "", "band_speed": "150", "cut_travel": "6"}
    place = folder(tmp_path / "study", rows(own, own, {**own, "cut_travel": "1"}, other, other))
    assert lines(study.check(place)) == [
        f"question: cuts.csv, row 4, column cut_travel: 1 in, {NEIGHBORS} 10 in; a slipped decimal point?"
    ]


def test_two_bands_at_once_on_a_machine(tmp_path):
    place = planted(tmp_path, put(3, fitted="2027-03-05"), "bands.csv")
    assert lines(study.check(place)) == [
        "question: bands.csv, row 3, column fitted: 2027-03-05, when band U1 was still on upright, removed 2027-03-08; "
        "two bands at once?"
    ]


def test_the_last_cut_of_another_century(tmp_path):
    place = planted(tmp_path, lambda made: made[-1].update(started="2099" + made[-1]["started"][4:]))
    last = table("cuts.csv")[-1]["started"]
    assert lines(study.check(place)) == [
        f'question: cuts.csv, row {len(table("cuts.csv")) + 1}, column started: "2099{last[4:]}" is read as '
        f"2099{last[4:10]}, far from the other cuts, 2027-03-01 to 2027-04-01; the right year?"
    ]


def test_a_log_of_which_most_is_left_out(tmp_path):
    place = folder(tmp_path / "study", rows(*[{"exclude": "see above"}] * 3, {}))
    assert lines(study.check(place)) == [
        "question: cuts.csv, exclude: 3 of 4 cuts are left out, each with a reason in exclude; is that meant? An empty "
        "cell or no keeps a cut"
    ]


def test_a_chip_that_no_tooth_takes_needs_no_other_cut(tmp_path):
    """One cut: 10 in in 1 s at 200 ft/min and 8 tpi is 794 um a tooth."""
    place = folder(tmp_path / "study", rows({"cut_time": "1", "feed_rate": ""}))
    assert lines(study.check(place)) == [
        "warning: cuts.csv, row 2, column cut_time: 1 s: with its travel and speed each tooth took 794 µm, and saw "
        "teeth take 0.05 to 150; check time, travel, speed and their units"
    ]


def test_questions_stop_no_study_and_are_counted(tmp_path, capsys):
    place = planted(tmp_path, put(110, feed_force="320"))
    assert study.open_study(place).problems[0].severity == "question"
    assert main(["check", str(place)]) == 0
    assert capsys.readouterr().out == f"{place}: no errors, no warnings, 1 question\n"


def test_a_draft_is_held_against_the_study_before_it_is_saved():
    opened = study.open_study(DEMO)
    desk = draft.Desk(DEMO, opened)
    cells = {"cut": "900", "machine": "cutoff", "band": "C3", "material": "frame_a36", "work_thickness [mm]": "30",
             "cut_travel [mm]": "240", "band_speed [m/min]": "83", "feed_force [N]": "230"}  # fmt: skip
    said = {}
    for typed in ("70", "1.15", "700"):
        one = RawTable("this cut", [*cells, "cut_time [s]"], pd.DataFrame([[*cells.values(), typed]], dtype=object),
                       np.array([1]))  # fmt: skip
        sheet, problems = desk.check(one)
        assert not [problem for problem in problems if problem.severity == "error"]
        said[typed] = lines(desk.questions(sheet))
    assert said["70"] == []
    assert len(said["1.15"]) == 1 and "minutes and seconds mixed up?" in said["1.15"][0]
    assert len(said["700"]) == 1 and "a slipped decimal point?" in said["700"][0]


def test_slips_that_turn_one_number_into_another():
    """60 s a minute, 25.4 mm an inch, 4.4482 N a pound: definitions."""
    assert factor_between(1 / 60, "time") == "minutes and seconds mixed up"
    assert factor_between(4.45, "force") == "lbf and N mixed up"
    assert factor_between(2.0, "force") == ""
    assert swapped("0.75", "0.57") and not swapped("0.75", "7.50") and not swapped("75", "75")


def test_names_of_a_band_alone_say_nothing(tmp_path):
    assert study.check(folder(tmp_path / "study", rows({}, {}, {}), bands=BANDS)) == []
