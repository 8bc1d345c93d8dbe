"""`recommend`: the setting for a job, what it gives, what limits it, and what it is compared with."""

from __future__ import annotations

import numpy as np

from .checks import all_limits
from .chosen import Chosen, choose
from .job import NotYet, job_of
from .limits import chip_loads
from .optimise import DRAWS, Wish, optimise, speed_interval, trade_off
from .others import PUBLISHED_CHIP, usual_coolant
from .remarks import next_step, warnings
from .result import Recommendation, Setting, Value
from .rounding import two_figures
from .tried import check_life_known, tried


def recommend(
    fit,
    study,
    machine: str,
    stock: str,
    material: str,
    thickness_mm: float,
    goal: str = "lowest-cost",
    deviation: float | None = None,
    life_at_least: float | None = None,
    coolant: str | None = None,
) -> Recommendation:
    """The setting (speed, feed, change-out) of least expected long-run cost or greatest output, in limits.

    The expectation runs over posterior draws and over the scatter from band to band; see `longrun`.

    fit : posterior draws of `wear.fit` on the study
    thickness_mm : work thickness [mm]
    goal : "lowest-cost" or "highest-output"
    deviation : greatest deviation of a cut [mm], or None
    life_at_least : least mean area per band [cm2], or None
    coolant : flood, mist, air or dry; what the shop used most by default

    Raises ValueError for a name that is not in the study, NotYet where the study can't support an answer.
    """
    wish = Wish(goal, deviation, life_at_least)
    coolant = coolant or usual_coolant(fit.data, machine, material)
    job = job_of(study, machine, stock, material, thickness_mm, coolant)
    region = tried(fit, study, job)
    check_life_known(fit, job, region)
    if deviation is not None and "deviation" not in fit.signals:
        raise NotYet(
            "a deviation was asked for, and the study has no deviation of enough cuts.",
            ["measure and log the deviation of every trial cut."],
            region.evidence,
        )
    coarse, fine = optimise(fit, job, region, wish)
    few = fit.thinned(DRAWS)
    chosen = choose(few, job, region, wish, fine)
    setting = as_setting("recommended", few, job, chosen, chosen.at, chosen.age)
    low, high = speed_interval(coarse)
    return Recommendation(
        job=job,
        goal=goal,
        setting=setting,
        speed=Value(chosen.V, min(low, chosen.V), max(high, chosen.V)),
        published_band_speed=job.published_speed,
        limits=tuple(all_limits(few, job, region, wish, chosen)),
        evidence=region.evidence,
        warnings=tuple(warnings(fit, study, job, region)),
        table=(*compared(few, job, chosen), setting),
        curve=tuple(trade_off(coarse, job)),
        rounding_cost=max(0.0, chosen.rounding),
        continuous=chosen.exact,
        next_step=next_step(job, region, chosen.V, chosen.bite),
    )


def compared(fit, job, chosen: Chosen):
    """The published start and the shop's own setting, each with the probability that the choice beats it."""
    kinds = (
        ("published start", chosen.published, f"{PUBLISHED_CHIP:g} um chip load, run to the end"),
        ("the shop now", chosen.now, "its most used setting, run to the end"),
    )
    loss, end = chosen.scan.loss, chosen.scan.loss.shape[2] - 1
    own = loss[:, chosen.at, chosen.age]
    for name, i, note in kinds:
        if i is not None:
            yield as_setting(name, fit, job, chosen, i, end, float(np.mean(own < loss[:, i, end])), note)


def as_setting(name, fit, job, chosen: Chosen, i: int, j: int, beaten_by=None, note="") -> Setting:
    """Setting i of those worked out, changed at age j."""
    run, end = chosen.scan.run, chosen.scan.loss.shape[2] - 1
    V, bite = float(chosen.scan.V[i]), float(chosen.scan.bite[i])
    fresh = chip_loads(fit, job, np.array([V]), np.array([bite]), wear_used=0.0)
    area, minutes = run.area[:, i, j], run.minutes[:, i, j]
    return Setting(
        name=name,
        band_speed=V,
        indicated=float(job.machine.indicated_speed(V)),
        feed=float(job.feed_of(V, bite)),
        chip_load=float(np.median(fresh)),
        change_after=None if j == end else two_figures(run.age[i, j]),
        cost=_value(run.cost(job.prices)[:, i, j]),
        life=_value(area),
        rate=_value(area / minutes),
        beaten_by=beaten_by,
        note=note,
    )


def _value(draws) -> Value:
    low, high = np.quantile(draws, [0.1, 0.9])
    return Value(float(np.mean(draws)), float(low), float(high))
