"""One run of trial cuts, and the job's ways of making them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count

import numpy as np

from bandtrial import sawing
from bandtrial.recommend.others import nearest_speed
from bandtrial.recommend.rounding import dial_settings

USUAL_TRAVEL = 100.0
"""Cut travel reckoned with where the study has no cut of the material [mm]."""


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

    def to_json(self, feed_key: str) -> dict:
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


def run_at(job, band: str, V: float, bite: float, chip_load: float, minutes: float, travel: float, why: str) -> Run:
    """A run at the nearest setting that a dial and a knob can hold, of whole cuts that last about `minutes`."""
    V, bite = nearest_speed(job, V), float(bite)
    round_V, round_bite = dial_settings(job, V, bite)
    V, scale = float(round_V[0]), float(round_bite[0]) / bite
    h = chip_load * scale if job.feed != "force" else chip_load
    each = float(sawing.cut_time(travel, sawing.feed_rate(V, h, job.stock.tooth_spacing)))
    cuts = max(1, round(minutes / each))
    feed = float(job.feed_of(V, round_bite[0]))
    return Run(band, V, float(job.machine.indicated_speed(V)), feed, h, cuts, round(cuts * each, 1), why)


def new_ids(study) -> Iterator[str]:
    """Names for bands to come, after the last one of the study: B10 is followed by B11, B12."""
    last = str(study.bands["band"].iloc[-1]) if len(study.bands) else "B00"
    stem = last.rstrip("0123456789")
    digits = last[len(stem) :] or "0"
    return (f"{stem}{int(digits) + i:0{len(digits)}d}" for i in count(1))


def usual_travel(cuts, job) -> float:
    """Cut travel of the job's material most used so far [mm]."""
    if cuts is None or not len(cuts):
        return USUAL_TRAVEL
    rows = cuts[cuts["material"] == job.material.id]
    return float(np.median(rows["cut_travel"])) if len(rows) else USUAL_TRAVEL
