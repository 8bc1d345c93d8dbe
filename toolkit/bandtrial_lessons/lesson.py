"""A lesson for one student: its questions, how each is asked, checked, kept, and handed in."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial import published, units

from bandtrial_lessons import record
from bandtrial_lessons.books import Books
from bandtrial_lessons.gate import Gate
from bandtrial_lessons.question import Question, Slip, Verdict, near
from bandtrial_lessons.reading import nice, show_answer
from bandtrial_lessons.shop import seed_of
from bandtrial_lessons.student import Student, student_of
from bandtrial_lessons.teaching import own_random

if TYPE_CHECKING:
    from bandtrial.panels.base import Panel

    from bandtrial_lessons.prediction import Prediction

SYSTEMS = ("metric", "us")
WIDTH = 96  # letters of a line


class Lesson:
    """A lesson with a student's own numbers. The lessons are made from it; `begin` gives the one asked for.

    name : the student's
    system : "metric" or "us", in which everything is shown
    folder : where answers are kept; None keeps none
    code : of the class, from which the shop follows; "" in practice, where it follows from the name
    """

    number = 0
    title = ""
    aims: tuple[str, ...] = ()

    def __init__(
        self, name: str, system: str = "metric", folder: str | Path | None = "answers", code: str = ""
    ) -> None:
        self.system = checked_system(system)
        self.folder = None if folder is None else Path(folder)
        self.student: Student = student_of(name, code, self.folder)
        self.name, self.drawn = self.student.name, self.student.drawn
        self.drawn_units = self.system
        self.unkept: dict[str, Any] = {}
        self.unkept = record.empty(self)
        kept = record.read(self).get("drawn_units")
        self.drawn_units = kept if kept in SYSTEMS else self.system

    @cached_property
    def questions(self) -> dict[str, Question]:
        """By id, as "1a"."""
        return {question.id: question for question in self.make_questions()}

    def make_questions(self) -> list[Question]:
        raise NotImplementedError

    @cached_property
    def predictions(self) -> dict[str, Prediction]:
        """By id, as "1P"."""
        return {prediction.id: prediction for prediction in self.make_predictions()}

    def make_predictions(self) -> list[Prediction]:
        return []

    def with_numbers(self, version: int) -> Lesson:
        """The same lesson with other numbers, for whoever is asked again; 0 is the student's own."""
        if version == 0:
            return self
        other = type(self)(self.name, self.system, None, self.student.code)
        other.drawn, other.drawn_units = f"{self.drawn}#{version}", self.drawn_units
        return other

    def question(self, id: str, version: int = 0) -> Question:
        """The question of an id; ValueError that lists the ids of this lesson for any other."""
        if id not in self.questions:
            raise ValueError(f'lesson {self.number} has no question "{id}"; it has {", ".join(self.questions)}.')
        return self.with_numbers(version).questions[id]

    def standing(self, id: str) -> tuple[int, int, bool]:
        """How a question stands: numbers it is asked with, wrong answers to those, whether it is done.

        A number whose working has been told is asked again with new numbers, twice at most.
        """
        return standing_of(self.question(id), record.read(self)["attempts"])

    def check(self, id: str, answer: str | float, unit: str | None = None) -> Verdict:
        """Check an answer, keep it, say what there is to say: `check("1b", 42.3, "min")`."""
        given = f"{answer} {unit}" if unit else str(answer)
        with record.LOCK:
            version, level, done = self.standing(id)
            verdict = self.question(id, version).judge(given, level)
            if verdict.state != "unread" and not done:
                more = {"slip": verdict.slip, "level": level, "version": version}
                record.add(self, "answer", id, given, verdict.state, **more)
        return verdict

    def ask(self, id: str) -> Panel:
        """The question with a box for the answer."""
        from bandtrial_lessons.ask_panel import Ask

        return Ask(self, id)

    def predict(self, id: str) -> Panel:
        """A prediction, which has to be made before the picture opens."""
        from bandtrial_lessons.predict_panel import Predict

        if id not in self.predictions:
            raise ValueError(f'lesson {self.number} has no prediction "{id}"; it has {", ".join(self.predictions)}.')
        return Predict(self, self.predictions[id])

    def hand_in_panel(self) -> Panel:
        """The button that closes the lesson."""
        from bandtrial_lessons.hand_in_panel import HandIn

        return HandIn(self)

    @cached_property
    def gate(self) -> Gate:
        """The safety questions that come before the first cut anywhere."""
        return Gate(self)

    def safety(self) -> Any:
        """The cautions, and the questions on them that open the saws."""
        from bandtrial_lessons.gate_panel import GatePanel

        return GatePanel(self)

    def start_of_shop(self) -> published.Start:
        """The published start of the shop's metal, with its sources."""
        raise NotImplementedError

    def books(self) -> Books:
        """What the books say for that metal, in short; the whole of it behind one fold."""
        return Books(self.start_of_shop())

    def show(self, value: float, kind: str) -> str:
        """A quantity in the student's units."""
        return show_answer(value, kind, self.system, self.currency)

    def nice(self, value: float, kind: str, digits: int = 2) -> float:
        """A quantity that is round in the units that the lesson was begun in: to switch units changes no work."""
        return nice(value, kind, self.drawn_units, digits)

    def ask_for(self, id: str, text: str, kind: str, expected: float | str, **more: Any) -> Question:
        """A question in the student's units. Of slips that come to the same, or to the answer, the first is kept."""
        question = Question(id, text, kind, expected, system=self.system, currency=self.currency, **more)
        if question.by_letter:
            return question
        kept: list[Slip] = []
        for slip in question.slips:
            values = [float(expected), *question.also, *(float(one.value) for one in kept)]
            if not any(near(float(slip.value), value, 2.5 * question.tolerance) for value in values):
                kept.append(slip)
        return replace(question, slips=tuple(kept))

    def choose(self, id: str, text: str, right: str, wrong: Mapping[str, str], **more: Any) -> Question:
        """A question with choices, in an order of the student's own.

        wrong : words of each wrong choice -> hint
        """
        words = [right, *wrong]
        order = own_random(self.drawn, seed_of(id)).permutation(len(words))
        choices = {"abcdefgh"[place]: words[which] for place, which in enumerate(order)}
        letters = {said: letter for letter, said in choices.items()}
        slips = tuple(Slip(letters[said], hint) for said, hint in wrong.items())
        return self.ask_for(id, text, "letter", letters[right], choices=choices, slips=slips, **more)

    @property
    def currency(self) -> str:
        return "EUR"

    def unit(self, kind: str) -> str:
        return units.display_unit(kind, self.system)


MOST_VERSIONS = 2
"""Times a question is asked again with new numbers."""


def standing_of(question: Question, attempts: list[dict[str, Any]]) -> tuple[int, int, bool]:
    """Numbers a question is asked with, wrong answers to those, whether it is done, from the attempts at it."""
    version = level = 0
    for entry in attempts:
        if (entry.get("kind"), entry.get("id")) != ("answer", question.id):
            continue
        if entry.get("state") == "right":
            return version, level, True
        level += 1
        if level >= question.tries:
            if question.by_letter or version == MOST_VERSIONS:
                return version, level, True
            version, level = version + 1, 0
    return version, level, False


def in_lines(text: str) -> str:
    """A text in lines that a notebook shows whole, at 125 % zoom too.

    >>> in_lines("Mild steel, 31 mm thick. " * 5).count(chr(10))
    1
    """
    return textwrap.fill(text, WIDTH)


def checked_system(system: str) -> str:
    if system not in SYSTEMS:
        raise ValueError(f'units are "{system}"; write "metric" or "us".')
    return system
