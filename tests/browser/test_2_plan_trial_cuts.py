"""Notebook 2 as a person uses it: a plan by keyboard, a job changed, a run sheet on disk."""

import shutil
from pathlib import Path

from playwright.sync_api import expect

DATA = Path(__file__).parents[1] / "data"
NOTEBOOK = "notebooks/2_plan_trial_cuts.ipynb"


def test_a_plan_is_made_and_its_sheet_is_saved(lab_page, server, shot):
    lab = lab_page.open(NOTEBOOK).restart_and_run_all()
    said = lab.says()
    expect(lab.button("Save run sheet")).to_be_hidden()  # there is no plan yet

    before = lab.slider_at("minutes free")
    lab.focus(lab.slider("minutes free"))
    lab.press("ArrowLeft", "ArrowLeft", "ArrowLeft")
    assert lab.slider_at("minutes free") == before - 30
    lab.focus(lab.button("Plan the cuts"))
    lab.press("Enter")
    panel = lab.panel(lab.button("Plan the cuts"))
    expect(panel).to_contain_text("Trial cuts to make next")
    expect(panel).to_contain_text("run 1")
    expect(panel.get_by_text("Before you cut", exact=True)).to_be_visible()
    picture = lab.plot()
    picture.scroll_into_view_if_needed()
    shot("2_plan")

    lab.button("Save run sheet").click()
    expect(said.last).to_have_text("Saved reports/runs_upright_shaft_1045.html; print it for the machine.")
    sheet = (server.root / "notebooks" / "reports" / "runs_upright_shaft_1045.html").read_text(encoding="utf-8")
    assert "Wear eye protection" in sheet and "Run 1" in sheet and "1045 flat bar" in sheet

    expect(said.last.get_by_role("link")).to_have_attribute(
        "href", "/files/notebooks/reports/runs_upright_shaft_1045.html"
    )
    lab.field("material").select_option("52100 ring blank, annealed")
    expect(said.first).to_have_text("The job has changed: plan the cuts again.")
    expect(panel.get_by_text("Before you cut", exact=True)).to_be_hidden()
    expect(lab.button("Save run sheet")).to_be_hidden()
    expect(said.last).to_have_text("")
    lab.button("Plan the cuts").click()
    expect(said.first).to_contain_text("Planning the cuts: done in")
    lab.field("work thickness").fill("thick")
    lab.button("Plan the cuts").click()
    expect(said.first).to_contain_text('To mend:work thickness: "thick" is not a length')


def test_a_shop_without_a_cut_gets_its_first_runs(lab_page, with_study, tmp_path):
    """A study as it is on its first day: machines, bands and materials, and a log with heads only."""
    folder = tmp_path / "first day"
    shutil.copytree(DATA / "sample_study", folder)
    (folder / "cuts.csv").write_text((folder / "cuts.csv").read_text(encoding="utf-8").splitlines()[0] + "\n")
    lab = lab_page.open(with_study(NOTEBOOK, folder)).run_all()
    lab.button("Plan the cuts").click()
    panel = lab.panel(lab.button("Plan the cuts"))
    expect(panel).to_contain_text("spread the first ones out")
    expect(lab.field("material")).to_have_value("304 plate")  # the material that the study's question names
    expect(panel.get_by_text("Before you cut", exact=True)).to_be_visible()
    expect(lab.plot()).to_be_visible()
