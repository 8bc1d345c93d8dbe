"""Lesson 4's predictions: how far two bands of one kind lie apart, and what more feed asks of the motor."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import pandas as pd

from bandtrial_lessons.budget import TRAVEL
from bandtrial_lessons.pictures import picture_of, power_over_minutes
from bandtrial_lessons.prediction import Prediction
from bandtrial_lessons.trial_shop import MACHINE, TrialJob, fresh, trial_job

if TYPE_CHECKING:
    from bandtrial_lessons.own_trial import OwnTrial

APART = {"nearly alike, within 5 %": 1.05, "5 to 20 % apart": 1.2, "more than 20 % apart": float("inf")}
"""Words -> greatest ratio of the longer life to the shorter that they stand for."""
MORE_FEED = 1.2
POWER = {"less than 20 % more": 1.18, "20 % more": 1.22, "over 20 % more": float("inf")}
"""Words -> greatest ratio of the powers that they stand for; the middle as near as a meter reads."""
MOST = 4000
"""Cuts after which a band that still cuts is taken off."""


def trial_predictions(lesson: OwnTrial) -> list[Prediction]:
    """The predictions of a student, each before what it is about opens."""
    cuts = to_the_end(trial_job(f"{lesson.drawn}#bands", lesson.drawn_units))
    lives = (cuts["cut_time"] * cuts["pieces"]).groupby(cuts["band"]).sum()
    V, F = lesson.work.published
    asked = [lesson.trial.would_take("new", lesson.dial(V), feed) for feed in (F, MORE_FEED * F)]
    picture = partial(
        picture_of, lesson, lambda ax, own: power_over_minutes(ax, cuts, own.unit("power")),
        "Motor power of two bands of one kind at one setting, to the end of each, on a saw like yours",
    )  # fmt: skip
    return [
        Prediction(
            "4P", "on a saw like yours two new bands of one kind run at one setting until they are done. How far apart "
            "are their lives?", tuple(APART), picture, said_of(float(lives.max() / lives.min()), APART),
            "What would a trial of two bands, each at a speed of its own, make of such a difference?",
        ),
        Prediction(
            "4Q", f"at the published start you feed {100 * (MORE_FEED - 1):.0f} % faster, the speed as it is. How much "
            "more power does the motor give to a new band? Then make that cut, and others, and look.",
            tuple(POWER), lesson.cut_panel, said_of(asked[1] / asked[0], POWER),
            "What does a thicker chip ask of each tooth, and what does it spare?",
        ),
    ]  # fmt: skip


def to_the_end(job: TrialJob) -> Any:
    """The log of two new bands at the published start, each until it ends."""
    shop, (V, F) = fresh(job), job.published
    row = {"band_speed": float(shop.machine.indicated_speed(V)), "feed_rate": F, "work_thickness": job.thickness,
           "cut_travel": TRAVEL}  # fmt: skip
    for _ in range(2):
        shop.new_band(machine=MACHINE)
        shop.run(pd.DataFrame([row | {"band": list(shop.bands)[-1]}] * MOST))
    return shop.cuts


def said_of(ratio: float, words: dict[str, float]) -> str:
    """The words that stand for a ratio.

    >>> said_of(1.12, APART), said_of(1.34, APART)
    ('5 to 20 % apart', 'more than 20 % apart')
    """
    return next(said for said, most in words.items() if ratio <= most)
