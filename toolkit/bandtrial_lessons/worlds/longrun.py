"""Cost per area in the long run of any settings in any worlds, by renewal-reward and quadrature.

A band of log wear rate b is changed at area a, or ends before. Per band it saws area A, runs T minutes, and is lost in
the work with probability P; r per minute of machine and labor, t_c minutes to change, then

    cost = (r (E T + t_c) + price + scrap P) / E A,

E over b ~ N(0, scatter^2) and over its end (S. M. Ross, Introduction to Probability Models, renewal reward theory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from bandtrial_lessons.worlds import ends
from bandtrial_lessons.worlds.latent import Array
from bandtrial_lessons.worlds.physics import Physics

WEAR = 4.0 * (np.arange(57) / 56) ** 1.7
"""Wear at which a life is followed [-]."""
AGES = np.array([0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 1.0, 1.2])
"""Change-outs looked at, over the area that an ordinary band saws by wear 1."""
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(7)
WEIGHTS = WEIGHTS / WEIGHTS.sum()
PACES, PACE_WEIGHTS = np.sqrt(3.0) * np.array([-1.0, 0.0, 1.0]), np.array([1.0, 4.0, 1.0]) / 6
PACE = 0.1
"""Log spread of a pace kept by hand [-]."""
AT_ONCE = 2_000_000
LEAST_AREA = 1e-6
"""Area per band below which a cost is as good as infinite [cm2]."""


@dataclass(frozen=True)
class LongRun:
    """Averages per band (N, n, J): change-out `age` (N or 1, n, J) [cm2], the last of them inf: run to the end."""

    age: Array
    area: Array
    minutes: Array
    ended: Array
    cost: Array

    @classmethod
    def joined(cls, parts: list[LongRun]) -> LongRun:
        names = ("age", "area", "minutes", "ended", "cost")
        return cls(*(np.concatenate([getattr(part, name) for part in parts], axis=1) for name in names))


def long_run(physics: Physics, indicated: Any, feed: Any, ages: Any = None) -> LongRun:
    """The long run at indicated speeds (n,) [m/min] and feeds (n,) [mm/min or N].

    ages : change-outs (n, J) [cm2]; AGES of each setting's middle world if not given. Run to the end is added.
    """
    indicated, feed = np.atleast_1d(np.asarray(indicated, float)), np.atleast_1d(np.asarray(feed, float))
    step = max(1, AT_ONCE // (len(physics) * len(WEAR)))
    parts = [slice(at, at + step) for at in range(0, len(feed), step)]
    wanted = None if ages is None else np.asarray(ages, float)
    return LongRun.joined([_some(physics, indicated[i], feed[i], None if wanted is None else wanted[i]) for i in parts])


def true_speed(physics: Physics, indicated: Any) -> Any:
    """True band speed (N, n) [m/min] of indicated ones (n,)."""
    return np.exp(physics.constants["dial"])[:, None] * np.asarray(indicated, float)[None, :]


def chips(physics: Physics, V: Any, feed: Any, W: Any) -> Any:
    """Chip load (N, n, K) [um] of the job at true speeds V (N, n), feeds (n,), wears (K,)."""
    sheet = physics.sheet
    if sheet.force_set:
        force = np.asarray(feed, float)[None, :, None]
        return physics.chip_at_force(force, np.asarray(W)[None, None, :], sheet.thickness, sheet.job.force)
    h = np.asarray(feed, float)[None, :] * sheet.spacing / V
    return np.repeat(h[:, :, None], len(np.atleast_1d(W)), axis=2)


def _some(physics: Physics, indicated: Array, feed: Array, ages: Any) -> LongRun:
    sheet, V = physics.sheet, true_speed(physics, indicated)
    x = (V / sheet.job.speed)[:, :, None]
    h = chips(physics, V, feed, WEAR)
    rate, rate_minutes = _wear_and_time(physics, x, h)
    minutes_per_wear = sheet.band_length / sheet.thickness / rate
    Z = h * V[:, :, None] / sheet.spacing * sheet.thickness / 100 / rate_minutes
    area, minutes = _sum(minutes_per_wear * Z), _sum(minutes_per_wear)
    left = _left(physics, x, h, feed)
    if ages is None:
        one = np.array([np.interp(1.0, WEAR, a) for a in np.median(area, axis=0)])
        ages = AGES * one[:, None]
    return _averaged(physics, V, area, minutes, left, np.atleast_2d(ages))


def _wear_and_time(physics: Physics, x: Any, h: Any) -> tuple[Any, Any]:
    """Wear rate per contact minute, and minutes over those at the pace meant, where a hand's pace strays."""
    if physics.sheet.kind != "hand":
        return physics.wear_rate(x, h, physics.sheet.thickness), 1.0
    slower = float(PACE_WEIGHTS @ np.exp(-PACE * PACES))
    wear = sum(w * np.exp(-PACE * z) * physics.wear_rate(x, h * np.exp(PACE * z), physics.sheet.thickness)
               for z, w in zip(PACES, PACE_WEIGHTS, strict=True))  # fmt: skip
    return wear / slower, slower


def _left(physics: Physics, x: Any, h: Any, feed: Array) -> Any:
    """Share of bands (N, n, K) that wear has left at WEAR."""
    c, W = physics.shaped(2), WEAR[None, None, :]
    dev = np.maximum.accumulate(physics.deviation(x, h, W, physics.sheet.thickness), axis=2)
    excess = np.log(dev / physics.deviation_limit()[:, None, None])
    chip_wear = _sum(2 * W * ends.chip_hazard(c, h))
    slowed: Any = ends.NEVER
    if physics.sheet.force_set:
        slowed = physics.slowed(feed[None, :, None], W, physics.sheet.thickness, physics.sheet.job.force)
    return np.exp(ends.log_left(c, W, chip_wear, excess, slowed, np.hypot(ends.EYE, c["deviation_band"])))


def _sum(rate: Any) -> Any:
    """Integral over WEAR from 0, by trapezoids (N, n, K)."""
    pieces = 0.5 * (rate[..., 1:] + rate[..., :-1]) * np.diff(WEAR)
    return np.concatenate([np.zeros((*pieces.shape[:-1], 1)), np.cumsum(pieces, axis=-1)], axis=-1)


def _averaged(physics: Physics, V: Array, area: Array, minutes: Array, left: Array, ages: Array) -> LongRun:
    """Over the scatter of bands, at change-outs (n, J) and to the end."""
    c, sheet = physics.shaped(2), physics.sheet
    got: list[Any] = [0.0, 0.0, 0.0]
    for z, weight in zip(NODES, WEIGHTS, strict=True):
        slow = np.exp(-c["band_scatter"] * z)  # a band that wears faster saws less
        whole = left * np.exp(-ends.break_hazard(c, 2000 * V[:, :, None] * slow * minutes / sheet.band_length))
        sums = [_under(whole, slow * of) for of in (area, minutes)]
        at = _places(slow * area, np.broadcast_to(ages, (len(left), *ages.shape)))
        for i, (values, end) in enumerate(((sums[0], None), (sums[1], None), (1 - whole, 1.0))):
            last = values[..., -1:] if end is None else np.ones_like(values[..., -1:])
            got[i] = got[i] + weight * np.concatenate([_read(values, at), last], axis=-1)
    A, T, P = got
    cost = (sheet.per_minute * (T + sheet.change_minutes) + sheet.price + sheet.scrap * P) / np.maximum(A, LEAST_AREA)
    age = np.concatenate([ages, np.full((len(ages), 1), np.inf)], axis=1)[None]
    return LongRun(age, A, T, P, cost)


def _under(share: Any, of: Any) -> Any:
    """Integral of `share` over `of`, by trapezoids (N, n, K)."""
    pieces = 0.5 * (share[..., 1:] + share[..., :-1]) * np.diff(of, axis=-1)
    return np.concatenate([np.zeros((*pieces.shape[:-1], 1)), np.cumsum(pieces, axis=-1)], axis=-1)


def _places(at: Any, wanted: Any) -> tuple[Any, Any]:
    """Where `wanted` (N, n, J) lies among rising `at` (N, n, K): index before, and the share of the way to the next."""
    K = at.shape[-1]
    full = at[..., -1:]
    rows = 2.0 * np.arange(at[..., 0].size).reshape(*at.shape[:-1], 1)
    inside = np.minimum(wanted / full, 1.0)
    found = np.searchsorted((at / full + rows).ravel(), (inside + rows).ravel(), side="right")
    index = np.clip(found.reshape(wanted.shape) - 1 - (rows / 2).astype(int) * K, 0, K - 2)
    low, high = (np.take_along_axis(at, index + i, -1) for i in (0, 1))
    return index, np.clip((wanted - low) / np.maximum(high - low, 1e-300), 0.0, 1.0)


def _read(values: Any, at: tuple[Any, Any]) -> Any:
    index, share = at
    low, high = (np.take_along_axis(values, index + i, -1) for i in (0, 1))
    return low + share * (high - low)
