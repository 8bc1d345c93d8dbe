"""One table of what a class has handed in. Every answer is checked again: what a file says of itself is "
"not believed."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial_lessons import rivals
from bandtrial_lessons.begin import begin
from bandtrial_lessons.budget import BudgetedTrial, BudgetError
from bandtrial_lessons.own_trial import OwnTrial
from bandtrial_lessons.reveal import percent

if TYPE_CHECKING:
    import pandas as pd


@dataclass
class Handed:
    """One file, graded. right, asked: questions; tries in all; regrets by setting (lesson 4)."""

    name: str
    lesson: int
    right: int = 0
    asked: int = 0
    tries: int = 0
    open: list[str] = field(default_factory=list)
    minutes: float = float("nan")
    regrets: dict[str, float] = field(default_factory=dict)
    remarks: list[str] = field(default_factory=list)


def grade(folder: str | Path) -> pd.DataFrame:
    """One row for each student and lesson found in a folder and the folders below it.

    Columns: student, lesson, right ("7 of 8"), tries, open (ids not right yet), minutes, and for lesson 4 how much
    dearer than the best there is: yours, toolkit, textbook, published; remarks.

    Raises ValueError if there is no such folder, or nothing handed in inside it.
    """
    import pandas as pd

    path = Path(folder)
    if not path.is_dir():
        raise ValueError(f'"{folder}" is not a folder; give the one that the answers were collected in.')
    found = [graded(file) for file in sorted(path.rglob("lesson_*.json"))]
    if not found:
        raise ValueError(f'"{folder}" holds no answers; they are files named lesson_1_some_name.json.')
    found.sort(key=lambda h: (h.name.casefold(), h.lesson))
    return pd.DataFrame([row(handed) for handed in found])


def row(h: Handed) -> dict[str, Any]:
    """A graded file as a row of the table."""
    regrets = {head: percent(h.regrets[name]) if name in h.regrets else "" for head, name in REGRETS.items()}
    return {
        "student": h.name,
        "lesson": h.lesson,
        "right": f"{h.right} of {h.asked}",
        "tries": h.tries,
        "open": " ".join(h.open),
        "minutes": "" if h.minutes != h.minutes else f"{h.minutes:.0f}",
        **regrets,
        "remarks": "; ".join(h.remarks),
    }


TOOLKIT_KEYS = ("band_speed", "feed_rate", "change_after")
REGRETS = {
    "yours": rivals.OWN, "toolkit": rivals.TOOLKIT, "textbook": rivals.TEXTBOOK, "published": rivals.PUBLISHED,
}  # fmt: skip
"""Column -> setting."""


def graded(file: Path) -> Handed:
    """A file of answers, checked again from the student's name; what can't be read is a remark."""
    try:
        kept = json.loads(file.read_text(encoding="utf-8"))
        lesson = begin(int(kept["lesson"]), kept["name"], kept["units"])
        given = {str(id): dict(entry) for id, entry in kept["answers"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        return Handed(file.stem, 0, remarks=[f"{file.name} can't be read: {' '.join(str(error).split())}"])
    handed = Handed(lesson.name, lesson.number, asked=len(lesson.questions))
    for id in lesson.questions:
        entry = given.get(id, {})
        handed.tries += int(entry.get("tries", 0))
        if "given" in entry and lesson.judge(id, str(entry["given"])).right:
            handed.right += 1
        else:
            handed.open.append(id)
    if isinstance(lesson, OwnTrial):
        grade_trial(lesson, kept, handed)
    return handed


def grade_trial(lesson: OwnTrial, kept: dict[str, Any], handed: Handed) -> None:
    """Make the trial again from its runs, and work out the regrets of the settings handed in."""
    try:
        trial = BudgetedTrial(lesson.work, kept.get("runs"))
        handed.minutes = trial.minutes
    except (BudgetError, TypeError, ValueError) as error:
        handed.remarks.append(f"the runs can't be made again: {' '.join(str(error).split())}")
    job, setting, toolkit = lesson.work, kept.get("setting"), kept.get("toolkit")
    choices = [rivals.published_choice(job), rivals.textbook_choice(job)]
    try:
        if setting:
            V = float(job.shop.machine.true_speed(float(setting["dial_m_min"])))
            choices.append(rivals.Choice(rivals.OWN, V, float(setting["feed_rate_mm_min"])))
        if toolkit:
            choices.append(rivals.Choice(rivals.TOOLKIT, *(toolkit[key] for key in TOOLKIT_KEYS)))
    except (KeyError, TypeError, ValueError):
        handed.remarks.append("the setting handed in can't be read")
    handed.regrets = {choice.name: rivals.regret(job, choice) for choice in choices}
    if not setting:
        handed.remarks.append("no setting handed in")
    for choice in choices[2:]:
        if choice.name == rivals.OWN and (broken := rivals.broken(job, choice)):
            handed.remarks.append(f"breaks a limit: {', '.join(broken)}")
