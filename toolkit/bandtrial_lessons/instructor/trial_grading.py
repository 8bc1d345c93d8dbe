"""Lesson 4 graded: the trial made again, its bill, what its setting truly costs, and its points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from bandtrial_lessons.budget import BudgetedTrial
from bandtrial_lessons.instructor import rivals
from bandtrial_lessons.own_trial import OwnTrial

if TYPE_CHECKING:
    from bandtrial_lessons.instructor.grading import Handed

TRIAL = 3.0
"""Points, at most."""
LOST = 0.25
"""Share of a year's sawing that a trial and its setting may lose before they are worth nothing [-]."""
LITTLE, NEAR = 20.0, 1.25
"""A trial of fewer minutes [min], and a setting with no cut within so great a factor of its speed, are remarked on:
it may have been found elsewhere."""


def grade_trial(lesson: OwnTrial, kept: dict[str, Any], handed: Handed, toolkit: bool) -> None:
    """Make the trial again from its runs; work out its bill, the regrets of the settings, its points."""
    job, setting = lesson.work, kept.get("setting")
    trial = BudgetedTrial(job)
    try:
        trial = BudgetedTrial(job, kept.get("runs"))
        handed.cutting, handed.bill = trial.minutes, trial.bill.total
    except (TypeError, ValueError, KeyError, AttributeError) as error:
        handed.remarks.append(f"the runs can't be made again: {' '.join(str(error).split())}")
    choices = [rivals.published_choice(job), rivals.textbook_choice(job)]
    own = own_choice(lesson, setting, handed)
    choices += [own] if own else []
    if toolkit and trial.runs:
        found = rivals.toolkit_choice(job, trial)
        choices += [found] if found.usable else []
    handed.regrets = {choice.name: rivals.regret(job, choice) for choice in choices}
    if own is None:
        handed.trial_points = 0.0
        return
    if not trial.runs:
        handed.remarks.append("a setting without a trial cut: no points for it")
    elif trial.minutes < LITTLE or not near_a_cut(lesson, trial, own):
        handed.remarks.append(f"a setting that stands on {trial.minutes:.0f} min of cutting"
                              f"{'' if near_a_cut(lesson, trial, own) else ', none near its speed'}")  # fmt: skip
    if broken := rivals.broken(job, own):
        handed.remarks.append(f"breaks a limit: {', '.join(broken)}")
    worthless = broken or not trial.runs
    handed.trial_points = 0.0 if worthless else trial_points(lesson, handed.regrets[rivals.OWN], handed.bill)


def near_a_cut(lesson: OwnTrial, trial: BudgetedTrial, own: rivals.Choice) -> bool:
    """Whether any cut was made near the speed of a setting."""
    speeds = [float(lesson.work.shop.machine.true_speed(run.dial)) for run in trial.runs]
    return any(own.band_speed / NEAR <= V <= own.band_speed * NEAR for V in speeds)


def own_choice(lesson: OwnTrial, setting: Any, handed: Handed) -> rivals.Choice | None:
    """The setting handed in; None where there is none, with a remark."""
    if not setting:
        handed.remarks.append("no setting handed in")
        return None
    try:
        V = float(lesson.work.shop.machine.true_speed(float(setting["dial_m_min"])))
        return rivals.Choice(rivals.OWN, V, float(setting["feed_rate_mm_min"]))
    except (KeyError, TypeError, ValueError):
        handed.remarks.append("the setting handed in can't be read")
        return None


def trial_points(lesson: OwnTrial, regret: float, bill: float) -> float:
    """Of 3: what a year at the setting costs over the best there is, and the trial's bill, as a share of that year.

    Nothing is lost: 3; a quarter of the year's cost or more: 0.
    """
    year = rivals.best_of(lesson.work).cost * lesson.work.yearly
    lost = max(regret, 0.0) + bill / year
    return round(TRIAL * max(0.0, 1.0 - lost / LOST), 2)
