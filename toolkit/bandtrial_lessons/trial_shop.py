"""Lesson 4's shop: a real one in all but being invented. Its dial lies, its bands scatter, its lives bend."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import count
from typing import Any

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons.reading import nice
from bandtrial_lessons.shop import Shop, ShopConfig, random_shop, seed_of
from bandtrial_lessons.shop.kinds import speed_check
from bandtrial_lessons.teaching import METAL_IDS, own_random

KINDS = ("any", "bent_life")
PUBLISHED_CHIP = 10.0
"""Chip load of the published start [um], as `recommend` compares with."""
BELOW, ABOVE = (0.68, 0.95), (1.45, 2.3)
"""Speed over the published start at which a band lives as long as pays, drawn between [-]; which of the two decides the
student's draw alone, so that half a class has its best on either side. Heavier chips than that speed is published for
take it back by about a sixth: our saws' own setting."""
SLOPES = (5.0, 9.0)
"""Of log life against log speed there, drawn between [-]."""
STRIP = (4.0, 18.0)
"""Chip load that doubles the wear by chipping, drawn between [um], so that the best one lies on either side of 10."""
RUB = (1.5, 4.0)
"""Chip load that doubles it by rubbing, drawn between [um]."""
HEAVIER = 1.15
"""Chip load at which the life above is stated, over that of `STRIP` [-]."""
LIFE = (50.0, 2000.0)
"""Mean life of a band at the published start, at least and at most [min]; other draws are passed over."""
STRONG = 2.0
"""Motor of these saws over that of the other invented shops [-]."""
PLAIN = {"motor_power": 0.05, "deviation": 0.15}
"""Noise of the readings, with power growing by half or more in a band's life."""
DULLING = 1.7
MACHINE = "vertical"
OFF = 0.04
"""Least error of the dial [-], so that the speed check is worth looking at."""


@dataclass(frozen=True)
class TrialJob:
    """A shop and the work. thickness [mm]; published: true speed [m/min] and feed [mm/min]; yearly: area that will
    be sawn at what the trial finds [cm2]."""

    shop: Shop
    thickness: float
    published: tuple[float, float]
    yearly: float

    @property
    def names(self) -> dict[str, Any]:
        """Machine, stock, material and thickness, as `recommend` and `plan` take them."""
        names = {"machine": MACHINE, "stock": self.shop.stock.id, "material": self.shop.material.id}
        return names | {"thickness_mm": self.thickness}


def trial_job(drawn: str, system: str) -> TrialJob:
    """The shop and work of a student's name or code; draws that make no trial are passed over."""
    for offset in count():
        job = _job(drawn, system, offset)
        if job is not None:
            return job
    raise AssertionError("count() never ends")


def fresh(job: TrialJob) -> Shop:
    """The same shop with no cut made yet: its first band is the same first band."""
    return Shop(job.shop.config)


def _job(drawn: str, system: str, offset: int) -> TrialJob | None:
    """One draw; None where its published start breaks a limit, or bands there live too short or too long."""
    random, side = own_random(f"{drawn}/{offset}", 6), ABOVE if own_random(drawn, 65).random() < 0.5 else BELOW
    metal, kind = str(random.choice(METAL_IDS)), str(random.choice(KINDS))
    L = nice(float(random.uniform(25.0, 60.0)), "length", system)
    config = lying(random_shop(seed_of(drawn) + offset, kind, metals=(metal,)), random)
    start = _start(Shop(config), L)
    tuned = _two_sided(config, random, start[0], side)
    if tuned is None:
        return None
    shop = Shop(tuned)
    sound = shop.within_limits(*start, work_thickness=L, machine=MACHINE)
    minutes = float(shop.long_run(*start, work_thickness=L, machine=MACHINE).minutes)
    if not all(bool(kept) for kept in sound.values()) or not LIFE[0] <= minutes <= LIFE[1]:
        return None
    yearly = float(np.round(np.exp(random.uniform(np.log(3e5), np.log(1.5e6))), -4))
    return TrialJob(shop, L, start, yearly)


def lying(config: ShopConfig, random: np.random.Generator) -> ShopConfig:
    """The vertical machine alone, its dial 4 to 8 % off one way or the other, its readings plain."""
    machine = next(m for m in config.machines if m.sheet.id == MACHINE)
    off = float(random.choice([-1.0, 1.0]) * random.uniform(OFF, 2 * OFF))
    machine = replace(machine, dial=1.0 + off)
    check = speed_check(machine, random)
    strong = STRONG * (machine.sheet.motor_power or 0.0)
    machine = replace(machine, sheet=replace(machine.sheet, speed_check=check, motor_power=strong))
    stock = tuple(replace(s, dulling=DULLING * s.dulling) for s in config.stock)
    return replace(config, machines=(machine,), stock=stock, noise=replace(config.noise, **PLAIN))


def _two_sided(
    config: ShopConfig, random: np.random.Generator, start: float, side: tuple[float, float]
) -> ShopConfig | None:
    """The shop with a metal whose cheapest speed lies on a side of the published one [m/min]; None where the dial does
    not go there."""
    ratio, strip = (float(np.exp(random.uniform(*np.log(ends)))) for ends in (side, STRIP))
    slope, V = float(random.uniform(*SLOPES)), ratio * start
    machine, stock, prices = config.machines[0].sheet, config.stock[0].sheet, config.costs
    if not any(low <= machine.indicated_speed(V) <= high for low, high in machine.band_speed_ranges):
        return None
    law = replace(
        config.materials[0].law, slope=slope, reference_speed=V, strip_chip_load=strip,
        rub_chip_load=float(random.uniform(*RUB)),
    )  # fmt: skip
    config = replace(config, materials=(replace(config.materials[0], law=law),))
    lost = (stock.price or 0.0) + prices.scrapped_piece
    minutes = (slope - 1.0) * (prices.band_change_minutes + 60.0 * lost / prices.machine_and_labor_per_hour)
    feed = float(sawing.feed_rate(V, HEAVIER * strip, stock.tooth_spacing))
    return _lasting(config, (V, feed), minutes)


def reachable(shop: Shop, V: float) -> float:
    """The true band speed nearest to V that the dial can show, as the shop's speed check has it [m/min]."""
    shown = float(shop.machine.indicated_speed(V))
    near = [float(np.clip(shown, *pair)) for pair in shop.machine.band_speed_ranges]
    return float(shop.machine.true_speed(min(near, key=lambda x: abs(np.log(x / shown)))))


def feed_for(shop: Shop, V: float, h: float) -> float:
    """Feed rate of chip load h [um] at V [m/min], inside the machine's range [mm/min]."""
    return float(np.clip(sawing.feed_rate(V, h, shop.stock.tooth_spacing), *feed_range(shop)))


def feed_range(shop: Shop) -> tuple[float, float]:
    """Of the machine [mm/min]."""
    return shop.machine.feed_rate_range or (0.0, np.inf)


def _start(shop: Shop, L: float) -> tuple[float, float]:
    V = reachable(shop, published.band_speed(shop.material.group, L, shop.stock.edge))
    return V, feed_for(shop, V, PUBLISHED_CHIP)


REFERENCE = 50.0
"""Work thickness for which that life is stated [mm]."""


def _lasting(config: ShopConfig, setting: tuple[float, float], minutes: float) -> ShopConfig:
    """The shop with its metal made harder or softer, so that bands last `minutes` at a setting."""
    run = Shop(config).long_run(*setting, work_thickness=REFERENCE, machine=MACHINE)
    material = config.materials[0]
    law = replace(material.law, reference_life=material.law.reference_life * minutes / float(run.minutes))
    return replace(config, materials=(replace(material, law=law),))
