"""One run of trial cuts, how far beyond what was tried it may go, and the names of bands to come."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bandtrial import sawing
from bandtrial.recommend.limits import GREATEST_CHIP, chip_loads
from bandtrial.recommend.others import nearest_speed
from bandtrial.recommend.rounding import dial_settings
from bandtrial.recommend.tried import BROKEN_IN, FEW, Tried

if TYPE_CHECKING:
    from bandtrial.recommend.job import Job
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


TRIAL_STEP = 1.25
"""Factor beyond the tried speeds and feeds per tooth that a trial cut may go: about the step of a careful operator
between two trials; our choice."""
CHIPS = (8.0, 18.0)
"""Least and greatest chip load tried [um], where gullet, motor and feed allow."""
REACH = 2
"""How many such steps of feed per tooth one run may go: the first of two is climbed by a single cut."""


@dataclass(frozen=True)
class Run:
    """Some cuts at one setting on one band.

    band : "new" or the id of a band; band_speed true, indicated [m/min]; feed: rate [mm/min] or force [N];
    chip_load expected [um]; cuts; minutes of cutting; why, in words
    """

    band: str
    band_speed: float
    indicated: float
    feed: float
    chip_load: float
    cuts: int
    minutes: float
    why: str

    def to_json(self, feed_key: str) -> dict[str, Any]:
        """The keys of DESIGN section 7."""
        return {
            "band": self.band,
            "band_speed_m_min": self.band_speed,
            "indicated_band_speed_m_min": self.indicated,
            feed_key: self.feed,
            "cuts": self.cuts,
            "minutes": self.minutes,
            "why": self.why,
        }


class Aim(NamedTuple):
    """A setting to run at: true band speed [m/min], bite, and the chip load that it is meant to give [um]."""

    V: float
    bite: float
    chip_load: float


def run_at(job: Job, band: str, aim: Aim, minutes: float, travel: float, why: str) -> Run:
    """A run at the nearest setting that a dial and a knob can hold, of whole cuts that last about `minutes`."""
    V, bite, chip_load = nearest_speed(job, aim.V), float(aim.bite), aim.chip_load
    round_V, round_bite = dial_settings(job, V, bite)
    V, scale = float(round_V[0]), float(round_bite[0]) / bite
    h = chip_load * scale if job.feed != "force" else chip_load
    each = float(sawing.cut_time(travel, sawing.feed_rate(V, h, job.stock.tooth_spacing)))
    cuts = max(1, round(minutes / each))
    feed = float(job.feed_of(V, round_bite[0]))
    return Run(band, V, float(job.machine.indicated_speed(V)), feed, h, cuts, round(cuts * each, 1), why)


def new_ids(study: Study) -> Iterator[str]:
    """Names for bands to come, after the last one of the study: B10 is followed by B11, B12."""
    last = str(study.bands["band"].iloc[-1]) if len(study.bands) else "B00"
    stem = last.rstrip("0123456789")
    digits = last[len(stem) :] or "0"
    return (f"{stem}{int(digits) + i:0{len(digits)}d}" for i in count(1))


def extended(region: Tried, job: Job, V: float, bite: float, h: float) -> Tried:
    """The tried region once a setting has been tried too, at chip load h [um]."""
    x, y = np.log(V / job.published_speed), np.log(bite)
    speed = np.array([min(region.speed[0], x), max(region.speed[1], x)])
    bites = np.array([min(region.bite[0], y), max(region.bite[1], y)])
    return replace(region, speed=speed, bite=bites, heaviest=max(region.heaviest, h))


def reach(region: Tried) -> np.ndarray:
    """Steps of speed and of feed per tooth (2,) that one run may go: one each where hardly a cut was made."""
    return np.array([1, REACH if region.evidence["cuts"] >= FEW else 1])


def most_chip(job: Job) -> float:
    """Greatest chip load [um] that a gullet clears with some room, and that teeth are known to stand."""
    return min(0.9 * float(sawing.chip_load_at_full_gullet(job.thickness, job.gullet_area)), GREATEST_CHIP)


def with_first_chips(fit: Fit, job: Job, region: Tried) -> Tried:
    """The tried region up to the chip loads that a first plan makes unseen.

    A first feed force is a guess on the light side, and so is a first feed where the motor is small, before its power
    is read: one step from what it gave at a time would take days to get to usual chips. Runs that go so far are climbed
    to by single cuts (`choice.climb`).
    """
    most = min(CHIPS[1], most_chip(job)) / TRIAL_STEP
    if region.heaviest >= most or (job.feed != "force" and region.evidence["cuts"] < FEW):
        return region
    if job.feed != "force":
        return replace(region, bite=np.array([region.bite[0], max(region.bite[1], np.log(most))]), heaviest=most)
    bite = np.geomspace(np.exp(region.bite[1]), 10 * np.exp(region.bite[1]), 40)
    V = np.full(len(bite), job.published_speed * np.exp(region.centre[0]))
    fresh = np.median(chip_loads(fit, job, V, bite, BROKEN_IN), axis=0)
    top = np.log(bite[fresh <= most]).max(initial=region.bite[1])
    return replace(region, bite=np.array([region.bite[0], top]), heaviest=most)
