"""Lesson 3 as a student uses it: answers, a prediction, and prices moved by arrow keys."""

from lessons_in_browser import graded, hand_in, in_class, predict, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_3_cost_of_a_cut.ipynb"


def test_a_slip_then_the_right_answer_and_prices_moved(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 3, "Ed Example", "metric")
    slip_then_right(lab, lesson)
    predict(lab, lesson, "3P", 2)

    picture, band = lab.plot(0), lab.slider("a band [EUR]")
    with lab.redraws(picture):
        lab.focus(band)
        lab.press("Home")  # a band that costs nothing: the two speeds meet
    panel = lab.panel(band)
    expect(panel).to_contain_text("Lowest cost and greatest output are at one speed.")
    with lab.redraws(picture):
        lab.press("End")
    expect(panel).to_contain_text("% slower than the greatest output.")
    picture.scroll_into_view_if_needed()
    shot("lesson_3")
    hand_in(lab)
    row = graded(folder)
    n = len(lesson.questions)
    assert (row["right"], row["predicted"]) == (f"{n} of {n}", "1 of 1")
