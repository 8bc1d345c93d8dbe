"""What a setting gives in the long run: area, minutes and lost bands, by renewal-reward over a band's life.

Every array has posterior draws on axis 0, settings on axis 1 and change-out ages on axis 2. Shares of bands are worked
out in single precision: they are good to 1e-6, draws and grid to 1e-3.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


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

    def cost(self, prices) -> np.ndarray:
        """Cost per area [currency/cm2] (S, n, J): (r (t + t_c) + band + scrap P(ended)) / area.

        r machine and labor per minute, t cutting minutes and t_c change minutes per band. The ratio of the
        two expectations is the long-run average (renewal-reward theorem: Ross, Introduction to Probability
        Models, chapter on renewal theory).
        """
        spent = prices.per_minute * (self.minutes + prices.change_minutes)
        return (spent + prices.band + self.ended * prices.scrapped_piece) / self.area

    def output(self, prices) -> np.ndarray:
        """Area per minute of cutting and changing [cm2/min] (S, n, J)."""
        return self.area / (self.minutes + prices.change_minutes)


FARTHEST = 4.5
"""Of a draw's log life from the median's, as far as the ages follow it."""


def ages(log_end, size: int) -> tuple[np.ndarray, float]:
    """Change-out ages (n, size) [cm2] even in the logarithm, and their log step.

    They run from where hardly a band has ended to where hardly one is left, for any likely draw.

    log_end : log of the area (S, n) at which a band ends, worn out or broken, whichever is first
    """
    low, middle, high = np.quantile(log_end, [0.02, 0.5, 0.98], axis=0)
    least, most = (min(float(np.max(d)), FARTHEST) for d in (middle - low, high - middle))
    offset = np.linspace(-2.5 - least, 1.6 + most, size)
    return np.exp(middle[:, None] + offset), float(offset[1] - offset[0])


def _erfc(x):
    """The standard library's, of each x: scipy's is faster, but its import takes longer than all the rest."""
    return np.frompyfunc(math.erfc, 1, 1)(x).astype(float)


def scatter_weights(sigma, step: float, size: int) -> np.ndarray:
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


def long_run(age, log_wear, pace, shape, weights, cycles_per_minute, break_scale, break_shape) -> LongRun:
    """Long-run averages for every draw, setting and change-out age.

    A band of own log wear rate b is alive at age a with probability
    exp(-E(a e^b)^k) exp(-(cycles/break_scale)^break_shape), E(x) the wear used at age x for b = 0;
    averaged over b ~ N(0, band scatter^2) by `weights`.

    Parameters: age (n, J) [cm2]; log_wear log E (S, n, J); pace minutes per cm2 at that age, broadcast to
    (S, n, J); shape k (S,); weights (S, J, J) of `scatter_weights`; cycles_per_minute (n,);
    break_scale [cycles], break_shape (S,).
    """
    log_wear, turned = log_wear.astype(np.float32), np.swapaxes(weights, 1, 2).astype(np.float32)
    alive = _left(log_wear, shape)
    minutes = _from_zero(age, np.broadcast_to(pace, (1, *age.shape) if pace.shape[0] == 1 else alive.shape))
    turns = np.log(minutes).astype(np.float32) + np.log(cycles_per_minute).astype(np.float32)[:, None]
    turns = turns - np.log(break_scale).astype(np.float32)[:, None, None]
    intact = _left(turns, break_shape)
    standing = (alive @ turned) * intact
    area = _from_zero(age, standing, start=1.0)
    first = pace[..., :1]
    time = pace * area if pace.shape[-1] == 1 else _from_zero(age, alive * pace @ turned * intact, start=first)
    return LongRun(age, area, time, 1.0 - standing, log_wear)


def _left(log_used, shape):
    """exp(-x^k), the share of bands left when x is used up, log x (S, n, J) and shapes k (S,); gone from x^k = e^6."""
    power = log_used * shape.astype(np.float32)[:, None, None]
    np.exp(np.minimum(power, 6.0, out=power), out=power)
    return np.exp(np.negative(power, out=power), out=power)


def _from_zero(age, rate, start=None):
    """Integral of rate over area from 0 to each age (S, n, J), by trapezoids; `start` is its value at 0."""
    first = rate[..., :1] if start is None else 0.5 * (rate[..., :1] + start)
    pieces = 0.5 * (rate[..., 1:] + rate[..., :-1]) * np.diff(age, axis=-1)
    return np.cumsum(np.concatenate([first * age[:, :1], pieces], axis=-1), axis=-1)
