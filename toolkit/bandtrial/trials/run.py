"""One run of trial cuts, and the names and the travel that it is reckoned with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any, NamedTuple

from bandtrial import sawing
from bandtrial.recommend.others import nearest_speed
from bandtrial.recommend.rounding import dial_settings

if TYPE_CHECKING:
    from bandtrial.recommend.job import Job
    from bandtrial.study.model import Study


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
