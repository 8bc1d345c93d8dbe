"""The sharpness signals: what may be measured at a cut and grow as the band dulls.

A new signal is one entry of `SIGNALS`. Its logarithm is modelled as

    log y = level + level[material] + level[machine] + powers . log covariates + edge (c*/c - 1) + level[band]
            + log(1 + s (j (1 - exp(-E/e)) + k E)) + noise,      s = (c/c*)^d,

E the wear used, j the break-in step, e the break-in length, k the dulling per unit of wear. What a dull edge adds is
largely a force of its own, whatever the chip, so its share s in a force, and in what a force bends, falls as the chip's
grows: by the power d of a covariate c, at one kind of feed (Altintas, Manufacturing Automation, from memory: chip and
edge force apart). So is what a sharp edge takes: a light chip costs more than a power of c says, by edge (c*/c - 1),
which is log(chip + edge), or -log(feed force - edge), to first order. Noise is Student t with NU degrees of freedom.

Forces add, so log(1 + u) of the edge's growth u = s (j (1 - exp(-E/e)) + k E) holds for a force, and for what a force
bends. A chip at a set force has what the edge leaves of it, and runs out: the log of its inverse, the signal, rises by

    asinh(b) + asinh(u (1 + b^2)^(1/2) - b)  =  u + b/(1 + b^2)^(1/2) u^2/2 + ...,

instead, which slackens from the first as log(1 + u) does where b is -1 or less, goes straight up at first where it is
0, quickens where it is more, and levels off once next to nothing is left. b has a prior and is moved by the data.
"""
from __future__ import annotations

from dataclasses import dataclass

import numpy as np

NU = 5.0  # degrees of freedom of the noise: heavier tails than a normal, still with a variance


@dataclass(frozen=True)
class Signal:
    """One kind of signal; its priors are the rows `NAME.level`, `NAME.power[...]`, `NAME.edge[...]`, `NAME.dulling`,
    `NAME.dulling[...]`, `NAME.break_in`, `NAME.noise`, `NAME.band`, and `NAME.thinning` of an inverse one, of
    published/model_priors.csv."""

    name: str                  # as reported
    column: str                # of the cut table
    unit: str                  # inside unit of the column
    feeds: tuple[str, ...]     # feed modes in which it says something about dulling
    powers: tuple[str, ...]    # covariates
    shares: tuple[str, str] | None = None  # feed mode and covariate by which the share of dulling changes
    edge: str | None = None    # covariate c of what a sharp edge takes for itself
    inverse: bool = False      # the column is what the edge leaves: its inverse is the signal, by the law with bend b


SIGNALS = (
    Signal("motor_power", "motor_power", "W", ("rate",), ("band_speed", "chip_load", "work_thickness"),
           ("rate", "chip_load"), edge="chip_load"),
    Signal("feed_force", "feed_force", "N", ("rate",), ("band_speed", "chip_load", "work_thickness"),
           ("rate", "chip_load"), edge="chip_load"),
    Signal("chip_load", "chip_load", "um", ("force",), ("force_per_tooth", "band_speed", "work_thickness"),
           ("force", "force_per_tooth"), edge="force_per_tooth", inverse=True),
    Signal("deviation", "deviation", "mm", ("rate", "force"), ("band_speed", "chip_load", "work_thickness"),
           ("rate", "chip_load")),
    Signal("roughness", "roughness", "um", ("rate", "force"), ("band_speed", "chip_load", "work_thickness")),
)
BY_NAME = {s.name: s for s in SIGNALS}
MOST_GROWTH = 1e15  # whose square single precision still holds


def risen(u, b=None):
    """By how much a growth u (N, n) of the edge raises the log of a signal, and the slope of that with u: log(1 + u),
    or the law of what the edge leaves, with bend b (N, 1)."""
    if b is None:
        return np.log1p(u), 1 / (1 + u)
    steep = np.sqrt(1 + b * b)
    v = np.minimum(u, MOST_GROWTH) * steep - b
    root = np.sqrt(1 + v * v)
    return np.arcsinh(b) + np.log(v + root), steep / root
