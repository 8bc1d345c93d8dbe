"""Lesson 4 as a student uses it: the gate, trial cuts within the minutes, a refusal, the bill, handing in, no truth."""

from bandtrial.study import open_study
from bandtrial_lessons.instructor import rivals
from lessons_in_browser import graded, in_class, pass_gate, predict, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_4_own_trial.ipynb"


def cut(lab, band: str, dial: str, feed: str, cuts: str) -> None:
    lab.field("band").select_option(band)
    for label, text in (("speed on the dial", dial), ("feed rate", feed), ("cuts", cuts)):
        lab.field(label).first.fill(text)
    lab.focus(lab.button("Cut"))
    lab.press("Enter")


def test_gate_cut_decide_hand_in(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 4, "Fay Example", "metric")
    slip_then_right(lab, lesson)
    two = predict(lab, lesson, "4P", which=0)
    expect(two.locator(".widget-image")).to_be_visible()
    shot("lesson_4_two_bands")
    expect(lab.notebook.get_by_role("button", name="Cut", exact=True)).to_have_count(0)  # before its prediction
    predict(lab, lesson, "4Q", which=1)
    panel = lab.panel(lab.button("Cut"))
    says = panel.get_by_role("status")  # the prediction's, then the panel's own
    V, F = lesson.work.published
    dial, feed = (lesson.in_unit(x, kind) for x, kind in ((lesson.dial(V), "speed"), (F, "feed_rate")))
    cut(lab, "new", dial, feed, "6")
    expect(says.nth(1)).to_contain_text("The saw is locked: answer the safety questions")
    pass_gate(lab, lesson)
    cut(lab, "new", dial, feed, "6")
    expect(says.nth(1)).to_have_text("6 cuts made on band B01.")
    cut(lab, "B01", dial, lesson.in_unit(1.2 * F, "feed_rate"), "6")
    expect(panel.locator("tr")).to_have_count(3)  # heads and two runs
    cut(lab, "new", dial, lesson.in_unit(1.2 * F, "feed_rate"), "6")
    expect(says.nth(1)).to_have_text("6 cuts made on band B02.")
    cut(lab, "B02", dial, feed, "400")
    expect(says.nth(1)).to_contain_text("min are left:")
    expect(panel).to_contain_text("The trial has cost ")
    expect(lab.notebook.get_by_role("button", name="Take back")).to_have_count(0)
    panel.get_by_role("button", name="Cut", exact=True).scroll_into_view_if_needed()
    shot("lesson_4_cuts")

    handed = lab.panel(lab.button("Hand in"))
    lab.focus(lab.button("Hand in"))
    lab.press("Enter")
    expect(handed.get_by_role("status")).to_have_text(
        'To mend:band speed on the dial: nothing is written yet; write it as "50 m/min".'
    )
    handed.get_by_label("speed on the dial").fill(dial)
    handed.get_by_label("feed rate").fill(lesson.in_unit(1.3 * F, "feed_rate"))
    lab.focus(lab.button("Hand in"))
    lab.press("Enter")
    expect(handed.get_by_role("status")).to_have_text("Everything is answered. Press again to hand in; it is final.")
    lab.press("Enter")
    expect(handed.get_by_role("status")).to_contain_text("Handed in at ", timeout=60_000)
    expect(handed).not_to_contain_text(rivals.BEST)  # the truth is the instructor's to tell
    shot("lesson_4_handed_in")
    cut(lab, "new", dial, feed, "6")
    expect(says.nth(1)).to_contain_text("This trial is handed in; no more cuts are made.")

    study = open_study(folder / "lesson_4_fay_example")
    assert (study.info["author"], len(study.cuts)) == ("Fay Example", 18)
    row = graded(folder)
    assert row["right"] == "3 of 3" and row["yours"].endswith(" %") and float(row["bill"]) > 0
