"""The limits of a setting: value, limit, margin, unit, whether it holds and how surely.

A limit from a book or a rule of thumb is where a shop starts. What its own cuts have held (`proven`) moves it: a chip
that bands lived with, a gullet that carried, is never refused on such a figure.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import sawing
from bandtrial.recommend.job import Job
from bandtrial.recommend.longrun import MID_WEAR, names
from bandtrial.recommend.proven import carried, how_known, motor_power, power_limit
from bandtrial.recommend.tried import Tried

from .job import trust_of, widened
from .tried import BROKEN_IN

if TYPE_CHECKING:
    from bandtrial.sawing import Numbers
    from bandtrial.wear.fit import Fit


SURE = 0.9  # an uncertain limit has to hold with this probability where a setting is looked for
HELD = 0.88  # and of the setting found it holds down to here, so that chance in the draws moves no verdict; our choice
LEAST_CHIP = 5.0  # [um] below it a tooth rubs (sarwar_2010: chip loads of 5 to 50 um), unless the shop's bands lived
GREATEST_CHIP = 50.0  # [um]
FULLEST = 0.98  # gullet fill: a speed check leaves the true speed, and so the chip, uncertain by some 2 %; no source
LEAST_TEETH, BEST_TEETH, MOST_TEETH = 2.0, 3.0, 24.0  # published/tooth_pitch.csv
SIGNAL_WEAR = np.array([0.0, 0.35, 0.7, 1.0])  # wear used at which a deviation is followed
SMOOTH = 0.3  # width of the smoothing of a probability, in sd of the draws' logs
REACH = "step beyond what was tried"
OWN = "as the shop's own cuts held"


@dataclass(frozen=True)
class Limit:
    """One limit at the recommended setting.

    at_most : which side of the limit is allowed; probability : that it holds; note : in words
    """

    name: str
    value: float
    limit: float
    unit: str
    at_most: bool
    probability: float
    note: str = ""

    @property
    def ok(self) -> bool:
        """Holds, with 90 % probability where it is uncertain (`HELD` once it has been looked for)."""
        return self.probability >= HELD

    @property
    def margin(self) -> float:
        """Share of the limit left [-], negative where it is broken."""
        away = self.limit - self.value if self.at_most else self.value - self.limit
        return away / abs(self.limit) if self.limit else 0.0

    def to_json(self) -> dict[str, Any]:
        """The keys of DESIGN section 7, and margin and note."""
        keys = ("name", "value", "limit", "unit", "ok", "probability", "margin", "note")
        return {key: getattr(self, key) for key in keys}


@dataclass(frozen=True)
class Figure:
    """One limit over settings: value, limit and probability that it holds (n,).

    kind : "machine" what the machine can be set to, "reach" the step beyond what was tried, "chance" what is not
    certain, "shown" what no setting of the job can change
    """

    name: str
    value: np.ndarray
    limit: np.ndarray
    unit: str
    at_most: bool
    probability: np.ndarray
    note: str
    kind: str

    def at(self, i: int) -> Limit:
        """The limit at setting i."""
        value, limit, p = (float(x[i]) for x in (self.value, self.limit, self.probability))
        return Limit(self.name, value, limit, self.unit, self.at_most, round(p, 3), self.note)

    @property
    def holds(self) -> np.ndarray:
        """Where it holds surely enough for a setting to be looked for (n,)."""
        return self.probability >= SURE


def figures(
    fit: Fit, job: Job, region: Tried, band_speed: np.ndarray, bite: Numbers, trial: bool = False
) -> Iterator[Figure]:
    """Every limit of settings (n,) that does not depend on when the band is changed.

    trial : of cuts to be tried, which go beyond published greatest figures only where most cuts do
    """
    V, bite = np.broadcast_arrays(np.asarray(band_speed, float), np.asarray(bite, float))
    yield from _machine(job, V, np.asarray(job.feed_of(V, bite), float))
    h, fresh = (chip_loads(fit, job, V, bite, wear) for wear in (MID_WEAR, BROKEN_IN))
    yield _gullet(job, region, fresh, trial)
    yield from _tooth(job, region, h, bite, trial)
    if job.feed == "force":
        yield from _fresh(job, region, fresh, trial)
    if np.isfinite(power_limit(job)):
        yield _power(fit, job, region, V, bite)
    yield _reach(job, region, V, bite)


def allowed(
    fit: Fit, job: Job, region: Tried, band_speed: np.ndarray, bite: Numbers, trial: bool = False
) -> np.ndarray:
    """Settings (n,) that hold every limit that does not depend on when the band is changed.

    trial : of cuts to be tried, whose chips may be thinner than the least
    """
    gates = [f for f in figures(fit, job, region, band_speed, bite, trial) if f.kind != "shown"]
    return np.asarray(np.all([f.holds for f in gates if not (trial and f.name == "chip load, least")], axis=0))


def in_ranges(job: Job, band_speed: np.ndarray) -> np.ndarray:
    """True band speeds (n,) that the dial can show: inside one of the machine's ranges, as indicated."""
    shown = job.machine.indicated_speed(band_speed)
    ranges = job.machine.band_speed_ranges
    inside = [(shown >= lo * (1 - 1e-9)) & (shown <= hi * (1 + 1e-9)) for lo, hi in ranges]
    return np.asarray(np.any(inside, axis=0))


def chip_loads(fit: Fit, job: Job, V: Numbers, bite: Numbers, wear_used: float = MID_WEAR) -> np.ndarray:
    """Chip load (S, n) [um] at a wear used; (1, n) where the feed rate is set, which does not thin."""
    if job.feed != "force":
        return np.asarray(bite, float)[None, :]
    h = fit.chip_load_at_force(job.feed_of(V, bite), V, job.thickness, wear_used=wear_used, **names(job))
    return widened(h, trust_of(fit))


def chance(draws: np.ndarray, limit: np.ndarray, at_most: bool) -> np.ndarray:
    """Probability (n,) that draws (S, n) keep on the allowed side of a limit.

    A smooth count: each draw of the log is spread by SMOOTH of their sd (a logistic law), so that the probability moves
    evenly with the setting and less with chance. One draw holds or does not.
    """
    draws, limit = np.atleast_2d(np.asarray(draws, float)), np.asarray(limit, float)
    good = draws <= limit * (1 + 1e-9) if at_most else draws >= limit * (1 - 1e-9)
    with np.errstate(divide="ignore", invalid="ignore"):
        x = np.log(np.maximum(draws, 1e-300))
        middle, sd = x.mean(axis=0), x.std(axis=0)
        x = middle + (x - middle) * np.sqrt(1 - SMOOTH**2)
        gap = (np.log(limit) - x) if at_most else (x - np.log(limit))
        soft = 1 / (1 + np.exp(-np.clip(1.702 * gap / (SMOOTH * sd), -50, 50)))
    usable = (sd > 1e-6) & np.isfinite(limit) & (limit > 0)
    return np.asarray(np.where(usable, soft.mean(axis=0), good.mean(axis=0)))


def figure(
    name: str,
    draws: np.ndarray,
    limit: Numbers | list[float],
    unit: str,
    at_most: bool,
    note: str = "",
    kind: str = "chance",
) -> Figure:
    """A `Figure` from draws (S, n) or values (n,) and a limit."""
    draws = np.atleast_2d(np.asarray(draws, float))
    limit = np.broadcast_to(np.asarray(limit, float), draws.shape[1:])
    return Figure(name, np.median(draws, axis=0), limit, unit, at_most, chance(draws, limit, at_most), note, kind)


def _machine(job: Job, V: Numbers, feed: np.ndarray) -> Iterator[Figure]:
    shown = np.asarray(job.machine.indicated_speed(V), float)
    ranges = np.array([(float(lo), float(hi)) for lo, hi in job.machine.band_speed_ranges])
    away = np.maximum(np.maximum(ranges[:, :1] - shown, shown - ranges[:, 1:]), 0.0)
    low, high = ranges[np.argmin(away, axis=0)].T
    yield figure("band speed, least", shown, low, "m/min", False, "as indicated", "machine")
    yield figure("band speed, greatest", shown, high, "m/min", True, "as indicated", "machine")
    low, high = job.feed_range()
    name, unit = ("feed force", "N") if job.feed == "force" else ("feed rate", "mm/min")
    if low > 0:
        yield figure(f"{name}, least", feed, low, unit, False, "", "machine")
    if np.isfinite(high):
        yield figure(f"{name}, greatest", feed, high, unit, True, "", "machine")


def _gullet(job: Job, region: Tried, fresh: np.ndarray, trial: bool) -> Figure:
    """Held by a new band: at a set force it cuts the thickest chips, and a gullet packs at the first of them."""
    when = "a new band, broken in; " if job.feed == "force" else ""
    given = job.stock.gullet_area is not None and np.isfinite(job.stock.gullet_area)
    estimate = "" if given else "gullet estimated from pitch and form; "
    most = fullest(job, region, trial)
    packs = f"above 1 the gullets pack, and the speed is known to some {100 * (1 - FULLEST):.0f} %"
    fill = sawing.gullet_fill(fresh, job.thickness, job.gullet_area)
    return figure("gullet fill", fill, most, "-", True, estimate + when + (packs if most == FULLEST else OWN))


def _tooth(job: Job, region: Tried, h: np.ndarray, bite: Numbers, trial: bool) -> Iterator[Figure]:
    when = "half way through the wear; " if job.feed == "force" else ""
    least, most = chip_range(region, trial)
    rubs = "below it the teeth rub" if least == LEAST_CHIP else OWN
    strips = "above it teeth strip" if most == GREATEST_CHIP else OWN
    rubbing = figure("chip load, least", h, least, "um", False, when + rubs)
    lived = bite >= np.exp(region.bite[0]) * (1 - 1e-9)  # rubbing is a cost that the wear law knows, not a wall
    known = np.where(lived, np.minimum(least, rubbing.value), least)
    yield replace(rubbing, probability=np.where(lived, 1.0, rubbing.probability), limit=known)
    yield figure("chip load, greatest", h, most, "um", True, when + strips)
    teeth = min(LEAST_TEETH, region.proven.teeth)
    few = "3 are better" if job.teeth < BEST_TEETH else ""
    few = few if teeth == LEAST_TEETH else OWN
    yield figure("teeth in the cut, least", np.full(len(bite), job.teeth), teeth, "-", False, few, "shown")


def chip_range(region: Tried, trial: bool = False) -> tuple[float, float]:
    """Least and greatest chip load [um] of a setting: the published ones, or what went well, the least a step below."""
    least = min(LEAST_CHIP, region.proven.lightest * float(np.exp(-region.step[1])))
    return least, max(GREATEST_CHIP, region.proven.usual_chip if trial else region.proven.heaviest)


def fullest(job: Job, region: Tried, trial: bool = False) -> float:
    """Greatest gullet fill [-]: the brim, or what went well."""
    area = region.proven.usual_area if trial else region.proven.chip_area
    return max(FULLEST, float(sawing.gullet_fill(area, 1.0, job.gullet_area)))


def _fresh(job: Job, region: Tried, h: np.ndarray, trial: bool) -> Iterator[Figure]:
    """A new band's chips at a set force: the thickest there will be."""
    most = chip_range(region, trial)[1]
    yield figure("chip load of a new band, greatest", h, most, "um", True, "broken in")
    tried, note = region.heaviest_chip(job), "broken in; as heavy as the cuts so far can defend"
    yield figure("chip load of a new band, tried", np.median(h, axis=0), tried, "um", True, note, "reach")


def _power(fit: Fit, job: Job, region: Tried, V: Numbers, bite: Numbers) -> Figure:
    draws = widened(motor_power(fit, job, region, V, bite), trust_of(fit))
    one = figure("motor power", draws, power_limit(job), "W", True, how_known(fit, job, region))
    was = carried(job, region, V, bite)
    return replace(one, probability=np.where(was, 1.0, one.probability))


def _reach(job: Job, region: Tried, V: Numbers, bite: Numbers) -> Figure:
    speed, feed = np.exp(region.step)
    note = f"a factor of {speed:.2f} in speed, {feed:.2f} in feed per tooth, beyond what was tried"
    share = np.round(region.outside(job, V, bite), 6)
    return figure(REACH, share, 1.0, "of the step allowed", True, note, "reach")


def deviations(fit: Fit, job: Job, V: Numbers, h: Any) -> Any:
    """Deviation (S, n, K) [mm] at SIGNAL_WEAR."""
    E = SIGNAL_WEAR
    V, h, wear = np.repeat(V, len(E)), np.repeat(h, len(E)), np.tile(E, len(V))
    values = fit.signal("deviation", V, h, job.thickness, wear_used=wear, **names(job))
    return widened(values, trust_of(fit)).reshape(len(values), -1, len(E))


def deviation_holds(fit: Fit, job: Job, V: Numbers, bite: Numbers, limit: float, log_wear: Any) -> Any:
    """Probability (n, J) that the deviation stays within the limit up to the change-out.

    A band run to its end is followed to E = 1, the characteristic end.
    """
    h = np.median(chip_loads(fit, job, V, bite), axis=0)
    at = _crossing(deviations(fit, job, V, h), limit)
    used = np.minimum(np.exp(np.minimum(log_wear, 5.0)), 1.0)
    return np.mean(used <= at[:, :, None], axis=0)


def _crossing(values: Any, limit: float) -> Any:
    """Wear used (S, n) at which values (S, n, K) along SIGNAL_WEAR pass the limit; -1 from the start."""
    over = values > limit
    k = np.argmax(over, axis=-1)
    before = np.maximum(k - 1, 0)
    y0 = np.take_along_axis(values, before[..., None], -1)[..., 0]
    y1 = np.take_along_axis(values, k[..., None], -1)[..., 0]
    share = (limit - y0) / np.where(y1 > y0, y1 - y0, 1.0)
    at = SIGNAL_WEAR[before] + share * (SIGNAL_WEAR[k] - SIGNAL_WEAR[before])
    return np.where(~over.any(axis=-1), np.inf, np.where(k == 0, -1.0, at))
