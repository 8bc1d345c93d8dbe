"""The first plan of a shop that has no cuts of this work: settings spread out, bands as blocks, the safe side first."""

from __future__ import annotations

import numpy as np

from bandtrial import sawing
from bandtrial.recommend.limits import GREATEST_CHIP, LEAST_CHIP, in_ranges
from bandtrial.recommend.power import power_limit

from .run import USUAL_TRAVEL, Run, run_at

SPEEDS = (0.6, 0.78, 1.0)
"""Band speeds tried, as shares of the published start."""
CHIPS = (8.0, 18.0)
"""Least and greatest chip load tried [um], where gullet, motor and feed allow."""
BREAK_IN, BREAK_IN_FORCE = 0.5, 0.65
"""Feed, and feed force, of a new band's first cut as a share of the normal one (model_priors.csv: 0.2 to 0.5)."""
ENERGY = 7.8
"""Cutting energy reckoned with before any power is logged [J/mm3]: the middle of the published 3 to 9, half worn."""
FORCE_SHARE = 0.45
"""Feed force over cutting force reckoned with before any cut at a set force; common practice, no source."""
EDGE_FORCE = 5.0
"""Feed force that a new edge takes for itself [N per mm of kerf]; no source."""
SOFT = {"aluminum": 700.0, "magnesium": 400.0, "brass": 800.0, "bronze": 900.0, "copper": 1000.0, "iron": 1020.0}
STEEL = 2000.0
"""Specific cutting force kc1.1 [N/mm2] by a word of the material group, and of all others (kienzle_tables; memory,
unsure): only to guess a first feed force, on the light side."""


def first_runs(job, minutes: float, seed: int, ids, travel: float = USUAL_TRAVEL) -> list[Run]:
    """Runs for a shop with no cuts of this work.

    A 3 x 3 grid over band speed and chip load in three blocks of a Latin square: every band meets each speed and
    each chip load once, so that a band's own wear rate does not pass for an effect of the setting. Each band opens
    with a break-in cut. The first band goes from the safe side up; the others take their runs in random order.
    """
    rng = np.random.default_rng(seed)
    speeds, chips = speed_levels(job), chip_levels(job)
    bands = 3 if minutes >= 60 else 2 if minutes >= 30 else 1
    each = 0.92 * minutes / (3 * bands)
    runs: list[Run] = []
    for band in range(bands):
        name = next(ids)
        block = [(i, (i + band) % 3) for i in range(3)]
        block.sort(key=lambda ij: speeds[ij[0]] ** 6 * chips[ij[1]])
        if band:
            rng.shuffle(block)
        i, j = block[0]
        why = f"break-in of a new band, to be called {name}: half the feed, one cut"
        runs.append(_run(job, "new", speeds[i], BREAK_IN * chips[j], 0.0, travel, why))
        for at, (i, j) in enumerate(block):
            runs.append(_run(job, name, speeds[i], chips[j], each, travel, _why(i, j, at, band)))
    return runs


def speed_levels(job):
    """Three true band speeds [m/min] about the published start that the machine has, slow to fast."""
    V = job.published_speed * np.array(SPEEDS)
    ends = np.array([end for pair in job.machine.band_speed_ranges for end in pair])
    ok = in_ranges(job, V)
    if not ok.all():
        true = np.asarray(job.machine.true_speed(ends), float)
        V = np.where(ok, V, true[np.argmin(np.abs(np.log(true[None] / V[:, None])), axis=1)])
    return np.sort(V)


def chip_levels(job):
    """Three chip loads [um] that gullet, motor and feed range allow at the middle speed, light to heavy."""
    V = speed_levels(job)
    full = float(sawing.chip_load_at_full_gullet(job.thickness, job.gullet_area))
    most = min(CHIPS[1], 0.9 * full, GREATEST_CHIP)
    per_um = sawing.cutting_rate(sawing.feed_rate(V[-1], 1.0, job.stock.tooth_spacing), job.thickness)
    power = sawing.cutting_power(1000 * ENERGY, per_um, job.kerf) / job.machine.drive_efficiency
    most = min(most, power_limit(job) / power)
    if job.feed != "force":
        _, hi = job.feed_range()
        most = min(most, hi / sawing.feed_rate(V[-1], 1.0, job.stock.tooth_spacing))
    most = max(most, LEAST_CHIP)
    return np.geomspace(min(CHIPS[0], most), most, 3)


def bite_for(job, chip_load):
    """The bite meant to give a chip load: itself at a set rate, else a force per tooth [N] from Kienzle's law.

    F = r kc1.1 h^(1 - mc) b + edge, mc 0.2: a start only, the first cuts show what the force gives.
    """
    if job.feed != "force":
        return chip_load
    group = job.material.group.casefold()
    kc11 = next((kc for word, kc in SOFT.items() if word in group), STEEL)
    chip = sawing.kienzle(kc11, 0.2, chip_load) * np.asarray(chip_load) / 1000
    return (FORCE_SHARE * chip + EDGE_FORCE) * job.kerf


def _run(job, band, V, h, minutes, travel, why) -> Run:
    bite = bite_for(job, h)
    if job.feed == "force":
        lo, hi = job.feed_range()
        bite = np.clip(bite, lo / job.teeth, hi / job.teeth)
    return run_at(job, band, V, float(bite), float(h), minutes, travel, why)


def _why(i: int, j: int, at: int, band: int) -> str:
    speed = ("slow", "middle", "published")[i]
    chip = ("light", "middle", "heavy")[j]
    order = "safe side first" if band == 0 and at == 0 else "in order of severity" if band == 0 else "random order"
    return f"{speed} speed, {chip} chip: spreads speed and chip load on every band ({order})"
