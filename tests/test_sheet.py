"""The setup sheet, word for word, from a recommendation made by hand; US and metric; banners; one page."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from bandtrial import published
from bandtrial.recommend import Recommendation, Setting, Value
from bandtrial.recommend.job import job_of
from bandtrial.recommend.limits import Limit
from bandtrial.report import sheet, write_sheet
from bandtrial.study import open_study

ROOT = Path(__file__).parents[1]
FT, INCH = 0.3048, 25.4
HOLDS = Limit("motor power", 276.0, 1500.0, "W", True, 1.0)


@pytest.fixture(scope="module")
def study():
    return open_study(ROOT / "tests/data/sample_study")


def recommendation(study, machine="saw1", **changes):
    """100 ft/min on the dial of saw1 is 95 ft/min true by its speed check."""
    job = job_of(study, machine, "s8", "plate_304", 0.75 * INCH)
    setting = Setting("recommended", 95 * FT, 100 * FT, 6.5 * INCH, 18.1, 6000.0, Value(0.05, 0.04, 0.06),
                      Value(7500.0, 4500.0, 12000.0), Value(31.0, 30.0, 32.0))  # fmt: skip
    plain = Recommendation(job, "lowest-cost", setting, Value(95 * FT, 91 * FT, 107 * FT), 41.0, (HOLDS,),
                           {"cuts": 88, "bands": 6, "failed": 3, "censored": 3, "minutes": 633.0}, (), (setting,), (),
                           0.0, (29.0, 165.0))  # fmt: skip
    return dataclasses.replace(plain, **changes)


def test_run_sheet_asks_for_readings_in_the_units_of_the_log_form(study):
    job = job_of(study, "saw1", "s8", "plate_304", 0.75 * INCH)
    assert sheet._heads(job, "us")[2:5] == ["cut time [min:s]", "motor power [kW]", "deviation [in]"]
    at_force = job_of(study, "saw2", "s8", "plate_304", 0.75 * INCH)
    assert sheet._heads(at_force, "metric")[3:5] == ["deviation [mm]", "feed force [N]"]


def test_sheet_in_us_units(study):
    fields = sheet.sheet_fields(recommendation(study), study)
    assert fields["banner"] == []
    assert fields["job"] == [
        ("material", "304 plate"),
        ("work thickness", "0.75 in / 19.05 mm"),
        ("coolant", "flood"),
        ("band", "s8: 8 tpi regular"),
        ("set and edge", "raker, bimetal"),
        ("band size", "0.75 in × 0.035 in"),
    ]
    assert fields["settings"] == [
        {"name": "band speed, on the dial", "value": "100 ft/min", "also": "30.5 m/min (true 95 ft/min / 29 m/min)"},
        {"name": "speed range lever", "value": "1 of 2", "also": "50 ft/min to 160 ft/min"},
        {"name": "feed rate", "value": "6.5 in/min", "also": "165 mm/min"},
        {"name": "change the band after", "value": "930 in²", "also": "6,000 cm²; 103 pieces; or when it ends"},
    ]
    assert fields["expect"] == "A piece of 9 in² takes about 1.9 min (4.81 (4.65 to 4.96) in²/min)."
    assert fields["footer"].endswith("88 cuts on 6 bands")


def test_pieces_on_the_sheet_are_whole_and_never_too_many(study):
    """9 in2 is 58.0644 cm2: 6000 cm2 are 103.3 pieces, of which 103 are whole."""
    assert int(6000.0 / (9 * 2.54**2)) == 103
    change = sheet.sheet_fields(recommendation(study), study)["settings"][3]
    assert "103 pieces" in change["also"]


def test_sheet_in_metric_units_and_run_to_the_end(study):
    metric = dataclasses.replace(study, info=study.info | {"units": "metric"})
    given = recommendation(metric)
    given = dataclasses.replace(given, setting=dataclasses.replace(given.setting, change_after=None))
    settings = sheet.sheet_fields(given, metric)["settings"]
    assert [item["value"] for item in settings] == ["30.5 m/min", "1 of 2", "165 mm/min", "when dull"]
    assert settings[3]["also"] == "about 7,500 cm² / 1,200 in², 130 pieces"


def test_a_broken_limit_and_warnings_stand_in_a_banner(study):
    broken = Limit("motor power", 1600.0, 1500.0, "W", True, 0.2)
    fields = sheet.sheet_fields(recommendation(study, limits=(broken,), warnings=("thin evidence: 3 cuts",)), study)
    assert fields["banner"] == ["DO NOT USE: motor power broken", "Thin evidence: 3 cuts."]


def test_a_setting_not_to_be_used_says_so_in_big_letters(study, tmp_path):
    broken = Limit("motor power", 1600.0, 1500.0, "W", True, 0.2)
    for limit, status in ((broken, True), (HOLDS, False)):
        given = recommendation(study, limits=(limit,), next_step="two steps")
        html = write_sheet(given, study, tmp_path / "sheet.html").read_text(encoding="utf-8")
        assert ('class="not-yet status"' in html) is status


def test_a_speed_in_no_range_has_no_lever(study):
    given = recommendation(study)
    given = dataclasses.replace(given, setting=dataclasses.replace(given.setting, indicated=170 * FT))
    assert sheet.sheet_fields(given, study)["settings"][1]["value"] == "NONE"


class KnownSignals:
    """Power and deviation that grow from 200 W to 300 to 400 W, from 0.01 to 0.05 mm."""

    signals = ("motor_power", "deviation")

    def signal(self, name, *setting, wear_used, **names):
        fresh, end = (200.0, np.linspace(300.0, 400.0, 11)) if name == "motor_power" else (0.01, np.full(11, 0.05))
        return np.column_stack([np.full(11, fresh), end])


def test_readings_at_which_to_stop(study):
    """9 in 10 dull bands read below 390 W; 390 W is 0.52 hp, 0.05 mm is 0.0020 in (1 hp = 745.7 W)."""
    lines = sheet.sheet_fields(recommendation(study), study, KnownSignals())["stop"]
    assert lines[:2] == [
        "motor power is over 0.52 hp / 390 W (new band: 0.27 hp)",
        "a cut runs off by over 0.002 in / 0.05 mm (new band: 0.00039 in)",
    ]


def test_page_has_every_caution_and_places_to_sign(study, tmp_path):
    out = write_sheet(recommendation(study), study, tmp_path / "sheet.html", made="2027-04-01")
    html = out.read_text(encoding="utf-8")
    for caution in published.CAUTIONS:
        assert caution.replace("'", "&#39;") in html
    for place in ("set by", "checked by", "made 2027-04-01", "size: letter"):
        assert place in html
    assert "://" not in html and "<script" not in html
