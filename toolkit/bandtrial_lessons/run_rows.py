"""The runs of a student's trial as rows of a table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from bandtrial import sawing, words

if TYPE_CHECKING:
    from bandtrial_lessons.own_trial import OwnTrial


def run_rows(lesson: OwnTrial) -> list[tuple[str, ...]]:
    """Number, band, dial, feed rate, chip load, cuts, minutes, motor power of the last cut, how the band "
    "is then."""
    trial, stock = lesson.trial, lesson.work.shop.stock
    log, at = trial.shop.cuts, 0
    rows: list[tuple[str, ...]] = []
    for number, (run, made) in enumerate(zip(trial.runs, trial.made, strict=True), 1):
        cuts = log.iloc[at : at + made]
        at += made
        V = lesson.work.shop.machine.true_speed(run.dial)
        whole = bool(np.all(cuts["complete"]))
        rows.append(
            (
                str(number),
                run.band,
                lesson.show(run.dial, "speed"),
                lesson.show(run.feed_rate, "feed_rate"),
                lesson.show(float(sawing.chip_load(V, run.feed_rate, stock.tooth_spacing)), "chip_load"),
                str(made),
                words.shown(float(cuts["cut_time"].sum())),
                lesson.show(float(cuts["motor_power"].iloc[-1]) if made else trial.stalls[number - 1], "power"),
                state_of(trial, number - 1, run.band, whole),
            )
        )
    return rows


def state_of(trial: Any, number: int, band: str, whole: bool) -> str:
    """How the band is after a run, in words."""
    if number in trial.stalls:
        return f"motor stalled, it has {words.shown((trial.shop.machine.motor_power or 0.0) / 1000)} kW; band kinked"
    return "still cutting" if whole else trial.ended(band)
