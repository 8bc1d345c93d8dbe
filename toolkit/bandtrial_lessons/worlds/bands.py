"""A band at work in one world: how it wears, what is read off it, when it ends."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from bandtrial_lessons.worlds import ends, forms
from bandtrial_lessons.worlds.longrun import PACE
from bandtrial_lessons.worlds.physics import Physics
from bandtrial_lessons.worlds.sheet import Work

FREEDOM = (30.0, 3.0)
"""Degrees of freedom of the noise: plain, heavy."""
RATE_NOISE = 0.004
"""Log spread of the feed rate about the one set [-]."""


@dataclass
class Band:
    """Its own wear rate and levels (logs), its luck (uniform: where its survival function meets it), and its state."""

    rate: float
    level: dict[str, float]
    luck: float
    break_luck: float
    wear: float = 0.0
    chip_wear: float = 0.0
    excess: float = -np.inf
    slowed: float = ends.NEVER
    run: float = 0.0
    """How far it has run [mm]."""
    strayed: dict[str, float] = field(default_factory=dict)
    end: str = "in_service"


@dataclass(frozen=True)
class Cut:
    """One row: minutes of one piece, chip load, share of the travel that was sawn, readings; V true."""

    V: float
    h: float
    feed_rate: float
    minutes: float
    share: float
    power: float
    deviation: float


def new_band(physics: Physics, rng: np.random.Generator, batch: float) -> Band:
    """batch: standard normal that its batch shares."""
    c = {name: float(value[0]) for name, value in physics.constants.items()}
    own = np.sqrt(c["batch"]) * batch + np.sqrt(1 - c["batch"]) * rng.standard_normal()
    level = {"power": c["power_band"] * rng.standard_normal(), "deviation": c["deviation_band"] * rng.standard_normal()}
    return Band(c["band_scatter"] * own, level, rng.random(), rng.random())


def cut(physics: Physics, rng: np.random.Generator, band: Band, work: Work, indicated: float, feed: float,
        travel: float, pieces: int = 1) -> Cut:  # fmt: skip
    """Make `pieces` cuts alike; the band wears, and may end in the last part of them."""
    c, sheet = {name: float(value[0]) for name, value in physics.constants.items()}, physics.sheet
    V = float(np.exp(c["dial"]) * indicated)
    one = np.ones((1, 1))
    if sheet.force_set:
        h = float(physics.chip_at_force(feed * one, band.wear * one, work.thickness, work.force, work.metal)[0, 0])
        feed_rate = h * V / sheet.spacing
    else:
        spread = PACE if sheet.kind == "hand" else RATE_NOISE
        feed_rate = float(feed * np.exp(spread * rng.standard_normal()))
        h = feed_rate * sheet.spacing / V
    x = V / work.speed
    minutes = travel / feed_rate
    contact = pieces * minutes * work.thickness / sheet.band_length
    rate = float(physics.wear_rate(x * one, h * one, work.thickness, work.metal)[0, 0]) * np.exp(band.rate)
    share = _wear(physics, band, work, x, h, feed, contact * rate, 1000 * V * minutes * pieces)
    W = band.wear * one
    power = float(physics.power(V, h * one, W, work.thickness, work.force, work.metal)[0, 0])
    dev = float(physics.deviation(x, h * one, W, work.thickness)[0, 0])
    read = {
        "power": power * np.exp(band.level["power"] + _error(c, rng, band, "power", c["power_noise"])),
        "deviation": dev * np.exp(band.level["deviation"] + _error(c, rng, band, "deviation", c["deviation_noise"])),
    }
    timed = _error(c, rng, band, "time", c["time_noise"]) if sheet.force_set else 0.0
    return Cut(V, h, feed_rate, minutes * float(np.exp(timed)), share, read["power"], read["deviation"])


def _wear(physics: Physics, band: Band, work: Work, x: float, h: float, feed: float, wear: float,
          way: float) -> float:  # fmt: skip
    """Let the band wear by `wear` and run `way` mm; the share of it after which it ended (1 if not)."""
    before = _log_left(physics, band, work, x, h, feed, 0.0, way, wear)
    after = _log_left(physics, band, work, x, h, feed, 1.0, way, wear)
    share = 1.0
    if np.any(after < np.log([band.luck, band.break_luck])):
        steps = np.linspace(0, 1, 101)
        left = np.array([_log_left(physics, band, work, x, h, feed, s, way, wear) for s in steps])
        gone = left < np.log([band.luck, band.break_luck])
        first = [steps[np.argmax(g)] if g.any() else np.inf for g in gone.T]
        share = float(max(min(first), 0.01))
        by_deviation = bool(band.luck > 0 and _excess(physics, band, work, x, h, share, wear) >= -0.25)
        slow = _slowed(physics, band, work, feed, share, wear) >= -0.25
        band.end = ends.end_word(physics, first[1] <= first[0], by_deviation, slow)
    assert np.all(before >= after - 1e-9)
    c = physics.shaped(1)
    middle = band.wear + 0.5 * share * wear
    band.chip_wear += 2 * middle * share * wear * float(ends.chip_hazard(c, np.full((1, 1), h))[0, 0])
    band.excess = max(band.excess, _excess(physics, band, work, x, h, share, wear))
    band.slowed = max(band.slowed, _slowed(physics, band, work, feed, share, wear))
    band.wear += share * wear
    band.run += share * way
    return share


def _log_left(physics: Physics, band: Band, work: Work, x: float, h: float, feed: float, share: float, way: float,
              wear: float) -> Any:  # fmt: skip
    """Log survival (wear, breaks) after a share of what is to come."""
    c = physics.shaped(1)
    W = np.full((1, 1), band.wear + share * wear)
    middle, chip = band.wear + 0.5 * share * wear, ends.chip_hazard(c, np.full((1, 1), h))
    chip_wear = band.chip_wear + 2 * middle * share * wear * chip
    excess = max(band.excess, _excess(physics, band, work, x, h, share, wear))
    turns = 2 * (band.run + share * way) / physics.sheet.band_length
    slowed = max(band.slowed, _slowed(physics, band, work, feed, share, wear))
    worn = ends.log_left(c, W, chip_wear, excess, slowed)[0, 0]
    return np.array([worn, -ends.break_hazard(c, np.full((1, 1), turns))[0, 0]])


def _excess(physics: Physics, band: Band, work: Work, x: float, h: float, share: float, wear: float) -> float:
    """Log of the deviation over the limit after a share of what is to come."""
    W = np.full((1, 1), band.wear + share * wear)
    dev = float(physics.deviation(x, np.full((1, 1), h), W, work.thickness)[0, 0])
    return float(np.log(dev / physics.deviation_limit()[0]) + band.level["deviation"])


def _slowed(physics: Physics, band: Band, work: Work, feed: float, share: float, wear: float) -> float:
    """`Physics.slowed` after a share of what is to come; NEVER where no force is set."""
    if not physics.sheet.force_set:
        return ends.NEVER
    W = np.full((1, 1), band.wear + share * wear)
    return float(physics.slowed(np.full((1, 1), feed), W, work.thickness, work.force, work.metal)[0, 0])


def _error(c: dict[str, float], rng: np.random.Generator, band: Band, signal: str, spread: float) -> float:
    """The log error of a reading: t noise, straying slowly along the band's cuts where the world's deviation does."""
    step = spread * float(rng.standard_t(FREEDOM[int(c["heavy"])]))
    strays = signal == "deviation" and int(c["deviation_form"]) in forms.STRAYING
    if not strays or signal not in band.strayed:
        band.strayed[signal] = step
        return step
    rho = c["straying"]
    band.strayed[signal] = rho * band.strayed[signal] + np.sqrt(1 - rho**2) * step
    return band.strayed[signal]
