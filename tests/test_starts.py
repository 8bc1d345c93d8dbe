"""What a person is shown for a start: text, HTML and JSON of good and doubtful ones."""

import json
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from bandtrial import published
from bandtrial.published.start import start_text
from bandtrial.published.tables import HOW_KNOWN, lines, source_titles

GOLDEN = Path(__file__).parent / "data" / "starts"

STARTS = {
    "low_carbon_plate": ("low-carbon steel", 15.875, "carbon", "flood", "us"),
    "unsure_thick_iron": ("gray cast iron", 300.0, "bimetal", "dry", "us"),
    "thin_aluminum": ("aluminum alloy", 3.0, "carbon", "air", "us"),
    "titanium_carbide_mist": ("titanium alloy", 50.0, "carbide", "mist", "metric"),
}


@pytest.mark.parametrize("name", STARTS)
def test_start_as_shown(name):
    """Golden text of good and doubtful starts; read by a person, then kept. Rewrite on purpose only."""
    assert start_text(published.start(*STARTS[name]), evidence=True) + "\n" == (GOLDEN / f"{name}.txt").read_text(
        encoding="utf-8"
    )


@pytest.mark.parametrize("name", STARTS)
def test_text_html_and_json_say_the_same(name):
    start = published.start(*STARTS[name])
    text, html = " ".join(start_text(start, evidence=True).split()), unescape(start._repr_html_())
    told = json.loads(json.dumps(start.to_json()))
    for row in start.shown:
        assert row.value in html and row.note in html
        assert " ".join(row.value.split()) in text and " ".join(row.note.split()) in text
    assert set(published.CAUTIONS) == set(told["cautions"])
    for sentence in (*(said for _, said in start.lines()), *start.warnings, *start.cautions):
        assert sentence in text and sentence in html
    assert told["band_speed_m_min"] == start.settings.speed.typical
    assert len(told["rows"]) == len(start.rows)


def test_html_is_escaped():
    start = published.start("leaded brass", 20.0)
    row = start.rows[0].__class__("band", "<b>", "<script>", "a&b", "read")
    html = start.__class__(start.settings, "us", (row, *start.rows), ("<i>",))._repr_html_()
    assert "<script>" not in html and "&lt;script&gt;" in html and "a&amp;b" in html and "&lt;i&gt;" in html


@pytest.mark.parametrize("material", [row["material_group"] for row in lines("band_speeds")])
def test_every_group_has_a_whole_start(material):
    """Conformance: finite and positive numbers, every figure with a known source and a way of knowing."""
    start = published.start(material, 25.0, "bimetal")
    s = start.settings
    numbers = [s.speed.low, s.speed.high, s.chip_load, s.feed_rate, s.cutting_rate, s.gullet_fill]
    assert np.all(np.isfinite(numbers)) and min(numbers) > 0
    assert s.speed.low <= s.speed.typical <= s.speed.high
    assert 5.0 <= s.chip_load <= 50.0 and s.teeth_in_cut >= 3.0 and s.gullet_fill <= 1.0
    for row in start.rows:
        assert row.how_known in HOW_KNOWN
        for name in row.source.split("; "):
            assert name in {*source_titles(), "our choice", ""}


def test_doubt_is_said_first():
    """Rows marked "memory, unsure" warn; sources that disagree are both named."""
    iron = published.start("gray cast iron", 100.0)
    assert iron.warnings[0].startswith("The band speed is from memory and unsure")
    steel = published.start("low-carbon steel", 100.0)
    assert "open_textbook gives 66 ft/min" in steel.warnings[0] and "handbook_31 300 ft/min" in steel.warnings[0]
    aluminum = published.start("aluminum alloy", 100.0)
    assert any("700 ft/min" in text and "500 ft/min" in text for text in aluminum.warnings)
