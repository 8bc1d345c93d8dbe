"""From posterior draws to long-run averages over settings: how fast a band is used up per area."""

from __future__ import annotations

import numpy as np

from bandtrial import sawing

from .longrun import LongRun, ages, long_run, scatter_weights

WEAR_KNOTS = np.array([0.0, 0.06, 0.15, 0.3, 0.5, 0.75, 1.0, 1.35, 1.8, 2.6])
"""Wear used at which a chip load that thins with wear is worked out; straight in between."""


POSSIBLE_CHIPS = (0.3, 300.0)
"""Chip loads that a force is let to give [um]: draws of a hardly known force law go anywhere."""
LONGEST = 16.0
"""Of the log life in contact minutes, either way."""
MID_WEAR = 0.5
"""Wear used at which motor power, and chip loads at a set feed force, are held to their limits: a motor's
rating is thermal, so that the middle of a band's life counts, and a new band is run in at a lighter feed."""


def names(job) -> dict:
    """The job's names as `Fit` takes them."""
    return {"material": job.material.id, "machine": job.machine.id, "stock": job.stock.id}


def evaluate(fit, job, band_speed, bite, size: int = 40) -> LongRun:
    """Long-run averages at settings (band speed [m/min], bite) over `size` change-out ages.

    At a set feed rate the rate Z is what is set, so wear used grows by 1/(tau Z B/L) per area. At a set
    feed force the chip load thins as the band dulls: area and time are integrated along the wear used.
    """
    V, bite = np.broadcast_arrays(np.atleast_1d(np.asarray(band_speed, float)), np.asarray(bite, float))
    along = force_path if job.feed == "force" else rate_path
    cycles = sawing.bend_cycles(V, 1.0, job.machine.band_length)
    age, log_wear, pace, step = along(fit, job, V, bite, size, np.log(fit.break_scale)[:, None] - np.log(cycles))
    weights = scatter_weights(fit.band_scatter, step, size)
    return long_run(age, log_wear, pace, fit.weibull_shape, weights, cycles, fit.break_scale, fit.break_shape)


def rate_path(fit, job, V, h, size, log_break):
    """Ages, log wear used, minutes per cm2 and log step at a set feed rate (chip load h [um]).

    log_break (S, n) : log of the minutes after which a band breaks if it does not wear out before
    """
    Z = sawing.cutting_rate(sawing.feed_rate(V, h, job.stock.tooth_spacing), job.thickness)
    log_tau = fit.log_tau(V, h, job.thickness, coolant=job.coolant, **names(job))
    log_life = log_tau + np.log(Z * job.machine.band_length / job.thickness)
    age, step = ages(np.minimum(log_life, log_break + np.log(Z)), size)
    return age, np.log(age) - log_life[:, :, None], (1 / Z)[None, :, None], step


def force_path(fit, job, V, force_per_tooth, size, log_break):
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


def along_wear(age, spans, per_wear, pace):
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


def chip_load_along(fit, job, V, force_per_tooth):
    """Chip load (S, n, K) [um] at each of WEAR_KNOTS of a set feed force per tooth [N]."""
    E = WEAR_KNOTS
    force = np.repeat(job.feed_of(V, force_per_tooth), len(E))
    V, wear = np.repeat(V, len(E)), np.tile(E, len(V))
    h = fit.chip_load_at_force(force, V, job.thickness, wear_used=wear, **names(job))
    return np.clip(h.reshape(len(h), -1, len(E)), *POSSIBLE_CHIPS)


def log_tau_at(fit, job, V, h):
    """log tau (S, n, K) at chip loads h (S, n, K) that differ by draw.

    But for the allowance beyond what was tried it is a parabola in log h, so three chip loads per setting fix it.
    """
    mid = np.log(np.median(h, axis=(0, 2)))
    u = (np.log(h) - mid[:, None]) / 0.5
    of = {"coolant": job.coolant, "beyond": False, **names(job)}
    ladder = (fit.log_tau(V, np.exp(mid + 0.5 * s), job.thickness, **of)[:, :, None] for s in (-1, 0, 1))
    lo, at, hi = ladder
    parabola = at + 0.5 * (hi - lo) * u + 0.5 * (hi - 2 * at + lo) * u * u
    beyond = fit.beyond(V, h, job.thickness, job.material.id, job.stock.id, job.coolant)
    return np.clip(parabola - beyond, -LONGEST, LONGEST)
