"""Lesson 2 as a student uses it: predictions before tables and pictures, answers, the bench with a tooth to look at."""

from lessons_in_browser import graded, hand_in, in_class, pass_gate, predict, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_2_feed_and_teeth.ipynb"


def test_predict_answer_look_hand_in(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 2, "Di Example", "us")
    expect(predict(lab, lesson, "2P", 2).locator("table")).to_have_count(1)
    expect(predict(lab, lesson, "2Q").locator(".widget-image")).to_have_count(1)
    lab.plot(0).scroll_into_view_if_needed()
    shot("lesson_2")
    slip_then_right(lab, lesson)
    start = lab.button("Start the saw")
    lab.focus(start)
    lab.press("Enter")
    expect(lab.notebook.get_by_text("The saw is locked: answer the safety questions")).to_be_visible()
    pass_gate(lab, lesson)
    lab.focus(start)
    lab.press("Enter")
    tooth = lab.notebook.get_by_role("img", name="Teeth in the work")
    expect(tooth).to_be_visible()
    tooth.scroll_into_view_if_needed()
    shot("lesson_2_bench")
    hand_in(lab)
    row = graded(folder)
    n = len(lesson.questions)
    assert (row["right"], row["predicted"], row["remarks"]) == (f"{n} of {n}", "2 of 2", row["remarks"])
    assert "not handed in" not in row["remarks"]
