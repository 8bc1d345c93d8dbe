"""Forty small shops' jobs as people type them: each is read without an error and gets a start."""

import pytest
from bandtrial import published, study, units
from shops_as_typed import PLAIN, SHOPS, folder_of


def test_there_are_forty():
    assert len(SHOPS) == 40


@pytest.mark.parametrize("name", SHOPS)
def test_each_opens_and_starts(tmp_path, name):
    shop = PLAIN | SHOPS[name]
    problems = study.check(folder_of(tmp_path / "shop", SHOPS[name]))
    assert [str(problem) for problem in problems if problem.severity == "error"] == []
    assert [str(problem) for problem in problems if problem.severity == "question"] == []
    opened = study.open_study(tmp_path / "shop")
    cuts = study.cut_table(opened)
    needed = ["band_speed", "published_band_speed", "work_thickness", "cut_travel", "cut_area", "cut_time",
              "contact_minutes", "chip_load"]  # fmt: skip
    assert (cuts[needed] > 0).all(axis=None)
    material = opened.materials["m"]
    start = published.start(material.group, units.read(shop["start"], "length"), "bimetal", system=opened.units)
    assert 5 < start.settings.speed.typical < 2000
    assert set(published.CAUTIONS) <= set(start.cautions)
