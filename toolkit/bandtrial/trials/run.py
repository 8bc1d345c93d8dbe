"""One run of trial cuts, how far beyond what was tried it may go, and the names of bands to come; and what it would
show, draw by draw: the mean and the growth of every signal over it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import count
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bandtrial import sawing
from bandtrial.recommend.limits import GREATEST_CHIP, chip_loads
from bandtrial.recommend.longrun import names
from bandtrial.recommend.others import nearest_speed
from bandtrial.recommend.rounding import dial_settings
from bandtrial.recommend.tried import BROKEN_IN, FEW, Tried
from bandtrial.wear.signals import BY_FEED

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.recommend.job import Job
    from bandtrial.sawing import Numbers
    from bandtrial.study.model import Study
    from bandtrial.trials.board import Options
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


E_KNOTS = np.concatenate([[0.0], np.geomspace(0.01, 4.0, 22)])
BAND_LEVEL = 0.05
"""sd of a band's own log level of a signal, where the fit names none."""
LEAST_NOISE = 0.01


@dataclass(frozen=True)
class Signal:
    """One signal: sd of its log noise, sd of a band's own log level, log growth (S, K) at E_KNOTS."""

    name: str
    noise: float
    level: float
    growth: np.ndarray


def signals(fit: Fit, job: Job, V: float, bite: float) -> list[Signal]:
    """The signals this machine logs, with what the fit says of their noise and growth."""
    out = []
    rows = fit.data[fit.data["machine"] == job.machine.id]
    residuals = fit.residuals
    for name in BY_FEED[job.feed]:
        if name not in fit.signals or name not in rows or not np.isfinite(rows[name].to_numpy(float)).sum() > 2:
            continue
        mine = residuals[residuals["signal"] == name]
        noise = float(np.std(np.log(mine["observed"] / mine["predicted"]))) if len(mine) > 2 else 0.1
        E = E_KNOTS
        log = log_signal(fit, job, name, np.full(len(E), V), np.full(len(E), bite), E)
        out.append(Signal(name, max(noise, LEAST_NOISE), _level(fit, name), log - log[:, :1]))
    return out


def log_signal(fit: Fit, job: Job, name: str, V: Numbers, bite: Numbers, E: Numbers = 0.0) -> np.ndarray:
    """Log of a signal's median (S, n) at settings (n,) and wear used."""
    if job.feed == "force":
        h = fit.chip_load_at_force(job.feed_of(V, bite), V, job.thickness, wear_used=E, **names(job))
        if name == "chip_load":
            return np.asarray(np.log(h))
        bite = np.median(h, axis=0)
    return np.asarray(np.log(fit.signal(name, V, bite, job.thickness, wear_used=E, **names(job))))


def at_wear(growth: np.ndarray, E: np.ndarray) -> np.ndarray:
    """Log growth (S, n) at wear used E (S, n), straight between E_KNOTS."""
    k = np.clip(np.searchsorted(E_KNOTS, E) - 1, 0, len(E_KNOTS) - 2)
    share = np.clip((E - E_KNOTS[k]) / (E_KNOTS[k + 1] - E_KNOTS[k]), 0.0, 1.0)
    low = np.take_along_axis(growth, k, axis=1)
    return np.asarray(low + share * (np.take_along_axis(growth, k + 1, axis=1) - low))


def features(
    signal: Signal, mean: np.ndarray, E0: np.ndarray, E1: np.ndarray, cuts: pd.DataFrame, known: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """What the readings of a run come to: (S, n, 2) mean level and growth from start to end, and noise (n, 2).

    A straight line through `cuts` even readings of noise s has variance s^2/cuts in its middle and 12 s^2/cuts in
    its rise. The level is counted from what the band showed when its wear used was `known`; the error that all its
    readings share is left to `seen`.
    """
    start, end = at_wear(signal.growth, E0), at_wear(signal.growth, E1)
    middle = mean + at_wear(signal.growth, 0.5 * (E0 + E1)) - at_wear(signal.growth, known)
    variance = signal.noise**2 / np.maximum(cuts, 1)
    rise = 12 * variance * np.where(cuts < 2, 1e3, 1.0)
    return np.stack([middle, end - start], axis=2), np.stack([variance, rise], axis=1)


def _level(fit: Fit, name: str) -> float:
    table = getattr(fit, "parameters", None)
    key = f"{name}.band"
    return float(table.loc[key, "estimate"]) if table is not None and key in table.index else BAND_LEVEL


@dataclass(frozen=True)
class Cause:
    """What moves several readings together: a band's own level of one signal, or a run's own wear.

    size : by signal (q,), the sd by which it moves the mean level read from then on
    """

    band: str
    size: np.ndarray


@dataclass(frozen=True)
class Seen:
    """Readings so far: shown (S, d) draw by draw, noise (d,) their own variances, H (d, k), causes of its columns."""

    shown: np.ndarray
    noise: np.ndarray
    H: np.ndarray
    causes: tuple[Cause, ...]

    @classmethod
    def nothing(cls, draws: int) -> Seen:
        """Before any run."""
        return cls(np.zeros((draws, 0)), np.zeros(0), np.zeros((0, 0)), ())

    def and_then(self, choice: Options, i: int, name: str) -> Seen:
        """With the readings of option i added, its band called `name`."""
        q = choice.level.shape[1]
        d = choice.shown.shape[2]
        rise = choice.away[i] * choice.shown[:, i, 1 : 2 * q : 2].mean(axis=0)
        known = any(cause.band == name for cause in self.causes)
        new = [] if known else [Cause(name, level) for level in np.diag(choice.level[i])]
        H = np.zeros((d, len(self.causes) + len(new) + 1))
        for column, cause in enumerate([*self.causes, *new]):
            if cause.band == name:
                H[0 : 2 * q : 2, column] = cause.size
        H[0 : 2 * q : 2, -1], H[1 : 2 * q : 2, -1] = rise / 2, rise
        before = np.pad(self.H, ((0, 0), (0, len(new) + 1)))
        return Seen(
            np.concatenate([self.shown, choice.shown[:, i]], axis=1),
            np.concatenate([self.noise, choice.noise[i]]),
            np.concatenate([before, H]),
            (*self.causes, *new, Cause(name, rise)),
        )

    @property
    def errors(self) -> np.ndarray:
        """Covariance of the readings' errors (d, d)."""
        return np.asarray(np.diag(self.noise) + self.H @ self.H.T)
