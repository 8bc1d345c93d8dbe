"""The safety gate: questions on the cautions, answered right before the first cut anywhere, on any saw here.

What is asked is the trade's common practice (no source), in the words of `bandtrial.published.CAUTIONS` where those
say it. A wrong answer is told why, and the question comes again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bandtrial_lessons import record
from bandtrial_lessons.teaching import own_random

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

ASKED = 5
"""Of the pool, each student."""
STREAM = 90


class GateError(ValueError):
    """A cut asked for before the safety questions were answered."""


@dataclass(frozen=True)
class SafetyQuestion:
    """right: the right choice; wrong: words -> why not."""

    id: str
    text: str
    right: str
    wrong: dict[str, str]


POOL = (
    SafetyQuestion(
        "chips", "Chips pile up beside the running band. What do you take them off with?",
        "A brush, never the hand",
        {"A gloved hand, quickly": "A glove is caught by the band and takes the hand with it.",
         "A rag, held well back": "A rag is caught as a glove is."}),
    SafetyQuestion(
        "gloves", "When do you wear gloves?",
        "To carry and uncoil a band, off before it runs",
        {"All the time: edges are sharp": "Near a running band a glove is caught and pulls the hand in.",
         "Never, for any reason": "A coiled band springs open and cuts; its handling wants gloves."}),
    SafetyQuestion(
        "isolate", "You are going to change the band. What comes first?",
        "Isolate the machine and lock it off, then open the guards",
        {"Press stop and open the guards": "Somebody else, or a knee, can press start again.",
         "Slow it down and slip the band off": "Nothing is done to a band that moves."}),
    SafetyQuestion(
        "guide", "Where does the upper guide belong?",
        "3 to 6 mm (1/8 to 1/4 in) above the work",
        {"As high as it goes, to see the cut": "A long bare stretch of band wanders, and it is what cuts people.",
         "Touching the work": "Then it drags on the work as that moves."}),
    SafetyQuestion(
        "hands", "The cut is nearly through. How is the work fed?",
        "With a block, hands out of the band's line",
        {"With both thumbs, behind the work": "As it breaks through, thumbs go on into the band.",
         "By pulling from behind the band": "A hand behind the band is in its line."}),
    SafetyQuestion(
        "eyes", "What do eyes get?",
        "Eye protection always, a face shield too for friction sawing",
        {"A face shield in place of glasses": "A shield lets chips in from below; glasses stay on under it.",
         "Nothing while the guards are closed": "Chips come past guards."}),
    SafetyQuestion(
        "dust", "A block of magnesium is on the table. What matters most?",
        "Its chips burn: no sparks, no water, clear them away",
        {"Plenty of water on it": "Burning magnesium takes the oxygen out of water, and it explodes.",
         "Full speed, as it is soft": "Heat and fine chips are what sets it alight."}),
    SafetyQuestion(
        "stall", "The band stalls in the cut. What now?",
        "Stop the motor, back the work off with everything still",
        {"Push on, until it pulls through": "A band that stands under load breaks or strips as it lets go.",
         "Pull the work free while it pulls": "The band grabs the work, and what holds it."}),
    SafetyQuestion(
        "break", "There is a bang, and the band has broken. What now?",
        "Stop, stand clear until all is still, isolate, then look",
        {"Catch the end that still moves": "The end is a whip with teeth.",
         "Open the door to see": "The wheels still turn; a door is a guard."}),
    SafetyQuestion(
        "range", "The speed you need is in the other range. When do you change over?",
        "As the machine's maker says; most gears only at rest",
        {"Running, as it engages better": "Gears of most such drives break when shifted running.",
         "Under load, so that it cannot jump": "Load is what breaks them."}),
)  # fmt: skip


class Gate:
    """The gate of one student: five questions of the pool; `open` once each was answered right."""

    def __init__(self, lesson: Lesson) -> None:
        self.lesson = lesson
        random = own_random(lesson.student.drawn, STREAM)
        self.questions = tuple(POOL[i] for i in random.permutation(len(POOL))[:ASKED])
        self._orders = {q.id: random.permutation(1 + len(q.wrong)) for q in self.questions}

    def choices(self, question: SafetyQuestion) -> list[str]:
        """The choices of a question in this student's order."""
        words = [question.right, *question.wrong]
        return [words[i] for i in self._orders[question.id]]

    def check(self, question: SafetyQuestion, given: str) -> str:
        """Why an answer is wrong; "" if it is right. Kept."""
        right = given == question.right
        record.add(self.lesson, "safety", question.id, given, "right" if right else "not_yet")
        return "" if right else question.wrong[given]

    def passed(self) -> set[str]:
        """Ids of questions answered right, in any lesson of this student."""
        kept = [record.read(self.lesson)]
        if self.lesson.folder is not None:
            pattern = f"lesson_*_{record.slug(self.lesson.student.key)}.json"
            kept += [record.read_file(file) or {} for file in self.lesson.folder.glob(pattern)]
        entries = [entry for one in kept for entry in one.get("attempts", [])]
        return {entry["id"] for entry in entries if entry.get("kind") == "safety" and entry.get("state") == "right"}

    @property
    def open(self) -> bool:
        return self.passed() >= {question.id for question in self.questions}

    def demand(self) -> None:
        """GateError unless the gate is open."""
        if not self.open:
            raise GateError('The saw is locked: answer the safety questions under "Safety first" above.')
