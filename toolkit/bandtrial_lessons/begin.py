"""Which lesson, for whom."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial_lessons.cut_cost import CutCost
from bandtrial_lessons.feed_teeth import FeedAndTeeth
from bandtrial_lessons.lesson import Lesson
from bandtrial_lessons.own_trial import OwnTrial
from bandtrial_lessons.speed_life import SpeedAndLife

if TYPE_CHECKING:
    import pandas as pd

LESSONS: dict[int, type[Lesson]] = {lesson.number: lesson for lesson in (SpeedAndLife, FeedAndTeeth, CutCost, OwnTrial)}


def begin(lesson: int, name: str, units: str = "metric", folder: str | Path | None = "answers") -> Any:
    """Lesson 1 to 4 for a student.

    name : the student's; the shop, and so the answers, follow from it
    units : "metric" or "us"
    folder : where answers are kept for the instructor; None keeps none

    Raises ValueError for another lesson, a name without letters, or other units.
    """
    if lesson not in LESSONS:
        raise ValueError(f"lesson {lesson} does not exist; there are {', '.join(map(str, LESSONS))}.")
    return LESSONS[lesson](name, units, folder)


def class_key(lesson: int, names: list[str], units: str = "metric") -> pd.DataFrame:
    """Expected answers of a class: one row for each student, one column for each question."""
    import pandas as pd

    keys = {name: begin(lesson, name, units).key().column("answer") for name in names}
    return pd.DataFrame(keys).T.rename_axis("student")
