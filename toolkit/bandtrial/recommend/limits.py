"""The limits of a setting: value, limit, margin, unit, whether it holds and how surely."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bandtrial import sawing

from .power import motor_power, power_limit
from .surface import MID_WEAR, names

SURE = 0.9  # an uncertain limit has to hold with this probability
LEAST_CHIP = 5.0  # [um] below it a tooth rubs (sarwar_2010: chip loads of 5 to 50 um)
GREATEST_CHIP = 50.0  # [um]
FULLEST = 0.98  # gullet fill: a speed check leaves the true speed, and so the chip, uncertain by some 2 %; no source
LEAST_TEETH, BEST_TEETH, MOST_TEETH = 2.0, 3.0, 24.0  # published/tooth_pitch.csv
BROKEN_IN = 0.05  # wear used of a new band that is broken in: at a set force it cuts the thickest chips
SIGNAL_WEAR = np.array([0.0, 0.35, 0.7, 1.0])  # wear used at which a deviation is followed


@dataclass(frozen=True)
class Limit:
    """One limit at the recommended setting.

    at_most : which side of the limit is allowed; probability : that it holds; note : in words
    """

    name: str
    value: float
    limit: float
    unit: str
    at_most: bool
    probability: float
    note: str = ""

    @property
    def ok(self) -> bool:
        """Holds, with 90 % probability where it is uncertain."""
        return self.probability >= SURE

    @property
    def margin(self) -> float:
        """Share of the limit left [-], negative where it is broken."""
        away = self.limit - self.value if self.at_most else self.value - self.limit
        return away / abs(self.limit) if self.limit else 0.0

    def to_json(self) -> dict:
        """The keys of DESIGN section 7, and margin and note."""
        keys = ("name", "value", "limit", "unit", "ok", "probability", "margin", "note")
        return {key: getattr(self, key) for key in keys}


THICK_ENOUGH = f"chips of {LEAST_CHIP:g} um or more"


def allowed(fit, job, region, band_speed, bite, rubbing: bool = False):
    """Settings (n,) that hold every limit that does not depend on when the band is changed.

    rubbing : let chips be thinner than the least, as a trial cut may
    """
    holds = conditions(fit, job, region, band_speed, bite)
    return np.all([ok for name, ok in holds.items() if not (rubbing and name == THICK_ENOUGH)], axis=0)


def conditions(fit, job, region, band_speed, bite) -> dict:
    """Where each limit that does not depend on when the band is changed holds (n,), by its name in words."""
    V, bite = np.asarray(band_speed, float), np.asarray(bite, float)
    lo, hi = job.feed_range()
    feed = job.feed_of(V, bite)
    h = chip_loads(fit, job, V, bite)
    fresh = chip_loads(fit, job, V, bite, BROKEN_IN)
    fill = sawing.gullet_fill(h, job.thickness, job.gullet_area)
    power = motor_power(fit, job, region, V, bite)

    def surely(good):
        return np.mean(good, axis=0) >= SURE

    return {
        "a band speed that the dial has": in_ranges(job, V),
        "a feed that the machine has": (feed >= lo * (1 - 1e-9)) & (feed <= hi * (1 + 1e-9)),
        "a step within reach of what was tried": region.outside(job, V, bite) <= 1 + 1e-6,
        f"chips of {GREATEST_CHIP:g} um or less": surely(h <= GREATEST_CHIP) & surely(fresh <= GREATEST_CHIP),
        "chips of a fresh band near what was tried": np.median(fresh, axis=0) <= region.heaviest_chip(job) * (1 + 1e-9),
        "the gullet fill": surely(fill <= FULLEST * (1 + 1e-9)),
        "the motor power": surely(power <= power_limit(job)),
        THICK_ENOUGH: surely(h >= LEAST_CHIP),
    }


def ruled_out(fit, job, region, band_speed, bite) -> list[str]:
    """What would help where no setting holds all of `conditions`: the limits that fail, and the way out."""
    holds = conditions(fit, job, region, band_speed, bite)
    n = len(next(iter(holds.values())))
    failing = [f"{name} at {int(ok.sum())}" for name, ok in holds.items() if not ok.all()]
    out = [f"see which limits rule it out: of {n} settings looked at, " + ", ".join(failing) + "; none holds them all."]
    if not holds[THICK_ENOUGH].all():
        more = "feed force" if job.feed == "force" else "feed rate"
        out.append(f"trial cuts at a greater {more}, a step at a time: chips so thin rub more than they cut.")
    return out


def in_ranges(job, band_speed):
    """True band speeds (n,) that the dial can show: inside one of the machine's ranges, as indicated."""
    shown = job.machine.indicated_speed(band_speed)
    ranges = job.machine.band_speed_ranges
    inside = [(shown >= lo * (1 - 1e-9)) & (shown <= hi * (1 + 1e-9)) for lo, hi in ranges]
    return np.any(inside, axis=0)


def chip_loads(fit, job, V, bite, wear_used: float = MID_WEAR):
    """Chip load (S, n) [um] at a wear used; (1, n) where the feed rate is set, which does not thin."""
    if job.feed != "force":
        return np.asarray(bite, float)[None, :]
    return fit.chip_load_at_force(job.feed_of(V, bite), V, job.thickness, wear_used=wear_used, **names(job))


def deviations(fit, job, V, h):
    """Deviation (S, n, K) [mm] at SIGNAL_WEAR."""
    E = SIGNAL_WEAR
    V, h, wear = np.repeat(V, len(E)), np.repeat(h, len(E)), np.tile(E, len(V))
    values = fit.signal("deviation", V, h, job.thickness, wear_used=wear, **names(job))
    return values.reshape(len(values), -1, len(E))


def deviation_holds(fit, job, V, bite, limit: float, log_wear):
    """Probability (n, J) that the deviation stays within the limit up to the change-out.

    A band run to its end is followed to E = 1, the characteristic end.
    """
    h = np.median(chip_loads(fit, job, V, bite), axis=0)
    at = _crossing(deviations(fit, job, V, h), limit)
    used = np.minimum(np.exp(np.minimum(log_wear, 5.0)), 1.0)
    return np.mean(used <= at[:, :, None], axis=0)


def _crossing(values, limit: float):
    """Wear used (S, n) at which values (S, n, K) along SIGNAL_WEAR pass the limit; -1 from the start."""
    over = values > limit
    k = np.argmax(over, axis=-1)
    before = np.maximum(k - 1, 0)
    y0 = np.take_along_axis(values, before[..., None], -1)[..., 0]
    y1 = np.take_along_axis(values, k[..., None], -1)[..., 0]
    share = (limit - y0) / np.where(y1 > y0, y1 - y0, 1.0)
    at = SIGNAL_WEAR[before] + share * (SIGNAL_WEAR[k] - SIGNAL_WEAR[before])
    return np.where(~over.any(axis=-1), np.inf, np.where(k == 0, -1.0, at))
