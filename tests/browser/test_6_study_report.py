"""Notebook 6 as a person uses it, and the report it writes as a browser shows it, with no network."""

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
    page.goto(f"file://{server.root}/notebooks/reports/before_and_after.html")
    expect(page.locator("body")).to_contain_text("Both studies are asked about one setting")
    page.close()
