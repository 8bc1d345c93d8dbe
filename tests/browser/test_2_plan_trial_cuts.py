"""Notebook 2 as a person uses it: a plan by keyboard, a job changed, a run sheet on disk."""

from playwright.sync_api import expect

NOTEBOOK = "notebooks/2_plan_trial_cuts.ipynb"


def test_a_plan_is_made_and_its_sheet_is_saved(lab_page, server, shot):
    lab = lab_page.open(NOTEBOOK).restart_and_run_all()
    said = lab.page.get_by_role("status")
    lab.button("Save run sheet").click()
    expect(said.last).to_have_text("To mend:There is no plan to save a run sheet of; plan the cuts first.")

    before = lab.slider_at("minutes free")
    lab.slider("minutes free").focus()
    lab.press("ArrowLeft", "ArrowLeft", "ArrowLeft")
    assert lab.slider_at("minutes free") == before - 30
    lab.button("Plan the cuts").focus()
    lab.press("Enter")
    panel = lab.page.locator(".jp-OutputArea-output", has=lab.button("Plan the cuts"))
    expect(panel).to_contain_text("Trial cuts to make next")
    expect(panel).to_contain_text("run 1")
    picture = lab.plot()
    picture.scroll_into_view_if_needed()
    shot("2_plan")

    lab.button("Save run sheet").click()
    expect(said.last).to_have_text("Saved reports/runs_upright_shaft_1045.html; print it for the machine.")
    sheet = (server.root / "notebooks" / "reports" / "runs_upright_shaft_1045.html").read_text(encoding="utf-8")
    assert "Wear eye protection" in sheet and "Run 1" in sheet and "1045 flat bar" in sheet

    lab.field("material").select_option("guide_52100")
    expect(said.first).to_have_text("The job has changed: plan the cuts again.")
    lab.button("Plan the cuts").click()
    expect(said.first).to_contain_text("Planning the cuts: done in")
    lab.field("work thickness").fill("thick")
    lab.button("Plan the cuts").click()
    expect(said.first).to_contain_text('To mend:work thickness: "thick" is not a length')
