"""Settings beside the best: what staying costs, what stops the next one, the steps of a dial."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import units
from bandtrial.recommend.job import Job, NotYet, job_of
from bandtrial.recommend.limits import REACH, SURE, Limit
from bandtrial.recommend.longrun import names
from bandtrial.recommend.optimise import Scan, to_the_end
from bandtrial.recommend.tried import ALIKE, NOTHING, Tried, bites, most_first, rows_of
from bandtrial.recommend.wording import feed_words, limit_words, price, setting_words

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.recommend.chosen import Chosen
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


PARTS = {0.1: "a tenth", 0.125: "an eighth", 0.2: "a fifth", 0.25: "a quarter", 1 / 3: "a third", 0.5: "half"}
NEAR = 0.012  # how near a part may be for its name to be used
INSIDE, TRIED = "inside what was tried", "than anything tried"
IN_STEPS = "come to it in steps of a quarter, a cut each, as bandtrial plan lists them"
SAME = 0.01  # share of the cost below which two settings are said to cost the same


def part(share: float) -> str:
    """A share in words.

    >>> part(0.25), part(0.07), part(1.4)
    ('a quarter', '7 %', '140 %')
    """
    return next((word for size, word in PARTS.items() if abs(share - size) <= NEAR), f"{100 * share:.0f} %")


def step_words(job: Job, region: Tried, band_speed: float, bite: float) -> str:
    """How far a setting is beyond what was tried, in speed and in feed per tooth; `INSIDE` if it is not."""
    feed = "feed force" if job.feed == "force" else "feed per tooth"
    parts = [
        _beyond(np.log(band_speed / job.published_speed), region.speed, "faster", "slower"),
        _beyond(np.log(bite), region.bite, f"more {feed}", f"less {feed}"),
    ]
    said = " and ".join(part for part in parts if part)
    return f"{said} {TRIED}" if said else INSIDE


def beyond(job: Job, region: Tried, band_speed: float, bite: float) -> str:
    """`step_words` of a setting that is beyond what was tried, else ""."""
    said = step_words(job, region, band_speed, bite)
    return "" if said == INSIDE else said


def _beyond(at: float, tried: np.ndarray, more: str, less: str) -> str:
    up, down = float(np.expm1(at - tried[1])), float(-np.expm1(at - tried[0]))
    if up > NOTHING:
        return f"{part(up)} {more}"
    return f"{part(down)} {less}" if down > NOTHING else ""


AS_SET = 0.05
"""Share by which the feed rate that a cut had may differ from the one set and still be taken for it."""
PUBLISHED_CHIP = 10.0
"""Chip load of the published start [um]: the sources give 5 to 50 (sarwar_2010); our choice."""


def published_setting(fit: Fit, job: Job) -> tuple[float, float]:
    """(band speed [m/min], bite) of the published start, at the nearest speed that the machine has."""
    V = nearest_speed(job, job.published_speed)
    return V, PUBLISHED_CHIP if job.feed != "force" else bite_giving(fit.thinned(64), job, V, PUBLISHED_CHIP)


def bite_giving(fit: Fit, job: Job, V: float, h: float) -> float:
    """Force per tooth [N] at which a new band's chip load is h [um] where a force is set: the least above which chips
    only thicken, as what draws say of forces far below those tried may fall."""
    grid = np.geomspace(0.2, 100.0, 60)
    at = job.feed_of(V, grid), np.full(60, V), job.thickness
    chips = np.median(fit.chip_load_at_force(*at, wear_used=0.0, **names(job)), axis=0)
    chips = np.minimum.accumulate(chips[::-1])[::-1]
    return float(np.exp(np.interp(np.log(h), np.log(chips), np.log(grid))))


def nearest_speed(job: Job, V: float) -> float:
    """The true band speed nearest to V that lies in one of the machine's ranges [m/min]."""
    shown = float(job.machine.indicated_speed(V))
    near = min(
        (float(np.clip(shown, lo, hi)) for lo, hi in job.machine.band_speed_ranges),
        key=lambda x: abs(np.log(x / shown)),
    )
    return float(job.machine.true_speed(near))


def shop_now(cuts: Any, job: Job) -> Any:
    """(band speed [m/min], bite) that has sawn the most area of this material on this machine, or None."""
    rows, borrowed = rows_of(cuts, job)
    V, bite, area = rows["band_speed"], bites(rows, job), rows["cut_area"] * rows["pieces"]
    if borrowed or not len(V):
        return None
    set_at = np.log(V)[:, None] if job.feed == "hand" else np.column_stack([np.log(V), np.log(bite)])
    mine = most_first(set_at / ALIKE, area)[0]  # a pace by hand strays
    own, at = float(np.median(V[mine])), float(np.median(bite[mine]))
    if job.feed == "rate":  # what stands on the knob, not what the stopwatch made of it
        knob = np.median(rows["set_feed_rate"][mine]) if "set_feed_rate" in rows else np.nan
        set_bite = float(job.bite_of(own, knob))
        at = set_bite if abs(np.log(set_bite / at)) < AS_SET else at
    return own, at


def job_asked(
    cuts: pd.DataFrame | None, study: Study, names: tuple[str, str, str], thickness: float, coolant: str | None = None
) -> Job:
    """The job of a machine, a stock and a material, at the coolant of most such cuts if none is given. NotYet where it
    does not go through the machine's throat and none so thick was cut on it."""
    machine, _, material = names
    usual = "flood" if cuts is None else usual_coolant(cuts, machine, material)
    job = job_of(study, *names, thickness, coolant or usual)
    throat, system = job.machine.throat, job.system
    cut = cuts is not None and (cuts["machine"] == job.machine.id) & (cuts["work_thickness"] > throat * 1.001)
    if not job.thickness > throat * 1.001 or (cut is not False and cut.any()):
        return job
    asked, room = (units.show(x, "length", system) for x in (job.thickness, throat))
    raise NotYet(
        f"work of {asked} does not go through the throat of {job.machine.id}, {room}.",
        ["another machine, or the work turned; if it does go through, mend `throat` in study.toml."],
    )


def stay(cuts: pd.DataFrame, job: Job) -> str:
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


def usual_coolant(cuts: pd.DataFrame, machine: str, material: str) -> str:
    """The coolant of most cuts of the material on the machine; flood where there is none."""
    mine = (cuts["machine"].to_numpy() == machine) & (cuts["material"].to_numpy() == material)
    names, counts = np.unique(cuts["coolant"].to_numpy()[mine].astype(str), return_counts=True)
    return str(names[np.argmax(counts)]) if len(names) else "flood"


@dataclass(frozen=True)
class Stop:
    """What speaks against a setting: a limit, or what it costs beside the choice.

    name : faster, heavier or published_start; band_speed true, indicated [m/min]; feed : rate [mm/min] or force [N]
    limit : the limit that rules it out, or None; costs_more, lives_longer : expected, as shares of the choice's
    """

    name: str
    band_speed: float
    indicated: float
    feed: float
    limit: Limit | None
    costs_more: float
    lives_longer: float
    setting: str
    said: str

    def to_json(self) -> dict[str, Any]:
        """Plain types."""
        return {**asdict(self), "limit": self.limit.to_json() if self.limit else None}


def stops(job: Job, region: Tried, chosen: Chosen, goal: str) -> dict[str, Stop]:
    """By name, what stops the settings that the choice is compared with."""
    published = chosen.scan, chosen.figures
    at = {"faster": (chosen.beside, 0), "heavier": (chosen.beside, 1), "published_start": (published, None)}
    own = chosen.scan.expected[chosen.at, chosen.age], np.median(chosen.scan.run.area[:, chosen.at, chosen.age])
    return {
        name: _stop(job, region, of, chosen.places["published"] if i is None else i, name, own, goal)
        for name, (of, i) in at.items()
    }


def _stop(
    job: Job, region: Tried, of: tuple[Scan, tuple[Any, ...]], i: int, name: str, own: tuple[float, float], goal: str
) -> Stop:
    scan, figures = of
    end = scan.loss.shape[2] - 1
    j = end if name == "published_start" else to_the_end(scan.expected[i])
    more = float(scan.expected[i, j] / own[0] - 1)
    longer = float(np.median(scan.run.area[:, i, j]) / own[1] - 1)
    V, bite = float(scan.V[i]), float(scan.bite[i])
    limit = binding(scan, figures, i)
    said = ruled_out(job, region, limit, V, bite) if limit else _cost_said(more, longer, goal)
    shown = float(job.machine.indicated_speed(V))
    words = setting_words(job, V, bite)
    return Stop(name, V, shown, float(job.feed_of(V, bite)), limit, more, longer, words, said)


def binding(scan: Scan, figures: Any, i: int) -> Limit | None:
    """The limit that holds least surely at setting i, if it is not sure enough."""
    asked = [f.at(i) for f in figures if f.kind != "shown"]
    for name, p in scan.probability.items():
        asked.append(Limit(name, float("nan"), float("nan"), "", True, round(float(p[i].max()), 3), "as asked"))
    broken = [limit for limit in asked if limit.probability < SURE]
    return min(broken, key=lambda limit: limit.probability, default=None)


def ruled_out(job: Job, region: Tried, limit: Limit, V: float, bite: float) -> str:
    """Which limit rules a setting out, with its figure."""
    if limit.name == REACH and bite > np.exp(region.stripped):
        at = feed_words(job, float(job.feed_of(V, np.exp(region.stripped))))
        return f"ruled out: a band was stripped at a feed per tooth that is {at} at this speed"
    if limit.name == REACH:
        return f"ruled out: {step_words(job, region, V, bite)}, {limit.value:.1f} times the step that the cuts defend"
    name, chances = limit.name.partition(", ")[0], f"{100 * limit.probability:.0f} chances in 100"
    if limit.value != limit.value:
        return f"ruled out: {name} holds with {chances} only"
    value, bound, unit = limit_words(limit, job.system)
    side = "at most" if limit.at_most else "at least"
    sure = "" if limit.probability == 0 else f", with {chances} only"
    return f"ruled out: {name} {value}, {side} {bound} {unit}".rstrip() + sure


def _cost_said(more: float, longer: float, goal: str) -> str:
    what = "cost" if goal == "lowest-cost" else "take"
    bands = f"with bands that last {abs(100 * longer):.0f} % {'longer' if longer > 0 else 'less'}"
    if abs(more) < SAME:
        return f"nothing forbids it: it would {what} the same within {100 * SAME:.0f} %, {bands}"
    if more < 0:
        return f"nothing forbids it: it would {what} {-100 * more:.1f} % less, {bands}"
    return f"nothing forbids it, but it would {what} {100 * more:.1f} % more, {bands}"
