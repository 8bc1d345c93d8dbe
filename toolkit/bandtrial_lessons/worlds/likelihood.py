"""How well each of many worlds explains a log: the generator's own likelihood, wear and bands and all.

A point is the world's u and, for each batch one, for each band three more standard normals: its wear rate, its levels
of power and deviation. What is approximate: at a set force the wear is reckoned at the chip as timed, not as it was.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from bandtrial_lessons.worlds import ends, forms
from bandtrial_lessons.worlds.bands import FREEDOM
from bandtrial_lessons.worlds.latent import Array
from bandtrial_lessons.worlds.laws import CONSTANTS
from bandtrial_lessons.worlds.path import Log
from bandtrial_lessons.worlds.physics import Physics
from bandtrial_lessons.worlds.sheet import Sheet

BATCH = 5
NOT_SO = -50.0
"""Log likelihood of what a world does not do."""
LEAST = 1e-12


def dimensions(log: Log) -> int:
    """Of a point."""
    return len(CONSTANTS) + -(-len(log.end) // BATCH) + 3 * len(log.end)


def physics_of(u: Array, log: Log, sheet: Sheet) -> Physics:
    """The worlds of points u, their dial as the speed check has it."""
    physics = Physics.of(u[:, : len(CONSTANTS)], sheet)
    if np.isfinite(log.dial):
        physics.constants["dial"] = np.full(len(u), log.dial)
    return physics


def log_likelihood(u: Array, log: Log, sheet: Sheet) -> Array:
    """Of points u (N, d): (N,)."""
    physics = physics_of(u, log, sheet)
    c, bands = physics.shaped(1), len(log.end)
    at = len(CONSTANTS)
    batch = u[:, at : at + -(-bands // BATCH)][:, np.arange(bands) // BATCH]
    own = u[:, u.shape[1] - 3 * bands :].reshape(len(u), 3, bands)
    rate = c["band_scatter"] * (np.sqrt(c["batch"]) * batch + np.sqrt(1 - c["batch"]) * own[:, 0])
    level = {"power": c["power_band"] * own[:, 1], "deviation": c["deviation_band"] * own[:, 2]}
    V = np.exp(c["dial"]) * log.indicated[None]
    x, h = V / log.published, log.feed_rate[None] * sheet.spacing / V
    step = physics.wear_rate(x, h, log.thickness, log.metal) * np.exp(rate[:, log.band])
    step = step * log.minutes * log.thickness / sheet.band_length
    W = _within(step, log)
    before = np.maximum(W - step, 0.0)
    total, h_model, slowed = np.zeros(len(u)), h, np.full_like(W, ends.NEVER)
    if sheet.force_set:
        slowed = physics.slowed(log.feed_force[None], W, log.thickness, log.guess, log.metal)
        h_model = physics.chip_at_force(log.feed_force[None], before, log.thickness, log.guess, log.metal)
        total = total + _readings(np.log(h_model / h), c["time_noise"], c, log)
    dev = np.log(physics.deviation(x, h_model, W, log.thickness))
    if np.isfinite(log.power).any():
        power = np.log(physics.power(V, h_model, W, log.thickness, log.guess, log.metal)) + level["power"][:, log.band]
        total = total + _readings(np.log(log.power) - power, c["power_noise"], c, log)
    if np.isfinite(log.deviation).any():
        off = np.log(np.maximum(log.deviation, 1e-4)) - dev - level["deviation"][:, log.band]
        strays = np.isin(physics.constants["deviation_form"], forms.STRAYING)
        rho = np.where(strays, physics.constants["straying"], 0.0)[:, None]
        total = total + _readings(off, c["deviation_noise"], c, log, rho)
    chip_wear = _within(step * (W + before) * ends.chip_hazard(c, h_model), log)
    excess = dev - np.log(physics.deviation_limit())[:, None] + level["deviation"][:, log.band]
    turns = _within(2000 * V * log.minutes / sheet.band_length, log)
    total = total + _ends(c, log, W, before, chip_wear, _worst(excess, log), _worst(slowed, log), turns)
    return np.where(np.isfinite(total), total, -1e9)


def _within(step: Any, log: Log) -> Any:
    """Running sums (N, R) that begin anew with each band."""
    whole = np.cumsum(step, axis=1)
    start = whole[:, log.first] - step[:, log.first]
    return whole - start[:, log.band]


def _readings(error: Any, spread: Any, c: dict[str, Any], log: Log, rho: Any = 0.0) -> Any:
    """Log density (N,) of log errors (N, R): t noise that strays by rho from one reading of a band to the next."""
    from scipy.special import gammaln

    known = np.isfinite(error)
    step, scale = np.where(known, error, 0.0), np.broadcast_to(spread, error.shape)
    if np.any(rho):
        past = np.concatenate([np.zeros((len(step), 1)), step[:, :-1]], axis=1)
        first = np.zeros(step.shape[1], bool)
        first[log.first] = True
        step = np.where(first, step, step - rho * past)
        scale = np.where(first, scale, scale * np.sqrt(1 - rho**2))
    nu = np.where(c["heavy"] > 0, FREEDOM[1], FREEDOM[0])
    height = gammaln((nu + 1) / 2) - gammaln(nu / 2) - 0.5 * np.log(nu * np.pi)
    density = height - np.log(scale) - 0.5 * (nu + 1) * np.log1p((step / scale) ** 2 / nu)
    return np.where(known, density, 0.0).sum(axis=1)


def _worst(values: Any, log: Log) -> Any:
    """Greatest so far of each band's rows (N, R)."""
    bands = zip(log.first, log.last, strict=True)
    return np.concatenate([np.maximum.accumulate(values[:, a : b + 1], axis=1) for a, b in bands], axis=1)


def _ends(c: dict[str, Any], log: Log, W: Any, before: Any, chip_wear: Any, worst: Any, slowest: Any,
          turns: Any) -> Any:  # fmt: skip
    """Log likelihood (N,) of how the bands ended, or did not."""
    at, single = log.last, log.last == log.first
    old = np.maximum(at - 1, log.first)

    def left(i: Any, wear: Any) -> Any:
        return ends.log_left(c, wear, chip_wear[:, i], worst[:, i], slowest[:, i])

    now, breaks = left(at, W[:, at]), ends.break_hazard(c, turns[:, at])
    past = np.where(single, 0.0, left(old, before[:, at]))
    broke_before = np.where(single, 0.0, ends.break_hazard(c, turns[:, old]))
    worn = past + np.log(np.maximum(-np.expm1(np.minimum(now - past, 0.0)), LEAST)) - broke_before
    broken = past - broke_before + np.log(np.maximum(-np.expm1(broke_before - breaks), LEAST))
    form = np.broadcast_to(c["end_form"], now.shape)
    total = np.zeros(len(W))
    for i, end in enumerate(log.end):
        if end in ("in_service", "removed_sound"):
            total = total + now[:, i] - breaks[:, i]
        elif end == "broken":
            total = total + broken[:, i]
        else:
            slow = slowest[:, log.last[i]] > -0.4
            may = {"stripped": form[:, i] == 2, "crooked": form[:, i] == 3}.get(end, (form[:, i] != 2) | slow)
            total = total + np.where(may, worn[:, i], NOT_SO)
    return total
