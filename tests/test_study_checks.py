"""What `check` says of a study, word for word, and that it says nothing of a sound one."""

import pytest
from bandtrial import study
from study_folders import BANDS, HEAD, TOML, folder, lines, rows


def said(tmp_path, *changes, head=HEAD, **files) -> list[str]:
    return lines(study.check(folder(tmp_path / "study", rows(*changes, head=head), **files)))


def test_nothing_is_said_of_a_sound_study(tmp_path):
    assert said(tmp_path, {}, {"band": "B2", "machine": "saw2", "feed_rate": "", "feed_force": "25"}) == []


CUTS = [
    ({"work_thickness": "1,234"}, ['error: cuts.csv, row 2, column work_thickness: "1,234" can mean 1.234 or '
                                   "1234; write it as one of these"]),
    ({"work_thickness": "abc"}, ['error: cuts.csv, row 2, column work_thickness: "abc" is not a length; write a '
                                 'number with a unit, such as "5/8 in" or "16 mm"']),
    ({"work_thickness": "nan"}, ['error: cuts.csv, row 2, column work_thickness: "nan" is not a length; write a '
                                 'number with a unit, such as "5/8 in" or "16 mm"']),
    ({"band_speed": "inf"}, ['error: cuts.csv, row 2, column band_speed: "inf" is not a speed; write a number '
                             'with a unit, such as "5 ft/min" or "5 m/min"']),
    ({"cut_travel": "1e12"}, ["error: cuts.csv, row 2, column cut_travel: 1e12 is not possible for a cut travel; "
                              "it runs from 0.000394 to 3937 in"]),
    ({"cut_time": "0"}, ["error: cuts.csv, row 2, column cut_time: 0 s is not a cut time; it must be more than 0"]),
    ({"motor_power": "-1"}, ["error: cuts.csv, row 2, column motor_power: -1 kW is not a motor power; it must "
                             "not be negative"]),
    ({"motor_power": "2"}, ["warning: cuts.csv, row 2, column motor_power: 2 kW is more than the motor power of "
                            "saw1, 1.5 kW"]),
    ({"pieces": "2.5"}, ["error: cuts.csv, row 2, column pieces: 2.5 is not a number of pieces; it must be "
                         "whole, 1 to 1000000"]),
    ({"coolant": "spray"}, ['error: cuts.csv, row 2, column coolant: "spray" is not one of flood, mist, air, '
                            'dry; did you mean "mist"?']),
    ({"complete": "maybe"}, ['error: cuts.csv, row 2, column complete: "maybe" is neither yes nor no']),
    ({"machine": "swa1"}, ['error: cuts.csv, row 2, column machine: no machine "swa1" in study.toml; did you '
                           'mean "saw1"? (there: saw1, saw2)']),
    ({"machine": "saw2", "feed_force": "20"}, ["warning: cuts.csv, row 2, column machine: band B1 cuts on saw2, "
                                               "but bands.csv has it on saw1"]),
    ({"machine": "saw2", "band": "B2"}, ['warning: cuts.csv, feed_force: none is logged on "saw2", so its cuts are '
                                         "judged by their times, as those of a hand feed; once a cut has one, by force",
                                         "warning: cuts.csv, row 2, column feed_force: empty, but saw2 feeds by "
                                         "force; the cut tells nothing of the force it needs"]),
    ({"band_speed": "520"}, ["warning: cuts.csv, row 2, column band_speed: 520 ft/min is outside the speeds of "
                             "saw1, 50 to 500 ft/min"]),
    ({"band_speed": "20"}, ["error: cuts.csv, row 2, column band_speed: 20 ft/min is outside the speeds of saw1, "
                            "50 to 500 ft/min; a slipped decimal point? 200 would fit"]),
    ({"work_thickness": "25"}, ["warning: cuts.csv, row 2, column work_thickness: 25 in is more than the throat "
                                "of saw1, 24 in"]),
    ({"work_thickness": "1/8"}, ["warning: cuts.csv, row 2, column work_thickness: 1/8 in leaves too few teeth of "
                                 "s8 in the cut, 1; at least 2 are needed, check thickness and band"]),
    ({"work_thickness": ""}, ["error: cuts.csv, row 2, column work_thickness: empty; a cut needs its work "
                              "thickness (or, round work, its diameter)"]),
    ({"section": "tube", "work_thickness": "", "cut_travel": "", "diameter": "10"},
     ["error: cuts.csv, row 2, column wall: empty; a tube needs its wall"]),
    ({"section": "tube", "work_thickness": "", "cut_travel": "", "diameter": "10", "wall": "6"},
     ["error: cuts.csv, row 2, column wall: 6 in is more than half the diameter, 10 in"]),
    ({"started": "3/4/26"}, ['warning: cuts.csv, row 2, column started: "3/4/26" can be read two ways and is '
                             "read as month/day/year, as units are us; write it as 2026-03-02 or "
                             "2026-03-02T14:30"]),
    ({"started": "2026-02-30"}, ['error: cuts.csv, row 2, column started: "2026-02-30" is not a date of the '
                                 "calendar; write it as 2026-03-02 or 2026-03-02T14:30"]),
    ({"started": "soon"}, ['error: cuts.csv, row 2, column started: "soon" is not a date; write it as 2026-03-02 '
                           "or 2026-03-02T14:30"]),
    ({"started": "1026-03-02"}, ['error: cuts.csv, row 2, column started: "1026-03-02" is not a date between '
                                 "1950 and 2100; write it as 2026-03-02 or 2026-03-02T14:30"]),
    ({"note": "=cmd|' /C calc'!A0"}, []),
    ({"cut": ""}, ["error: cuts.csv, row 2, column cut: empty; a cut needs its number"]),
]  # fmt: skip


@pytest.mark.parametrize(("change", "expected"), CUTS, ids=lambda value: str(value)[:30])
def test_what_is_said_of_one_cut(tmp_path, change, expected):
    assert said(tmp_path, change) == expected


def test_the_same_slip_in_many_rows_is_said_once_with_all_its_rows(tmp_path):
    changes = [{"material": "plait"} if n % 4 else {} for n in range(40)]
    assert said(tmp_path, *changes) == [
        "error: cuts.csv, rows 3-5, 7-9, 11-13, 15-17, 19-21, 23-25, 27-29 and 9 more, column material: no "
        'material "plait" in study.toml; did you mean "plate"? (there: plate)'
    ]


HEADS = [
    ("cut_time [s]", "cut_time", ["error: cuts.csv, row 1, column cut_time: the head names no unit; write it as "
                                  '"cut_time [s]"']),
    ("cut_time [s]", "cut_time [sek]", ['error: cuts.csv, row 1, column cut_time: "sek" is not a unit of time '
                                        'known here: use s, min or h; did you mean "s"?']),
    ("cut_time [s]", "cut_time [mm]", ['error: cuts.csv, row 1, column cut_time: "mm" is not a unit of time; use '
                                       "s, min or h"]),
    ("cut_time [s]", "cuttime_ [s]", []),
    ("cut_time [s]", " Cut  TIME [S] ", []),
    ("feed_rate [in/min]", "feed_rat [in/min]",
     ["warning: cuts.csv, row 1, column feed_rat [in/min]: not a column used here, kept as it is; did you mean "
      '"feed_rate"?']),
    ("feed_rate [in/min]", "cut_time [s]", ["error: cuts.csv, row 1, column cut_time: the column stands twice, as "
                                            "column 12 and 14; rename or delete one"]),
    ("band_speed [ft/min]", "dial", ["warning: cuts.csv, row 1, column dial: not a column used here, kept as it is",
                                     "error: cuts.csv, row 1, column band_speed: the column is missing; add a "
                                     'column "band_speed [ft/min]"']),
    ("exclude", "", ["warning: cuts.csv, row 1: column 19 has cells but no head, and is left alone; merged heads "
                     "name only their first column"]),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "expected"), HEADS, ids=lambda value: str(value)[:30])
def test_what_is_said_of_a_head(tmp_path, old, new, expected):
    change = {"exclude": "clamp slipped", "cut_time": "120"}
    assert said(tmp_path, change, head=HEAD.replace(old, new)) == expected


def test_an_unknown_column_is_kept(tmp_path):
    place = folder(tmp_path / "study", rows({"exclude": "17 C"}, head=HEAD.replace("exclude", "Room")))
    assert study.open_study(place).cuts["Room"].tolist() == ["17 C"]


def test_cuts_of_a_band_that_has_ended(tmp_path):
    bands = BANDS.replace("B1,s8,saw1,,,in_service,", "B1,s8,saw1,2026-03-01,2026-03-02,broken,")
    changes = [{"started": "2026-03-02T23:00", "complete": "no"}, {"started": "2026-03-03T07:00"}]
    assert said(tmp_path, *changes, bands=bands) == [
        'warning: cuts.csv, row 3, column started: "2026-03-03T07:00" is after band B1 was removed, 2026-03-02T23:59',
        "warning: cuts.csv, row 3, column band: band B1 cuts again, though it died in row 2 (complete: no)",
    ]


BAND_ROWS = [
    ("B3,s8,saw1,,,,", []),
    ("B3,s8,saw1,,,,\nB4,s8,saw2,,,,\nB5,s8,saw1,,,in_service,",
     ["warning: bands.csv, row 4, column end: empty, read as in_service, though another of its machine stands below "
      "it"]),
    ("B3,s8,saw1,,2026-03-02,,", ["error: bands.csv, row 4, column end: empty, though the band was removed; say "
                                  "how it ended, removed_sound if it was still good"]),
    ("B3,s8,saw1,2026-03-02,2026-03-01,dull,", ["error: bands.csv, row 4, column removed: 2026-03-01 is before "
                                                "the band was fitted, 2026-03-02"]),
    ("B3,s8,saw1,,2026-03-01,in_service,", ["warning: bands.csv, row 4, column end: in_service, though the band "
                                            "was removed 2026-03-01"]),
    ("B3,s9,saw1,,,dull,", ['error: bands.csv, row 4, column stock: no band stock "s9" in study.toml; did you '
                            'mean "s8"? (there: s8)']),
    ("B3,,saw1,,,dull,", ["error: bands.csv, row 4, column stock: empty; a band needs its stock"]),
]  # fmt: skip


@pytest.mark.parametrize(("row", "expected"), BAND_ROWS)
def test_what_is_said_of_a_band(tmp_path, row, expected):
    assert said(tmp_path, {}, bands=f"{BANDS}{row}\n") == expected


TOMLS = [
    ('throat = "24 in"', "throat = 24", ['error: study.toml, line 17, machines.saw1.throat: "24" has no '
                                         "unit; write 24 in, 24 ft or 24 thou"]),
    ('throat = "24 in"', 'throat = "24 inn"', ['error: study.toml, line 17, machines.saw1.throat: "inn" is '
                                               "not a unit of length known here: use in, ft, thou, mm, cm or m; "
                                               'did you mean "in"?']),
    ('throat = "24 in"', 'troat = "24 in"', ['warning: study.toml, line 17, machines.saw1.troat: "troat" is '
                                             'not a name used here and is left alone; did you mean "throat"?']),
    ('throat = "24 in"', "drive_efficiency = 80", ['error: study.toml, line 17, machines.saw1.'
                                                   'drive_efficiency: "80" can\'t be right; it should be more than '
                                                   "0 and at most 1"]),
    ('feed = "rate"', 'feed = "weight"', ['error: study.toml, line 13, machines.saw1.feed: "weight" is not '
                                          "one of rate, force, hand"]),
    ('price = 48', "", ["error: study.toml, line 25, band_stock.s8.price: missing"]),
    ('"low-carbon steel"', '"low carbon stel"', []),
    ("[costs]", "[cost]", ["error: study.toml, costs.machine_and_labor_per_hour: missing",
                           "error: study.toml, costs.band_change_minutes: missing",
                           "error: study.toml, costs.scrapped_piece: missing",
                           'warning: study.toml, line 6, cost: "cost" is not a name used here and is left '
                           'alone; did you mean "costs"?']),
    ("currency", "currency = usd #", ["error: study.toml, line 4: is not TOML from here on: Invalid value; texts "
                                      'need quotes, as in throat = "24 in"']),
    ('[["50 ft/min", "500 ft/min"]]', '"50 to 500"',
     ['error: study.toml, line 14, machines.saw1.band_speed_ranges: should be pairs, [["30 m/min", '
      '"60 m/min"]], not "50 to 500"']),
    ('[["50 ft/min", "500 ft/min"]]', '[["500 ft/min", "50 ft/min"]]',
     ["error: study.toml, line 14, machines.saw1.band_speed_ranges: each range goes from its least speed to "
      "its greatest, at most 10000 m/min"]),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "expected"), TOMLS, ids=lambda value: str(value)[:30])
def test_what_is_said_of_the_settings(tmp_path, old, new, expected):
    found = said(tmp_path, {}, toml=TOML.replace(old, new, 1))
    if new == '"low carbon stel"':
        [line] = found  # the rest of the sentence lists the published groups
        assert line.startswith('error: study.toml, line 31, materials.plate.group: material "low carbon stel" '
                               "is not in the published tables. Did you mean low-carbon steel")  # fmt: skip
    else:
        assert found == expected
