"""Which lesson, for whom."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bandtrial_lessons.chips_signs import ChipsAndSigns
from bandtrial_lessons.cut_cost import CutCost
from bandtrial_lessons.feed_teeth import FeedAndTeeth
from bandtrial_lessons.lesson import Lesson
from bandtrial_lessons.own_trial import OwnTrial
from bandtrial_lessons.set_up import SetUp
from bandtrial_lessons.speed_life import SpeedAndLife

LESSONS: dict[int, type[Lesson]] = {
    lesson.number: lesson for lesson in (SpeedAndLife, FeedAndTeeth, CutCost, OwnTrial, SetUp, ChipsAndSigns)
}


def begin(lesson: int, name: str, units: str = "metric", folder: str | Path | None = "answers", code: str = "") -> Any:
    """Lesson 1 to 6 for a student.

    name : the student's
    units : "metric" or "us"
    folder : where answers are kept for the instructor; None keeps none
    code : of the class, as the instructor gave it, from which the shop follows; without one it follows from the name

    Raises ValueError for another lesson, a name without letters, a code that is none, or other units.
    """
    if lesson not in LESSONS:
        raise ValueError(f"lesson {lesson} does not exist; there are {', '.join(map(str, LESSONS))}.")
    return LESSONS[lesson](name, units, folder, code)
