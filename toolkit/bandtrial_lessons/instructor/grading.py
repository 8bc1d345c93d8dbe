"""What a class has handed in, judged again: what a file says of itself is not believed, and one bad file is one remark.

Points: a number is worth 1, 0.8 after one wrong answer, 0.6 after two; with the new numbers that follow a third, half
of that, then 0.3 of it. A choice is worth 1, or 0.5 at the second go; a bench setting 1 less 0.1 for each wrong one. A
prediction made is worth half a point whatever came of it; explanations are for the instructor to read. Lesson 4's
setting is worth up to 3 (see `trial_points`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial_lessons import record
from bandtrial_lessons.begin import begin
from bandtrial_lessons.bench.setting import read_setting
from bandtrial_lessons.instructor.classes import Class
from bandtrial_lessons.instructor.trial_grading import TRIAL, grade_trial
from bandtrial_lessons.lesson import MOST_VERSIONS, Lesson
from bandtrial_lessons.own_trial import OwnTrial
from bandtrial_lessons.question import Question
from bandtrial_lessons.set_up import SetUp

if TYPE_CHECKING:
    import pandas as pd

AFTER = (1.0, 0.8, 0.6)
"""Worth of a number after so many wrong answers [-]."""
AGAIN = (1.0, 0.5, 0.3)
"""Worth of an answer by how often new numbers were asked [-]."""
PREDICTION = 0.5
"""Points."""
QUICK, QUICK_SECONDS = 5, 60.0
"""So many right answers in so many seconds are remarked on."""
USUAL = {False: 3.0, True: 1.0}
"""Minutes that a number takes, and a choice, as the guide counts on [min]."""
HASTY = 0.25
"""Share of those minutes in which a lesson with nothing wrong in it is remarked on [-]."""
LEAST_MOST = 40_000_000
"""Greatest file that is read [bytes]."""


@dataclass
class Asked:
    """A question as one student answered it: points; right at all; tries; matched: slips, by number, each time."""

    points: float = 0.0
    right: bool = False
    first: bool = False
    tries: int = 0
    matched: list[int | None] = field(default_factory=list)


@dataclass
class Handed:
    """One file, graded. minutes: from first to last entry; trial figures of lesson 4 only."""

    file: str
    name: str
    lesson: int = 0
    key: str = ""
    code: str = ""
    handed_in: str = ""
    last: str = ""
    minutes: float = float("nan")
    asked: dict[str, Asked] = field(default_factory=dict)
    predictions: dict[str, str] = field(default_factory=dict)
    of_predictions: int = 0
    explanations: dict[str, str] = field(default_factory=dict)
    safety_wrong: int = 0
    cutting: float = float("nan")
    """Minutes of lesson 4's trial; `bill`: of that, or of the bands run on lesson 5's bench."""
    bill: float = float("nan")
    trial_points: float = float("nan")
    regrets: dict[str, float] = field(default_factory=dict)
    remarks: list[str] = field(default_factory=list)

    @property
    def points(self) -> float:
        trial = self.trial_points if self.trial_points == self.trial_points else 0.0
        return sum(one.points for one in self.asked.values()) + PREDICTION * len(self.predictions) + trial

    @property
    def most(self) -> float:
        """Points that could be had."""
        return len(self.asked) + PREDICTION * self.of_predictions + (TRIAL if self.lesson == OwnTrial.number else 0.0)


def grade(folder: str | Path, a_class: Class | None = None, toolkit: bool = False) -> pd.DataFrame:
    """One row for each student and lesson found in a folder and the folders below it; see `tables.class_table`.

    a_class : codes, due times and the roster, where there is one
    toolkit : work out what the toolkit would have set from each student's cuts, some seconds each

    Raises ValueError if there is no such folder, or nothing handed in inside it.
    """
    from bandtrial_lessons.instructor.tables import class_table

    return class_table(graded_folder(folder, a_class, toolkit), a_class)


def graded_folder(folder: str | Path, a_class: Class | None = None, toolkit: bool = False) -> list[Handed]:
    """Every hand-in of a folder, by student and lesson; of several, the one handed in first."""
    path = Path(folder)
    if not path.is_dir():
        raise ValueError(f'"{folder}" is not a folder; give the one that the answers were collected in.')
    found = [graded(file, a_class, toolkit) for file in sorted(path.rglob("lesson_*.json"))]
    if not found:
        raise ValueError(f'"{folder}" holds no answers; they are files named lesson_1_some_name.json.')
    return sorted(first_of_each(found), key=lambda h: (h.name.casefold(), h.lesson, h.file))


def first_of_each(found: list[Handed]) -> list[Handed]:
    """Of each student and lesson the hand-in that was first, with a remark on the others."""
    by: dict[tuple[str, int], list[Handed]] = {}
    kept = [one for one in found if not one.lesson]
    for one in found:
        if one.lesson:
            by.setdefault((one.key.casefold(), one.lesson), []).append(one)
    for several in by.values():
        several.sort(key=lambda h: (not h.handed_in, h.handed_in, h.last))
        first = several[0]
        if len(several) > 1:
            others = ", ".join(one.file for one in several[1:])
            first.remarks.append(f"{len(several)} files; counted is {first.file}, handed in first, not {others}")
        kept.append(first)
    return kept


def graded(file: Path, a_class: Class | None = None, toolkit: bool = False) -> Handed:
    """A file of answers, judged again; what can't be read is a remark, whatever is in it."""
    try:
        if file.stat().st_size > LEAST_MOST:
            raise ValueError("it is larger than any lesson")
        kept = record.read_file(file)
        if kept is None:
            raise ValueError("it is no file of a lesson")
        return _graded(file, kept, a_class, toolkit)
    except Exception as error:  # a file made by hand may hold anything; the others' marks don't wait for it
        return Handed(
            file.name, file.stem, remarks=[f"{file.name} can't be read: {' '.join(str(error).split())[:200]}"]
        )


def _graded(file: Path, kept: dict[str, Any], a_class: Class | None, toolkit: bool) -> Handed:
    lesson = begin(int(kept["lesson"]), str(kept["name"]), str(kept["units"]), None, str(kept.get("code", "")))
    if not lesson.student.code:
        lesson.drawn = str(kept.get("drawn") or lesson.name)
    lesson.drawn_units = str(kept.get("drawn_units") or lesson.system)
    attempts = [dict(entry) for entry in kept.get("attempts", [])]
    handed = Handed(file.name, lesson.name, lesson.number, lesson.student.id or lesson.drawn, lesson.student.code)
    handed.handed_in = str(kept.get("handed_in") or "")
    handed.asked = {id: judged(lesson, question, attempts) for id, question in lesson.questions.items()}
    _said(handed, lesson, attempts)
    _remarks(handed, lesson, kept, attempts, a_class)
    if isinstance(lesson, OwnTrial):
        grade_trial(lesson, kept, handed, toolkit)
    if isinstance(lesson, SetUp):
        run = [read_setting(str(entry.get("given"))) for entry in attempts if entry.get("kind") == "bench"]
        handed.bill = sum(lesson.saw.bill(lesson.saw.cut(setting, 0.5)) for setting in run)
    return handed


def judged(lesson: Lesson, question: Question, attempts: list[dict[str, Any]]) -> Asked:
    """A question's attempts, judged in their order with the numbers each was asked with."""
    asked, version, level = Asked(), 0, 0
    for entry in attempts:
        if (entry.get("kind"), entry.get("id")) != ("answer", question.id):
            continue
        verdict = lesson.question(question.id, version).judge(str(entry.get("given")), level)
        if verdict.state == "unread":
            continue
        asked.tries += 1
        if verdict.right:
            asked.right, asked.first = True, asked.tries == 1
            asked.points = worth(question, version, level)
            break
        asked.matched.append(verdict.slip if version == 0 else None)
        level += 1
        if level >= question.tries:
            if question.by_letter or version == MOST_VERSIONS or isinstance(question.expected, str):
                break
            version, level = version + 1, 0
    return asked


def worth(question: Question, version: int, level: int) -> float:
    """Points of a right answer, by wrong ones before it and by new numbers.

    question: a number, a choice, or a bench setting
    """
    if question.by_letter:
        return 1.0 if level == 0 else 0.5
    if isinstance(question.expected, str):
        return round(1.0 - 0.1 * level, 2)
    return round(AFTER[min(level, len(AFTER) - 1)] * AGAIN[version], 2)


def _said(handed: Handed, lesson: Lesson, attempts: list[dict[str, Any]]) -> None:
    """Predictions (the first of each stands), explanations, safety answers that were wrong."""
    handed.of_predictions = len(lesson.predictions)
    for entry in attempts:
        kind, id, given = entry.get("kind"), str(entry.get("id")), str(entry.get("given"))
        if kind == "prediction" and id in lesson.predictions and given in lesson.predictions[id].choices:
            handed.predictions.setdefault(id, given)
        elif kind == "explanation" and id in lesson.predictions:
            handed.explanations[id] = given
        elif kind == "safety" and entry.get("state") != "right":
            handed.safety_wrong += 1


def _remarks(handed: Handed, lesson: Lesson, kept: dict[str, Any], attempts: list[dict[str, Any]],
             a_class: Class | None) -> None:  # fmt: skip
    """Times, and what an instructor should know of a file."""
    if not handed.handed_in:
        handed.remarks.append("not handed in")
    if record.edited(kept):
        handed.remarks.append("changed by hand: entries do not follow one another")
    if a_class and not handed.code:
        handed.remarks.append("practice: worked without a code of the class")
    elif a_class and not a_class.knows(handed.code):
        handed.remarks.append(f'the code "{handed.code}" is not of this class')
    times = [datetime.fromisoformat(str(entry["time"])) for entry in attempts if "time" in entry]
    if times:
        handed.last = max(times).isoformat()
        handed.minutes = (max(times) - min(times)).total_seconds() / 60.0
    if a_class and handed.handed_in and a_class.late(handed.lesson, handed.handed_in):
        handed.remarks.append("late")
    right = [datetime.fromisoformat(str(entry["time"])) for entry in attempts
             if (entry.get("kind"), entry.get("state")) == ("answer", "right")]  # fmt: skip
    for first, later in zip(right, right[QUICK - 1 :], strict=False):
        if (later - first).total_seconds() <= QUICK_SECONDS:
            handed.remarks.append(f"{QUICK} right answers in {(later - first).total_seconds():.0f} s")
            break
    asked = [one for one in handed.asked.values() if one.tries]
    usual = sum(USUAL[question.by_letter] for question in lesson.questions.values())
    if len(asked) == len(handed.asked) and all(one.first for one in asked) and handed.minutes < HASTY * usual:
        handed.remarks.append(f"all right at the first try in {handed.minutes:.0f} min, where {usual:.0f} are usual")
