"""How much is left of a band: pieces until it ends, and the chance that the next one finishes. Pure arrays.

A band that has used E of its wear life and bent N times ends by wear with cumulative hazard E^K, and by
breaking with (N/B)^S (Weibull laws; the ends compete). Given that it is sound now, n pieces of wear e and
c bends each leave it sound with probability

    R(n) = exp(E^K - (E + n e)^K) exp((N/B)^S - ((N + n c)/B)^S).

Conditional reliability and prediction intervals: W. Q. Meeker and L. A. Escobar, Statistical Methods for
Reliability Data (1998), chapter 12.
"""

from __future__ import annotations

import numpy as np

MOST = 1_000_000  # pieces; more is written as "more than"


def log_survival(pieces, wear_used, wear_per_piece, shape, bends, bends_per_piece, break_scale, break_shape):
    """log R of the module's equation; every argument [-] broadcasts, draws on axis 0."""
    n = np.asarray(pieces, float)
    wear = wear_used**shape - (wear_used + n * wear_per_piece) ** shape
    bend = (bends / break_scale) ** break_shape - ((bends + n * bends_per_piece) / break_scale) ** break_shape
    return wear + bend


def next_finishes(**band) -> float:
    """Chance that the next piece is finished: the mean of R(1) over the draws."""
    return float(np.mean(np.exp(log_survival(1.0, **band))))


def pieces_left(rng, **band) -> np.ndarray:
    """One draw of the whole pieces finished before the band ends, for each posterior draw (n_draws,).

    The end is drawn too (log R(n) = log u, u uniform, by bisection), so that quantiles of the answer are
    prediction intervals: they hold the scatter between bands as well as what is not known of the law.
    """
    size = np.broadcast_shapes(*(np.shape(value) for value in band.values()))
    target = np.log(rng.random(size))
    low, high = np.zeros(size), np.full(size, float(MOST))
    for _ in range(60):
        middle = 0.5 * (low + high)
        sound = log_survival(middle, **band) > target
        low, high = np.where(sound, middle, low), np.where(sound, high, middle)
    return np.floor(high)
