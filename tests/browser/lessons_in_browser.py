"""A lesson opened for a student of a class, and answers typed by keyboard."""

import bandtrial_lessons as lessons
import nbformat
from bandtrial_lessons.instructor import grade
from playwright.sync_api import Locator, expect


def in_class(lab_page, server, file: str, number: int, name: str, system: str):
    """The notebook with a student's name and units in its first cell, run: (page, lesson, folder of answers)."""
    notebook = nbformat.read(server.root / "notebooks" / "lessons" / file, as_version=4)
    first = next(cell for cell in notebook.cells if cell.cell_type == "code")
    changed = first.source.replace('NAME = "Ada Example"', f'NAME = "{name}"')
    changed = changed.replace('UNITS = "metric"', f'UNITS = "{system}"')
    assert changed.count(name) == 1 and f'UNITS = "{system}"' in changed
    first.source = changed
    folder = server.root / f"class_{len(list(server.root.glob('class_*')))}"  # nobody has sat here before
    folder.mkdir()
    nbformat.write(notebook, folder / file)
    lab = lab_page.open(f"{folder.name}/{file}").run_all()
    return lab, lessons.begin(number, name, system, folder=None), folder / "answers"


def said(lab, id: str) -> Locator:
    """The line below a question's box."""
    return lab.panel(lab.field(f"answer {id}")).get_by_role("status")


def answer(lab, id: str, text: str) -> Locator:
    """Type an answer and press Enter; the line below it."""
    box = lab.field(f"answer {id}")
    box.fill(text)
    box.press("Enter")
    return said(lab, id)


def slip_then_right(lab, lesson) -> None:
    """Each question with its first slip, then right; what is said to both."""
    for id, question in lesson.questions.items():
        if question.kind == "setting":
            continue
        expect(answer(lab, id, question.shown(question.slips[0].value))).to_contain_text(
            "Not yet: " + question.slips[0].hint
        )
        expect(answer(lab, id, question.shown(question.expected))).to_contain_text("Right: ")


def predict(lab, lesson, id: str, which: int = 0) -> Locator:
    """Make a prediction; the panel, its picture open."""
    asked = lesson.predictions[id]
    box = lab.field(f"I expect {id}")
    panel = lab.panel(box)
    box.select_option(label=asked.choices[which])
    lab.focus(lab.button(f"Keep it and look {id}"))
    lab.press("Enter")
    opened = lab.panel(lab.field(f"because {id}"))
    expect(opened).to_contain_text(f"You expected: {asked.choices[which]}. It came: {asked.came}.")
    expect(panel.get_by_role("button", name=f"Keep it and look {id}")).to_be_hidden()
    return opened


def pass_gate(lab, lesson) -> None:
    """Answer the safety questions, the first one wrong at first."""
    first = lesson.gate.questions[0]
    wrong, why = next(iter(first.wrong.items()))
    lab.field(f"safety: {first.id}").select_option(label=wrong)
    expect(lab.notebook.get_by_text(f"No. {why}")).to_be_visible()
    for question in lesson.gate.questions:
        lab.field(f"safety: {question.id}").select_option(label=question.right)
    expect(lab.notebook.get_by_text("The saws are open to you.")).to_be_visible()


def hand_in(lab) -> Locator:
    """Press Hand in twice; the panel."""
    panel = lab.panel(lab.button("Hand in"))
    lab.focus(lab.button("Hand in"))
    lab.press("Enter")
    expect(panel.get_by_role("status").last).to_contain_text("Press again to hand in; it is final.")
    lab.press("Enter")
    expect(panel.get_by_role("status").last).to_contain_text("Handed in at ")
    return panel


def graded(folder) -> dict:
    """The instructor's row of what was handed in."""
    (row,) = grade(folder).to_dict("records")
    return row
