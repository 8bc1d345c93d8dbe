"""What a slip of the pen once turned into another number, in silence: now read as it was meant, or one line.

Feet, inches and raised digits: arithmetic by hand. Times of a workbook: what the CSV saved from the same sheet says.
"""

import datetime

import openpyxl
import pytest
from bandtrial import study, units
from study_folders import CUT, HEAD, NAMES, folder, lines, rows

INCH = 25.4


def not_added(text: str, step: str, sample: str = "5 ft 3 in") -> str:
    return (f'"{text}" can\'t be added up, {step} is no part of what stands before it; write one number, or steps that '
            f"grow smaller, as in {sample}")  # fmt: skip


@pytest.mark.parametrize(
    ("text", "inches"),
    [("5'-6\"", 66), ("1'-2\"", 14), ("5' - 6 1/2\"", 66.5), ("5'-6-1/2\"", 66.5), ("5 ft. 3 in.", 63),
     ("5 ft, 3 in", 63), ("5 ft and 3 in", 63), ("1¹⁄₂ in", 1.5), ("2 ½ in", 2.5), ("2-1/2\"", 2.5)],
)  # fmt: skip
def test_feet_and_inches_as_they_are_written(text, inches):
    assert units.read(text, "length") == pytest.approx(inches * INCH, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        ("5 in, 3 in", "length", not_added("5 in, 3 in", "3 in")),
        ("5 in 3 ft", "length", not_added("5 in 3 ft", "3 ft")),
        ("5 ft 15 in", "length", not_added("5 ft 15 in", "15 in")),
        ("2 min 90 s", "time", not_added("2 min 90 s", "90 s", "2 min 30 s")),
        ("1²", "length", '"²" is not a unit of length known here: use in, ft, thou, mm, cm or m'),
        ("1² in", "length", '"² in" is not a unit of length known here: use in, ft, thou, mm, cm or m; did you mean '
                            '"in"?'),
        ("⑫ in", "length", '"⑫ in" is not a length; write a number with a unit, such as "5/8 in" or "16 mm"'),
    ],
)  # fmt: skip
def test_what_is_no_length_is_refused(text, kind, message):
    with pytest.raises(units.UnitError) as refused:
        units.read(text, kind)
    assert str(refused.value) == message


def test_a_raised_digit_behind_a_unit_is_its_power():
    assert units.read("3 in²", "area") == units.read("3 in2", "area")
    with pytest.raises(units.UnitError, match=r'^"1²" is not a number$'):
        units.number("1²")


NOT_LEFT_OUT = ("no", "No", "0", "FALSE", "n/a", "N/A", "none", "-", "nein", "keep", "")


@pytest.mark.parametrize("word", NOT_LEFT_OUT)
def test_an_exclude_that_says_no_keeps_the_cut(tmp_path, word):
    opened = study.open_study(folder(tmp_path / "study", rows({"exclude": word}, {"exclude": "clamp slipped"})))
    assert opened.cuts["exclude"].tolist() == ["", "clamp slipped"]
    assert opened.problems == ()


@pytest.mark.parametrize("word", ["yes", "x", "1", "clamp slipped", "no coolant"])
def test_any_other_word_leaves_it_out(tmp_path, word):
    assert study.open_study(folder(tmp_path / "study", rows({"exclude": word}))).cuts["exclude"].tolist() == [word]


def test_what_was_not_measured_is_empty_and_what_is_needed_is_asked_for(tmp_path):
    place = folder(tmp_path / "study", rows({"motor_power": "n/a", "feed_rate": "-"}, {"cut_time": "?"}))
    assert lines(study.check(place)) == ['error: cuts.csv, row 3, column cut_time: "?" says nothing; a cut needs its '
                                         "cut time"]  # fmt: skip


def test_1_500_between_semicolons_is_asked_about(tmp_path):
    """Where decimals have commas, 1.500 is 1500; where they have points, 1.5."""
    commas = rows({"work_thickness": "1.500", "cut_travel": "10X0"}).replace(",", ";").replace("X", ",")
    assert lines(study.check(folder(tmp_path / "commas", commas))) == [
        'error: cuts.csv, row 2, column work_thickness: "1.500" can mean 1,5 or 1500 where semicolons separate the '
        "cells; write it as one of these"
    ]
    points = rows({"work_thickness": "1.500", "cut_travel": "10.0"}).replace(",", ";")
    opened = study.open_study(folder(tmp_path / "points", points))
    assert opened.cuts["work_thickness"].tolist() == [1.5 * INCH]


CLOCKS = [  # what was typed, what the spreadsheet keeps, how it shows it, minutes of the CSV with the same text
    ("0:05:00", datetime.time(0, 5), "h:mm:ss", 5.0),
    ("0:05", datetime.time(0, 5), "h:mm", 5 / 60),
    ("12:40", datetime.time(12, 40), "h:mm", 12 + 40 / 60),
    ("0:12:40", datetime.time(0, 12, 40), "h:mm:ss", 12 + 40 / 60),
    ("1:02:30", datetime.time(1, 2, 30), "[h]:mm:ss", 62.5),
    ("05:00", datetime.time(0, 5), "mm:ss", 5.0),
]


def workbook(place, *cells):
    """A study whose log is a workbook with these cut times, each (value, number format)."""
    folder(place)
    (place / "cuts.csv").unlink()
    book = openpyxl.Workbook()
    book.active.title = "cuts"
    book.active.append(HEAD.split(","))
    for n, (value, form) in enumerate(cells, start=1):
        cut = {**CUT, "cut": n, "cut_time": None, "feed_rate": None}
        book.active.append([cut.get(name) for name in NAMES])
        at = book.active.cell(n + 1, NAMES.index("cut_time") + 1)
        at.value, at.number_format = value, form
    book.save(place / "cuts.xlsx")
    return place


@pytest.mark.parametrize(("typed", "kept", "form", "minutes"), CLOCKS)
def test_a_time_in_a_workbook_is_that_of_its_csv(tmp_path, typed, kept, form, minutes):
    book = study.open_study(workbook(tmp_path / "book", (kept, form)))
    plain = study.open_study(folder(tmp_path / "plain", rows({"cut_time": typed, "feed_rate": ""})))
    assert book.cuts["cut_time"].tolist() == pytest.approx(plain.cuts["cut_time"].tolist(), rel=1e-12)
    assert book.cuts["cut_time"].tolist() == pytest.approx([minutes], rel=1e-12)


def test_times_that_show_seconds_tell_how_the_others_of_the_column_are_meant(tmp_path):
    """12:40:00 alone was typed as 12:40; beside 0:05:12, as 12:40:00."""
    alone = workbook(tmp_path / "alone", (datetime.time(1, 30), "h:mm:ss"))
    beside = workbook(tmp_path / "beside", (datetime.time(1, 30), "h:mm:ss"), (datetime.time(0, 5, 12), "h:mm:ss"))
    assert study.open_study(alone).cuts["cut_time"].tolist() == [1.5]
    assert study.open_study(beside).cuts["cut_time"].tolist() == [90.0, 5.2]
    assert lines(study.check(beside)) == [
        "warning: cuts.xlsx [cuts], row 2, column cut_time: 01:30:00 is a time of day in the spreadsheet, read as "
        "90 min 0 s; a plain number is safer",
        "warning: cuts.xlsx [cuts], row 3, column cut_time: 00:05:12 is a time of day in the spreadsheet, read as "
        "5 min 12 s; a plain number is safer",
    ]
