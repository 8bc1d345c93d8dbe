"""The sharpness signals: what may be measured at a cut and grow as the band dulls.

A new signal is one entry of `SIGNALS`. Its logarithm is modelled as

    log y = level + level[material] + level[machine] + powers . log covariates + level[band]
            + log(1 + j (1 - exp(-E/e)) + k E) + noise,

E the wear used, j the break-in step, e the break-in length, k the dulling per unit of wear. Noise is
Student t with NU degrees of freedom.
"""
from __future__ import annotations

from dataclasses import dataclass

NU = 5.0  # degrees of freedom of the noise: heavier tails than a normal, still with a variance


@dataclass(frozen=True)
class Signal:
    """One kind of signal; its priors are the rows `NAME.level`, `NAME.power[...]`, `NAME.dulling`,
    `NAME.break_in`, `NAME.noise` and `NAME.band` of published/model_priors.csv."""

    name: str                  # as reported
    column: str                # of the cut table
    unit: str                  # inside unit of the column
    feeds: tuple[str, ...]     # feed modes in which it says something about dulling
    powers: tuple[str, ...]    # covariates
    inverse: bool = False      # the column falls as the band dulls: its inverse is the signal


SIGNALS = (
    Signal("motor_power", "motor_power", "W", ("rate",), ("band_speed", "chip_load", "work_thickness")),
    Signal("feed_force", "feed_force", "N", ("rate",), ("band_speed", "chip_load", "work_thickness")),
    Signal("chip_load", "chip_load", "um", ("force",),
           ("force_per_tooth", "band_speed", "work_thickness"), inverse=True),
    Signal("deviation", "deviation", "mm", ("rate", "force"), ("band_speed", "chip_load", "work_thickness")),
    Signal("roughness", "roughness", "um", ("rate", "force"), ("band_speed", "chip_load", "work_thickness")),
)
BY_NAME = {s.name: s for s in SIGNALS}
