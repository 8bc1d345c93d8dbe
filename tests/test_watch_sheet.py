"""The watch sheet: what a person at the saw reads, word for word where it tells what to do."""

import re
from html import unescape
from pathlib import Path

import pytest
from bandtrial import published, study, watch, wear
from bandtrial.report import write_watch_sheet
from bandtrial.report.watch_sheet import NOTHING_YET

DEMO = Path(__file__).parents[1] / "trial_data" / "demo_shop"


@pytest.fixture(scope="module")
def seen():
    shop = study.open_study(DEMO)
    return shop, watch.watch(wear.fit(shop, draws=400), shop)


def words(page: str) -> str:
    body = re.sub(r"<style>.*?</style>", " ", page, flags=re.S)
    return " ".join(unescape(re.sub("<[^>]+>", " ", body)).split())


def test_sheet_has_every_band_its_change_the_score_and_the_cautions(seen, tmp_path):
    shop, now = seen
    out = write_watch_sheet(now, shop, tmp_path / "sheet.html", made="2027-04-02")
    page = out.read_text(encoding="utf-8")
    said = words(page)
    assert "made 2027-04-02" in said and len(now.bands) == 3
    for band in now.bands:
        assert f"band {band.band}, upright, 1045 flat bar, hot rolled {band.pieces_left} pieces left" in said
        change = band.change.said
        assert f"{change[0].upper()}{change[1:]}." in said
    assert now.score.say() in said and "a quarter" in said
    assert all(" ".join(caution.split()) in said for caution in published.CAUTIONS)
    assert "http:" not in page and "https:" not in page and "<script" not in page


def test_sheet_without_bands_or_record_says_so(seen, tmp_path):
    shop, _ = seen
    page = write_watch_sheet(watch.Watch((), ("B9",), (), 0, 1000.0), shop, tmp_path / "none.html").read_text("utf-8")
    said = words(page)
    assert "No band is in service." in said and "B9 is in service and has no cut yet." in said and NOTHING_YET in said
