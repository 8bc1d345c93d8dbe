"""A lesson opened for a student of a class, and answers typed by keyboard."""

import json

import bandtrial_lessons as lessons
import nbformat
from playwright.sync_api import Locator, expect


def in_class(lab_page, server, file: str, number: int, name: str, system: str):
    """The notebook with a student's name and units in its first cell, run: (page, lesson, folder of answers)."""
    notebook = nbformat.read(server.root / "notebooks" / "lessons" / file, as_version=4)
    first = next(cell for cell in notebook.cells if cell.cell_type == "code")
    changed = first.source.replace('NAME = "Ada Example"', f'NAME = "{name}"')
    changed = changed.replace('UNITS = "metric"', f'UNITS = "{system}"')
    assert changed.count(name) == 1 and f'UNITS = "{system}"' in changed
    first.source = changed
    folder = server.root / "classroom" / name.replace(" ", "_")
    folder.mkdir(parents=True, exist_ok=True)
    nbformat.write(notebook, folder / file)
    lab = lab_page.open(f"classroom/{folder.name}/{file}").run_all()
    return lab, lessons.begin(number, name, system, folder=None), folder / "answers"


def answer(lab, id: str, text: str) -> Locator:
    """Type an answer and press Enter; the line below it."""
    box = lab.field(f"answer {id}")
    box.fill(text)
    box.press("Enter")
    panel = lab.panel(box)
    return panel.get_by_role("status")


def slip_then_right(lab, lesson) -> None:
    """Each question with its first slip, then right; what is said to both."""
    for id, question in lesson.questions.items():
        said = answer(lab, id, question.shown(question.slips[0].value))
        expect(said).to_contain_text("Not yet: " + question.slips[0].hint)
        expect(said).to_contain_text("How: " + question.how)
        expect(answer(lab, id, question.shown())).to_contain_text("Right: ")


def all_right(folder, lesson) -> None:
    """The file handed in, and the instructor's table of it: all right at the second try."""
    (file,) = folder.glob("lesson_*.json")
    kept = json.loads(file.read_text(encoding="utf-8"))["answers"]
    assert {id: entry["state"] for id, entry in kept.items()} == dict.fromkeys(lesson.questions, "right")
    (row,) = lessons.grade(folder).to_dict("records")
    n = len(lesson.questions)
    assert (row["student"], row["right"], row["tries"], row["open"]) == (lesson.name, f"{n} of {n}", 2 * n, "")
