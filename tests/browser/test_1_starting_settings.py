"""Notebook 1 as a person uses it."""

import re

from playwright.sync_api import expect

NOTEBOOK = "notebooks/1_starting_settings.ipynb"


def test_choices_by_keyboard_and_mouse(lab_page, shot):
    lab = lab_page.opened(NOTEBOOK, "starting_settings(material")
    answer, picture = lab.notebook.locator(".bandtrial-start"), lab.plot()
    # Machinery's Handbook, worked example: 5/8 in, carbon edge, 168 ft/min; navy_14345 gives 165
    expect(answer).to_contain_text("First cut169 ft/min (51.4 m/min) true")
    lab.field("work thickness").scroll_into_view_if_needed()
    shot("1_starting_settings")

    with lab.redraws(picture):
        lab.field("material group").select_option("austenitic stainless steel")
    expect(answer).to_contain_text("Start of a trial: austenitic stainless steel")

    with lab.redraws(picture):
        lab.focus(lab.field("edge"))
        lab.press("ArrowUp")  # from carbon: the commonest edge stands first
    expect(answer).to_contain_text("bimetal edge")

    with lab.redraws(picture):
        lab.field("work thickness").fill("20 mm")
    expect(answer).to_contain_text(re.compile(r"0\.787 in \(20 mm\)"))

    with lab.redraws(picture):
        lab.field("units").select_option("metric")
    expect(answer).to_contain_text(re.compile(r"First cut[\d.]+ m/min"))
    expect(picture).to_have_attribute("alt", re.compile("^Left: each source as it is printed, for the edge"))
    # the cautions stand above what to set, the evidence behind a fold below it
    order = "Before cutting.*Wear eye protection.*First cut.*Where the figures are from"
    expect(answer).to_contain_text(re.compile(order, re.DOTALL))
    lab.field("operation").select_option("contour")
    expect(answer).to_contain_text("Smallest radius")
    lab.field("operation").select_option("sawing")
    shot("1_starting_settings_metric")


def test_a_slip_is_told_in_a_sentence(lab_page):
    lab = lab_page.opened(NOTEBOOK, "starting_settings(material")
    lab.field("work thickness").fill("<b>thick</b>")
    expect(lab.says()).to_have_text(
        'To mend:work thickness: "<b>thick</b>" is not a length; write a number with a unit, '
        'such as "5/8 in" or "16 mm"'
    )
    expect(lab.notebook.locator(".bandtrial-start")).to_have_count(0)  # no old answer under a slip
    expect(lab.plot()).to_be_hidden()
    lab.field("work thickness").fill("")
    expect(lab.says()).to_have_text('Give the work thickness with its unit, as "5/8 in".')
    lab.field("work thickness").fill("16 mm")
    expect(lab.notebook.locator(".bandtrial-start")).to_contain_text("0.63 in (16 mm)")
    expect(lab.plot()).to_be_visible()
