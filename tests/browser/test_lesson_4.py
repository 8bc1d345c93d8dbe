"""Lesson 4 as a student uses it: trial cuts within the minutes, a refusal, taking back, handing in, the truth."""

import re

import bandtrial_lessons as lessons
from bandtrial.study import open_study
from bandtrial_lessons import rivals
from lessons_in_browser import answer, in_class, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_4_own_trial.ipynb"


def cut(lab, band: str, dial: str, feed: str, cuts: str) -> None:
    lab.field("band").select_option(band)
    for label, text in (("speed on the dial", dial), ("feed rate", feed), ("cuts", cuts)):
        lab.field(label).first.fill(text)
    lab.focus(lab.button("Cut"))
    lab.press("Enter")


def test_cut_decide_and_see_the_truth(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 4, "Fay Example", "metric")
    slip_then_right(lab, lesson)
    panel = lab.panel(lab.button("Cut"))
    says = panel.get_by_role("status")
    V, F = lesson.work.published
    dial, feed = (lesson.in_unit(x, kind) for x, kind in ((lesson.dial(V), "speed"), (F, "feed_rate")))
    cut(lab, "new", lesson.in_unit(0.75 * lesson.dial(V), "speed"), feed, "12")
    expect(says.first).to_have_text("12 cuts made on band B01.")
    cut(lab, "B01", dial, feed, "12")
    expect(panel.locator("tr")).to_have_count(3)  # heads and two runs
    cut(lab, "new", dial, lesson.in_unit(1.5 * F, "feed_rate"), "12")
    expect(says.first).to_have_text("12 cuts made on band B02.")
    expect(panel.locator("tr")).to_have_count(4)
    cut(lab, "B02", dial, feed, "400")
    expect(says.first).to_contain_text("min are left:")
    lab.focus(lab.button("Take back last run"))
    lab.press("Enter")
    expect(panel.locator("tr")).to_have_count(3)
    expect(says.first).to_have_text("The last run, 12 cuts on band B02, was not made.")
    cut(lab, "new", lesson.in_unit(0.8 * lesson.dial(V), "speed"), lesson.in_unit(1.4 * F, "feed_rate"), "20")
    expect(panel.locator("tr")).to_have_count(4)
    expect(says.first).to_have_text("20 cuts made on band B02.")
    panel.get_by_role("button", name="Cut", exact=True).scroll_into_view_if_needed()
    shot("lesson_4_cuts")

    handed = lab.panel(lab.button("Hand in and see the truth"))
    lab.focus(lab.button("Hand in and see the truth"))
    lab.press("Enter")
    expect(handed.get_by_role("status")).to_have_text(
        'To mend:band speed on the dial: nothing is written yet; write it as "50 m/min".'
    )
    handed.get_by_label("speed on the dial").fill(lesson.in_unit(0.8 * lesson.dial(V), "speed"))
    handed.get_by_label("feed rate").fill(lesson.in_unit(1.3 * F, "feed_rate"))
    lab.focus(lab.button("Hand in and see the truth"))
    lab.press("Enter")
    expect(handed.get_by_role("status")).to_have_text("Handed in; it is kept with your trial.", timeout=60_000)
    for name in (rivals.PUBLISHED, rivals.TEXTBOOK, rivals.TOOLKIT, rivals.OWN, rivals.BEST):
        expect(handed).to_contain_text(name)
    truth = handed.locator(".widget-image")
    expect(truth).to_have_attribute("src", re.compile("^blob:"))
    expect(truth).to_have_attribute("alt", re.compile("^The line is what an area truly costs over band speed"))
    truth.scroll_into_view_if_needed()
    shot("lesson_4_truth")

    study = open_study(folder / "lesson_4_fay_example")
    assert (study.info["author"], len(study.cuts)) == ("Fay Example", 44)
    (row,) = lessons.grade(folder).to_dict("records")
    assert row["right"] == "3 of 3" and row["yours"].endswith(" %") and row["remarks"] == ""
    assert answer(lab, "4c", "c")
