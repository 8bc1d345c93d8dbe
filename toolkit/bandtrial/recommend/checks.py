"""The limits of the chosen setting as a person reads them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from bandtrial import sawing

from . import limits as lim
from .limits import Limit
from .power import how_known, motor_power, power_limit


def all_limits(fit, job, region, wish, chosen) -> Iterator[Limit]:
    """Every limit of DESIGN section 6 at the chosen setting."""
    V, bite = np.array([chosen.V]), np.array([chosen.bite])
    h = lim.chip_loads(fit, job, V, bite)
    yield from _speed_and_feed(job, chosen.V, float(job.feed_of(chosen.V, chosen.bite)))
    yield from _tooth(job, h)
    if job.feed == "force":
        yield from _fresh(job, region, lim.chip_loads(fit, job, V, bite, lim.BROKEN_IN))
    yield from _power(fit, job, region, V, bite)
    yield from _tried(job, region, chosen)
    if wish.deviation:
        yield _deviation(fit, job, wish, chosen, V, h)
    if wish.life_at_least:
        life = chosen.scan.run.area[:, chosen.at, chosen.age]
        yield _limit("band life", life, wish.life_at_least, "cm2", False)


def _limit(name: str, draws, limit: float, unit: str, at_most: bool, note: str = "") -> Limit:
    draws = np.asarray(draws, float)
    good = draws <= limit * (1 + 1e-9) if at_most else draws >= limit * (1 - 1e-9)
    return Limit(name, float(np.median(draws)), float(limit), unit, at_most, float(np.mean(good)), note)


def _speed_and_feed(job, V: float, feed: float) -> Iterator[Limit]:
    shown = float(job.machine.indicated_speed(V))
    lo, hi = _range_of(job, shown)
    yield _limit("band speed, least", shown, lo, "m/min", False, "as indicated")
    yield _limit("band speed, greatest", shown, hi, "m/min", True, "as indicated")
    lo, hi = job.feed_range()
    name, unit = ("feed force", "N") if job.feed == "force" else ("feed rate", "mm/min")
    if lo > 0:
        yield _limit(f"{name}, least", feed, lo, unit, False)
    if np.isfinite(hi):
        yield _limit(f"{name}, greatest", feed, hi, unit, True)


def _tooth(job, h) -> Iterator[Limit]:
    when = "half way through the wear; " if job.feed == "force" else ""
    given = job.stock.gullet_area is not None and np.isfinite(job.stock.gullet_area)
    estimate = "" if given else "gullet estimated from pitch and form; "
    fill = sawing.gullet_fill(h, job.thickness, job.gullet_area)
    packs = f"above 1 the gullets pack, and the speed is known to some {100 * (1 - lim.FULLEST):.0f} %"
    yield _limit("gullet fill", fill, lim.FULLEST, "-", True, estimate + when + packs)
    yield _limit("chip load, least", h, lim.LEAST_CHIP, "um", False, when + "below it the teeth rub")
    yield _limit("chip load, greatest", h, lim.GREATEST_CHIP, "um", True, when + "above it teeth strip")
    few = "3 are better" if job.teeth < lim.BEST_TEETH else ""
    yield _limit("teeth in the cut, least", job.teeth, lim.LEAST_TEETH, "-", False, few)


def _fresh(job, region, h) -> Iterator[Limit]:
    """A new band's chips at a set force: the thickest there will be."""
    yield _limit("chip load of a new band, greatest", h, lim.GREATEST_CHIP, "um", True, "broken in")
    most, note = region.heaviest_chip(job), "broken in; as heavy as the cuts so far can defend"
    yield _limit("chip load of a new band, tried", np.median(h), most, "um", True, note)


def _power(fit, job, region, V, bite) -> Iterator[Limit]:
    if np.isfinite(power_limit(job)):
        draws = motor_power(fit, job, region, V, bite)
        yield _limit("motor power", draws, power_limit(job), "W", True, how_known(fit, job))


def _tried(job, region, chosen) -> Iterator[Limit]:
    speed, feed = np.exp(region.step)
    note = f"a factor of {speed:.2f} in speed, {feed:.2f} in feed per tooth, beyond what was tried"
    share = float(region.outside(job, chosen.V, chosen.bite))
    yield _limit("step beyond what was tried", round(share, 9), 1.0, "of the step allowed", True, note)


def _deviation(fit, job, wish, chosen, V, h) -> Limit:
    used = np.minimum(np.exp(np.minimum(chosen.scan.run.log_wear[:, chosen.at, chosen.age], 5.0)), 1.0)
    rows = lim.deviations(fit, job, V, np.median(h, axis=0))[:, 0]
    at_end = [np.interp(E, lim.SIGNAL_WEAR, row) for E, row in zip(used, rows, strict=True)]
    return _limit("deviation", at_end, wish.deviation, "mm", True, "when the band comes off")


def _range_of(job, shown: float) -> tuple[float, float]:
    """The machine's range that the speed is in, or the nearest one."""
    ranges = [(float(lo), float(hi)) for lo, hi in job.machine.band_speed_ranges]
    return min(ranges, key=lambda r: max(r[0] - shown, shown - r[1], 0.0))
