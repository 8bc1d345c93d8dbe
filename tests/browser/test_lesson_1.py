"""Lesson 1 as a student uses it: predict, slips, right answers, a restart, handed in, graded; both systems of units."""

from lessons_in_browser import answer, graded, hand_in, in_class, predict, said, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_1_speed_and_life.ipynb"


def test_predict_slip_right_restart_hand_in(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 1, "Bo Example", "metric")
    expect(lab.notebook.locator(".widget-image")).to_have_count(0)  # no picture is open before its prediction
    opened = predict(lab, lesson, "1P")
    expect(opened.locator(".widget-image")).to_have_count(1)
    lab.field("because 1P").fill("life falls with a high power of speed")
    lab.field("because 1P").press("Enter")
    expect(opened).to_contain_text("Kept.")
    shot("lesson_1_predicted")
    slip_then_right(lab, lesson)
    predict(lab, lesson, "1Q", 2)
    lab.plot(1).scroll_into_view_if_needed()
    shot("lesson_1")

    lab.restart_and_run_all()
    expect(lab.field("answer 1c")).to_have_value(lesson.question("1c").shown(lesson.question("1c").expected))
    expect(said(lab, "1c")).to_contain_text("Right: ")
    expect(lab.field("because 1P")).to_have_value("life falls with a high power of speed")
    hand_in(lab)
    expect(answer(lab, "1c", "1")).to_contain_text("Handed in; this is not kept any more.")
    row = graded(folder)
    n = len(lesson.questions)
    assert (row["right"], row["tries"], row["predicted"], row["open"]) == (f"{n} of {n}", 2 * n, "2 of 2", "")
    assert float(row["points"]) == 0.8 * n + 1.0


def test_us_units_hints_by_degrees_and_new_numbers(lab_page, server, shot):
    lab, lesson, _ = in_class(lab_page, server, FILE, 1, "Cy Example", "us")
    expect(answer(lab, "1d", "fast")).to_have_text(
        'Can\'t read that: "fast" is not a speed; write a number with a unit, such as "5 ft/min" or "5 m/min"; '
        'write it as "165 ft/min".'
    )
    question = lesson.question("1d")
    far = [question.shown(question.expected * factor) for factor in (1234.5, 2345.6, 3456.7)]
    expect(answer(lab, "1d", far[0])).to_have_text(f"Not yet: {question.nudge}")
    expect(answer(lab, "1d", far[1])).to_contain_text("How: " + question.how)
    expect(answer(lab, "1d", far[2])).to_contain_text(f"Told: The answer was {question.shown(question.expected)}")
    panel = lab.panel(lab.field("answer 1d"))
    expect(panel).to_contain_text("New numbers. Band 1:")
    shot("lesson_1_us")
    expect(answer(lab, "1d", lesson.question("1d", 1).shown(lesson.question("1d", 1).expected))).to_contain_text(
        "Right: "
    )
