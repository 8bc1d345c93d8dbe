"""What a setting must not break on a virtual machine, and whether it does: the truth, without any doubt."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from bandtrial import sawing
from bandtrial.sawing import Numbers
from numpy.typing import NDArray

from bandtrial_lessons.shop.dial import true_speed
from bandtrial_lessons.shop.mechanics import Mechanics


@dataclass(frozen=True)
class Limits:
    """Limits of a machine with a band; None: no such limit."""

    band_speed_ranges: tuple[tuple[float, float], ...]
    """True [m/min]."""
    feed_range: tuple[float, float] | None
    """Feed rate [mm/min] or feed force [N]."""
    motor_power: float | None
    """[W]"""
    gullet_fill: float | None = 1.0
    least_chip_load: float | None = 5.0
    """[um]; sarwar_2010 gives 5 to 50 for band sawing."""
    greatest_chip_load: float | None = 50.0
    least_teeth: float | None = 2.0
    """Teeth in the cut (navy_14119 and others; another source says 3)."""
    deviation: float | None = None
    """[mm]"""
    wear_used: float = 0.5
    """Where in a typical band's life power, chip load at a set force and deviation are looked at [-]."""


def limits_of(mechanics: Mechanics, **changes: Any) -> Limits:
    """The limits of the machine's sheet, with the dial's lie taken out; changes replace fields."""
    sheet = mechanics.machine.sheet
    ranges = tuple(
        (float(true_speed(mechanics.machine, low)), float(true_speed(mechanics.machine, high)))
        for low, high in sheet.band_speed_ranges
    )
    feed = sheet.feed_force_range if sheet.feed == "force" else sheet.feed_rate_range
    return Limits(**{"band_speed_ranges": ranges, "feed_range": feed, "motor_power": sheet.motor_power, **changes})


def values(mechanics: Mechanics, V: Numbers, L: Numbers, feed: Numbers, wear_used: float) -> dict[str, Numbers]:
    """True value of what each limit holds, by the names of `Limits` (chip_load for both of its limits)."""
    E = wear_used
    if mechanics.feed_name == "feed_force":
        h, force = mechanics.chip_load_at_force(feed, L, E), feed
    else:
        h = sawing.chip_load(V, feed, mechanics.spacing)
        force = mechanics.feed_force(h, L, E)
    return {
        "band_speed": V,
        "feed": feed,
        "chip_load": h,
        "motor_power": mechanics.motor_power(V, h, L, E),
        "gullet_fill": mechanics.gullet_fill(h, L),
        "teeth": sawing.teeth_in_cut(L, mechanics.spacing),
        "deviation": mechanics.deviation(force, L, E),
    }


def kept(mechanics: Mechanics, limits: Limits, V: Numbers, L: Numbers, feed: Numbers) -> dict[str, NDArray[np.bool_]]:
    """Which limits each setting keeps: name -> array of bool, over the broadcast shape of V, L and feed."""
    V, L, feed = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (V, L, feed)))
    is_ = values(mechanics, V, L, feed, limits.wear_used)
    slack = 1e-9
    checks = {
        "band_speed": np.any([between(V, r) for r in limits.band_speed_ranges], axis=0),
        "feed": between(feed, limits.feed_range or (0.0, np.inf)),
        "motor_power": is_["motor_power"] <= (limits.motor_power or np.inf),
        "gullet_fill": is_["gullet_fill"] <= (limits.gullet_fill or np.inf) * (1 + slack),
        "least_chip_load": is_["chip_load"] >= (limits.least_chip_load or 0.0) * (1 - slack),
        "greatest_chip_load": is_["chip_load"] <= (limits.greatest_chip_load or np.inf) * (1 + slack),
        "teeth": is_["teeth"] >= (limits.least_teeth or 0.0),
        "deviation": is_["deviation"] <= (limits.deviation or np.inf),
    }
    return {name: np.broadcast_to(ok, V.shape) for name, ok in checks.items()}


def between(x: NDArray[np.float64], pair: tuple[float, float]) -> NDArray[np.bool_]:
    """low <= x <= high, with room for rounding."""
    return (x >= pair[0] * (1 - 1e-9)) & (x <= pair[1] * (1 + 1e-9))
