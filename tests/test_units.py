"""Units: what people type is read as they mean it, or refused in words.

Outside references: pint's own full registry (the project's holds only the units of a saw) and NIST SP 811."""

import math
from itertools import pairwise

import numpy as np
import pint
import pytest
from bandtrial import units
from bandtrial.hardness import TABLES
from hypothesis import given, settings
from hypothesis import strategies as st

EXACT = 1e-12  # a product of a few doubles: relative rounding stays below 1e-14
FIXED = settings(derandomize=True, deadline=None, max_examples=200)

SP811 = [  # unit, kind, factor, unit inside; NIST SP 811 (2008), appendix B.8, from memory
    ("in", "length", 25.4, "mm"),
    ("ft", "length", 304.8, "mm"),
    ("lbf", "force", 4.448222, "N"),
    ("kgf", "force", 9.80665, "N"),
    ("hp", "power", 745.6999, "W"),  # 550 ft lbf/s
    ("PS", "power", 735.4988, "W"),  # metric horsepower
    ("uin", "roughness", 0.0254, "um"),
    ("lb", "mass", 0.45359237, "kg"),
    ("ft/min", "speed", 5.08e-3 * 60, "m/min"),
]


@pytest.mark.parametrize(("unit", "kind", "expected", "inside"), SP811)
def test_factors_agree_with_nist_sp_811(unit, kind, expected, inside):
    assert units.KINDS[kind] == inside
    assert units.factor(unit, kind) == pytest.approx(expected, rel=1e-6)  # the table prints 7 digits


PINT_NAMES = {
    "speed": {"ft/min": "ft/min", "m/s": "m/s", "sfm": "ft/min", "FPM": "ft/min", "mm/s": "mm/s"},
    "length": {"in": "in", '"': "in", "ft": "ft", "thou": "thou", "cm": "cm", "MM": "mm", "microns": "um"},
    "feed_rate": {"in/min": "in/min", "ipm": "in/min", "mm/s": "mm/s", "in per min": "in/min"},
    "force": {"lbf": "lbf", "kN": "kN", "kg": "kgf", "lbs": "lbf"},
    "time": {"s": "s", "h": "hour", "Sec": "s", "days": "day"},
    "power": {"kW": "kW", "HP": "hp"},
    "chip_load": {"in": "in", "thou": "thou", "µm": "um"},
    "area": {"in²": "in**2", "ft2": "ft**2", "mm**2": "mm**2", "sq in": "in**2"},
    "rate": {"in2/min": "in**2/min", "cm^2/s": "cm**2/s"},
    "energy": {"hp*min/in3": "hp*min/in**3", "kJ/cm3": "kJ/cm**3"},
    "gullet_area": {"in2": "in**2"},
}


@FIXED
@given(st.data(), st.floats(1e-6, 1e9))
def test_every_spelling_converts_as_in_pints_full_registry(reference, data, value):
    kind = data.draw(st.sampled_from(sorted(PINT_NAMES)))
    ours, theirs = data.draw(st.sampled_from(sorted(PINT_NAMES[kind].items())))
    inside = units.KINDS[kind].replace("2", "**2").replace("3", "**3")
    expected = reference.Quantity(value, theirs).to(inside).magnitude
    assert units.read(value, kind, ours) == pytest.approx(expected, rel=EXACT)
    assert units.read(f"{value!r} {ours}", kind) == pytest.approx(expected, rel=EXACT)
    assert units.from_inside(expected, kind, ours) == pytest.approx(value, rel=EXACT)


@pytest.fixture(scope="module")
def reference():
    return pint.UnitRegistry()


@FIXED
@given(st.floats(0.1, 1000), st.sampled_from(["tpi", "mm", "in", "teeth/in"]))
def test_a_pitch_and_its_tooth_spacing_are_the_same_thing(tpi, unit):
    """25.4 mm / spacing = teeth per inch: the definition of the inch."""
    given_as = {"tpi": tpi, "teeth/in": tpi, "mm": 25.4 / tpi, "in": 1 / tpi}[unit]
    assert units.read(given_as, "pitch", unit) == pytest.approx(tpi, rel=EXACT)
    assert units.from_inside(tpi, "pitch", unit) == pytest.approx(given_as, rel=EXACT)


AS_TYPED = [
    ("5/8 in", "length", 15.875),
    ("1 1/2 in", "length", 38.1),
    ("1-1/2in", "length", 38.1),
    ("1½\"", "length", 38.1),
    ("5'3\"", "length", 63 * 25.4),
    ("5 ft 3 1/2 in", "length", 63.5 * 25.4),
    ("6,0 mm", "length", 6.0),
    ("0,750 mm", "length", 0.75),
    (",5 mm", "length", 0.5),
    ("1,234.5 mm", "length", 1234.5),
    ("1.234,5 mm", "length", 1234.5),
    ("1 234,5 mm", "length", 1234.5),
    ("1,234,567 mm", "length", 1234567.0),
    ("-150 m/min", "speed", -150.0),
    ("\u2212150 m/min", "speed", -150.0),
    ("40000 cm**2", "area", 40000.0),
    ("12:40", "time", 12 + 40 / 60),
    ("1:02:30", "time", 62.5),
    ("2 min 30 s", "time", 2.5),
    ("8 tpi", "pitch", 8.0),
    ("4/6 tpi", "pitch", 5.0),
    ("10/14 tpi", "pitch", 12.0),
    ("130 HB", "hardness", 130.0),
    ("40 HRC", "hardness", 371.0),
    ("Rc 40", "hardness", 371.0),
    ("36-40 HRC", "hardness", 371.0),
    ("HRB 80", "hardness", 150.0),
    ("392 HV10", "hardness", 371.0),
    ("72", "money", 72.0),
    ("1e3 mm", "length", 1000.0),
]  # fmt: skip


@pytest.mark.parametrize(("text", "kind", "expected"), AS_TYPED)
def test_quantities_are_read_as_people_type_them(text, kind, expected):
    assert units.read(text, kind) == pytest.approx(expected, rel=EXACT)


def test_hardness_scales_against_formulas_of_others():
    """Brinell of Rockwell B, 7300 / (130 - RB), and of Rockwell C, 1,520,000 - 4500 RC over (100 - RC)^2 to 40 and
    25,000 - 10 (57 - RC)^2 over 100 - RC above: Petrenko, NBS J. Research 5 (1930), within his 10 %, from memory.
    Rockwell C of Vickers, (100 HV - 14,500) / (HV + 223): in public use, within half a number of the table."""
    for scale, numbers in (("HRB", range(55, 101)), ("HRC", range(20, 59))):
        for n in numbers:
            c = (1_520_000 - 4500 * n) / (100 - n) ** 2 if n <= 40 else (25_000 - 10 * (57 - n) ** 2) / (100 - n or 1)
            other = 7300 / (130 - n) if scale == "HRB" else c
            assert units.read(f"{n} {scale}", "hardness") == pytest.approx(other, rel=0.1), (n, scale)
    for rockwell, brinell in TABLES["HRC"]:
        vickers = next(hv for hv, hb in TABLES["HV"] if hb >= brinell)
        assert vickers < 270 or (100 * vickers - 14_500) / (vickers + 223) == pytest.approx(rockwell, abs=0.5)
    for table in TABLES.values():
        assert all(a < b for pair in pairwise(table) for a, b in zip(*pair, strict=True)), table


LENGTH_UNITS = "in, ft, thou, mm, cm or m"
REFUSED = [
    ("1,234 mm", "length", '"1,234" can mean 1.234 or 1234; write it as one of these'),
    ("5", "length", '"5" has no unit; write 5 in, 5 ft or 5 thou'),
    ("5 furlong", "length", f'"furlong" is not a unit of length known here: use {LENGTH_UNITS}'),
    ("5 mn", "length", f'"mn" is not a unit of length known here: use {LENGTH_UNITS}; did you mean "m"?'),
    ("5 m/min", "length", f'"m/min" is not a unit of length; use {LENGTH_UNITS}'),
    ("9**9**9 m", "length", f'"**9**9 m" is not a unit of length known here: use {LENGTH_UNITS}'),
    ("abc", "speed", '"abc" is not a speed; write a number with a unit, such as "5 ft/min" or "5 m/min"'),
    ("nan", "power", '"nan" is not a power; write a number with a unit, such as "5 hp" or "5 W"'),
    ("", "pitch", '"" is not a pitch; write a number with a unit, such as "8 tpi" or "4/6 tpi"'),
    ("3/0 in", "length", '"3/0" divides by zero'),
    ("2.3.4 mm", "length", '"2.3.4" is not a number: its points and commas do not fit together'),
    ("12:70", "time", '"12:70" is no clock time: minutes and seconds after the first run to 59'),
    ("12:40 h", "time", '"12:40 h" is read as minutes:seconds; write hours as h:mm:ss'),
    ("80 %", "number", '"80 %" is a percentage; write the number itself, such as 0.8 for 80 %'),
    ("48 USD", "money", '"48 USD" should be a plain number without a unit'),
    ("1e999 mm", "length", '"1e999" is too large for a number'),
    (10**400, "number", '"1000000000000000000000000000000000000..." is too large or too small for a number'),
    ("0 mm", "pitch", '"0 mm" is too large or too small for a pitch'),
    ("9e307 min 9e307 min", "time", '"9e307 min 9e307 min" is too large or too small for a time'),
    ("1\x1c", "length", '"1 " has no unit; write 1 in, 1 ft or 1 thou'),
    (math.inf, "length", "inf is not a number that can be used; write a finite one"),
    ("240", "hardness", '"240" has no unit; write 240 HB'),
    ("hard", "hardness", '"hard" is not a hardness; write a number with a unit, such as "240 HB" or "32 HRC"'),
    ("40 HRA", "hardness", '"HRA" is not a unit of hardness known here: use HB, HRC, HRB or HV; did you mean "HRC"?'),
    (
        "12 HRC",
        "hardness",
        '"12 HRC" is outside the table that turns HRC into HB, 20 to 65 HRC; write so soft a metal in HRB or HB',
    ),
    (
        "105 HRB",
        "hardness",
        '"105 HRB" is outside the table that turns HRB into HB, 55 to 100 HRB; write so hard a metal in HRC or HB',
    ),
    ("90 HV", "hardness", '"90 HV" is outside the table that turns HV into HB, 100 to 832 HV'),
    (True, "number", '"True" is not a number; write a plain number'),
]


@pytest.mark.parametrize(("value", "kind", "message"), REFUSED)
def test_what_cannot_be_read_is_refused_in_a_whole_sentence(value, kind, message):
    with pytest.raises(units.UnitError) as refused:
        units.read(value, kind)
    assert str(refused.value) == message


@FIXED
@given(st.integers(0, 40), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_mixed_fractions_are_their_sum(whole, above, below):
    assert units.number(f"{whole} {above}/{below}") == pytest.approx(whole + above / below, rel=EXACT)


@FIXED
@given(st.floats(-1e12, 1e12, allow_subnormal=False))
def test_a_number_written_with_a_point_reads_back_exactly(value):
    assert units.number(repr(value)) == value


@FIXED
@given(st.floats(-1e9, 1e9).map(lambda x: f"{x:.5f}"))
def test_a_decimal_comma_with_five_places_reads_as_the_point(text):
    """Five places are no thousands, so the comma can mean one thing only."""
    assert units.number(text.replace(".", ",")) == float(text)


@FIXED
@given(st.text(max_size=90), st.sampled_from(sorted(units.KINDS)), st.sampled_from([None, "mm", "s", "x"]))
def test_any_text_is_a_finite_number_or_a_sentence(text, kind, unit):
    try:
        assert math.isfinite(units.read(text, kind, unit))
    except units.UnitError as refused:
        assert len(str(refused)) > 10
        assert "\n" not in str(refused)


NAMES = st.from_regex(r"[a-z]{1,8}(_[a-z0-9]{1,8}){0,2}", fullmatch=True)


@FIXED
@given(NAMES, st.sampled_from(["in", "ft/min", "cm**2", "1/min", ""]), st.sampled_from(["[]", "()"]))
def test_heads_round_trip_without_regard_to_case_and_blanks(name, unit, bracket):
    written = f" {name.replace('_', '  ').upper()} {bracket[0]} {unit} {bracket[1]} "
    assert units.head(written) == (name, unit or None)
    assert units.head(name) == (name, None)


def test_whole_columns_convert_at_once():
    np.testing.assert_allclose(
        units.convert(np.array([1.0, 2.0, np.nan]), "in", "length"), [25.4, 50.8, np.nan], rtol=EXACT
    )


SHOWN = [
    ((50.292, "speed", "us"), "165 ft/min"),
    ((50.292, "speed", "metric"), "50.3 m/min"),
    ((7.05556, "chip_load", "us"), "0.000278 in"),
    ((3987.8, "length", "metric"), "3988 mm"),
    ((0.0, "length", "metric"), "0 mm"),
    ((float("nan"), "time", "us"), "not known"),
    ((float("inf"), "area", "us"), "unlimited"),
    ((50.3, "speed", "metric", 1.24), "50.3 ± 1.2 m/min"),
    ((12345.0, "area", "metric", 678.0), "12340 ± 680 cm²"),
    ((0.12345, "roughness", "metric", 0.00996), "0.123 ± 0.010 µm"),
    ((5.0, "time", "us", float("nan")), "5 min"),
    ((72.5, "money", "us"), "72.5"),
]


@pytest.mark.parametrize(("arguments", "text"), SHOWN)
def test_digits_follow_the_uncertainty(arguments, text):
    assert units.show(*arguments) == text


@FIXED
@given(st.floats(1e-6, 1e9), st.floats(1e-3, 0.5))
def test_what_is_shown_is_within_a_twentieth_of_the_error(value, share):
    """Two digits of the error: rounding moves the value by half a unit of the second, 5 % of the error."""
    text = units.show(value, "length", "metric", error=value * share)
    near, _, spread = text.removesuffix(" mm").partition(" ± ")
    assert abs(float(near) - value) <= 0.051 * value * share
    assert float(spread) == pytest.approx(value * share, rel=0.051)
