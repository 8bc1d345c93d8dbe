"""The cut table against arithmetic done by hand from the log's own figures, and sections against geometry."""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial import published, study
from bandtrial.study.model import Machine
from bandtrial.study.sections import circle_passed
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from study_folders import folder, rows

SAMPLE = Path(__file__).parent / "data/sample_study"
EXACT = 1e-12  # sums and products of doubles
FIXED = settings(derandomize=True, deadline=None, max_examples=100)


@pytest.fixture(scope="module")
def table():
    return study.cut_table(study.open_study(SAMPLE))


def test_the_first_cut_agrees_with_a_hand_calculation(table):
    """Cut 1 of the sample: 304, 0.750 in thick, 18.0 in of travel, dial 130 ft/min, 278 s, 6 pieces, 157 in band."""
    cut = table.iloc[0]
    V = (95 + (239 - 95) * 30 / 150) * 0.3048  # between the checks 100 -> 95 and 250 -> 239 ft/min
    t = 278 / 60
    by_hand = {
        "band_speed": V,
        "indicated_band_speed": 130 * 0.3048,
        "work_thickness": 0.75 * 25.4,
        "cut_travel": 18 * 25.4,
        "cut_area": 0.75 * 18 * 6.4516,
        "feed_rate": 18 * 25.4 / t,
        "set_feed_rate": 3.80 * 25.4,
        "chip_load": 18 * 25.4 / t * 25.4 / 8 / V,
        "teeth_in_cut": 0.75 * 8,
        "contact_minutes": 6 * t * 0.75 / 157,
        "bend_cycles": 6 * 2 * V * t / (157 * 0.0254),
        "band_length": 157 * 25.4,
        "motor_power": 168.0,
        "deviation": 0.0005 * 25.4,
    }
    for name, value in by_hand.items():
        assert cut[name] == pytest.approx(value, rel=EXACT), name
    names = {"cut": "1", "machine": "saw1", "band": "B01", "stock": "s8", "material": "plate_304",
             "feed_mode": "rate", "coolant": "flood", "operation": "sawing", "exclude": "", "note": ""}  # fmt: skip
    assert {name: cut[name] for name in names} == names
    assert math.isnan(cut["feed_force"])
    assert cut["complete"]


def test_the_table_has_one_row_per_cut_in_the_order_of_the_file(table):
    assert table["cut"].tolist() == [str(n) for n in range(1, 184)]
    assert not table[["band_speed", "chip_load", "contact_minutes", "published_band_speed"]].isna().any(axis=None)
    assert set(table.loc[table["machine"] == "saw2", "feed_mode"]) == {"force"}


def test_the_published_speed_is_that_of_the_material_and_thickness(table):
    cut = table[table["material"] == "bar_4140"].iloc[0]
    expected = published.band_speed("chromium-molybdenum steel", cut["work_thickness"], "bimetal", "flood")
    assert cut["published_band_speed"] == pytest.approx(expected, rel=EXACT)


def test_the_band_table_is_in_the_order_of_its_file():
    bands = study.band_table(study.open_study(SAMPLE))
    assert bands["band"].tolist() == [f"B{n:02}" for n in range(1, 11)]
    assert bands["end"].tolist()[:3] == ["dull", "dull", "removed_sound"]
    assert list(bands) == ["band", "stock", "machine", "end", "note", "fitted", "removed"]


def test_a_study_without_cuts_has_an_empty_table(tmp_path):
    opened = study.open_study(folder(tmp_path / "study", rows()))
    assert len(study.cut_table(opened)) == 0
    assert list(study.cut_table(opened)) == list(study.cut_table(study.open_study(SAMPLE)))


def test_rounds_and_tubes(tmp_path):
    """A round of 4 in: area pi 4, mean thickness pi in. A tube 4 in, wall 1/2 in: ring of 4 and 3 in."""
    bare = {"work_thickness": "", "cut_travel": "", "diameter": "4", "feed_rate": ""}
    opened = study.open_study(folder(tmp_path / "study", rows(
        {**bare, "section": "round"}, bare, {**bare, "wall": "1/2"}, {**bare, "cut_travel": "2", "complete": "no"},
    )))  # fmt: skip
    table = study.cut_table(opened)
    ring = math.pi / 4 * (4**2 - 3**2)
    areas = [math.pi * 4, math.pi * 4, ring, math.pi * 2]
    np.testing.assert_allclose(table["cut_area"], np.multiply(areas, 6.4516), rtol=EXACT)
    np.testing.assert_allclose(table["cut_travel"], np.multiply([4, 4, 4, 2], 25.4), rtol=EXACT)
    np.testing.assert_allclose(table["work_thickness"], np.multiply(areas, 25.4) / [4, 4, 4, 2], rtol=EXACT)


@FIXED
@given(st.floats(0.5, 2000), st.floats(0, 1))
def test_the_area_a_cut_has_passed_is_the_integral_of_the_chord(d, share):
    r = d / 2
    area, _ = quad(lambda x: 2 * math.sqrt(max(r**2 - (r - x) ** 2, 0.0)), 0, share * d)
    assert circle_passed(np.array(d), np.array(share * d)) == pytest.approx(area, rel=1e-6, abs=1e-9 * d**2)


@FIXED
@given(st.lists(st.tuples(st.floats(1, 400), st.floats(0.7, 1.3)), min_size=1, max_size=5), st.floats(0.1, 900))
def test_true_and_indicated_speed_undo_each_other(points, V):
    rising = sorted({round(dial): round(dial) * share for dial, share in points}.items())
    check = [point for n, point in enumerate(rising) if n == 0 or point[1] > max(m for _, m in rising[:n]) + 1]
    machine = Machine("m", "vertical", "rate", ((1.0, 500.0),), 4000.0, speed_check=tuple(check))
    assert machine.indicated_speed(machine.true_speed(V)) == pytest.approx(V, rel=1e-9)
    for dial, measured in check:
        assert machine.true_speed(dial) == pytest.approx(measured, rel=EXACT)


def test_speed_beyond_the_checks_is_proportional():
    machine = Machine("m", "vertical", "rate", ((1.0, 500.0),), 4000.0, speed_check=((50.0, 48.0), (100.0, 97.0)))
    np.testing.assert_allclose(machine.true_speed(np.array([25.0, 75.0, 200.0])), [24.0, 72.5, 194.0], rtol=EXACT)


def test_a_million_cuts_would_not_take_a_loop(tmp_path):
    """20,000 rows here; `benchmarks/study_scale.py` does the million. Each cut must cost well below 100 us."""
    import time

    body = "\n".join(rows({}).splitlines()[1].replace("1,", f"{n},", 1) for n in range(20_000))
    place = folder(tmp_path / "study", rows() + body + "\n")
    begin = time.process_time()
    table = study.cut_table(study.open_study(place))
    assert len(table) == 20_000
    assert time.process_time() - begin < 10.0  # 15 us a cut on a quiet machine; 500 us allowed on a slow one
    assert isinstance(table["started"].dtype, np.dtype) and pd.isna(table["started"]).all()
