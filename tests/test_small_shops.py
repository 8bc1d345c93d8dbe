"""What small shops saw and how they say it: profiles, stacks, holes, areas alone, pulleys, rewelded bands, one machine.

Areas against drawings worked out by hand; the shapes are plane geometry.
"""

import math

import numpy as np
import pandas as pd
import pytest
from bandtrial import study, units, wear
from bandtrial.asked import work_area
from study_folders import TOML, folder, lines
from study_folders import rows as plain_rows

MORE = (
    "cut,machine,band,material,section,work_thickness [in],cut_travel [in],diameter [in],wall [in],cut_area [in2],"
    "stacked,band_speed [ft/min],cut_time [s],rewelded,complete"
)
NAMES = [head.partition(" ")[0] for head in MORE.split(",")]
CUT = {"machine": "saw1", "band": "B1", "material": "plate", "band_speed": "200", "cut_time": "120"}
SQUARE_INCH = 6.4516


def rows(*changes, head=MORE):
    """A log with these cuts; a cut says only what the change names."""
    made = [{**CUT, "cut": str(n), **change} for n, change in enumerate(changes, start=1)]
    return "\n".join([head, *(",".join(cut.get(name, "") for name in NAMES) for cut in made)]) + "\n"


def table(tmp_path, *changes, **files):
    opened = study.open_study(folder(tmp_path / "study", rows(*changes), **files))
    return opened, study.cut_table(opened)


SHAPES = [  # what is typed, area [in2] and travel [in] by hand
    ({"section": "square tube", "diameter": "4", "wall": "1/4"}, 4 * 4 - 3.5 * 3.5, 4),
    ({"section": "HSS", "work_thickness": "2", "cut_travel": "4", "wall": ".25"}, 2 * 4 - 1.5 * 3.5, 4),
    ({"section": "angle iron", "work_thickness": "3", "cut_travel": "2", "wall": ".25"}, 0.25 * (3 + 2 - 0.25), 2),
    ({"section": "channel", "work_thickness": "6", "cut_travel": "2", "wall": ".25"}, 0.25 * (6 + 2 * 2 - 0.5), 2),
    ({"section": "I-beam", "work_thickness": "4", "cut_travel": "8", "wall": ".3"}, 0.3 * (8 + 2 * 4 - 0.6), 8),
    ({"section": "I-beam", "cut_area": "7.61", "cut_travel": "8"}, 7.61, 8),
    ({"section": "hex", "diameter": "1"}, math.sqrt(3) / 2, 1),
    ({"section": "hole", "work_thickness": "1", "diameter": "5"}, 5 * math.pi, 5 * math.pi),
    ({"section": "hole", "work_thickness": "1", "cut_travel": "22"}, 22, 22),
    ({"work_thickness": "1/4", "cut_travel": "12", "stacked": "6"}, 6 * 0.25 * 12, 12),
    ({"diameter": "1", "stacked": "4"}, math.pi, 1),
    ({"diameter": "1", "stacked": "6", "cut_travel": "2"}, 6 * math.pi / 4, 2),
    ({"diameter": "2", "wall": ".25", "stacked": "2"}, 2 * math.pi / 4 * (2**2 - 1.5**2), 2),
    ({"cut_area": "9", "cut_travel": "4.5"}, 9, 4.5),
    ({"cut_area": "9", "work_thickness": "3"}, 9, 3),
    ({"cut_area": "9"}, 9, 3),
    ({"section": "round", "cut_area": str(math.pi)}, math.pi, 2),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "area", "travel"), SHAPES, ids=lambda value: str(value)[:40])
def test_sections_are_what_a_drawing_says(tmp_path, typed, area, travel):
    _, cuts = table(tmp_path, typed)
    assert cuts["cut_area"].tolist() == pytest.approx([area * SQUARE_INCH], rel=1e-9)
    assert cuts["cut_travel"].tolist() == pytest.approx([travel * 25.4], rel=1e-9)
    assert cuts["work_thickness"].tolist() == pytest.approx([area / travel * 25.4], rel=1e-9)


SAID = [
    ({"cut_area": "9"}, ["warning: cuts.csv, row 2, column cut_area: the only size given: the cut is taken for a "
                         "square; a work_thickness or cut_travel beside it makes its wear surer"]),
    ({"cut_area": "9", "work_thickness": "1", "cut_travel": "4"},
     ["warning: cuts.csv, row 2, column cut_area: 9 in2 is not the area of the sizes beside it, 4 in2; the cut area is "
      "used, check which is right"]),
    ({"section": "channel", "work_thickness": "6", "cut_travel": "2"},
     ["error: cuts.csv, row 2, column wall: empty; a profile needs its wall (or its cut area)"]),
    ({"section": "square tube", "wall": ".25"},
     ["error: cuts.csv, row 2, column work_thickness: empty; a profile needs its sides, work thickness and cut travel "
      "(or its cut area)",
      "error: cuts.csv, row 2, column cut_travel: empty; a profile needs its sides, work thickness and cut travel (or "
      "its cut area)"]),
    ({"section": "square tube", "diameter": "1", "wall": "5/8"},
     ["error: cuts.csv, row 2, column wall: 5/8 in is more than half the side, 1 in"]),
    ({"section": "hole", "work_thickness": "1"},
     ["error: cuts.csv, row 2, column cut_travel: empty; a hole needs its cut travel, the length of its path (a round "
      "one, its diameter)"]),
    ({"section": "casting", "work_thickness": "1", "cut_travel": "3"},
     ["error: cuts.csv, row 2, column cut_area: empty; a section that is no other needs its cut area"]),
    ({"section": "bar", "diameter": "1"},
     ['error: cuts.csv, row 2, column section: "bar" is not one of rectangular, round, tube, rectangular_tube, '
      'hexagon, angle, channel, beam, hole, other; did you mean "round"?']),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "expected"), SAID, ids=lambda value: str(value)[:40])
def test_what_is_said_of_a_section(tmp_path, typed, expected):
    assert lines(study.check(folder(tmp_path / "study", rows(typed)))) == expected


FLAT = {"work_thickness": "1", "cut_travel": "10"}


def test_a_cut_without_a_speed_keeps_its_time_and_teaches_nothing(tmp_path):
    opened, cuts = table(tmp_path, FLAT, {**FLAT, "band_speed": "300"}, {**FLAT, "band_speed": ""},
                         {**FLAT, "band_speed": "?", "band": "B1"})  # fmt: skip
    words = "band speed not known: 250 ft/min is taken, the median of 2 cuts in plate on saw1"
    assert lines(opened.problems) == [
        f"warning: cuts.csv, rows 4-5, column band_speed: {words}; the cut counts with its time, and teaches nothing "
        "of speed"
    ]
    assert cuts["exclude"].tolist() == ["", "", words, words]
    assert cuts["band_speed"].tolist() == pytest.approx([60.96, 91.44, 76.2, 76.2], rel=1e-12)
    assert cuts["contact_minutes"].tolist() == pytest.approx([2 / 157] * 4, rel=1e-12)


def test_without_any_speed_the_middle_of_the_machine_is_taken(tmp_path):
    opened, cuts = table(tmp_path, {**FLAT, "band_speed": ""})
    middle = math.sqrt(50 * 500) * 0.3048
    assert cuts["band_speed"].tolist() == pytest.approx([middle], rel=1e-12)
    assert "the middle of the speeds of saw1" in str(opened.problems[0])


STEPS = TOML.replace('band_speed_ranges = [["50 ft/min", "500 ft/min"]]',
                     'band_speeds = ["80 ft/min", "120 ft/min", "200 ft/min", "300 ft/min"]')  # fmt: skip


def test_step_pulleys_are_a_list_of_speeds(tmp_path):
    opened, _ = table(tmp_path, FLAT, {**FLAT, "band_speed": "205"}, toml=STEPS)
    steps = [V * 0.3048 for V in (80, 120, 200, 300)]
    assert opened.machines["saw1"].band_speeds == pytest.approx(steps, rel=1e-12)
    assert np.ravel(opened.machines["saw1"].band_speed_ranges) == pytest.approx(np.repeat(steps, 2), rel=1e-12)
    assert math.isnan(opened.machines["saw1"].only_speed)
    assert lines(opened.problems) == [
        "warning: cuts.csv, row 3, column band_speed: 205 ft/min is outside the speeds of saw1, 80 or 120 or 200 or "
        "300 ft/min"
    ]


def test_a_machine_with_one_speed_needs_none_logged(tmp_path):
    toml = STEPS.replace('"80 ft/min", "120 ft/min", "200 ft/min", "300 ft/min"', '"160 ft/min"')
    opened, cuts = table(tmp_path, {**FLAT, "band_speed": ""}, toml=toml)
    assert opened.problems == ()
    assert cuts["band_speed"].tolist() == pytest.approx([160 * 0.3048], rel=1e-12)
    assert cuts["exclude"].tolist() == [""]


def test_pulleys_that_are_no_list_are_said(tmp_path):
    toml = STEPS.replace('["80 ft/min", "120 ft/min", "200 ft/min", "300 ft/min"]', '"80, 120"')
    assert lines(study.check(folder(tmp_path / "study", rows(FLAT), toml=toml))) == [
        'error: study.toml, line 14, machines.saw1.band_speeds: should be a list, ["80 ft/min", "120 ft/min"], not '
        '"80, 120"'
    ]


def test_a_rewelded_band_lives_on_with_a_new_weld(tmp_path):
    """Wear goes on under one name; bending cycles are counted for each weld, which ends as the next begins."""
    changes = [FLAT, FLAT, {**FLAT, "rewelded": "weld broke"}, {**FLAT, "rewelded": "no"}, {**FLAT, "rewelded": "yes"}]
    opened, cuts = table(tmp_path, *changes, {**FLAT, "machine": "saw1", "band": "B1"})
    assert opened.problems == ()
    assert cuts["weld"].tolist() == [0, 0, 1, 1, 2, 2]
    each = cuts["bend_cycles"].iloc[0]
    welds = study.weld_table(opened)
    assert welds[["band", "weld", "end"]].to_numpy().tolist() == [
        ["B1", 0, "weld_broken"], ["B1", 1, "sound"], ["B1", 2, "in_service"]]  # fmt: skip
    assert welds["bend_cycles"].tolist() == pytest.approx([2 * each] * 3, rel=1e-12)


def test_a_variable_pitch_is_shown_as_it_was_written(tmp_path):
    toml = TOML.replace('pitch = "8 tpi"', 'pitch = "6-10 TPI"')
    opened = study.open_study(folder(tmp_path / "study", rows(FLAT), toml=toml))
    assert opened.band_stock["s8"].pitch == "6/10 tpi"
    assert opened.band_stock["s8"].pitch_tpi == 8.0
    assert study.open_study(folder(tmp_path / "plain", rows(FLAT))).band_stock["s8"].pitch == "8 tpi"


ONE = TOML[: TOML.index("[machines.saw2]")] + TOML[TOML.index("[band_stock") :]
BANDS = "band,stock,machine,fitted,removed,end,note\nB1,s8,saw1,,,in_service,\n"


def test_a_shop_with_one_machine_need_not_name_it(tmp_path):
    text = plain_rows({}).replace("machine,", "").replace(",saw1", "")
    opened = study.open_study(folder(tmp_path / "study", text, bands=BANDS, toml=ONE))
    assert opened.problems == ()
    assert opened.cuts["machine"].tolist() == ["saw1"]
    with pytest.raises(study.StudyError, match="column machine: the column is missing"):
        study.open_study(folder(tmp_path / "two", text))


def test_a_cut_is_saved_into_a_log_without_a_machine_column(tmp_path):
    text = plain_rows({}).replace("machine,", "").replace(",saw1", "")
    place = folder(tmp_path / "study", text, bands=BANDS, toml=ONE)
    cut = {"band": "B1", "material": "plate", "work_thickness": 1, "cut_travel": 10, "band_speed": 200, "cut_time": 120}
    assert study.append_cut(place, cut).problems == ()
    assert study.open_study(place).cuts["machine"].tolist() == ["saw1", "saw1"]


def test_plain_logs_do_not_change(tmp_path):
    """Thickness and travel as logged, to the last bit, whatever other sections stand beside them."""
    _, alone = table(tmp_path, FLAT)
    other = folder(tmp_path / "other", rows(FLAT, {"section": "hex", "diameter": "1"}))
    mixed = study.cut_table(study.open_study(other))
    columns = ["work_thickness", "cut_travel", "cut_area", "contact_minutes"]
    assert np.array_equal(alone[columns].to_numpy(), mixed[columns].to_numpy()[:1])


def test_a_weld_made_anew_starts_its_bending_anew_in_the_fit(tmp_path):
    """2 V t / B of each cut, by hand: 2 x 60.96 m/min x 2 min / 3.9878 m; the law of breaks sees two welds."""
    changes = [{**FLAT, "cut_time": "120"}] * 2 + [{**FLAT, "cut_time": "120", "rewelded": "weld broke"}] * 1
    opened, cuts = table(tmp_path, *changes, {**FLAT, "cut_time": "120"})
    fitted = wear.fit(opened, draws=200)
    each = 2 * 60.96 * 2 / (157 * 0.0254)
    assert cuts["bend_cycles"].tolist() == pytest.approx([each] * 4, rel=1e-9)
    assert fitted.cycles.tolist() == pytest.approx([2 * each, 2 * each], rel=1e-9)
    assert fitted.broken.tolist() == [True, False]
    assert fitted.n_broken == 0  # the band itself is in service


WISHES = [
    ("2000 in2", 2000 * 6.4516), ("2000", 2000 * 6.4516),  # in2, by definition
    ("400 cuts", 400 * 4 * 6.4516), ("1 piece", 4 * 6.4516),
    ("2 h", 120 * 2 * 6.4516), ("30 min", 30 * 2 * 6.4516),
]  # fmt: skip


@pytest.mark.parametrize(("text", "area"), WISHES)
def test_work_may_be_said_in_cuts_and_hours(text, area):
    """Three cuts of 4 in2 in 2 min, one of another thickness, one left out."""
    cuts = pd.DataFrame({
        "material": ["m"] * 5, "exclude": ["", "", "", "", "slipped"], "work_thickness": [25.4, 25.4, 25.4, 50.8, 25.4],
        "cut_area": [25.8064, 25.8064, 25.8064, 99.0, 1.0], "cut_time": [2.0, 2.0, 2.0, 1.0, 9.0],
    })  # fmt: skip
    assert work_area(text, cuts, "m", 25.4, "us") == pytest.approx(area, rel=1e-9)


def test_where_nothing_was_cut_hours_are_no_area_yet():
    nothing = pd.DataFrame({"material": [], "exclude": [], "work_thickness": [], "cut_area": [], "cut_time": []})
    with pytest.raises(units.UnitError) as refused:
        work_area("8 h", nothing, "A36", 25.4, "metric")
    assert str(refused.value) == (
        '"8 h": no cut in A36 is logged yet, so how much that is can\'t be known; give an area, as 2000 cm2'
    )
