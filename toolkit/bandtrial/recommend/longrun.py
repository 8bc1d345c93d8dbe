"""What a setting brings in the long run, and what the draws of a fit say of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bandtrial import sawing

if TYPE_CHECKING:
    from bandtrial.recommend.job import Job, Prices
    from bandtrial.sawing import Numbers
    from bandtrial.wear.fit import Fit


@dataclass(frozen=True)
class LongRun:
    """Averages per band if each is changed at an age, or when it ends if that comes first.

    age : change-out age (n, J) [cm2 sawn]
    area : expected area per band (S, n, J) [cm2]
    minutes : expected cutting time per band (S, n, J) [min]
    ended : probability that the band ends in the work before the change (S, n, J)
    log_wear : log of wear used at the age, for a band of ordinary wear rate (S, n, J)
    """

    age: np.ndarray
    area: np.ndarray
    minutes: np.ndarray
    ended: np.ndarray
    log_wear: np.ndarray

    def cost(self, prices: Prices) -> np.ndarray:
        """Cost per area [currency/cm2] (S, n, J): (r (t + t_c) + band + scrap P(ended)) / area.

        r machine and labor per minute, t cutting minutes and t_c change minutes per band. The ratio of the
        two expectations is the long-run average (renewal-reward theorem: Ross, Introduction to Probability
        Models, chapter on renewal theory).
        """
        spent = prices.per_minute * (self.minutes + prices.change_minutes)
        return np.asarray((spent + prices.band + self.ended * prices.scrapped_piece) / self.area)

    def output(self, prices: Prices) -> np.ndarray:
        """Area per minute of cutting and changing [cm2/min] (S, n, J)."""
        return self.area / (self.minutes + prices.change_minutes)


FARTHEST = 4.5
"""Of a draw's log life from the median's, as far as the ages follow it."""


def ages(log_end: np.ndarray, size: int) -> tuple[np.ndarray, float]:
    """Change-out ages (n, size) [cm2] even in the logarithm, and their log step.

    They run from where hardly a band has ended to where hardly one is left, for any likely draw.

    log_end : log of the area (S, n) at which a band ends, worn out or broken, whichever is first
    """
    low, middle, high = np.quantile(log_end, [0.02, 0.5, 0.98], axis=0)
    least, most = (min(float(np.max(d)), FARTHEST) for d in (middle - low, high - middle))
    offset = np.linspace(-2.5 - least, 1.6 + most, size)
    return np.exp(middle[:, None] + offset), float(offset[1] - offset[0])


def _erfc(x: np.ndarray) -> np.ndarray:
    """The standard library's, of each x: scipy's is faster, but its import takes longer than all the rest."""
    return np.asarray(np.frompyfunc(math.erfc, 1, 1)(x).astype(float))


def scatter_weights(sigma: np.ndarray, step: float, size: int) -> np.ndarray:
    """Weights W (S, size, size) of E f(x_i + b) = sum_j W_ij f(x_j), b ~ N(0, sigma^2), sigma (S,).

    f runs straight between points `step` apart; weights are the normal's mean of the hat functions,
    (psi(c - d) - 2 psi(c) + psi(c + d)) / d with psi(c) = sigma phi(c/sigma) - c Phi(-c/sigma). Below the
    first point f stays what it is there; beyond the last it is 0.
    """
    s = np.maximum(np.asarray(sigma, float), 1e-9)[:, None]
    c = step * np.arange(size + 2)
    right = s * np.exp(-0.5 * (c / s) ** 2) / np.sqrt(2 * np.pi) - c * 0.5 * _erfc(c / s / np.sqrt(2))
    psi = np.concatenate([(right + c)[:, :0:-1], right], axis=1)  # psi(-c) = psi(c) + c
    w = (psi[:, :-2] - 2 * psi[:, 1:-1] + psi[:, 2:]) / step  # offsets -size .. size
    W = np.lib.stride_tricks.sliding_window_view(w, size, axis=1)[:, size:0:-1].copy()
    W[:, :, 0] += np.cumsum(w, axis=1)[:, size - 1 - np.arange(size)]  # mass that falls before the first point
    return W


class Breaks(NamedTuple):
    """Bending cycles per minute (n,), and the Weibull law of breaks: scale [cycles] and shape (S,)."""

    cycles_per_minute: np.ndarray
    scale: np.ndarray
    shape: np.ndarray


def long_run(
    age: np.ndarray, log_wear: np.ndarray, pace: np.ndarray, shape: np.ndarray, weights: np.ndarray, breaks: Breaks
) -> LongRun:
    """Long-run averages for every draw, setting and change-out age.

    A band of own log wear rate b is alive at age a with probability
    exp(-E(a e^b)^k) exp(-(cycles/scale)^shape) of `breaks`, E(x) the wear used at age x for b = 0;
    averaged over b ~ N(0, band scatter^2) by `weights`.

    Parameters: age (n, J) [cm2]; log_wear log E (S, n, J); pace minutes per cm2 at that age, broadcast to
    (S, n, J); shape k (S,); weights (S, J, J) of `scatter_weights`.
    """
    log_wear, turned = log_wear.astype(np.float32), np.swapaxes(weights, 1, 2).astype(np.float32)
    alive = _left(log_wear, shape)
    minutes = _from_zero(age, np.broadcast_to(pace, (1, *age.shape) if pace.shape[0] == 1 else alive.shape))
    turns = np.log(minutes).astype(np.float32) + np.log(breaks.cycles_per_minute).astype(np.float32)[:, None]
    turns = turns - np.log(breaks.scale).astype(np.float32)[:, None, None]
    intact = _left(turns, breaks.shape)
    standing = (alive @ turned) * intact
    area = _from_zero(age, standing, start=1.0)
    first = pace[..., :1]
    time = pace * area if pace.shape[-1] == 1 else _from_zero(age, alive * pace @ turned * intact, start=first)
    return LongRun(age, area, time, 1.0 - standing, log_wear)


def _left(log_used: np.ndarray, shape: np.ndarray) -> np.ndarray:
    """exp(-x^k), the share of bands left when x is used up, log x (S, n, J) and shapes k (S,); gone from x^k = e^6."""
    power = log_used * shape.astype(np.float32)[:, None, None]
    np.exp(np.minimum(power, 6.0, out=power), out=power)
    return np.exp(np.negative(power, out=power), out=power)


def _from_zero(age: np.ndarray, rate: np.ndarray, start: Numbers = None) -> np.ndarray:
    """Integral of rate over area from 0 to each age (S, n, J), by trapezoids; `start` is its value at 0."""
    first = rate[..., :1] if start is None else 0.5 * (rate[..., :1] + start)
    pieces = 0.5 * (rate[..., 1:] + rate[..., :-1]) * np.diff(age, axis=-1)
    return np.cumsum(np.concatenate([first * age[:, :1], pieces], axis=-1), axis=-1)


WEAR_KNOTS = np.array([0.0, 0.06, 0.15, 0.3, 0.5, 0.75, 1.0, 1.35, 1.8, 2.6])
"""Wear used at which a chip load that thins with wear is worked out; straight in between."""


POSSIBLE_CHIPS = (0.3, 300.0)
"""Chip loads that a force is let to give [um]: draws of a hardly known force law go anywhere."""
LADDER = 71
"""Of them, even in the logarithm, at which a life is worked out."""
LONGEST = 16.0
"""Of the log life in contact minutes, either way."""
MID_WEAR = 0.5
"""Wear used at which motor power, and chip loads at a set feed force, are held to their limits: a motor's
rating is thermal, so that the middle of a band's life counts, and a new band is run in at a lighter feed."""


def names(job: Job) -> dict[str, Any]:
    """The job's names as `Fit` takes them."""
    return {"material": job.material.id, "machine": job.machine.id, "stock": job.stock.id}


def evaluate(fit: Fit, job: Job, band_speed: np.ndarray, bite: Numbers, size: int = 40) -> LongRun:
    """Long-run averages at settings (band speed [m/min], bite) over `size` change-out ages.

    At a set feed rate the rate Z is what is set, so wear used grows by 1/(tau Z B/L) per area. At a set
    feed force the chip load thins as the band dulls: area and time are integrated along the wear used.
    """
    V, bite = np.broadcast_arrays(np.atleast_1d(np.asarray(band_speed, float)), np.asarray(bite, float))
    along = force_path if job.feed == "force" else rate_path
    cycles = sawing.bend_cycles(V, 1.0, job.machine.band_length)
    age, log_wear, pace, step = along(fit, job, V, bite, size, np.log(fit.break_scale)[:, None] - np.log(cycles))
    weights = scatter_weights(fit.band_scatter, step, size)
    return long_run(age, log_wear, pace, fit.weibull_shape, weights, Breaks(cycles, fit.break_scale, fit.break_shape))


def rate_path(
    fit: Fit, job: Job, V: Numbers, h: np.ndarray, size: int, log_break: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """Ages, log wear used, minutes per cm2 and log step at a set feed rate (chip load h [um]).

    log_break (S, n) : log of the minutes after which a band breaks if it does not wear out before
    """
    Z = sawing.cutting_rate(sawing.feed_rate(V, h, job.stock.tooth_spacing), job.thickness)
    log_tau = fit.log_tau(V, h, job.thickness, coolant=job.coolant, **names(job))
    log_life = log_tau + np.log(Z * job.machine.band_length / job.thickness)
    age, step = ages(np.minimum(log_life, log_break + np.log(Z)), size)
    return age, np.log(age) - log_life[:, :, None], (1 / Z)[None, :, None], step


def force_path(
    fit: Fit, job: Job, V: Numbers, force_per_tooth: np.ndarray, size: int, log_break: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, float]:
    """The same at a set feed force: dA/dE = Z(h(E)) tau(V, h(E)) B/L, h(E) the chip load of that force."""
    h = chip_load_along(fit, job, V, force_per_tooth)  # (S, n, K)
    Z = sawing.cutting_rate(sawing.feed_rate(V[:, None], h, job.stock.tooth_spacing), job.thickness)
    log_tau = log_tau_at(fit, job, V, h)
    per_wear = np.exp(log_tau) * Z * job.machine.band_length / job.thickness
    spans = 0.5 * (per_wear[..., 1:] + per_wear[..., :-1]) * np.diff(WEAR_KNOTS)  # area between the knots
    life = spans[..., : int(np.searchsorted(WEAR_KNOTS, 1.0))].sum(axis=-1)
    age, step = ages(np.minimum(np.log(life), log_break + np.log(Z[..., 0])), size)
    wear, pace = along_wear(age, spans, per_wear, 1 / Z)
    return age.astype(np.float32), np.log(wear), pace, step


def along_wear(
    age: np.ndarray, spans: np.ndarray, per_wear: np.ndarray, pace: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Wear used, and minutes per cm2, at ages (n, J): (S, n, J) each, straight in area between WEAR_KNOTS.

    spans (S, n, K - 1) : area sawn between knots; per_wear, pace (S, n, K) : area per wear used, and minutes per area,
    at the knots. Past the last one wear goes on as there, and the pace stays.
    """
    age, spans, per_wear, pace = (np.asarray(a, np.float32) for a in (age, spans, per_wear, pace))
    left = np.repeat(age[None], len(spans), axis=0)  # area of each age that lies beyond the knots passed
    wear, minutes = np.zeros_like(left), np.repeat(pace[..., :1], age.shape[1], axis=2)
    for k, width in enumerate(np.diff(WEAR_KNOTS).astype(np.float32)):
        span = spans[..., k, None]
        inside = np.minimum(left, span)
        left -= inside
        inside /= span
        wear += inside * width
        minutes += inside * (pace[..., k + 1, None] - pace[..., k, None])
    return wear + left / per_wear[..., -1:], minutes


def chip_load_along(fit: Fit, job: Job, V: Numbers, force_per_tooth: np.ndarray) -> np.ndarray:
    """Chip load (S, n, K) [um] at each of WEAR_KNOTS of a set feed force per tooth [N]."""
    E = WEAR_KNOTS
    force = np.repeat(job.feed_of(V, force_per_tooth), len(E))
    V, wear = np.repeat(V, len(E)), np.tile(E, len(V))
    h = fit.chip_load_at_force(force, V, job.thickness, wear_used=wear, **names(job))
    return np.asarray(np.clip(h.reshape(len(h), -1, len(E)), *POSSIBLE_CHIPS))


def log_tau_at(fit: Fit, job: Job, V: Numbers, h: np.ndarray) -> np.ndarray:
    """log tau (S, n, K) at chip loads h (S, n, K) that differ by draw.

    But for the allowance beyond what was tried, what the speed and what the chip load take from it add up, so that the
    speeds at one chip load and a ladder of chip loads at one speed fix it: steps of 0.1 of the log, along which a bend
    of the law, rounded over 0.15, is followed to 0.002 of its coefficient.
    """
    of = {"coolant": job.coolant, "beyond": False, **names(job)}
    ladder = np.geomspace(*POSSIBLE_CHIPS, LADDER)
    by_chip = fit.log_tau(np.full(LADDER, V[0]), ladder, job.thickness, **of)
    by_speed = fit.log_tau(V, np.full(len(V), ladder[0]), job.thickness, **of) - by_chip[:, :1]
    where = np.log(h / ladder[0]) / np.log(ladder[1] / ladder[0])
    beyond = fit.beyond(V, h, job.thickness, job.material.id, job.stock.id, job.coolant)
    return np.asarray(np.clip(read_off(by_chip, where) + by_speed[..., None] - beyond, -LONGEST, LONGEST))


def read_off(table: np.ndarray, where: np.ndarray) -> np.ndarray:
    """Rows (S, K) read at places (S, ...) along them, straight between and beyond."""
    below = np.clip(np.floor(where).astype(int), 0, table.shape[1] - 2)
    flat = np.arange(len(table)).reshape(-1, *[1] * (where.ndim - 1)) * table.shape[1] + below
    low = np.take(table, flat)
    return np.asarray(low + (where - below) * (np.take(table, flat + 1) - low))
