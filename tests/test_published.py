"""Starting settings against the handbook and the trade's own start, and the look-up of names."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial import published, units
from bandtrial.published.materials import find
from bandtrial.published.tables import lines, source_titles

PRINTED = 1e-9
"""The handbook prints these factors and speeds exactly: only rounding differs."""


def feet(speed):
    return units.from_inside(speed, "speed", "ft/min")


@pytest.mark.parametrize(
    ("material", "thickness", "printed"),
    [("304", "4 in", 120.0), ("304", "0.75 in", 134.4), ("4140", "4 in", 250.0), ("4140", "1.25 in", 275.0),
     ("4140", "8 in", 220.0)],
)  # fmt: skip
def test_handbook_speeds(material, thickness, printed):
    """Machinery's Handbook, 31st ed., p. 1245 (read): table and thickness adjustment, bimetal, flood."""
    speed = published.band_speed(material, units.read(thickness, "length"), "bimetal")
    assert feet(speed) == pytest.approx(printed, rel=PRINTED)


def test_low_carbon_plate_agrees_with_common_practice():
    """Handbook 300 x 1.12 x 0.5 = 168 ft/min against 165 ft/min and 10 tpi (common practice, no source).

    5 % because the two are independent rules of thumb printed to the nearest 5 or 10 ft/min.
    """
    start = published.start("low-carbon steel", units.read("5/8 in", "length"), "carbon").settings
    assert feet(start.speed.typical) == pytest.approx(165.0, rel=0.05)
    assert feet(start.speed.typical) == pytest.approx(168.0, rel=0.01)  # between lines
    assert (start.pitch.text, start.form.low, start.set.low) == ("10", "regular", "raker")


def test_variable_pitch_of_the_handbook_lines():
    """Machinery's Handbook, 31st ed., p. 1245 (read): the pitch the speed table was used with."""
    printed = {"0.25 in": "10/14", "0.75 in": "6/10", "1.25 in": "4/6", "4 in": "3/4", "8 in": "2/3"}
    chosen = [published.start("4140", units.read(text, "length")).settings.pitch.text for text in printed]
    assert chosen == list(printed.values())


def test_contour_radius_follows_the_chart():
    """Shop chart (common practice, from memory): at its widths exactly, between them growing with width."""
    chart = pd.read_csv(Path(published.__file__).parent / "contour_radius.csv")
    ours = [published.contour_radius(25.4 * width) / 25.4 for width in chart["band_width_in"]]
    assert ours == pytest.approx(chart["min_radius_in"].tolist(), rel=PRINTED)
    radii = [published.contour_radius(width) for width in np.linspace(3.175, 25.4, 200)]
    assert np.all(np.diff(radii) > 0)


def test_carbon_edge_and_dry_cutting_lower_the_speed_as_printed():
    """Machinery's Handbook, 31st ed. (read): carbon edge lower by 50 %, dry by 30 to 50 %."""
    base = published.band_speed("4140", 101.6)
    dry = published.start("4140", 101.6, "bimetal", "dry").settings.speed
    assert published.band_speed("4140", 101.6, "carbon") == pytest.approx(0.5 * base, rel=PRINTED)
    assert (dry.low, dry.high) == pytest.approx((0.5 * base, 0.7 * base), rel=PRINTED)
    assert dry.low < dry.typical < dry.high


def test_thickness_factor_is_level_outside_the_table_and_says_so():
    assert published.band_speed("4140", 2.0) == published.band_speed("4140", 6.35)
    assert published.band_speed("4140", 900.0) == published.band_speed("4140", 203.2)
    start = published.start("4140", 300.0)
    assert "Band speed, thickness: thicker than the table's last line (8 in): that line kept." in start.warnings


def test_many_speeds_are_the_single_ones():
    """A slow twin: each of the vector's answers looked up on its own."""
    rng = np.random.default_rng(3)
    groups = rng.choice(published.groups(), 300)
    edges = rng.choice(["carbon", "bimetal", "carbide"], 300)
    coolants = rng.choice(["flood", "mist", "air", "dry"], 300)
    L = rng.uniform(2.0, 300.0, 300)
    single = [published.band_speed(*cut) for cut in zip(groups, L, edges, coolants, strict=True)]
    assert published.band_speeds(groups, L, edges, coolants) == pytest.approx(single, rel=1e-12)
    assert published.band_speeds(["304"], [50.0]).shape == (1,)
    assert published.band_speeds("304", np.ones((2, 3))).shape == (2, 3)


@pytest.mark.parametrize(
    ("typed", "group"),
    [
        ("304", "austenitic stainless steel"),
        ("a-36", "structural steel"),
        ("AISI 1018", "low-carbon steel"),
        ("mild steel", "low-carbon steel"),
        ("Low Carbon Steel", "low-carbon steel"),
        ("aluminium alloy", "aluminum alloy"),
        ("grey cast iron", "gray cast iron"),
        ("17-4 PH", "precipitation-hardening stainless steel"),
    ],
)
def test_groups_and_grades_as_people_type_them(typed, group):
    assert find(typed).group == group


def test_a_group_starts_at_its_slowest_best_known_line():
    """304 was read, 316 is from memory: the group starts at 304 and shows 316 in its range."""
    speed = published.start("austenitic stainless steel", 101.6).settings.speed
    assert (feet(speed.low), feet(speed.typical), feet(speed.high)) == pytest.approx((100.0, 120.0, 120.0))


ALLOWED = (
    "Give a published group or grade, such as low-carbon steel, 304 or A36; without one, the hardness "
    '("240 HB") or a band speed of your own ("120 ft/min").'
)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: published.start("low carbon stel", 10.0),
            'material "low carbon stel" is not in the published tables. Did you mean low-carbon steel '
            f"(300 ft/min)? {ALLOWED}",
        ),
        (
            lambda: published.band_speeds(["A36", "unobtainium", "A63"], 10.0, "hss"),
            'material "unobtainium" is not in the published tables.\n'
            f'material "A63" is not in the published tables. Did you mean A36 (270 ft/min)? {ALLOWED}\n'
            'edge "hss" is not known; give one of bimetal, carbide, carbon.',
        ),
        (
            lambda: published.start("304", 10.0, "bimetal", "oil"),
            'coolant "oil" is not known; give one of flood, mist, dry, air.',
        ),
        (
            lambda: published.start("304", 10.0, section="bar"),
            'section "bar" is not known; give one of rectangular, round, tube.',
        ),
        (
            lambda: published.start("304", 10.0, system="imperial"),
            'system of units "imperial" is not known; give us or metric.',
        ),
        (
            lambda: published.start("304", -3.0),
            "work thickness -3 mm is not a thickness; give one above 0 mm.",
        ),
        (
            lambda: published.start("304", 1.0),
            "work 0.0394 in (1 mm) thick has 1.3 teeth of the finest common pitch (32 tpi) in the cut, and "
            "every source asks for at least 2. Stack sheets to 1/16 in (1.59 mm) or more, or lay the work so "
            "that the cut is longer.",
        ),
        (
            lambda: published.contour_radius(50.0),
            "band width 50 mm is outside the contour chart, 3.175 to 25.4 mm (1/8 to 1 in); cut a curve with "
            "a band of the chart, or a straight line with a wider one.",
        ),
    ],
    ids=["near names", "all at once", "coolant", "section", "system", "thickness", "too thin", "contour"],
)
def test_look_ups_without_an_answer(call, message):
    with pytest.raises(published.PublishedError) as caught:
        call()
    assert str(caught.value) == message


def test_every_source_of_the_tables_has_a_title():
    tables = ("band_speeds", "speed_adjustments", "tooth_pitch", "contour_radius", "file_polish_friction",
              "model_priors")  # fmt: skip
    cells = [line["source"] for table in tables for line in lines(table)]
    assert {name.strip() for cell in cells for name in cell.split(";")} <= set(source_titles())


def test_a_start_is_short_with_the_cautions_first_and_the_evidence_asked_for():
    from bandtrial.published.start import start_text

    short = published.start("low-carbon steel", 15.875, "carbon")
    text = str(short)
    answer = text[text.index("First cut") :]
    assert len(answer.splitlines()) <= 12
    assert text.index("Before cutting") < text.index("169 ft/min (51.4 m/min) true")
    for absent in ("file band", "grit", "smallest radius", "[read]"):
        assert absent not in text
    full = start_text(short, evidence=True)
    for row in short.shown:
        assert " ".join(row.value.split()) in " ".join(full.split()) and row.how_known in full


@pytest.mark.parametrize(
    ("operation", "first"),
    [("filing", "File coarseness"), ("polishing", "Band speed"), ("contour", "Smallest radius")],
)
def test_a_start_of_other_work_shows_that_alone(operation, first):
    start = published.start("low-carbon steel", 15.875, "carbon", operation=operation)
    assert start.lines()[0][0] == first
    assert "First cut" not in str(start) and start.to_json()["operation"] == operation


def test_an_operation_that_is_none_is_named():
    with pytest.raises(published.PublishedError) as no:
        published.start("304", 10.0, operation="milling")
    assert str(no.value) == 'operation "milling" is not known; give one of sawing, filing, polishing, contour.'
