"""Lesson 1 as a student uses it: answers right and not yet right, by keyboard, in both systems of units."""

from lessons_in_browser import all_right, answer, in_class, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_1_speed_and_life.ipynb"


def test_a_slip_then_the_right_answer(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 1, "Bo Example", "metric")
    expect(lab.notebook.get_by_text("Wear eye protection").first).to_be_attached()
    slip_then_right(lab, lesson)
    all_right(folder, lesson)
    answer(lab, "1e", lesson.question("1e").shown(lesson.question("1e").slips[0].value))
    lab.plot(1).scroll_into_view_if_needed()
    shot("lesson_1")


def test_us_units_and_what_cannot_be_read(lab_page, server, shot):
    lab, lesson, _ = in_class(lab_page, server, FILE, 1, "Cy Example", "us")
    expect(answer(lab, "1d", "fast")).to_have_text(
        'Can\'t read that: "fast" is not a speed; write a number with a unit, such as "5 ft/min" or "5 m/min"; '
        'write it as "165 ft/min".'
    )
    right = lesson.question("1d").shown()
    assert right.endswith("ft/min")
    expect(answer(lab, "1d", right)).to_contain_text("Right: ")
    lab.plot(0).scroll_into_view_if_needed()
    shot("lesson_1_us")
