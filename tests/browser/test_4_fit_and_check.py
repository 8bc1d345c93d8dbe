"""Notebook 4 as a person uses it: every view of the fit, each control, and the stop button."""

import re
import shutil
from pathlib import Path

import pandas as pd
from playwright.sync_api import expect

DATA = Path(__file__).parents[1] / "data"
DEMO = Path(__file__).parents[2] / "trial_data" / "demo_shop"
NOTEBOOK = "notebooks/4_fit_and_check.ipynb"
TIMES = 80


def demo_many_times(folder):
    """The demo's log TIMES over, each on bands of its own: a fit that lasts long enough to be stopped."""
    shutil.copytree(DEMO, folder)
    for table in ("cuts", "bands"):
        once = pd.read_csv(DEMO / f"{table}.csv", dtype=str, keep_default_na=False)
        parts = [once.assign(band=once["band"] + f"_{n}") for n in range(TIMES)]
        if table == "cuts":
            parts = [part.assign(cut=part["cut"] + f"{n:03d}") for n, part in enumerate(parts)]
        pd.concat(parts).to_csv(folder / f"{table}.csv", index=False)
    return folder


def test_every_view_and_control(lab_page, shot):
    lab = lab_page.open(NOTEBOOK).restart_and_run_all()
    picture = lab.plot()
    picture.scroll_into_view_if_needed()
    shot("4_signals")
    for view in ("life against band speed", "moved from the priors", "residuals", "bands the model misses"):
        with lab.redraws(picture):
            lab.field("view").select_option(view)
        lab.wait_idle()
        shot(f"4_{view.replace(' ', '_')}")
    with lab.redraws(picture):  # by keyboard, back to the first view
        lab.focus(lab.field("view"))
        lab.field("view").press("Home")
    with lab.redraws(picture):
        lab.field("signal").select_option("deviation")

    with lab.redraws(picture):
        lab.field("view").select_option("life against band speed")
    lab.wait_idle()  # the controls of this view are in their places
    handle = lab.slider("chip load [µm]")
    before = lab.slider_at("chip load [µm]")
    with lab.redraws(picture):
        lab.focus(handle)
        lab.press("ArrowRight", "ArrowRight")
    assert lab.slider_at("chip load [µm]") == before + 1
    lab.wait_idle()
    with lab.redraws(picture):  # by mouse, in the middle of the track
        handle.locator("xpath=ancestor::*[contains(@class, 'noUi-target')]").click()
    assert lab.slider_at("chip load [µm]") > before + 5
    with lab.redraws(picture):
        lab.field("material").select_option("A36 plate")
    lab.field("work thickness").fill("")
    panel = lab.page.locator(".jp-OutputArea-output", has=lab.field("view"))
    expect(panel.get_by_role("status")).to_have_text(
        'To mend:work thickness: empty; give one with its unit, as "3/4 in".'
    )
    words = "Minutes that one tooth of a typical band spends in the work. Marks: the bands, brought to this job."
    expect(picture).to_have_attribute("alt", words)


def test_bands_in_service_are_watched(lab_page, shot):
    lab = lab_page.open(NOTEBOOK).restart_and_run_all()
    panel = lab.page.locator(".jp-OutputArea-output", has=lab.field("picture"))
    picture = panel.locator(".widget-image")
    expect(panel).to_contain_text("What the bands in service have left")
    expect(panel.get_by_text("Before you cut", exact=True)).to_be_visible()
    with lab.redraws(picture):
        lab.focus(lab.field("picture"))
        lab.press("ArrowDown")
    expect(picture).to_have_attribute("alt", re.compile("^Every reading pushes the sum up or down"))
    picture.scroll_into_view_if_needed()
    shot("4_watch")


def test_the_fit_can_be_stopped_without_a_traceback(lab_page, with_study, tmp_path):
    lab = lab_page.open(with_study(NOTEBOOK, demo_many_times(tmp_path / "study")))
    lab.press_restart_and_run_all()
    expect(lab.page.get_by_text("the stop button (a square) above the notebook ends it").first).to_be_visible()
    lab.page.locator('.jp-NotebookPanel-toolbar [data-jp-item-name="interrupt"]').click()
    stopped = lab.page.get_by_text("Stopped. Nothing was changed; run the cell again to start anew.")
    expect(stopped).to_be_visible()
    expect(lab.page.get_by_text("Fitting the study: not finished")).to_be_visible()
    expect(lab.page.get_by_text("Traceback")).to_have_count(0)
    lab.expected = lab.kernel_said()
    assert [said.partition(":")[0] for said in lab.expected] == ["KeyboardInterrupt"]


def test_a_study_with_problems_is_told_in_sentences(lab_page, with_study):
    lab = lab_page.open(with_study(NOTEBOOK, DATA / "sample_study_as_typed"))
    lab.press_restart_and_run_all()
    shown = lab.page.locator(".jp-OutputArea-output").filter(has_text="The study has problems to mend first:")
    expect(shown).to_contain_text('row 11, column band_speed: 1150 ft/min is outside the speeds of saw1')
    expect(lab.page.get_by_text("Traceback")).to_have_count(0)
    lab.wait_idle()
    lab.expected = lab.kernel_said()
    assert len(lab.expected) == 1
