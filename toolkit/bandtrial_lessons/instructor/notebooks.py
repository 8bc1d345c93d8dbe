"""Instructors' notebooks, made from the students': the same prose and cells, with solutions and expected numbers.

`python -m bandtrial_lessons.instructor notebooks notebooks/lessons toolkit/bandtrial_lessons/instructor/keys` writes
them into the folder `keys`, without outputs. A test holds them against what this module makes,
so that the two can't drift apart.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from bandtrial.disk import make_folder, save

CLASS = ("Bo Example", "Cy Example", "Di Example")
"""Invented students whose expected answers are shown."""
DEMO_CUT = """\
from bandtrial_lessons.budget import follow

for minutes in (60, 20, 20):
    follow(lesson.trial, lesson.plan(minutes))
instructor.reveal_of(lesson)"""
SHOWN = {"tags": ["nbval-ignore-output"]}
HEAD = """\
# {title}: instructor's version

Made from the students' notebook by `bandtrial_lessons.instructor`; change that one, then make this one again. Below
each question stand the answer for the name in the first cell, the way to it, the usual slips with the hint each gets,
what is accepted, and the source of what is taught. Timings, model answers, classes and grading: `GUIDE.md` beside it.
"""
TRUTH = """\
## The truth, before anybody cuts

What the published start, the textbook's two-speed trial and the best setting cost in this shop.
"""
DEMO = """\
### If the trial is left to the toolkit

Three steps, each planned on what the cuts before it showed.
"""


def instructor_version(student: Any) -> Any:
    """The instructor's notebook of a student's, an nbformat notebook each; nothing is run."""
    from nbformat.v4 import new_notebook

    cells = [markdown(HEAD.format(title=title_of(student)), "instructor")]
    for cell in student.cells[1:]:
        cells.append(copied(cell))
        cells.extend(after(cell.source))
    for cell in cells:
        if cell.cell_type == "code" and "NAME = " in cell.source:
            cell["source"] = cell.source.replace("code=CODE)", "folder=None, code=CODE)  # nothing is kept").replace(
                "import bandtrial_lessons as lessons\n",
                "import bandtrial_lessons as lessons\nfrom bandtrial_lessons import instructor\n")  # fmt: skip
    return new_notebook(cells=cells, metadata=student.metadata)


def after(source: str) -> list[Any]:
    """What the instructor sees below a cell."""
    if asked := re.fullmatch(r'lesson\.ask\("(\w+)"\)', source):
        return [code(f'print(instructor.solution(lesson, "{asked[1]}"))', f"solution-{asked[1]}")]
    if begun := re.search(r"lessons\.begin\((\d)", source):
        number = int(begun[1])
        cells = [
            code("instructor.key(lesson)", "key", **SHOWN),
            code(f"instructor.class_key({number}, {list(CLASS)}, UNITS)".replace("'", '"'), "class-key", **SHOWN),
        ]
        if number == 4:
            cells += [markdown(TRUTH, "truth"), code("print(instructor.reveal_of(lesson))", "truth-told"),
                      code("instructor.reveal_of(lesson).picture()", "truth-drawn", **SHOWN)]  # fmt: skip
        return cells
    if source == 'lesson.predict("4Q")':
        return [markdown(DEMO, "demo"), code(DEMO_CUT, "demo-cut", **SHOWN)]
    return []


def title_of(student: Any) -> str:
    """Title of a notebook: its first line without the #."""
    return str(student.cells[0].source.splitlines()[0].lstrip("# "))


def copied(cell: Any) -> Any:
    """A cell without its outputs."""
    if cell.cell_type == "markdown":
        return markdown(cell.source, cell["id"])
    return code(cell.source, cell["id"], **cell.metadata)


def markdown(source: str, id: str) -> Any:
    from nbformat.v4 import new_markdown_cell

    return new_markdown_cell(source.strip("\n"), id=id)


def code(source: str, id: str, **metadata: Any) -> Any:
    from nbformat.v4 import new_code_cell

    return new_code_cell(source, id=id, metadata=metadata)


def write_all(students: Path, target: Path) -> list[Path]:
    """Make the instructor's notebook of every lesson in a folder; the files written."""
    import nbformat

    written = []
    make_folder(target)
    for file in sorted(students.glob("lesson_*.ipynb")):
        text = nbformat.writes(instructor_version(nbformat.read(file, as_version=4)))
        save(target / file.name, text.rstrip("\n") + "\n")
        written.append(target / file.name)
    return written
