"""What a recommendation is compared with: the published start, and what the shop runs now."""

from __future__ import annotations

import numpy as np

from bandtrial import units

from .job import Job, NotYet
from .surface import names
from .tried import bites, rows_of
from .wording import price, setting_words

AS_SET = 0.05
"""Share by which the feed rate that a cut had may differ from the one set and still be taken for it."""
PUBLISHED_CHIP = 10.0
"""Chip load of the published start [um]: the sources give 5 to 50 (sarwar_2010); our choice."""


def published_setting(fit, job: Job):
    """(band speed [m/min], bite) of the published start, at the nearest speed that the machine has."""
    V = nearest_speed(job, job.published_speed)
    if job.feed != "force":
        return V, PUBLISHED_CHIP
    grid = np.geomspace(0.2, 100.0, 60)
    h = fit.thinned(64).chip_load_at_force(
        job.feed_of(V, grid), np.full(60, V), job.thickness, wear_used=0.0, **names(job)
    )
    return V, float(np.exp(np.interp(np.log(PUBLISHED_CHIP), np.log(np.median(h, axis=0)), np.log(grid))))


def nearest_speed(job: Job, V: float) -> float:
    """The true band speed nearest to V that lies in one of the machine's ranges [m/min]."""
    shown = float(job.machine.indicated_speed(V))
    near = min(
        (float(np.clip(shown, lo, hi)) for lo, hi in job.machine.band_speed_ranges),
        key=lambda x: abs(np.log(x / shown)),
    )
    return float(job.machine.true_speed(near))


def shop_now(cuts, job: Job):
    """(band speed [m/min], bite) that has sawn the most area of this material on this machine, or None."""
    rows, borrowed = rows_of(cuts, job)
    V, bite, area = rows["band_speed"], bites(rows, job), rows["cut_area"] * rows["pieces"]
    if borrowed or not len(V):
        return None
    key = np.round(np.column_stack([np.log(V), np.log(bite)]) / 0.05).astype(int)
    _, code = np.unique(key, axis=0, return_inverse=True)
    most = np.argmax(np.bincount(code.ravel(), weights=area))
    mine = code.ravel() == most
    own, at = float(np.median(V[mine])), float(np.median(bite[mine]))
    if job.feed == "rate":  # what stands on the knob, not what the stopwatch made of it
        knob = np.median(rows["set_feed_rate"][mine]) if "set_feed_rate" in rows else np.nan
        set_bite = float(job.bite_of(own, knob))
        at = set_bite if abs(np.log(set_bite / at)) < AS_SET else at
    return own, at


def through_throat(cuts, job: Job) -> None:
    """NotYet where the work does not go through the machine's throat and none so thick was cut on it."""
    throat, system = job.machine.throat, job.system
    cut = cuts is not None and (cuts["machine"] == job.machine.id) & (cuts["work_thickness"] > throat * 1.001)
    if not job.thickness > throat * 1.001 or (cut is not False and cut.any()):
        return
    asked, room = (units.show(x, "length", system) for x in (job.thickness, throat))
    raise NotYet(
        f"work of {asked} does not go through the throat of {job.machine.id}, {room}.",
        ["another machine, or the work turned; if it does go through, mend `throat` in study.toml."],
    )


def stay(cuts, job: Job) -> str:
    """What staying at the shop's own setting costs by its log alone, as words for a sentence."""
    now = shop_now(cuts, job)
    if now is None:
        return "make a first cut by `bandtrial plan`"
    rows, _ = rows_of(cuts, job)
    area = rows["cut_area"] * rows["pieces"]
    near = np.abs(np.log(rows["band_speed"] / now[0])) + np.abs(np.log(bites(rows, job) / now[1])) < 0.1
    near = near if near.any() else np.ones(len(area), bool)
    minutes = float(np.nansum((rows["cut_time"] * rows["pieces"])[near]) / area[near].sum())
    per_band = float(area.sum()) / len(set(rows["band"]))
    cutting = minutes * job.prices.per_minute
    bands = (job.prices.band + job.prices.change_minutes * job.prices.per_minute) / per_band
    return (
        f"stay at {setting_words(job, *now)}, which costs {price(cutting, job.currency, job.system)} for machine and "
        f"labor, and {price(cutting + bands, job.currency, job.system)} if no band sawed more than it has so far"
    )


def usual_coolant(cuts, machine: str, material: str) -> str:
    """The coolant of most cuts of the material on the machine; flood where there is none."""
    mine = (cuts["machine"].to_numpy() == machine) & (cuts["material"].to_numpy() == material)
    names, counts = np.unique(cuts["coolant"].to_numpy()[mine].astype(str), return_counts=True)
    return str(names[np.argmax(counts)]) if len(names) else "flood"
