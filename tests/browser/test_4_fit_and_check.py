"""Notebook 4 as a person uses it: every view of the fit, each control, and the stop button."""

import re
from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import expect

ASK = "Point at a mark to read what it is; by keyboard: Tab to the picture, then the arrow keys."
FOURTH = re.compile("^cut 4, row 5 of cuts.csv: .*band speed 87 m/min; feed rate 204 mm/min; ")  # as trial_data has it
DATA = Path(__file__).parents[1] / "data"
NOTEBOOK = "notebooks/4_fit_and_check.ipynb"
AGAIN = """
once = wear.fit
def again_and_again(shop):
    while True:
        once(shop)
wear.fit = again_and_again
"""


def fit_without_end(server, notebook: str) -> str:
    """The notebook with a fit that goes on until it is stopped, however fast the machine; its name."""
    found = nbformat.read(server.root / notebook, as_version=4)
    found.cells[1].source += AGAIN
    nbformat.write(found, server.root / "notebooks" / "without_end.ipynb")
    return "notebooks/without_end.ipynb"


def test_every_view_and_control(lab_page, shot):
    lab = lab_page.opened(NOTEBOOK, "check_fit(fit")
    picture = lab.plot()
    picture.scroll_into_view_if_needed()
    shot("4_signals")
    for view in ("life against band speed", "moved from the priors", "residuals", "bands the model misses"):
        with lab.redraws(picture):
            lab.field("view").select_option(view)
        shot(f"4_{view.replace(' ', '_')}")
    with lab.redraws(picture):  # by keyboard, back to the first view
        lab.focus(lab.field("view"))
        lab.press("Home")
    with lab.redraws(picture):
        lab.field("signal").select_option("deviation")

    with lab.redraws(picture):
        lab.field("view").select_option("life against band speed")
    handle = lab.slider("chip load [µm]")
    before = lab.slider_at("chip load [µm]")
    with lab.redraws(picture):
        lab.focus(handle)
        lab.press("ArrowRight", "ArrowRight")
    assert lab.slider_at("chip load [µm]") == before + 1
    with lab.redraws(picture):  # by mouse, in the middle of the track
        handle.locator("xpath=ancestor::*[contains(@class, 'noUi-target')]").click()
    assert lab.slider_at("chip load [µm]") > before + 5
    with lab.redraws(picture):
        lab.field("material").select_option("A36 plate")
    lab.field("work thickness").fill("")
    panel = lab.panel(lab.field("view"))
    expect(panel.get_by_role("status")).to_have_text(
        'To mend:work thickness: empty; give one with its unit, as "40 mm".'
    )
    expect(picture).to_be_hidden()  # no old picture under a slip
    lab.field("work thickness").fill("700 mm")
    expect(panel.get_by_role("status")).to_have_text(
        'To mend:work thickness: "700 mm" is more than the throat of upright, 600 mm.'
    )
    lab.field("work thickness").fill("30 mm")
    expect(picture).to_be_visible()
    words = "Minutes that one tooth of a typical band spends in the work. Marks: the bands, brought to this job."
    expect(picture).to_have_attribute("alt", words)


def test_a_mark_says_which_cut_it_is(lab_page, shot):
    lab = lab_page.opened(NOTEBOOK, "check_fit(fit")
    with lab.redraws(lab.plot()):
        lab.field("view").select_option("residuals")
    panel = lab.panel(lab.field("view"))
    marks, said = panel.get_by_label("marks of the picture"), panel.locator(".bandtrial-marks p")
    expect(said).to_have_text(ASK)
    fourth = marks.locator("circle").nth(3)
    box = fourth.bounding_box()
    for size in ((1920, 1080), (1280, 800)):  # the layer lies on the picture, whatever its width
        lab.page.set_viewport_size({"width": size[0], "height": size[1]})
        lab.settle()
        lab.plot().scroll_into_view_if_needed()
        box, picture, layer = fourth.bounding_box(), lab.plot().bounding_box(), marks.bounding_box()
        assert [layer[side] for side in layer] == pytest.approx([picture[side] for side in layer], abs=2)  # pixels
        assert picture["width"] > 0.7 * size[0]
        lab.page.mouse.move(layer["x"] + 1, layer["y"] + 1)
        lab.page.mouse.move(box["x"] + box["width"] / 2 + 3, box["y"] + box["height"] / 2)  # beside it will do
        expect(said).to_have_text(FOURTH)
        shot(f"4_asked_{size[0]}")
    lab.page.set_viewport_size({"width": 1280, "height": 1000})
    lab.focus(marks)
    lab.press("ArrowRight")
    expect(said).to_have_text(re.compile("^cut 5, row 6 of cuts.csv: "))
    lab.press("Home")
    expect(said).to_have_text(re.compile("^cut 1, row 2 of cuts.csv: "))
    with lab.redraws(lab.plot()):  # what was said of an old picture goes with it
        lab.field("signal").select_option("deviation")
    expect(said).to_have_text(ASK)
    assert lab.cells() > 5


def test_bands_in_service_are_watched(lab_page, shot):
    lab = lab_page.opened(NOTEBOOK, "watch_bands(fit")
    panel = lab.panel(lab.field("picture"))
    picture = panel.locator(".widget-image")
    expect(panel).to_contain_text("What the bands in service have left")
    expect(panel.get_by_text("Before you cut", exact=True)).to_be_visible()
    for words in ("Each mark is a forecast of a band that has ended", "Every reading pushes the sum up or down"):
        with lab.redraws(picture):
            lab.focus(lab.field("picture"))
            lab.press("ArrowDown")
        expect(picture).to_have_attribute("alt", re.compile(f"^{words}"))
    picture.scroll_into_view_if_needed()
    shot("4_watch")


def test_the_fit_can_be_stopped_without_a_traceback(lab_page, server):
    lab = lab_page.open(fit_without_end(server, NOTEBOOK))
    lab.press_restart_and_run_all()
    expect(lab.notebook.get_by_text("the stop button (a square) above the notebook ends it").first).to_be_visible()
    lab.notebook.locator('.jp-NotebookPanel-toolbar [data-jp-item-name="interrupt"]').click()
    stopped = lab.notebook.get_by_text("Stopped. Nothing was changed; run the cell again to start anew.")
    expect(stopped).to_be_visible()
    expect(lab.notebook.get_by_text("Fitting the study: not finished")).to_be_visible()
    expect(lab.notebook.get_by_text("Traceback")).to_have_count(0)
    lab.expected = lab.kernel_said()
    assert [said.partition(":")[0] for said in lab.expected] == ["KeyboardInterrupt"]


def test_a_study_with_problems_is_told_in_sentences(lab_page, with_study):
    lab = lab_page.open(with_study(NOTEBOOK, DATA / "sample_study_as_typed"))
    lab.press_restart_and_run_all()
    shown = lab.notebook.locator(".jp-OutputArea-output").filter(has_text="The study has problems to mend first:")
    expect(shown).to_contain_text("row 11, column band_speed: 1150 ft/min is outside the speeds of saw1")
    expect(lab.notebook.get_by_text("Traceback")).to_have_count(0)
    lab.wait_idle()
    lab.expected = lab.kernel_said()
    assert len(lab.expected) == 1
