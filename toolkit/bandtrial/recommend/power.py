"""Motor power of a setting, half way through a band's wear, from the best there is to know it by."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from bandtrial import published, sawing

from .surface import MID_WEAR, names

FORCE_RATIO = (0.35, 0.60)
"""Feed force over cutting force before any power was read, 90 % of bands and metals; common practice, no source."""
QUANTILES = 33
Z90 = 1.6449
LEAST_SPREAD = 0.05
"""sd of the log of that ratio from cut to cut of a band, at least; no source."""
STEEL = 2000.0
"""Specific cutting force kc1.1 [N/mm2] of steels, and of all metals not below (kienzle_tables; memory, unsure)."""
SOFT = {"aluminum": 700.0, "magnesium": 400.0, "brass": 800.0, "bronze": 900.0, "copper": 1000.0, "iron": 1020.0}
"""The same by a word of the material group: for a first feed force, on the light side, and for energies."""


def hardness_of_cut(job) -> float:
    """Specific cutting force of the job's material [N/mm2], by its group: a guess."""
    group = job.material.group.casefold()
    return next((kc for word, kc in SOFT.items() if word in group), STEEL)


def power_limit(job) -> float:
    """Rated motor power [W]; inf where the study names none."""
    rated = job.machine.motor_power
    return float(rated) if rated and np.isfinite(rated) else np.inf


def motor_power(fit, job, region, V, bite):
    """Motor power (S, n) [W]: the shop's own readings, else what the feed force or published energies say."""
    if job.feed == "force":
        return power_of_force(job, region.proven, V, bite)
    if "motor_power" in fit.signals:
        return fit.signal("motor_power", V, bite, job.thickness, wear_used=MID_WEAR, **names(job))
    return power_of_energy(job, region.proven, V, bite)


def carried(job, region, V, bite):
    """Whether the machine has carried as much in this work (n,), by the measure that its power is guessed by: where no
    reading of its own says more. Never refused on an assumed ratio or a published energy then."""
    was = region.proven
    V, bite = np.asarray(V, float), np.asarray(bite, float)
    if job.feed == "force":
        return job.feed_of(V, bite) * V <= was.push * (1 + 1e-6)
    if was.power_read:
        return np.zeros(np.broadcast(V, bite).shape, bool)
    return rate_of(job, V, bite) <= was.rate * (1 + 1e-6)


def rate_of(job, V, h):
    """Cutting rate [cm2/min] of a chip load [um]."""
    return sawing.cutting_rate(sawing.feed_rate(V, h, job.stock.tooth_spacing), job.thickness)


def how_known(fit, job, region) -> str:
    """Where `motor_power` has its figures from, in words."""
    if job.feed == "force":
        n = len(region.proven.ratios)
        own = f"feed force over cutting force from {n} power reading{'s' * (n != 1)} of the shop"
        return own if n else "from the feed force, taken as 0.35 to 0.6 of the cutting force and as the machine held"
    if "motor_power" in fit.signals:
        return "from the shop's own readings, band half worn"
    return "from published cutting energies and what the machine has carried, band half worn"


def power_of_force(job, proven, V, force_per_tooth):
    """P = (F / r) V / (60 eta) (QUANTILES, n) [W], F all teeth's feed force [N].

    log r is normal: before any reading as FORCE_RATIO says; moved by the power readings at a set force, whose bands
    count as one witness each; and never so small that the motor could not have carried what it did.
    A dull band at a set force cuts less and draws the same.
    """
    per_motor = np.asarray(V, float) * job.feed_of(V, force_per_tooth) / (60 * job.machine.drive_efficiency)
    middle, sd = ratio_law(proven)
    least = proven.push / (60 * job.machine.drive_efficiency * power_limit(job))
    r = np.exp(normal_from(middle, sd, np.log(least) if least > 0 else -np.inf))
    return per_motor / r[:, None]


def ratio_law(proven) -> tuple[float, float]:
    """Middle and sd of log r for a cut to come: normal prior, a normal law of the readings' means by band."""
    low, high = np.log(FORCE_RATIO)
    middle, sd = (low + high) / 2, (high - low) / 2 / Z90
    if not len(proven.ratios):
        return float(middle), float(sd)
    spread = max(float(np.std(proven.ratios)), LEAST_SPREAD)
    witnesses = len(set(proven.ratio_bands)) / spread**2
    precision = 1 / sd**2 + witnesses
    middle = (middle / sd**2 + witnesses * float(np.mean(proven.ratios))) / precision
    return float(middle), float(np.sqrt(1 / precision + spread**2))


def power_of_energy(job, proven, V, h):
    """P = 1.5 e Z b / (0.6 eta) (QUANTILES, n) [W], e within the published range of cutting energies [J/mm3].

    The range is of hard steels; for softer groups it goes down with kc1.1. Half as much again for a band half worn
    (common practice, no source). Energies at which the motor could not have carried what was tried are left out.
    """
    row = published.priors().query("quantity == 'specific_cutting_energy'").iloc[0]
    share = min(hardness_of_cut(job) / STEEL, 1.0)
    low, high = np.log(share * float(row["low"])), np.log(share * float(row["high"]))
    per_energy = sawing.cutting_power(1000.0, 1.0, job.kerf) / job.machine.drive_efficiency
    most = power_limit(job) / (per_energy * proven.rate) if proven.rate > 0 else np.inf
    e = np.exp(-normal_from(-(low + high) / 2, (high - low) / 2 / Z90, -np.log(most)))
    return (1 + MID_WEAR) * per_energy * e[:, None] * rate_of(job, V, h)


def normal_from(middle: float, sd: float, least: float):
    """Values (QUANTILES,) at even probabilities of a normal law cut off below `least`.

    >>> bool(normal_from(0.0, 1.0, 0.5).min() > 0.5)
    True
    """
    law = NormalDist(middle, sd)
    below = law.cdf(least) if np.isfinite(least) else 0.0
    if below > 1 - 1e-6:  # all but impossible before it was seen: at what was seen
        return np.full(QUANTILES, float(least))
    return np.array([law.inv_cdf(below + (1 - below) * (i + 0.5) / QUANTILES) for i in range(QUANTILES)])
