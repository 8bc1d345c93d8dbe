"""Notebook 7 as a person uses it: the bands in service, past forecasts, and the sheet that is hung at the saws."""

import re

from conftest import SHOTS
from playwright.sync_api import expect

NOTEBOOK = "notebooks/7_keep_watch.ipynb"


def test_bands_are_watched_past_forecasts_seen_and_a_sheet_saved(lab_page, server, chromium, shot):
    lab = lab_page.opened(NOTEBOOK, "watch_bands(fit")
    panel = lab.panel(lab.field("picture"))
    picture = panel.locator(".widget-image")
    expect(panel).to_contain_text("What the bands in service have left")
    expect(panel.get_by_text("Before you cut", exact=True)).to_be_visible()
    picture.scroll_into_view_if_needed()
    shot("7_bands")
    with lab.redraws(picture):
        lab.focus(lab.field("picture"))
        lab.press("ArrowDown")
    expect(picture).to_have_attribute("alt", re.compile("^Each mark is a forecast of a band that has ended"))
    shot("7_past_forecasts")
    lab.button("Save watch sheet").click()
    expect(panel.locator("a", has_text="bands_in_service.html")).to_be_visible()
    expect(lab.notebook.locator(".jp-Notebook")).to_contain_text("within the interval said at half life")
    page = chromium.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"file://{server.root}/notebooks/reports/bands_in_service.html")
    expect(page.locator("h1")).to_have_text("Bands in service")
    expect(page.locator(".band")).to_have_count(3)
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    page.screenshot(path=SHOTS / "7_watch_sheet.png", full_page=True)
    page.close()
