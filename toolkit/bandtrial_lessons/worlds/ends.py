"""Which bands are left: a hazard that adds up and a threshold that is passed, in every world.

    S = exp(-H) (1 - Phi(z)),

    weibull     H = W^k                              no threshold
    threshold   no hazard                            z = log(W) / s
    chipping    H = a int 2 W (h/10 um)^q dW         z = log(W/1.3) / 0.12
    deviation   H = (W/1.3)^3                        z = log(deviation / limit) / 0.1 of its greatest so far

At a set force a second threshold, z = log(0.15 x new chip / chip) / 0.1: a band that cuts no more is taken off as dull.
Breaks are apart: exp(-(cycles/scale)^shape).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from bandtrial_lessons.worlds.forms import H0
from bandtrial_lessons.worlds.physics import Physics

NEVER = -40.0
EYE = 0.1
"""Log spread of the deviation at which a foreman takes a band off [-]."""
ENDS = ("dull", "dull", "stripped", "crooked")


def hazard(c: dict[str, Any], W: Any, chip_wear: Any) -> Any:
    """H at wear W, `chip_wear` int 2 W (h/10)^q dW so far."""
    form = c["end_form"]
    safe = np.maximum(W, 1e-12)
    H = np.where(form == 0, safe ** c["end_shape"], 0.0)
    H = np.where(form == 2, c["chipping_hazard"] * chip_wear, H)
    return np.where(form == 3, (safe / 1.3) ** 3, H)


def threshold(c: dict[str, Any], W: Any, log_excess: Any, spread: Any = EYE) -> Any:
    """z at wear W; log_excess: log of the greatest deviation so far over the limit, with its log spread."""
    form, log_wear = c["end_form"], np.log(np.maximum(W, 1e-12))
    z = np.where(form == 1, log_wear / c["end_spread"], NEVER)
    z = np.where(form == 2, (log_wear - np.log(1.3)) / 0.12, z)
    return np.maximum(np.where(form == 3, log_excess / spread, z), NEVER)


def log_left(c: dict[str, Any], W: Any, chip_wear: Any, log_excess: Any, slowed: Any, spread: Any = EYE) -> Any:
    """log S of the module's equation; slowed: of `Physics.slowed`, NEVER where no force is set."""
    from scipy.special import log_ndtr

    left = -hazard(c, W, chip_wear) + log_ndtr(-threshold(c, W, log_excess, spread))
    return left + log_ndtr(-np.maximum(slowed / EYE, NEVER)) if np.any(slowed > NEVER) else left


def break_hazard(c: dict[str, Any], cycles: Any) -> Any:
    """(cycles/scale)^shape."""
    return (np.maximum(cycles, 1e-9) / c["break_cycles"]) ** c["break_shape"]


def chip_hazard(c: dict[str, Any], h: Any) -> Any:
    """(h/10 um)^q."""
    return (h / H0) ** c["hazard_chip"]


def end_word(physics: Physics, broken: bool, by_deviation: bool, slow: bool) -> str:
    """How a world's first band end is written down."""
    form = int(physics.constants["end_form"][0])
    if broken:
        return "broken"
    return "dull" if slow or (form == 3 and not by_deviation) else ENDS[form]
