"""Motor power of a setting, half way through a band's wear, from the best there is to know it by."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from bandtrial import published, sawing

from .surface import MID_WEAR, names

FORCE_RATIO = (0.35, 0.60)
"""Feed force over cutting force, 90 % of bands and metals; common practice, no source."""
QUANTILES = 33
Z90 = 1.6449


def power_limit(job) -> float:
    """Rated motor power [W]; inf where the study names none."""
    rated = job.machine.motor_power
    return float(rated) if rated and np.isfinite(rated) else np.inf


def motor_power(fit, job, region, V, bite):
    """Motor power (S, n) [W]: the shop's own readings, else what the feed force or published energies say."""
    if job.feed == "force":
        return power_of_force(job, V, bite)
    if "motor_power" in fit.signals:
        return fit.signal("motor_power", V, bite, job.thickness, wear_used=MID_WEAR, **names(job))
    return power_of_energy(job, region, V, bite)


def how_known(fit, job) -> str:
    """Where `motor_power` has its figures from, in words."""
    if job.feed == "force":
        return "from the feed force, taken as 0.35 to 0.6 of the cutting force"
    if "motor_power" in fit.signals:
        return "from the shop's own readings, band half worn"
    return "from published cutting energies of hard steels, band half worn"


def power_of_force(job, V, force_per_tooth):
    """P = (F / r) V / (60 eta) (QUANTILES, n) [W], F all teeth's feed force [N], r within FORCE_RATIO.

    A dull band at a set force cuts less and draws the same.
    """
    F = job.feed_of(V, force_per_tooth)
    r = _spread(*FORCE_RATIO)
    return F * np.asarray(V, float) / 60 / r[:, None] / job.machine.drive_efficiency


def power_of_energy(job, region, V, h):
    """P = 1.5 e Z b / (0.6 eta) (QUANTILES, n) [W], e within the published range of cutting energies [J/mm3].

    Half as much again for a band half worn (common practice, no source). Energies at which the motor could
    not have carried what was tried are left out.
    """
    row = published.priors().query("quantity == 'specific_cutting_energy'").iloc[0]
    e = _spread(float(row["low"]), float(row["high"]))
    per_rate = sawing.cutting_power(1000 * e, 1.0, job.kerf) / job.machine.drive_efficiency
    possible = per_rate * region.greatest_rate <= power_limit(job)
    per_rate = np.where(possible, per_rate, per_rate[possible].max(initial=per_rate[0]))
    Z = sawing.cutting_rate(sawing.feed_rate(V, h, job.stock.tooth_spacing), job.thickness)
    return (1 + MID_WEAR) * per_rate[:, None] * Z


def _spread(low: float, high: float):
    """Values at even probabilities of a lognormal whose 90 % interval is (low, high)."""
    z = np.array([NormalDist().inv_cdf((i + 0.5) / QUANTILES) for i in range(QUANTILES)])
    return np.exp(np.log(low * high) / 2 + np.log(high / low) / 2 * z / Z90)
