"""What the own cuts have held, and the motor power of a setting by the best there is to know it by."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from bandtrial import sawing
from bandtrial.recommend.longrun import MID_WEAR, names

if TYPE_CHECKING:
    from bandtrial.recommend.job import Job
    from bandtrial.recommend.tried import Tried
    from bandtrial.sawing import Numbers
    from bandtrial.wear.fit import Fit


THRICE = 3.0
"""Cuts that must have held a figure before it moves a limit: one may have been a slip of the hand or of the pen."""
QUARTER = 0.25
"""Share of the cuts that must have held it too: gullets and motors that were full a few times prove no day's work."""
LOST = ("crooked", "stripped", *sawing.BROKEN)
"""Ends of a band that its last cut may have caused."""


@dataclass(frozen=True)
class Proven:
    """Of the cuts of a job's material that went well, what at least three and a quarter of them held (three, of the
    lightest): lightest and heaviest chip load [um], greatest chip area h L [um mm], fewest teeth in the cut. Of those
    on the job's own machine: greatest cutting rate [cm2/min], greatest feed force times band speed [N m/min], 0 where
    there is none; whether its motor power was read.

    usual_chip, usual_area : chip load and chip area of most of them, by pieces
    ratios : logs of feed force over cutting force (n,) that the machine's power readings at a set force show, and the
    band of each
    """

    lightest: float = np.inf
    heaviest: float = 0.0
    chip_area: float = 0.0
    teeth: float = np.inf
    rate: float = 0.0
    push: float = 0.0
    power_read: bool = False
    ratios: tuple[float, ...] = ()
    ratio_bands: tuple[str, ...] = ()
    usual_chip: float = 0.0
    usual_area: float = 0.0


def went_well(cuts: pd.DataFrame, ends: dict[str, str]) -> np.ndarray:
    """Whether each cut of a table in each band's own order (n,) was finished on a band that lived on.

    cuts : columns band and complete, as arrays; ends : how each band ended, by its name
    """
    band = np.asarray(cuts["band"])
    complete = np.asarray(cuts["complete"]).astype(bool)
    lost = np.array([ends.get(name) in LOST for name in band], bool)
    return np.asarray(complete & ~(last_of_band(band) & lost))


def last_of_band(band: np.ndarray) -> np.ndarray:
    """Whether each cut (n,) is the last of its band."""
    return ~pd.Series(band).duplicated(keep="last").to_numpy()


def proven(rows: dict[str, np.ndarray], job: Job, good: np.ndarray, borrowed: bool) -> Proven:
    """`Proven` of a job's rows (`tried.rows_of`), those that went well marked by `good` (n,)."""
    if not good.any():
        return Proven()
    h, L = rows["chip_load"][good], rows["work_thickness"][good]
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.nan_to_num((rows["cut_area"] / rows["cut_time"])[good], posinf=0.0)
        push = np.nan_to_num((rows["feed_force"] * rows["band_speed"])[good], posinf=0.0)
    own = 0.0 if borrowed else 1.0
    ratios, bands = force_ratios(rows, job) if job.feed == "force" else ((), ())
    n = rows["pieces"][good]
    return Proven(
        -held(-h, n), held(h, n, QUARTER), held(h * L, n, QUARTER), -held(-rows["teeth_in_cut"][good], n),
        own * held(rate, n, QUARTER), own * held(push, n, QUARTER) * (job.feed == "force"),
        not borrowed and bool(np.isfinite(rows["motor_power"]).any()), ratios, bands, usual(h, n), usual(h * L, n),
    )  # fmt: skip


def held(values: np.ndarray, pieces: np.ndarray, share: float = 0.0) -> float:
    """The greatest value that at least THRICE pieces held, and a share of all; all of them where there are fewer.

    >>> held(np.array([5.0, 9.0, 7.0, 6.0]), np.ones(4)), held(np.array([5.0, 9.0]), np.array([1.0, 40.0]))
    (6.0, 9.0)
    """
    order = np.argsort(-values)
    enough = min(max(THRICE, share * float(pieces.sum())), float(pieces.sum()))
    return float(values[order][np.searchsorted(np.cumsum(pieces[order]), enough)])


def usual(values: np.ndarray, pieces: np.ndarray) -> float:
    """Median of values by pieces."""
    order = np.argsort(values)
    return float(values[order][np.searchsorted(np.cumsum(pieces[order]), pieces.sum() / 2)])


def stripped_at(bites: np.ndarray, rows: dict[str, np.ndarray], ends: dict[str, str]) -> float:
    """The lightest bite at which a band was stripped; inf where none was.

    Of a cut that was not finished, time and travel say little: the three before it on its band say what was fed.
    bites (n,) of rows (`tried.rows_of`, with `last` the last cut of its band); ends : how each band ended, by its name
    """
    lost = rows["last"] & np.array([ends.get(name) == "stripped" for name in rows["band"]], bool)
    found = [np.inf]
    for i in np.flatnonzero(lost).tolist():
        before = [k for k in range(max(i - 3, 0), i) if rows["band"][k] == rows["band"][i]]
        found.append(float(bites[i] if rows["complete"][i] or not before else np.median(bites[before])))
    return min(found)


def force_ratios(rows: dict[str, np.ndarray], job: Job) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
    """log r = log(F V / (60 eta P)) of each power reading at a set force, and the bands they were read on."""
    with np.errstate(divide="ignore", invalid="ignore"):
        P = rows["motor_power"]
        r = rows["feed_force"] * rows["band_speed"] / (60 * job.machine.drive_efficiency * P)
    ok = np.isfinite(r) & (r > 0)
    return tuple(np.log(r[ok]).tolist()), tuple(rows["band"][ok])


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


def hardness_of_cut(job: Job) -> float:
    """Specific cutting force of the job's material [N/mm2], by its group: a guess."""
    group = job.material.group.casefold()
    return next((kc for word, kc in SOFT.items() if word in group), STEEL)


def power_limit(job: Job) -> float:
    """Rated motor power [W]; inf where the study names none."""
    rated = job.machine.motor_power
    return float(rated) if rated and np.isfinite(rated) else np.inf


def motor_power(fit: Fit, job: Job, region: Tried, V: Numbers, bite: Numbers) -> np.ndarray:
    """Motor power (S, n) [W]: the shop's own readings, else what the feed force or published energies say."""
    if job.feed == "force":
        return power_of_force(job, region.proven, V, bite)
    if "motor_power" in fit.signals:
        return np.asarray(fit.signal("motor_power", V, bite, job.thickness, wear_used=MID_WEAR, **names(job)))
    return np.asarray(power_of_energy(job, region.proven, V, bite))


def carried(job: Job, region: Tried, V: Numbers, bite: Numbers) -> np.ndarray:
    """Whether the machine has carried as much in this work (n,), by the measure that its power is guessed by: where no
    reading of its own says more. Never refused on an assumed ratio or a published energy then."""
    was = region.proven
    V, bite = np.asarray(V, float), np.asarray(bite, float)
    if job.feed == "force":
        return np.asarray(job.feed_of(V, bite) * V <= was.push * (1 + 1e-6))
    if was.power_read:
        return np.zeros(np.broadcast(V, bite).shape, bool)
    return np.asarray(rate_of(job, V, bite) <= was.rate * (1 + 1e-6))


def rate_of(job: Job, V: Numbers, h: Any) -> Any:
    """Cutting rate [cm2/min] of a chip load [um]."""
    return sawing.cutting_rate(sawing.feed_rate(V, h, job.stock.tooth_spacing), job.thickness)


def how_known(fit: Fit, job: Job, region: Tried) -> str:
    """Where `motor_power` has its figures from, in words."""
    if job.feed == "force":
        n = len(region.proven.ratios)
        own = f"feed force over cutting force from {n} power reading{'s' * (n != 1)} of the shop"
        return own if n else "from the feed force, taken as 0.35 to 0.6 of the cutting force and as the machine held"
    if "motor_power" in fit.signals:
        return "from the shop's own readings, band half worn"
    return "from published cutting energies and what the machine has carried, band half worn"


def power_of_force(job: Job, proven: Proven, V: Numbers, force_per_tooth: np.ndarray) -> np.ndarray:
    """P = (F / r) V / (60 eta) (QUANTILES, n) [W], F all teeth's feed force [N].

    log r is normal: before any reading as FORCE_RATIO says; moved by the power readings at a set force, whose bands
    count as one witness each; and never so small that the motor could not have carried what it did.
    A dull band at a set force cuts less and draws the same.
    """
    per_motor = np.asarray(V, float) * job.feed_of(V, force_per_tooth) / (60 * job.machine.drive_efficiency)
    middle, sd = ratio_law(proven)
    least = proven.push / (60 * job.machine.drive_efficiency * power_limit(job))
    r = np.exp(normal_from(middle, sd, np.log(least) if least > 0 else -np.inf))
    return np.asarray(per_motor / r[:, None])


def ratio_law(proven: Proven) -> tuple[float, float]:
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


def power_of_energy(job: Job, proven: Any, V: Numbers, h: Any) -> Any:
    """P = 1.5 e Z b / (0.6 eta) (QUANTILES, n) [W], e within the published range of cutting energies [J/mm3].

    The range is of hard steels; for softer groups it goes down with kc1.1. Half as much again for a band half worn
    (common practice, no source). Energies at which the motor could not have carried what was tried are left out.
    """
    from bandtrial.published.tables import priors

    row = priors().query("quantity == 'specific_cutting_energy'").iloc[0]
    share = min(hardness_of_cut(job) / STEEL, 1.0)
    low, high = np.log(share * float(row["low"])), np.log(share * float(row["high"]))
    per_energy = sawing.cutting_power(1000.0, 1.0, job.kerf) / job.machine.drive_efficiency
    most = power_limit(job) / (per_energy * proven.rate) if proven.rate > 0 else np.inf
    e = np.exp(-normal_from(-(low + high) / 2, (high - low) / 2 / Z90, -np.log(most)))
    return (1 + MID_WEAR) * per_energy * e[:, None] * rate_of(job, V, h)


def normal_from(middle: float, sd: float, least: float) -> np.ndarray:
    """Values (QUANTILES,) at even probabilities of a normal law cut off below `least`.

    >>> bool(normal_from(0.0, 1.0, 0.5).min() > 0.5)
    True
    """
    law = NormalDist(middle, sd)
    below = law.cdf(least) if np.isfinite(least) else 0.0
    if below > 1 - 1e-6:  # all but impossible before it was seen: at what was seen
        return np.full(QUANTILES, float(least))
    return np.array([law.inv_cdf(below + (1 - below) * (i + 0.5) / QUANTILES) for i in range(QUANTILES)])
