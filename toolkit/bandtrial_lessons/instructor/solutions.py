"""Expected answers of a lesson, with the way to each and the usual slips."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bandtrial import words

from bandtrial_lessons.begin import begin
from bandtrial_lessons.lesson import Lesson
from bandtrial_lessons.question import Question
from bandtrial_lessons.shown_table import Table

if TYPE_CHECKING:
    import pandas as pd


class Solution:
    """Answer, way to it, usual slips with their hints, what is accepted, the source; text and HTML from one list."""

    def __init__(self, question: Question) -> None:
        self.question = question

    def fields(self) -> list[tuple[str, str]]:
        q = self.question
        rows = [("answer", with_words(q, None)), ("how", q.how), ("shows", q.because)]
        rows += [("accepted", tolerance_words(q)), ("source", q.source)]
        return rows + [(f"slip {with_words(q, slip.value)}", slip.hint) for slip in q.slips]

    def __str__(self) -> str:
        return "\n".join([f"Solution {self.question.id}", *(f"  {head}: {text}" for head, text in self.fields())])

    def _repr_html_(self) -> str:
        from bandtrial.panels.base import table

        return table((f"solution {self.question.id}", ""), self.fields())


def with_words(question: Question, value: float | str | None) -> str:
    """A value as it is answered; of a letter, its words too."""
    shown = question.shown(question.expected if value is None else value)
    return f"{shown} ({question.choices[shown]})" if shown in question.choices else shown


def tolerance_words(question: Question) -> str:
    """What is accepted: "within 2 % (three digits carried through), or two right digits"."""
    if question.by_letter:
        return "this letter"
    if isinstance(question.expected, str):
        return "a setting with no sign of trouble, at 1.3 times the least cost or less"
    two = "" if question.digits else ", or two right digits"
    return f"within {words.shown(100 * question.tolerance)} % ({question.why_tolerance}){two}"


def solution(lesson: Lesson, id: str) -> Solution:
    """What the instructor sees of a question of a lesson."""
    return Solution(lesson.question(id))


def key(lesson: Lesson) -> Table:
    """Expected answers of one student: question, answer, what is accepted."""
    rows = tuple((q.id, with_words(q, None), tolerance_words(q)) for q in lesson.questions.values())
    return Table(("question", "answer", "accepted"), rows)


def class_key(
    lesson: int, names: list[str], units: str = "metric", codes: dict[str, str] | None = None
) -> pd.DataFrame:
    """Expected answers of a class: one row for each student, one column for each question; codes by name, if any."""
    import pandas as pd

    students = {name: begin(lesson, name, units, None, (codes or {}).get(name, "")) for name in names}
    keys = {name: {q.id: q.shown(q.expected) for q in one.questions.values()} for name, one in students.items()}
    return pd.DataFrame(keys).T.rename_axis("student")
