"""Notebook 6 as a person uses it, and the report it writes as a browser shows it, with no network."""

import pytest
from conftest import SHOTS
from playwright.sync_api import expect

NOTEBOOK = "notebooks/6_study_report.ipynb"


def test_the_report_is_written_and_opens_alone(lab_page, server, chromium, shot):
    lab = lab_page.open(NOTEBOOK).restart_and_run_all()
    expect(lab.notebook.get_by_text("Writing the report: done in")).to_be_visible()
    expect(lab.notebook.locator("a", has_text="demo_shop.html")).to_be_visible()
    shot("6_study_report")
    page = chromium.new_page()
    asked = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"file://{server.root}/notebooks/reports/demo_shop.html")
    expect(page.locator("body")).to_contain_text("Band speed, feed and change-out for 40 mm 1045 flat bar")
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    page.screenshot(path=SHOTS / "6_report_page.png")
    mark = page.locator("figure .marks").first.locator("circle").last  # a mark says what it is, without a script
    mark.scroll_into_view_if_needed()
    mark.hover()
    assert mark.evaluate("circle => getComputedStyle(circle).stroke") == "rgb(0, 0, 0)"
    assert mark.locator("title").text_content().startswith("cut ")
    drawing = page.locator("figure .drawing").first
    places = [drawing.locator(part).bounding_box() for part in ("img", ".marks")]
    assert list(places[0].values()) == pytest.approx(list(places[1].values()), abs=1)  # pixels
    for width, height in ((1280, 800), (1920, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        page.screenshot(path=SHOTS / f"6_report_picture_{width}.png")
    expect(lab.notebook.locator("a", has_text="summary.html")).to_be_visible()
    page.goto(f"file://{server.root}/notebooks/reports/demo_shop_summary/summary.html")
    expect(page.locator("body")).to_contain_text("Before anybody cuts")
    page.screenshot(path=SHOTS / "6_summary.png", full_page=True)
    page.goto(f"file://{server.root}/notebooks/reports/before_and_after.html")
    expect(page.locator("body")).to_contain_text("Both studies are asked about one setting")
    page.close()
