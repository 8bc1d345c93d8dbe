"""Sawing arithmetic against handbook rules, definitions and independent reckoning."""

from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from bandtrial import sawing, units
from bandtrial.study.sections import geometry
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

ROUNDING = 1e-9
"""Exact arithmetic: only rounding differs."""


def test_chip_load_of_a_common_cut():
    """250 ft/min, 4 tpi, 3 in cut, 10 in2/min: 3.3333 in/min and 0.00027778 in (arithmetic)."""
    L = units.read("3 in", "length")
    feed = units.read("10 in2/min", "rate") * 100.0 / L
    h = sawing.chip_load(units.read("250 ft/min", "speed"), feed, sawing.tooth_spacing(4))
    assert units.from_inside(feed, "feed_rate", "in/min") == pytest.approx(3.3333, rel=1.5e-5)  # as printed
    assert units.from_inside(h, "chip_load", "in") == pytest.approx(0.00027778, rel=2e-5)  # as printed
    assert h == pytest.approx(7.056, rel=1e-4)  # as printed
    assert sawing.cutting_rate(feed, L) == pytest.approx(units.read("10 in2/min", "rate"), rel=ROUNDING)


def test_chip_load_lies_in_the_published_range():
    """Sarwar, Haider and Persson, about 2010: 5 to 50 um per tooth in band sawing (abstract, read)."""
    assert 5.0 < sawing.chip_load(76.2, 84.667, 6.35) < 50.0


def test_band_length_of_two_equal_wheels():
    """Navy NAVEDTRA 14345, p. 4-10: wheels of 14 in, centres 30 in, band 103.982 in."""
    inches = [units.read(text, "length") for text in ("14 in", "30 in")]
    band = sawing.equal_wheels_band_length(*inches)
    assert units.from_inside(band, "length", "in") == pytest.approx(103.982, rel=5e-6)  # as printed


def test_kienzle_force_of_a_thin_chip():
    """Kienzle's law with kc1.1 2220 N/mm2 and mc 0.14 (C45, constants from memory): 3839 N/mm2 at 0.02 mm."""
    kc = sawing.kienzle(2220.0, 0.14, 20.0)
    assert kc == pytest.approx(3839.0, rel=1.3e-4)  # half a unit of the last digit
    power = sawing.cutting_power(kc, 50.0, 1.2)
    volume = 50.0 * 100.0 * 1.2  # mm3/min
    assert power * 60.0 / volume == pytest.approx(3.84, rel=1.3e-3)  # J/mm3, as printed


def test_band_speed_is_travel_past_a_point():
    """165 ft/min is 165 ft of band in a minute, 50.292 m/min (definition)."""
    V = units.read("165 ft/min", "speed")
    assert pytest.approx(50.292, rel=ROUNDING) == V
    turns_a_minute = V * 1000.0 / 4000.0
    assert sawing.bend_cycles(V, 1.0, 4000.0) == pytest.approx(2.0 * turns_a_minute, rel=ROUNDING)


def test_power_in_units_written_out():
    """2000 N/mm2 is 2 J/mm3; 10 cm2/min of 1 mm kerf is 1000 mm3/min: 2000 J a minute, 33.33 W."""
    assert sawing.cutting_power(2000.0, 10.0, 1.0) == pytest.approx(2000.0 / 60.0, rel=ROUNDING)


def test_chip_counted_tooth_by_tooth():
    """The teeth of a minute, each with its layer over the work thickness, add up to the area sawn."""
    V, F, p, L = 60.0, 45.0, 4.0, 30.0
    teeth_a_minute = V * 1000.0 / p
    layer = sawing.chip_load(V, F, p) / 1000.0
    assert teeth_a_minute * layer * L / 100.0 == pytest.approx(sawing.cutting_rate(F, L), rel=ROUNDING)


@pytest.mark.parametrize("wall", [2.0, 10.0, 50.0])
def test_sections_against_integrals_over_the_travel(wall):
    """Chords of a tube integrated over the cut travel by scipy; at wall = radius it is the solid round."""
    d = 100.0

    def metal(y):
        outer = 2.0 * np.sqrt(max((d / 2.0) ** 2 - y**2, 0.0))
        return outer - 2.0 * np.sqrt(max((d / 2.0 - wall) ** 2 - y**2, 0.0))

    edges = [-d / 2.0, -(d / 2.0 - wall), d / 2.0 - wall, d / 2.0]
    area = sum(quad(metal, a, b)[0] for a, b in pairwise(edges))
    shapes = [("tube", wall), ("round", np.nan)] if wall == d / 2.0 else [("tube", wall)]
    for section, thick in shapes:
        sizes = {"section": section, "diameter": d, "wall": thick, "stacked": 1.0}
        unknown = dict.fromkeys(("work_thickness", "cut_travel", "cut_area"), np.nan)
        cut = geometry(pd.DataFrame([sizes | unknown]))
        assert cut.cut_area[0] == pytest.approx(area / 100.0, rel=1e-6)  # quad's default tolerance
        assert cut.work_thickness[0] == pytest.approx(area / d, rel=1e-6)


@given(V=st.floats(5.0, 500.0), h=st.floats(1.0, 60.0), p=st.floats(0.8, 12.7), L=st.floats(1.0, 300.0))
def test_pairs_undo_each_other(V, h, p, L):
    assert sawing.chip_load(V, sawing.feed_rate(V, h, p), p) == pytest.approx(h, rel=ROUNDING)
    assert sawing.tooth_spacing(sawing.tooth_spacing(p)) == pytest.approx(p, rel=ROUNDING)
    assert sawing.seconds_per_inch(sawing.seconds_per_inch(V)) == pytest.approx(V, rel=ROUNDING)
    area = sawing.gullet_area_estimate(p)
    full = sawing.chip_load_at_full_gullet(L, area)
    assert sawing.gullet_fill(full, L, area) == pytest.approx(1.0, rel=ROUNDING)
    assert sawing.cut_time(300.0, h) * h == pytest.approx(300.0, rel=ROUNDING)


def test_teeth_share_the_contact_time():
    """In contact minutes one tooth of 1000 on a 4 m band works L / B of the cut: 50 mm of 4 m in 10 min."""
    assert sawing.contact_minutes(10.0, 50.0, 4000.0) == pytest.approx(10.0 * 50.0 / 4000.0, rel=ROUNDING)
    assert sawing.teeth_in_cut(50.0, 4.0) == pytest.approx(12.5, rel=ROUNDING)


def test_arrays_broadcast():
    V, h = np.array([30.0, 60.0])[:, None], np.array([5.0, 10.0, 20.0])
    assert sawing.feed_rate(V, h, 4.0).shape == (2, 3)
    assert sawing.cut_area_rectangular(np.array([10.0, 20.0]), 50.0).tolist() == [5.0, 10.0]


def test_unknown_tooth_form():
    with pytest.raises(ValueError) as caught:
        sawing.gullet_area_estimate(4.0, "claw")
    assert str(caught.value) == (
        'tooth form "claw" has no gullet estimate; use one of regular, skip, hook, or give gullet_area yourself'
    )
