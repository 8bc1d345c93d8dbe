"""Lesson 2 as a student uses it."""

from lessons_in_browser import all_right, in_class, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_2_feed_and_teeth.ipynb"


def test_a_slip_then_the_right_answer(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 2, "Di Example", "us")
    expect(lab.notebook.get_by_text("Wear eye protection").first).to_be_attached()
    slip_then_right(lab, lesson)
    all_right(folder, lesson)
    lab.plot(0).scroll_into_view_if_needed()
    shot("lesson_2")
    lab.field("answer 2h").scroll_into_view_if_needed()
    shot("lesson_2_end")
