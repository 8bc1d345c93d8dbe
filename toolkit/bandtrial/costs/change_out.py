"""Cost and output when band life scatters: change-out at a set point, ends in the cut, renewal-reward.

A band is one cycle: it cuts until it ends or until it is changed after t_x, whichever comes first. By the
renewal-reward theorem the long-run cost per area is the expected cost of a cycle over its expected area:
    cost = (c E[min(T, t_x)] + c t_c + p + P(T < t_x) s) / (Z E[min(T, t_x)]).
Where bands differ (draws, batches), average cycle cost and cycle area over the bands first and divide last:
the mean of the ratios is something else.
"""

from typing import NamedTuple

import numpy as np

from bandtrial.costs.taylor import Numbers

_nodes, _weights = np.polynomial.legendre.leggauss(64)
NODES, WEIGHTS = (_nodes + 1.0) / 2.0, _weights / 2.0
"""Gauss-Legendre on [0, 1]."""
CERTAIN = 36.0
"""Cumulated hazard at which nothing is left: exp(-36) is below the rounding of 1."""


class Ends(NamedTuple):
    """E[min(T, t_x)] [min], and the probability of each kind of end before t_x (kinds on axis 0)."""

    mean_minutes: Numbers
    by_kind: Numbers


def weibull_failed_by(scale: Numbers, shape: Numbers, until: Numbers = np.inf) -> Numbers:
    """Probability of an end before t_x: 1 - exp(-(t_x / scale)^shape) [-]; scale, until [min].

    >>> float(weibull_failed_by(100.0, 3.0, 50.0))
    0.1175
    """
    return -np.expm1(-((np.asarray(until, dtype=float) / scale) ** shape))


def weibull_mean_until(scale: Numbers, shape: Numbers, until: Numbers = np.inf) -> Numbers:
    """Expected minutes of a Weibull life cut off at t_x: scale Gamma(1 + 1/k) P(1/k, (t_x/scale)^k) [min].

    E[min(T, t_x)] is the integral of the survival up to t_x; P is the regularised lower
    incomplete gamma and k the shape.

    scale, until : [min]
    shape : [-]

    >>> float(weibull_mean_until(100.0, 3.0)), float(weibull_mean_until(100.0, 3.0, 50.0))
    (89.30, 48.5)
    """
    from scipy.special import gamma, gammainc

    x = (np.asarray(until, dtype=float) / scale) ** shape
    return scale * gamma(1.0 + 1.0 / np.asarray(shape)) * gammainc(1.0 / np.asarray(shape), x)


def competing_ends(scales: Numbers, shapes: Numbers, until: Numbers = np.inf) -> Ends:
    """Ends of a band that may go several ways at once (dulls, breaks), each Weibull in cutting minutes.

    S(t) = exp(-sum_j (t / scale_j)^shape_j); E[min(T, t_x)] = int S dt; P_j = int h_j S dt, up to t_x.
    Gauss-Legendre with 64 nodes in sqrt(t): mean within 1e-8 of itself, P_j within 1e-4, shapes 0.7 to 10.

    scales, shapes : one entry per kind of end on axis 0, the rest broadcast [min], [-]
    until : t_x [min]

    >>> ends = competing_ends([100.0, 400.0], [3.0, 1.5], 80.0)
    >>> float(ends.mean_minutes), [float(p) for p in ends.by_kind]
    (68.86, [0.3788, 0.0732])
    """
    scales, shapes = np.asarray(scales, dtype=float), np.asarray(shapes, dtype=float)
    kinds = np.broadcast_shapes(scales.shape[:1], shapes.shape[:1])
    rest = np.broadcast_shapes(scales.shape[1:], shapes.shape[1:], np.shape(until))
    scales, shapes = _spread(scales, kinds + rest), _spread(shapes, kinds + rest)
    end = np.minimum(until, np.min(scales * CERTAIN ** (1.0 / shapes), axis=0))[..., None]
    t = end * NODES**2
    dt = 2.0 * end * NODES * WEIGHTS
    ratio = t / scales[..., None]
    hazard_to_t = ratio ** shapes[..., None]
    survival = np.exp(-np.sum(hazard_to_t, axis=0))
    hazard = shapes[..., None] * hazard_to_t / t
    return Ends(np.sum(survival * dt, axis=-1), np.sum(hazard * survival * dt, axis=-1))


def _spread(per_kind: Numbers, shape: tuple[int, ...]) -> Numbers:
    """Broadcast to shape, the first axis (kinds of end) kept first."""
    missing = (1,) * (len(shape) - per_kind.ndim)
    return np.broadcast_to(per_kind.reshape(per_kind.shape[:1] + missing + per_kind.shape[1:]), shape)


def cycle_cost(
    mean_minutes: Numbers,
    died: Numbers,
    machine_and_labor_per_hour: Numbers,
    band_change_minutes: Numbers,
    band_price: Numbers,
    scrapped_piece: Numbers = 0.0,
) -> Numbers:
    """Expected cost of one band's cycle: c E[min(T, t_x)] + c t_c + p + P(T < t_x) s [money].

    mean_minutes : E[min(T, t_x)], cutting minutes [min]
    died : P(T < t_x), the band ends in the cut [-]
    machine_and_labor_per_hour : 60 c [money/h]
    band_change_minutes : t_c [min]
    band_price : p [money]
    scrapped_piece : s, lost when the band dies in the cut [money]

    >>> cycle_cost(60.0, 0.5, 60.0, 12.0, 48.0, 20.0)
    130.0
    """
    c = machine_and_labor_per_hour / 60.0
    return c * (mean_minutes + band_change_minutes) + band_price + died * scrapped_piece


def cycle_area(cutting_rate: Numbers, mean_minutes: Numbers) -> Numbers:
    """Expected area of one band's cycle Z E[min(T, t_x)] [cm2]; Z [cm2/min], E [min].

    >>> cycle_area(10.0, 60.0)
    600.0
    """
    return cutting_rate * mean_minutes


def expected_cost_rate(
    cutting_rate: Numbers,
    mean_minutes: Numbers,
    died: Numbers,
    machine_and_labor_per_hour: Numbers,
    band_change_minutes: Numbers,
    band_price: Numbers,
    scrapped_piece: Numbers = 0.0,
) -> Numbers:
    """Long-run cost per area `cycle_cost` / `cycle_area` [money/cm2] of bands alike but for chance.

    With no scatter and no change-out it is `economy.cost_per_area`:

    >>> expected_cost_rate(10.0, 120.0, 1.0, 60.0, 12.0, 48.0)
    0.15
    """
    cost = cycle_cost(
        mean_minutes, died, machine_and_labor_per_hour, band_change_minutes, band_price, scrapped_piece
    )
    return cost / cycle_area(cutting_rate, mean_minutes)


def expected_output_rate(
    cutting_rate: Numbers, mean_minutes: Numbers, band_change_minutes: Numbers
) -> Numbers:
    """Long-run area per minute Z E / (E + t_c) [cm2/min]; Z [cm2/min], E[min(T, t_x)] and t_c [min].

    >>> expected_output_rate(10.0, 90.0, 10.0)
    9.0
    """
    return cycle_area(cutting_rate, mean_minutes) / (mean_minutes + band_change_minutes)


def best_change_out(
    scale: Numbers, shape: Numbers, planned_cost: Numbers, scrapped_piece: Numbers
) -> Numbers:
    """Change-out point t_x of the lowest cost [min]; infinite where running to the end is best.

    d cost / d t_x = 0 is  h(t_x) E[min(T, t_x)] - P(T < t_x) = (c t_c + p) / s  (age replacement, Barlow and
    Proschan 1965). Its left side grows from 0 without end for shape > 1, so one root; for shape <= 1 an old
    band is no worse than a new one and there is none. A root that fewer than 1 band in 1000 would reach
    counts as running to the end.

    scale : Weibull scale of the life [min]
    shape : Weibull shape [-]
    planned_cost : c t_c + p, what a change costs [money]
    scrapped_piece : s, what an end in the cut costs on top [money]

    >>> float(best_change_out(100.0, 3.0, 60.0, 600.0))
    36.9
    >>> float(best_change_out(100.0, 1.0, 60.0, 600.0))
    inf
    """
    scale, shape, planned, scrap = np.broadcast_arrays(
        *(np.asarray(part, dtype=float) for part in (scale, shape, planned_cost, scrapped_piece))
    )
    k = np.where(shape > 1.0, shape, 2.0)  # a stand-in where there is no root
    farthest = np.log(1000.0) ** (1.0 / k)
    low, high = np.zeros_like(k), farthest.copy()
    for _ in range(60):
        x = (low + high) / 2.0
        gain = k * x ** (k - 1.0) * weibull_mean_until(1.0, k, x) - weibull_failed_by(1.0, k, x)
        early = gain * scrap < planned
        low, high = np.where(early, x, low), np.where(early, high, x)
    none = (shape <= 1.0) | (high >= farthest)
    return np.where(none, np.inf, scale * high)
