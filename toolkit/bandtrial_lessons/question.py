"""A question of a lesson with all that a check of an answer needs: pure, no widgets, no files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from bandtrial_lessons import typed
from bandtrial_lessons.reading import (
    SLIPS_OF_UNIT,
    AnswerError,
    digits_typed,
    either_way,
    example,
    number_typed,
    read_answer,
    show_answer,
)

UNIT_TAKEN = ("speed", "feed_rate", "chip_load", "length", "force", "cost")
"""Kinds of which a right number is taken in the unit that the box asks for; where W or kW is asked, the unit is."""
TRIES = 3
"""Wrong answers to a number, after which its working is shown and new numbers are asked."""
LETTERS = 2
"""Wrong answers to a choice, after which it is told."""


@dataclass(frozen=True)
class Slip:
    """A way of going astray: what it gives (inside unit, or a letter), and the hint for whoever does."""

    value: float | str
    hint: str


@dataclass(frozen=True)
class Question:
    """What is asked of one student, with that student's own numbers.

    expected : the answer, inside unit, or the right letter
    nudge : first hint, what to think of; how : second hint, how the answer is found, without giving it
    because : what a right answer shows
    given : the numbers it needs, in words, for whoever is asked again with new ones
    tolerance : greatest relative difference that is still right [-]; `why_tolerance` says why so much
    also : other answers that are as right, where two come to the same for all that can be told
    digits : that are asked for in so many words; 0 where two will do
    choices : letter -> words, of a question that is answered by a letter
    source : of what is taught; where there is none it says so
    """

    id: str
    text: str
    kind: str
    expected: float | str = field(repr=False)
    how: str
    because: str = field(repr=False)
    slips: tuple[Slip, ...] = field(default=(), repr=False)
    nudge: str = ""
    given: str = ""
    tolerance: float = 0.02
    why_tolerance: str = "three digits carried through"
    digits: int = 0
    also: tuple[float, ...] = field(default=(), repr=False)
    choices: Mapping[str, str] = field(default_factory=dict)
    source: str = ""
    system: str = "metric"
    currency: str = "EUR"

    @property
    def by_letter(self) -> bool:
        return bool(self.choices)

    @property
    def tries(self) -> int:
        """Wrong answers after which the question is told."""
        return LETTERS if self.by_letter else TRIES

    @property
    def example(self) -> str:
        """How an answer may be written."""
        return example(self.kind, self.system, self.currency)

    def shown(self, value: float | str) -> str:
        """A value of this question's kind for people."""
        return show_answer(value, self.kind, self.system, self.currency)

    def judge(self, answer: str, level: int = 0) -> Verdict:
        """What to say to an answer, `level` wrong ones having gone before; see `Verdict`."""
        try:
            value = read_answer(self._letter_of(answer), self.kind, self.system, self.currency)
        except AnswerError as error:
            meant = (self.judge(one, level) for one in either_way(answer))
            unread = Verdict("unread", f"Can't read that: {error}")
            return next((verdict for verdict in (*meant, self._bare(answer, level)) if verdict.right), unread)
        if isinstance(value, str):
            return self._judge_letter(value, level)
        close = any(near(value, float(right), self.tolerance) for right in (self.expected, *self.also))
        digits, wanted = digits_typed(answer), self.digits or 2
        rounded = digits <= 2 and self._rounded(answer, value, digits)
        if close or (rounded and digits == wanted):
            return self._right(f"Right, {self.shown(self.expected)}.")
        slip, hint = self._slip(value)
        if rounded and slip is None:
            return Verdict("unread", f"Right so far; give {wanted} digits.")
        return self._not_yet(slip, hint, level)

    def _bare(self, answer: str, level: int) -> Verdict:
        """What to say to a number alone, in the unit that is asked for."""
        number, behind = typed.split(typed.tidied(answer))
        unit = typed.split(self.example)[1] if self.kind in UNIT_TAKEN else ""
        if not number or behind or not unit:
            return Verdict("unread", "")
        verdict = self.judge(f"{number} {unit}", level)
        return replace(verdict, text=f"{verdict.text} Unit taken as {unit}: write it, too.")

    def _right(self, said: str) -> Verdict:
        return Verdict("right", f"{said} {self.because}", source=self.source)

    def _letter_of(self, answer: str) -> str:
        """The letter of a choice whose words were typed instead of it; any other answer as it is."""
        plain = answer.strip().rstrip(".").casefold()
        begun = [key for key, words in self.choices.items() if len(plain) > 3 and words.casefold().startswith(plain)]
        return begun[0] if len(begun) == 1 else answer

    def _judge_letter(self, letter: str, level: int) -> Verdict:
        if letter not in self.choices:
            return Verdict("unread", f"Can't read that: choose one of {', '.join(self.choices)}.")
        if letter == self.expected:
            return self._right(f"Right, {letter}.")
        number = next(i for i, slip in enumerate(self.slips) if slip.value == letter)
        return self._not_yet(number, self.slips[number].hint, level)

    def _not_yet(self, slip: int | None, hint: str, level: int) -> Verdict:
        """Hints by degrees: what went astray or what to think of; the way to it; the answer."""
        text = hint or (self.nudge if level == 0 else "")
        if level + 1 >= self.tries:
            told = f"The answer was {self.shown(self.expected)}: {self.how} {self.because}"
            return Verdict("not_yet", text or "Not this either.", told, slip, level + 1, True, self.source)
        return Verdict("not_yet", text or "Not this either.", self.how if level else "", slip, level + 1)

    def _rounded(self, answer: str, value: float, digits: int) -> bool:
        """Whether the digits that were typed are the answer's, rounded to so many."""
        number = number_typed(answer)
        if not number or not digits or not value:
            return False
        expected = float(self.expected) * number / value  # in the unit that was typed
        return float(f"{expected:.{digits - 1}e}") == number

    def _slip(self, value: float) -> tuple[int | None, str]:
        """Number and hint of the slip that gives a value; beyond the list, -1 a unit's, -2 a sign's."""
        expected = float(self.expected)
        for number, slip in enumerate(self.slips):
            if near(value, float(slip.value), self.tolerance):
                return number, slip.hint
        for factor, words in SLIPS_OF_UNIT.get(self.kind, ()):
            if near(value, expected * factor, self.tolerance):
                return -1, f"The working looks right, the unit does not: this is what comes of {words}."
        if near(value, -expected, self.tolerance):
            return -2, "The size is right, the sign is not: two numbers of a difference or a ratio changed places."
        return None, ""


@dataclass(frozen=True)
class Verdict:
    """What is said to an answer. state: right, not_yet, or unread; `how` leads on from the second wrong answer.

    slip: number of the slip it matched; level: wrong answers with this one; told: the answer was given away; source: of
    what was taught by it
    """

    state: str
    text: str
    how: str = ""
    slip: int | None = None
    level: int = 0
    told: bool = False
    source: str = ""

    @property
    def right(self) -> bool:
        return self.state == "right"

    def __str__(self) -> str:
        if self.state != "not_yet":
            return self.text
        return f"Not yet: {self.text}" + (f"\nHow: {self.how}" if self.how else "")


def near(value: float, target: float, tolerance: float) -> bool:
    """Whether two values agree within a relative tolerance.

    >>> near(1.01, 1.0, 0.02), near(1.03, 1.0, 0.02)
    (True, False)
    """
    return abs(value - target) <= tolerance * abs(target)
