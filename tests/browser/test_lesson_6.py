"""Lesson 6 as a student uses it: the gate, saws to look at, signs made on the bench, answers."""

from lessons_in_browser import graded, hand_in, in_class, pass_gate, predict, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_6_chips_and_signs.ipynb"


def test_gate_saws_and_answers(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 6, "Gus Example", "us")
    expect(lab.notebook.get_by_text("Wear eye protection").first).to_be_attached()
    pass_gate(lab, lesson)
    lab.notebook.get_by_text("The saws are open to you.").scroll_into_view_if_needed()
    shot("lesson_6_gate")
    opened = predict(lab, lesson, "6P")
    lab.focus(opened.get_by_role("button", name="Start the saw"))
    lab.press("Enter")
    feed = lab.slider("feed rate [in/min]")
    lab.focus(feed)
    lab.press("Home")
    expect(opened).to_contain_text("Fine powder instead of chips, and a squeal")
    feed.scroll_into_view_if_needed()
    shot("lesson_6_powder")
    expect(lab.notebook.get_by_role("img", name="Teeth in the work")).to_have_count(5)  # the bench and four saws
    slip_then_right(lab, lesson)
    lab.field("answer 6a").scroll_into_view_if_needed()
    shot("lesson_6_saws")
    hand_in(lab)
    row = graded(folder)
    n = len(lesson.questions)
    assert (row["right"], row["predicted"]) == (f"{n} of {n}", "1 of 1")
