"""The virtual shop's words when asked for the impossible, and its log as a study."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from bandtrial.study import check, cut_table, open_study
from bandtrial_lessons.shop import Shop, ShopError, random_shop
from test_virtual_shop import settings


def test_all_problems_of_a_table_at_once():
    shop = Shop(1)
    shop.new_band()
    shop.new_band(machine="weight_feed")
    table = settings(["B01"], n=4)
    table["material"], table["coolant"] = shop.material.id, "flood"
    table.loc[0, "band"], table.loc[1, "material"], table.loc[2, "coolant"] = "B9", "cheese", "tea"
    table.loc[3, "cut_travel"] = -5.0
    with pytest.raises(ShopError) as caught:
        shop.run(table)
    materials = ", ".join(shop.materials)
    assert str(caught.value).splitlines() == [
        'cut 1: band "B9" can\'t be used; it is one of B01, B02; or fit a new band with new_band().',
        f'cut 2: material "cheese" can\'t be used; it is one of {materials}.',
        'cut 3: coolant "tea" can\'t be used; it is one of flood, mist, air, dry.',
        "cut 4: cut_travel is -5.0; give a number above 0.",
    ]


def test_the_feed_must_be_the_machines():
    shop = Shop(1)
    shop.new_band(machine="weight_feed")
    with pytest.raises(ShopError) as caught:
        shop.cut("B01", 40.0, 90.0)
    assert str(caught.value) == (
        "cut 1: weight_feed takes a set feed_force: give feed_force above 0 and no feed_rate "
        "(given: feed_force nan, feed_rate 90)."
    )


@pytest.mark.parametrize(
    "ask, words",
    [
        (lambda s: s.new_band("four"), 'stock "four" is not in this shop; it has six.'),
        (lambda s: s.new_band(machine="m"), 'machine "m" is not in this shop; it has vertical, weight_feed.'),
        (
            lambda s: [s.new_band(id="B2"), s.new_band(id="B2")],
            'band "B2" is in this shop already; give another id.',
        ),
        (lambda s: s.remove("B07"), 'band "B07" is not in this shop; it has none.'),
        (lambda s: s.run(pd.DataFrame({"band": ["B01"]})), "The table of cuts has no column work_thickness, "
         "cut_travel, band_speed; it needs band, work_thickness, cut_travel, band_speed."),
        (lambda s: Shop(1, kind="odd", metals=("tin",)), 'kind "odd" is not known; it is one of any, gentle, '
         'bent_life, strong_chip, force_feed_thinning.\nmetal "tin" is not known; it is one of mild, medium, '
         "chromoly, bearing, stainless, iron, aluminum, brass."),
    ],
    ids=["stock", "machine", "band twice", "band", "columns", "kind"],
)  # fmt: skip
def test_wrong_names_are_told_with_the_right_ones(ask, words):
    with pytest.raises(ShopError) as caught:
        ask(Shop(1, metals=("mild",)))
    assert str(caught.value) == words


def test_a_band_that_is_off_cannot_cut_or_come_off_again():
    shop = Shop(1)
    shop.new_band()
    shop.remove("B01")
    with pytest.raises(ShopError) as caught:
        shop.remove("B01")
    assert str(caught.value) == 'band "B01" is off already: removed_sound.'
    with pytest.raises(ShopError) as caught:
        shop.cut("B01", 40.0, 90.0)
    assert str(caught.value) == ('cut 1: band "B01" can\'t be used; there is none; or fit a new band with new_band().')


def logged(units: str) -> Shop:
    shop = Shop(replace(random_shop(11), units=units))
    bands = [shop.new_band() for _ in range(2)]
    shop.run(settings(bands, n=30, pieces=40))
    shop.run(settings([shop.new_band(machine="weight_feed")], "weight_feed", n=30, pieces=40))
    for id, band in shop.bands.items():
        if band.alive and id != "B02":
            shop.remove(id)
    return shop


@pytest.mark.parametrize("units", ["metric", "us"])
def test_written_study_opens_without_a_problem_and_is_the_one_in_memory(units, tmp_path):
    """Written values are rounded: lengths, speeds and feeds to what a rule or dial shows."""
    shop = logged(units)
    path = shop.write(tmp_path / "shop", name="a virtual shop", question="which speed?")
    assert [problem.message for problem in check(path) if problem.severity == "error"] == []
    written, memory = open_study(path), shop.to_study(name="a virtual shop", question="which speed?")
    assert written.info == memory.info and written.costs == memory.costs
    assert repr(written.materials) == repr(memory.materials)  # what is not given is nan, which equals nothing
    pd.testing.assert_frame_equal(written.bands, memory.bands)
    a, b = cut_table(written), cut_table(memory)
    numbers = ["band_speed", "work_thickness", "cut_travel", "cut_time", "pieces", "contact_minutes", "chip_load"]
    pd.testing.assert_frame_equal(a.drop(columns=a.select_dtypes("number")), b.drop(columns=b.select_dtypes("number")))
    whole = a["complete"]  # of a lost piece some tenths of a millimetre may be all there is
    for column in numbers:
        np.testing.assert_allclose(a.loc[whole, column], b.loc[whole, column], rtol=0.02, err_msg=column)


def test_study_says_it_is_invented(tmp_path):
    path = logged("metric").write(tmp_path)
    text = "Invented by a virtual shop: no such machine, band or cut exists."
    assert (path / "study.toml").read_text().startswith(f"# {text}\n")
    assert open_study(path).info["safety_notes"] == text
