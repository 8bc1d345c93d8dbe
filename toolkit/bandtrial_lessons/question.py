"""A question of a lesson with all that a check of an answer needs: pure, no widgets, no files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bandtrial_lessons.reading import SLIPS_OF_UNIT, AnswerError, example, read_answer, show_answer


@dataclass(frozen=True)
class Slip:
    """A way of going astray: what it gives (inside unit, or a letter), and the hint for whoever does."""

    value: float | str
    hint: str


@dataclass(frozen=True)
class Question:
    """What is asked of one student, with that student's own numbers.

    expected : the answer, inside unit, or the right letter
    tolerance : greatest relative difference that is still right [-]; `why_tolerance` says why so much
    how : how the answer is found, without giving it
    because : what a right answer shows
    choices : letter -> words, of a question that is answered by a letter
    """

    id: str
    text: str
    kind: str
    expected: float | str
    how: str
    because: str
    slips: tuple[Slip, ...] = ()
    tolerance: float = 0.02
    why_tolerance: str = "three digits carried through"
    choices: Mapping[str, str] = field(default_factory=dict)
    system: str = "metric"
    currency: str = "EUR"

    @property
    def example(self) -> str:
        """How an answer may be written."""
        return example(self.kind, self.system, self.currency)

    def shown(self, value: float | str | None = None) -> str:
        """A value of this question's kind for people; the expected one unless given."""
        return show_answer(self.expected if value is None else value, self.kind, self.system, self.currency)

    def judge(self, answer: str) -> Verdict:
        """What to say to an answer; see `Verdict`."""
        try:
            value = read_answer(answer, self.kind, self.system, self.currency)
        except AnswerError as error:
            return Verdict("unread", f"Can't read that: {error}")
        if isinstance(value, str) or isinstance(self.expected, str):
            return self._judge_letter(str(value))
        if near(value, self.expected, self.tolerance):
            return Verdict("right", f"Right, {self.shown()}. {self.because}")
        return Verdict("not_yet", self._hint(value), self.how)

    def _judge_letter(self, letter: str) -> Verdict:
        if letter not in self.choices:
            return Verdict("unread", f"Can't read that: choose one of {', '.join(self.choices)}.")
        if letter == self.expected:
            return Verdict("right", f"Right, {letter}. {self.because}")
        hints = {slip.value: slip.hint for slip in self.slips}
        return Verdict("not_yet", hints[letter], self.how)

    def _hint(self, value: float) -> str:
        expected = float(self.expected)
        for slip in self.slips:
            if near(value, float(slip.value), self.tolerance):
                return slip.hint
        for factor, words in SLIPS_OF_UNIT.get(self.kind, ()):
            if near(value, expected * factor, self.tolerance):
                return f"The working looks right, the unit does not: this is what comes of {words}."
        if near(value, -expected, self.tolerance):
            return "The size is right, the sign is not: two numbers of a difference or a ratio changed places."
        side = "higher" if value > expected else "lower"
        return f"{self.shown(value)} is {side} than your shop's own numbers give."


@dataclass(frozen=True)
class Verdict:
    """What is said to an answer. state: right, not_yet, or unread; `how` leads on where it is not yet "
    "right."""

    state: str
    text: str
    how: str = ""

    @property
    def right(self) -> bool:
        return self.state == "right"

    def __str__(self) -> str:
        if self.state != "not_yet":
            return self.text
        return f"Not yet: {self.text}\nHow: {self.how}"


def near(value: float, target: float, tolerance: float) -> bool:
    """Whether two values agree within a relative tolerance.

    >>> near(1.01, 1.0, 0.02), near(1.03, 1.0, 0.02)
    (True, False)
    """
    return abs(value - target) <= tolerance * abs(target)
