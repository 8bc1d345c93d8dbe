"""Lesson 3 as a student uses it: answers, and prices moved by arrow keys."""

from lessons_in_browser import all_right, in_class, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_3_cost_of_a_cut.ipynb"


def test_a_slip_then_the_right_answer_and_prices_moved(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 3, "Ed Example", "metric")
    expect(lab.notebook.get_by_text("Wear eye protection").first).to_be_attached()
    slip_then_right(lab, lesson)
    all_right(folder, lesson)

    picture, band = lab.plot(0), lab.slider("a band [EUR]")
    with lab.redraws(picture):
        lab.focus(band)
        lab.press("Home")  # a band that costs nothing: the two speeds meet
    panel = lab.panel(band)
    expect(panel.get_by_role("status")).to_have_text("Lowest cost and greatest output are at one speed.")
    with lab.redraws(picture):
        lab.press("End")
    expect(panel.get_by_role("status")).to_contain_text("% slower than the greatest output.")
    picture.scroll_into_view_if_needed()
    shot("lesson_3")
