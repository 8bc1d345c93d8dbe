"""A lesson for one student: its questions, how each is asked, checked, saved and explained."""

from __future__ import annotations

import textwrap
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial import published, units

from bandtrial_lessons import answers
from bandtrial_lessons.books import Books
from bandtrial_lessons.question import Question, Verdict
from bandtrial_lessons.reading import nice, show_answer
from bandtrial_lessons.shown_table import Table

if TYPE_CHECKING:
    from bandtrial.panels.base import Panel

SYSTEMS = ("metric", "us")
WIDTH = 96  # letters of a line


class Lesson:
    """A lesson with a student's own numbers. Lessons 1 to 4 are made from it; `begin` gives the one asked for.

    name : the student's; the shop follows from it
    system : "metric" or "us"
    folder : where answers are kept; None keeps none
    """

    number = 0
    title = ""
    aims: tuple[str, ...] = ()

    def __init__(self, name: str, system: str = "metric", folder: str | Path | None = "answers") -> None:
        self.name, self.system = checked_name(name), checked_system(system)
        self.folder = None if folder is None else Path(folder)

    @cached_property
    def questions(self) -> dict[str, Question]:
        """By id, as "1a"."""
        return {question.id: question for question in self.make_questions()}

    def make_questions(self) -> list[Question]:
        raise NotImplementedError

    def question(self, id: str) -> Question:
        """The question of an id; ValueError that lists the ids of this lesson for any other."""
        if id not in self.questions:
            raise ValueError(f'lesson {self.number} has no question "{id}"; it has {", ".join(self.questions)}.')
        return self.questions[id]

    def judge(self, id: str, answer: str | float, unit: str | None = None) -> Verdict:
        """What there is to say to an answer; nothing is saved."""
        return self.question(id).judge(f"{answer} {unit}" if unit else str(answer))

    def check(self, id: str, answer: str | float, unit: str | None = None) -> Verdict:
        """Check an answer, keep it for the instructor, say what there is to say: "
        "`check("1b", 42.3, "min")`."""
        verdict = self.judge(id, answer, unit)
        if verdict.state != "unread":
            answers.keep_answer(self, id, f"{answer} {unit}" if unit else str(answer), verdict.state)
        return verdict

    def ask(self, id: str) -> Panel:
        """The question with a box for the answer."""
        from bandtrial_lessons.ask_panel import Ask

        return Ask(self, self.question(id))

    def safety(self) -> Any:
        """The cautions, which come first."""
        from bandtrial.panels.base import cautions

        return cautions()

    def start_of_shop(self) -> published.Start:
        """The published start of the shop's metal, with its sources."""
        raise NotImplementedError

    def books(self) -> Books:
        """What the books say for that metal, in short, with the sources spelled out."""
        return Books(self.start_of_shop())

    def solution(self, id: str) -> Solution:
        """What the instructor sees of a question."""
        return Solution(self.question(id))

    def key(self) -> Table:
        """Expected answers of this student: question, answer, tolerance."""
        rows = tuple((q.id, q.shown(), tolerance_words(q)) for q in self.questions.values())
        return Table(("question", "answer", "accepted"), rows)

    def show(self, value: float, kind: str) -> str:
        """A quantity in the student's units."""
        return show_answer(value, kind, self.system, self.currency)

    def nice(self, value: float, kind: str, digits: int = 2) -> float:
        """A quantity that is round in the student's units."""
        return nice(value, kind, self.system, digits)

    def ask_for(self, id: str, text: str, kind: str, expected: float | str, **more: Any) -> Question:
        """A question in the student's units."""
        return Question(id, text, kind, expected, system=self.system, currency=self.currency, **more)

    @property
    def currency(self) -> str:
        return "EUR"

    def unit(self, kind: str) -> str:
        return units.display_unit(kind, self.system)


class Solution:
    """Answer, way to it, usual slips with their hints, and what is accepted; text and HTML from one list."""

    def __init__(self, question: Question) -> None:
        self.question = question

    def fields(self) -> list[tuple[str, str]]:
        q = self.question
        rows = [("answer", q.shown()), ("how", q.how), ("shows", q.because), ("accepted", tolerance_words(q))]
        return rows + [(f"slip {q.shown(slip.value)}", slip.hint) for slip in q.slips]

    def __str__(self) -> str:
        return "\n".join([f"Solution {self.question.id}", *(f"  {head}: {text}" for head, text in self.fields())])

    def _repr_html_(self) -> str:
        from bandtrial.panels.base import table

        return table((f"solution {self.question.id}", ""), self.fields())


def in_lines(text: str) -> str:
    """A text in lines that a notebook shows whole, at 125 % zoom too.

    >>> in_lines("Mild steel, 31 mm thick. " * 5).count(chr(10))
    1
    """
    return textwrap.fill(text, WIDTH)


def tolerance_words(question: Question) -> str:
    """What is accepted: "within 2 % (three digits carried through)"."""
    if isinstance(question.expected, str):
        return "this letter"
    return f"within {units.shown(100 * question.tolerance)} % ({question.why_tolerance})"


def checked_name(name: str) -> str:
    if not isinstance(name, str) or not any(c.isalpha() for c in name):
        raise ValueError(f'the name is "{name}"; write yours between the quotes, as NAME = "Ada Example".')
    return " ".join(name.split())


def checked_system(system: str) -> str:
    if system not in SYSTEMS:
        raise ValueError(f'units are "{system}"; write "metric" or "us".')
    return system
