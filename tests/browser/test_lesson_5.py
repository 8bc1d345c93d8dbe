"""Lesson 5 as a student uses it: the gate, answers, and the bench put right by its controls."""

from bandtrial_lessons.bench_task import best_on_grid
from lessons_in_browser import graded, hand_in, in_class, pass_gate, predict, slip_then_right
from playwright.sync_api import expect

FILE = "lesson_5_setting_up.ipynb"
WATCH = """() => {
  window.took = []; let pressed = 0;
  document.addEventListener('keydown', () => { pressed = performance.now(); }, true);
  const bench = document.querySelector("svg[aria-label^='Teeth']").closest('.bandtrial-panel');
  new MutationObserver(changes => {
    if (pressed && changes.some(c => [...c.addedNodes].some(n => n.querySelector?.('svg') || n.tagName === 'svg'))) {
      requestAnimationFrame(() => { window.took.push(performance.now() - pressed); pressed = 0; });
    }
  }).observe(bench, {childList: true, subtree: true});
}"""
"""Milliseconds from a key to the frame in which the picture is new."""
MOVES = "() => document.querySelectorAll('.jp-OutputArea-output svg animateTransform').length"


def test_gate_answers_and_the_bench_put_right(lab_page, server, shot):
    lab, lesson, folder = in_class(lab_page, server, FILE, 5, "Student 3", "metric")
    predict(lab, lesson, "5P")
    slip_then_right(lab, lesson)
    pass_gate(lab, lesson)
    lab.focus(lab.button("Start the saw"))
    lab.press("Enter")
    tooth = lab.notebook.get_by_role("img", name="Teeth in the work")
    expect(tooth).to_be_visible()
    lab.notebook.get_by_text("Over:").first.scroll_into_view_if_needed()
    shot("lesson_5_bench_as_found")
    judged = lab.panel(lab.button("This is my setting"))
    lab.focus(lab.button("This is my setting"))
    lab.press("Enter")
    expect(judged).to_contain_text("Not yet: ")

    goal = best_on_grid(lesson.saw)
    words = {"edge": goal.edge, "pitch [tpi]": f"{goal.pitch:g}", "tooth form": goal.form, "set": goal.set,
             "band width": lesson.show(goal.width, "length"), "range": goal.gear, "feed by": goal.feed}  # fmt: skip
    for label, value in words.items():
        lab.field(label).select_option(label=value)
    numbers = {"band speed [m/min]": goal.speed, "feed rate [mm/min]": goal.feed_rate,
               "guide above [mm]": goal.guide, "tension [N/mm²]": goal.tension}  # fmt: skip
    for label, value in numbers.items():
        of_slider = lab.slider(label).locator("xpath=ancestor::*[contains(@class, 'widget-slider')][1]")
        read_out = of_slider.locator(".widget-readout")
        lab.slider(label).scroll_into_view_if_needed()
        read_out.click()
        lab.page.keyboard.press("Control+A")
        lab.page.keyboard.type(f"{value:.3g}")
        lab.press("Enter")
    lab.notebook.get_by_label("broken in first").check()
    expect(lab.notebook.get_by_text("Runs well:").first).to_be_visible()
    assert lab.page.evaluate(MOVES) > 0
    tooth.scroll_into_view_if_needed()
    shot("lesson_5_bench_moving")
    lab.page.evaluate(WATCH)
    lab.focus(lab.slider("wear used"))
    for _ in range(3):
        for key in ("ArrowRight", "ArrowLeft"):
            lab.press(key)
            lab.settle()
    took = lab.page.evaluate("() => window.took")
    print("from key to picture [ms]:", [round(one) for one in took])
    assert len(took) >= 6 and min(took) < 100  # the slow ones are the machine's other work
    lab.notebook.get_by_label("moving picture").uncheck()
    lab.page.wait_for_function(f"() => ({MOVES})() === 0")
    shot("lesson_5_bench_still")
    lab.focus(lab.button("Run a band to its end"))
    lab.press("Enter")
    expect(lab.notebook.get_by_text("Bands, changes and time so far:")).to_be_visible()
    lab.focus(lab.button("This is my setting"))
    lab.press("Enter")
    expect(judged).to_contain_text("Right: it runs well and costs little.")
    hand_in(lab)
    row = graded(folder)
    n = len(lesson.questions)
    assert (row["right"], row["predicted"]) == (f"{n} of {n}", "1 of 1")
