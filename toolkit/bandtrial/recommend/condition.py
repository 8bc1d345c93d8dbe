"""Change by condition: the reading at which a band is best taken off, and what that saves against other ways.

Three ways to change bands at one setting: run each to its end; change it after an area A; change it when a reading,
in k cuts running, is over a limit x (or after A, if that comes first). All are worked out alike, by renewal-reward:
a band of own log wear rate b and own level g, both normal, is still at work at age a with probability

    R(a) = exp(-E^K) exp(-(cycles/B)^S) exp(-H_x),     H_x(a) = sum over the pieces of r(z),
    z = (log x - mu(E) - g) / sigma,    r(z) = w q (1 - p) / (1 - q),    p = P(t > z),   q = p^(1 + (k - 1) w),

E its wear used at that age, mu the log reading of an ordinary band, sigma its noise (Student t). r is how often a run
of k readings over x is completed, per cut: 1 / r is the mean wait for it (W. Feller, An Introduction to Probability
Theory and Its Applications, vol. 1, XIII.7). Readings of a band that stray together count for w of one that stands
alone, and k of them guard less. Cost by `LongRun.cost`, of expectations over bands, for each draw. Control limits:
A. K. S. Jardine and A. H. C. Tsang, Maintenance, Replacement, and Reliability, chapter on condition (from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from statistics import NormalDist
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bandtrial import sawing, units
from bandtrial.recommend.job import Job, Value, as_value, trust_of, widened
from bandtrial.recommend.limits import SURE, chip_loads
from bandtrial.recommend.longrun import LongRun, force_path, names, rate_path, read_off
from bandtrial.recommend.optimise import WORTH, Wish, to_the_end
from bandtrial.recommend.sign import CUT_TIME, Sign, kind
from bandtrial.recommend.tried import Piece, piece_of
from bandtrial.wear.signals import BY_FEED, BY_NAME

if TYPE_CHECKING:
    from bandtrial.wear.fit import Fit


BANDS, SIZE = 16, 64
"""Bands that stand for all, and ages at which each is looked at."""
FEW, MANY = 32, 160
"""Draws that look for the limit, and draws that judge it."""
RUNS = (1, 2, 3)
"""Cuts running over the limit that may be asked for."""
WEAR = np.exp(np.linspace(-4.0, 2.0, 37))
"""Wear used at which readings are worked out, even in the log."""
FROM, TO, LIMITS, FINER = 0.2, 2.5, 8, 5
"""Wear used whose readings bound the limits that are looked at; how many those are, and then about the best."""
BROKEN_IN = 0.06
"""Wear used of a new band whose reading stands beside the limit: past its break-in."""
FIRST, FINE = -20.0, 40
"""Least z of the table of `completed`, which is 50 long, and its steps in one."""
COARSE = 0.015
"""Share by which a limit may be rounded to two figures."""


class Bands(NamedTuple):
    """Bands (Q) of each draw (S) at ages (J): age [cm2] (J,), log wear used, share that has not ended and minutes per
    cm2 (S, Q, J), own levels g (Q,), standard normal."""

    age: np.ndarray
    log_wear: np.ndarray
    alive: np.ndarray
    pace: np.ndarray
    g: np.ndarray


class Reading(NamedTuple):
    """A signal by draw: log reading (S, WEAR), its noise and the spread of bands' own levels (S,), log; weight: of one
    reading among those of its band."""

    log: np.ndarray
    noise: np.ndarray
    level: np.ndarray
    weight: float

    def at(self, wear: float) -> float:
        """Middle log reading at a wear used."""
        return float(np.interp(np.log(wear), np.log(WEAR), np.median(self.log, axis=0)))


def sign_to_look_for(fit: Fit, job: Job, wish: Wish, V: float, bite: float, most_age: float = np.inf) -> Sign | None:
    """The `Sign` of least long-run loss at a setting (true band speed [m/min], bite); None where no signal is read
    or no limit holds the wish.

    most_age : area [cm2] after which a wish (a deviation) has the band changed at the latest
    """
    found = {}
    few, piece = fit.thinned(FEW), piece_of(fit.data, job)
    read = readable(fit, job)
    bands = bands_of(few, job, V, bite) if read else None
    for name in read:
        reading = reading_of(few, job, name, V, bite)
        found[name] = _least(job, wish, bands, reading, piece.area, most_age)
    name = min(found, key=lambda signal: found[signal][0] * (1 + WORTH * (signal == "deviation")), default="")
    if not name or not np.isfinite(found[name][0]):
        return None
    return _judged(fit.thinned(MANY), job, wish, (V, bite), (name, *found[name][1:]), piece, most_age)


def readable(fit: Fit, job: Job) -> list[str]:
    """The signals that are read at each cut of a job."""
    return [name for name in fit.signals if name in BY_FEED[job.feed] and BY_NAME[name].at_the_saw]


def bands_of(fit: Fit, job: Job, V: float, bite: float) -> Bands:
    """Bands at a setting, evenly over the scatter of wear rates and levels."""
    at = np.array([V]), np.array([bite])
    cycles = float(sawing.bend_cycles(V, 1.0, job.machine.band_length))
    along = force_path if job.feed == "force" else rate_path
    age, log_wear, pace, step = along(fit, job, *at, SIZE, np.log(fit.break_scale)[:, None] - np.log(cycles))
    age, (z, g) = np.asarray(age[0], float), even_normals(BANDS)
    where = np.arange(SIZE) + (np.asarray(fit.band_scatter)[:, None] * z / step)[..., None]
    log_wear = read_off(np.asarray(log_wear[:, 0], float), where)
    pace = np.broadcast_to(np.asarray(pace, float)[:, 0], (len(log_wear), SIZE))
    pace = read_off(pace, np.clip(where, 0, SIZE - 1))
    turns = np.log((age[0] * pace[..., :1] + summed(age, pace)) * cycles) - np.log(fit.break_scale)[:, None, None]
    used = (log_wear, fit.weibull_shape), (turns, fit.break_shape)
    alive = np.exp(-sum(np.exp(np.minimum(x * shape[:, None, None], 6.0)) for x, shape in used))
    return Bands(age, log_wear, alive, pace, g)


def reading_of(fit: Fit, job: Job, name: str, V: float, bite: float) -> Reading:
    """A signal at a setting, over WEAR; the chip load as its inverse, which grows."""
    at, of = np.full(len(WEAR), V), names(job)
    if name == "chip_load":
        values = 1 / fit.chip_load_at_force(float(job.feed_of(V, bite)), at, job.thickness, wear_used=WEAR, **of)
    else:
        h = np.median(chip_loads(fit, job, np.array([V]), np.array([bite])), axis=0)
        values = fit.signal(name, at, np.full(len(WEAR), h[0]), job.thickness, wear_used=WEAR, **of)
    return Reading(np.log(widened(values, trust_of(fit))), *fit.reading_scatter(name))


def long_run_by(
    bands: Bands, reading: Reading, log_limits: list[float] | np.ndarray, run: int, piece: float
) -> LongRun:
    """`LongRun` (S, X, J) of changing at each of the log limits (X,), read in `run` cuts running, or at an age (J,) of
    the bands if that comes first; inf: no limit. Pieces [cm2]."""
    age = np.concatenate([[0.0], bands.age])
    places = (bands.log_wear - np.log(WEAR[0])) / np.log(WEAR[1] / WEAR[0])
    mean = read_off(reading.log, np.concatenate([np.zeros_like(places[..., :1]), np.maximum(places, 0.0)], axis=-1))
    mean += reading.level[:, None, None] * bands.g[:, None]
    alive, pace = (
        np.concatenate([first, rest], axis=-1)
        for first, rest in ((np.ones_like(mean[..., :1]), bands.alive), (bands.pace[..., :1], bands.pace))
    )
    got = []
    for x in log_limits:
        z = (x - mean) / reading.noise[:, None, None]
        kept = np.exp(-summed(age / piece, completed(z, run, reading.weight), growing=True))
        left = alive * kept
        lost = -np.diff(alive, axis=-1) * 0.5 * (kept[..., 1:] + kept[..., :-1])
        sums = summed(age, left)[..., 1:], summed(age, left * pace)[..., 1:], np.cumsum(lost, axis=-1)
        got.append([value.mean(axis=1) for value in sums])
    area, minutes, ended = (np.stack(values, axis=1) for values in zip(*got, strict=True))
    return LongRun(bands.age[None], area, minutes, ended, np.zeros(1))


def completed(z: np.ndarray, run: int, weight: float) -> np.ndarray:
    """r(z) of the module's equation: how often, per cut, a run of readings over the limit is completed."""
    rates, rises = _completed(run, round(float(weight), 4))
    at = np.clip((z - FIRST) * FINE, 0.0, len(rises) - 1e-6)
    below = at.astype(np.intp)
    at -= below
    at *= rises.take(below)
    at += rates.take(below)
    return at


@lru_cache
def _completed(run: int, weight: float) -> tuple[np.ndarray, np.ndarray]:
    """r at FIRST and every 1/FINE of z from there, and its rise to the next."""
    p = np.clip(above(FIRST + np.arange(50 * FINE + 1) / FINE), 1e-12, 1 - 1e-9)
    q = p ** (1 + (run - 1) * weight)
    rates = weight * q * (1 - p) / (1 - q)
    return rates[:-1], np.diff(rates)


def above(t: np.ndarray) -> np.ndarray:
    """P(T > t) of Student's t with 5 degrees of freedom, the noise of readings.

    >>> round(float(above(2.015)), 4)  # NIST/SEMATECH e-Handbook, 1.3.6.7.2: 2.015 at 0.95
    0.05
    """
    angle = np.arctan(np.asarray(t, float) / np.sqrt(5.0))
    c = np.cos(angle)
    return np.asarray(0.5 - (angle + np.sin(angle) * c * (1 + 2 / 3 * c**2)) / np.pi)


def even_normals(n: int) -> tuple[np.ndarray, np.ndarray]:
    """n points of two standard normals that fill the plane evenly (Hammersley's set, by the golden ratio)."""
    law, golden = NormalDist(), 0.6180339887498949
    first, second = ([law.inv_cdf((i + 0.5) * by % 1.0) for i in range(n)] for by in (1 / n, golden))
    return np.array(first), np.array(second)


def _expected(run: LongRun, job: Job, wish: Wish, most_age: float) -> tuple[np.ndarray, np.ndarray]:
    """Loss by draw (S, X, J), and its expectation (X, J), inf where a wish is not held."""
    loss = wish.loss(run, job.prices)
    holds = run.age <= max(most_age, run.age[0, 0])
    if wish.life_at_least:
        holds = holds & (np.mean(run.area >= wish.life_at_least, axis=0) >= SURE)
    return loss, np.where(holds, wish.expected(loss), np.inf)


def _least(
    job: Job, wish: Wish, bands: Any, reading: Reading, piece: float, most_age: float
) -> tuple[float, float, int]:
    """(expected loss, log limit, run) of the best limit: evenly in the log reading, then finer about the best."""
    low, high = reading.at(FROM), reading.at(TO)
    high, best = max(high, low + 0.05), (np.inf, high, 1)
    step = (high - low) / (LIMITS - 1)
    for limits, runs in ((low + step * np.arange(LIMITS), RUNS), (np.linspace(-0.6, 0.6, FINER) * step, ())):
        for run in runs or (best[2],):
            at = limits if runs else limits + best[1]
            _, mean = _expected(long_run_by(bands, reading, at, run, piece), job, wish, most_age)
            i = int(np.argmin(mean.min(axis=1)))
            best = min(best, (float(mean[i].min()), float(at[i]), run))
    return best


def _judged(
    fit: Fit,
    job: Job,
    wish: Wish,
    setting: tuple[float, float],
    rule: tuple[str, float, int],
    piece: Piece,
    most_age: float,
) -> Sign:
    """The rule (signal, log limit, run) held against both other ways on many draws."""
    name, log_limit, in_a_row = rule
    bands, reading = bands_of(fit, job, *setting), reading_of(fit, job, name, *setting)
    as_read = _as_read(job, name, setting[0], piece.area)
    limit = _round(as_read(log_limit), name, job.system)
    log_limit += np.log(limit / as_read(log_limit))
    run = long_run_by(bands, reading, [log_limit, np.inf], in_a_row, piece.area)
    loss, mean = _expected(run, job, wish, most_age)
    at, after = to_the_end(mean[0]), to_the_end(mean[1])
    by_sign, by_age, to_end = loss[:, 0, at], loss[:, 1, int(np.argmin(mean[1]))], loss[:, 1, -1]
    end = len(bands.age) - 1
    pays = "sign" if mean[0, at] < mean[1].min() * (1 - WORTH) else "end" if after == end else "after"
    area, minutes = (as_value(x[:, 0, at], trust_of(fit)) for x in (run.area, run.minutes))
    return Sign(
        reading=CUT_TIME if name == "chip_load" else name, limit=limit, fresh=as_read(reading.at(BROKEN_IN)),
        in_a_row=in_a_row, after=None if at == end else float(bands.age[at]), area=area, minutes=minutes,
        pieces=Value(area.value / piece.area, area.low / piece.area, area.high / piece.area),
        ended=float(run.ended[:, 0, at].mean()),
        saves_to_end=_saving(by_sign, to_end), saves_after=_saving(by_sign, by_age),
        best_after=None if after == end else float(bands.age[after]),
        surely=float(np.mean(by_sign <= np.minimum(by_age, to_end))), pays=pays, piece=piece.area, known=piece.logged,
    )  # fmt: skip


def _as_read(job: Job, name: str, V: float, piece: float) -> Callable[..., Any]:
    """From a log reading to what is read: the signal's own unit, or for a chip load the minutes of a piece."""
    if name != "chip_load":
        return lambda log: float(np.exp(log))
    rate = sawing.cutting_rate(sawing.feed_rate(V, 1.0, job.stock.tooth_spacing), job.thickness)  # at 1 um
    return lambda log: float(piece / rate * np.exp(log))


def _round(value: float, name: str, system: str) -> float:
    """A reading as it is shown: to two figures in its unit, where that moves it little, else three."""
    here = value
    if name != "chip_load":
        here = float(units.from_inside(value, kind(name), units.display_unit(kind(name), system)))
    two = float(f"{here:.2g}")
    return value * (two if abs(two / here - 1) < COARSE else float(f"{here:.3g}")) / here


def _saving(own: np.ndarray, other: np.ndarray) -> Value:
    """Share saved against another way: of the means, with its 80 % interval over draws."""
    low, high = np.quantile(1 - own / other, [0.1, 0.9])
    mean = float(1 - own.mean() / other.mean())
    return Value(mean, float(min(low, mean)), float(max(high, mean)))


def summed(x: np.ndarray, rate: np.ndarray, growing: bool = False) -> np.ndarray:
    """Integral of rate (..., J) over x (J,) from its first to each, by trapezoids.

    growing : the rate grows by a factor from point to point, so that its mean in between is the logarithmic one, here
    2/3 of the geometric and 1/3 of the arithmetic mean: within 2.2 % up to a factor of 20
    """
    mean = 0.5 * (rate[..., 1:] + rate[..., :-1])
    if growing:
        mean = (mean + 2 * np.sqrt(rate[..., 1:] * rate[..., :-1])) / 3
    return np.concatenate([np.zeros_like(mean[..., :1]), np.cumsum(mean * np.diff(x), axis=-1)], axis=-1)
