"""Any metal can be in a study: with a published group, by what shops call it, by its hardness, by the shop's own speed.

What a designation means: EN 10027, AISI, DIN, JIS numbers, from memory; each row of the table says so.
"""

import numpy as np
import pytest
from bandtrial import published, study, units
from bandtrial.published.materials import _means, find
from bandtrial.published.own_starts import hardness_speed, own_start
from bandtrial.published.tables import HOW_KNOWN, lines, source_titles, speed_rows
from study_folders import TOML, folder, rows
from study_folders import lines as said_lines


def feet(speed):
    return units.from_inside(speed, "speed", "ft/min")


NAMED = [
    ("6061-T6", "aluminum alloy"), ("7075-T651", "aluminum alloy"), ("aluminium 6082-T6", "aluminum alloy"),
    ("304L", "austenitic stainless steel"), ("ss 304", "austenitic stainless steel"),
    ("304/304L", "austenitic stainless steel"),
    ("1.4301", "austenitic stainless steel"), ("EN 1.4404", "austenitic stainless steel"),
    ("1018 CRS", "low-carbon steel"),
    ("1018 cold rolled round bar", "low-carbon steel"), ("A36 plate", "structural steel"), ("S235", "structural steel"),
    ("C45", "medium-carbon steel"), ("12L14", "free-machining steel"), ("Inconel 718", "nickel alloy"),
    ("D2 tool steel", "tool steel, high carbon high chromium"), ("grade 5 titanium", "titanium alloy"),
    ("42CrMo4", "chromium-molybdenum steel"), ("GG25", "gray cast iron"), ("SUS316", "austenitic stainless steel"),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "group"), NAMED)
def test_names_that_people_write(typed, group):
    assert find(typed).group == group
    assert not find(typed).doubtful


SEVERAL = [
    ("alloy steel", "bearing steel", 160), ("machine steel", "medium-carbon steel", 220),
    ("tool steel", "tool steel, high carbon high chromium", 90), ("brass", "copper", 235),
    ("stainless", "precipitation-hardening stainless steel", 80), ("S355JR", "medium-carbon steel", 220),
]  # fmt: skip


@pytest.mark.parametrize(("typed", "group", "speed"), SEVERAL)
def test_a_name_of_several_metals_stands_for_the_slowest(typed, group, speed):
    match = find(typed)
    assert (match.group, match.base.low, match.doubtful) == (group, speed, True)


def test_no_name_stands_for_a_faster_line_than_one_it_can_mean():
    """The table of names itself: every meaning exists, and the line read is the slowest of them."""
    for name, (can_be, _) in _means().items():
        speeds = [find(one).base.low for one in can_be]
        assert find(name).base.low <= min(speeds), name
    for line in (*lines("material_names"), *lines("hardness_starts")):
        assert line["source"] in source_titles() and line["how_known"] in HOW_KNOWN


def test_a_start_by_hardness_is_never_faster_than_a_published_metal_about_as_hard():
    """Usual hardness of annealed stock, from memory: the start must not exceed the speed of any of these."""
    usual = {"A36": 120, "1018": 126, "1045": 180, "304": 160, "316": 160, "4140": 200, "E52100": 200, "D-2": 225,
             "M-2": 235, "17-4PH": 330, "Ti-6Al-4V": 334, "6061": 95, "C360": 90, "C110": 45}  # fmt: skip
    for grade, hardness in usual.items():
        assert hardness_speed(hardness) <= find(grade).base.low * (1 + 1e-9), grade
    assert np.all(np.diff([hardness_speed(one) for one in np.linspace(30, 600, 200)]) <= 0)


def test_a_speed_of_ones_own_is_used_as_it_is():
    """For any thickness, edge and coolant; the group's own rules stand for the rest."""
    name = "aluminum alloy (start 900 m/min)"
    assert published.band_speed(name, 5.0, "carbon", "dry") == pytest.approx(900.0, rel=1e-12)
    many = published.band_speeds([name, "304", "none (start 120 ft/min)"], [5.0, 101.6, 200.0], "carbon", "dry")
    assert many == pytest.approx([900.0, published.band_speed("304", 101.6, "carbon", "dry"), 36.576], rel=1e-12)
    start = published.start(name, 20.0)
    assert start.settings.form.low == "regular" and start.settings.match.group == "aluminum alloy"
    assert start.warnings[0] == ("The band speed is 900 m/min (your own), used as it is for every thickness, edge and "
                                 "coolant; aluminum alloy stands for the rest.")  # fmt: skip
    assert "your own: from study.toml." in " ".join(start._repr_html_().split())
    with pytest.raises(published.PublishedError, match=r'^edge "hss" is not known; give one of'):
        published.band_speed(name, 5.0, "hss")


def test_a_start_by_hardness_takes_the_factors_of_the_table():
    dry = published.band_speed("240 HB", 101.6, "carbon", "dry")
    assert dry == pytest.approx(published.band_speed("none (hardness 240 HB)", 101.6) * 0.5 * 0.6, rel=1e-12)
    assert feet(published.band_speed("150 HB", 101.6)) == pytest.approx(100.0, rel=1e-9)


def test_what_is_no_start_of_ones_own():
    assert [own_start(text) for text in ("304", "240 hp", "6061-T6", "5 in", "plate (start soon)")] == [None] * 5


def test_a_hardness_on_another_scale_is_a_start_too():
    assert find("HRC 32").base.low == pytest.approx(hardness_speed(301.0))
    assert find("32 HRC").note == (
        "No published group: the band speed is that of the slowest published metals about as hard (32 HRC, 301 HB if "
        "it is a steel), on the slow side on purpose; metals as hard can take several times as much."
    )
    with pytest.raises(published.PublishedError, match=r"^\"15 HRC\" is outside the table that turns HRC into HB"):
        find("15 HRC")


ASKED = ('Give a published group or grade, such as low-carbon steel, 304 or A36; without one, the hardness ("240 HB") '
         'or a band speed of your own ("120 ft/min").')  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "hint"),
    [("unobtainium", ""), ("A63", " Did you mean A36 (270 ft/min)?"),
     ("low carbon stel", " Did you mean low-carbon steel (300 ft/min)?"),
     ("carbon stl", " Did you mean high-carbon steel (185 ft/min), medium-carbon steel (220 ft/min) or low-carbon "
                    "steel (300 ft/min), the slowest first?")],
)  # fmt: skip
def test_an_unknown_name_gets_a_short_list_the_slowest_first(typed, hint):
    with pytest.raises(published.PublishedError) as refused:
        find(typed)
    assert str(refused.value) == f'material "{typed}" is not in the published tables.{hint} {ASKED}'
    assert len(str(refused.value)) < 400


MATERIAL = '[materials.plate]\ngroup = "low-carbon steel"\n'
SLOW = "on the slow side on purpose; metals as hard can take several times as much."
MORE = 'give hardness = "240 HB" or start_speed = "120 ft/min" to begin elsewhere'
OF_STUDY = [
    ('hardness = "240 HB"', "none (hardness 240 HB)",
     ["warning: study.toml, line 30, materials.plate.group: No published group: the band speed is that of the slowest "
      f"published metals about as hard (240 HB), {SLOW}"]),
    ('group = "none"\nstart_speed = "120 ft/min"', "none (start 120 ft/min)", []),
    ('group = "nylon"\nstart_speed = "1,5 m/s"', "none (start 90 m/min)", []),
    ('group = "6061-T6"\nstart_speed = "900 m/min"', "6061 (start 900 m/min)", []),
    ('group = "1.4301"', "1.4301", []),
    ('group = "tool steel"', "tool steel",
     ['warning: study.toml, line 31, materials.plate.group: "tool steel" can mean W-1, O-1, A-2, H-13, S-7 or D-2: '
      "read as the slowest, D-2, 90 ft/min on the table's terms. Name the grade to be nearer."]),
    ('group = "unobtainium"\nhardness = "150 HB"', "none (hardness 150 HB)",
     ['warning: study.toml, line 31, materials.plate.group: "unobtainium" is not in the published tables, and is taken '
      "as a metal without a group",
      "warning: study.toml, line 31, materials.plate.group: No published group: the band speed is that of the slowest "
      f"published metals about as hard (150 HB), {SLOW}"]),
    ('name = "fibre board"', "none (start 200 ft/min, the median of its own 3 cuts)",
     ["warning: study.toml, line 30, materials.plate: No published group: the band speed is 200 ft/min (the median of "
      f"its own 3 cuts), used as it is for every thickness, edge and coolant; {MORE}"]),
]  # fmt: skip


@pytest.mark.parametrize(("material", "group", "problems"), OF_STUDY)
def test_a_material_of_a_study_may_have_no_group(tmp_path, material, group, problems):
    """V* of its cuts, the published band speed of the cut table, is then the one named here."""
    toml = TOML.replace(MATERIAL, f"[materials.plate]\n{material}\n")
    speeds = [{"band_speed": "150", "feed_rate": ""}, {"band_speed": "200"}, {"band_speed": "250", "feed_rate": ""}]
    opened = study.open_study(folder(tmp_path / "study", rows(*speeds), toml=toml))
    assert opened.materials["plate"].group == group
    assert said_lines(opened.problems) == problems
    expected = published.band_speed(group, 25.4, "bimetal", "flood")
    assert study.cut_table(opened)["published_band_speed"].tolist() == pytest.approx([expected] * 3, rel=1e-12)


def test_a_material_of_which_nothing_is_known_and_that_has_no_cuts_begins_at_the_slowest(tmp_path):
    toml = TOML + '[materials.mystery]\nname = "?"\n'
    opened = study.open_study(folder(tmp_path / "study", rows({}), toml=toml))
    slowest = min(row.low for row in speed_rows())
    assert said_lines(opened.problems) == [
        "warning: study.toml, line 32, materials.mystery: No published group, no hardness and no speed of your own: "
        f"the slowest published speed is taken, 60 ft/min (nickel alloy); {MORE}"
    ]
    assert feet(published.band_speed(opened.materials["mystery"].group, 101.6)) == pytest.approx(slowest, rel=1e-12)


def test_a_slip_of_a_published_name_is_an_error_whatever_stands_beside_it(tmp_path):
    toml = TOML.replace('"low-carbon steel"', '"low carbon stel"\nhardness = "130 HB"')
    assert said_lines(study.check(folder(tmp_path / "study", rows({}), toml=toml))) == [
        'error: study.toml, line 31, materials.plate.group: material "low carbon stel" is not in the published tables. '
        f"Did you mean low-carbon steel (300 ft/min)? {ASKED}"
    ]


def test_a_name_in_another_case_or_the_display_name_is_the_same_thing(tmp_path):
    toml = TOML + '[materials.a36]\nname = "A36 bar"\ngroup = "A36"\n'
    changes = [{"material": "Plate", "machine": "SAW1"}, {"material": " plate "}, {"material": "a36 BAR", "band": "b1"}]
    place = folder(tmp_path / "study", rows(*changes), toml=toml)
    assert said_lines(study.check(place)) == [
        'warning: cuts.csv, row 2, column machine: "SAW1" is read as saw1',
        'warning: cuts.csv, row 2, column material: "Plate" is read as plate',
        'warning: cuts.csv, row 4, column material: "a36 BAR" is read as a36',
        'warning: cuts.csv, row 4, column band: "b1" is read as B1',
    ]
    cuts = study.open_study(place).cuts
    assert cuts[["machine", "material", "band"]].to_numpy().tolist() == [
        ["saw1", "plate", "B1"], ["saw1", "plate", "B1"], ["saw1", "a36", "B1"]]  # fmt: skip


def test_two_materials_that_differ_in_case_only_are_asked_about(tmp_path):
    toml = TOML + '[materials.Plate]\ngroup = "low-carbon steel"\n'
    assert said_lines(study.check(folder(tmp_path / "study", rows({}), toml=toml))) == [
        'warning: study.toml, line 32, materials.Plate: "plate" and "Plate" differ in case or blanks only; if they are '
        "one, keep one"
    ]


def test_a_number_written_another_way_is_asked_about(tmp_path):
    place = folder(tmp_path / "study", rows({}, {"cut": "01"}, {"cut": "1.0"}, {"cut": "١"}, {"cut": "2"}))
    assert said_lines(study.check(place)) == [
        f'warning: cuts.csv, row {row}, column cut: "{own}" is the number of row 2, "1", written another way; is it '
        "another cut?"
        for row, own in ((3, "01"), (4, "1.0"), (5, "١"))
    ]
