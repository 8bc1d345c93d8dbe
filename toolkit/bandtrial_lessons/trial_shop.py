"""Lesson 4's shop: a real one in all but being invented. Its dial lies, its bands scatter, its lives bend."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import count
from typing import Any

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons.reading import nice
from bandtrial_lessons.shop import Best, NoSettingError, Shop, ShopConfig, random_shop, seed_of
from bandtrial_lessons.shop.kinds import speed_check
from bandtrial_lessons.teaching import METAL_IDS, own_random

KINDS = ("any", "bent_life")
PUBLISHED_CHIP = 10.0
"""Chip load of the published start [um], as `recommend` compares with."""
LIFE = (120.0, 350.0)
"""Minutes of cutting a band lasts at the published start, drawn between: no band is worn out in a trial "
  "there."""
PLAIN = {"motor_power": 0.05, "deviation": 0.15}
"""Noise of the readings, with power growing by half or more in a band's life."""
DULLING = 1.7
MACHINE = "vertical"
OFF = 0.04
"""Least error of the dial [-], so that the speed check is worth looking at."""


@dataclass(frozen=True)
class TrialJob:
    """A shop, the work, and the best that could be done. thickness [mm]; published: true speed [m/min] and "
    "feed."""

    shop: Shop
    thickness: float
    published: tuple[float, float]
    best: Best

    @property
    def names(self) -> dict[str, Any]:
        """Machine, stock, material and thickness, as `recommend` and `plan` take them."""
        names = {"machine": MACHINE, "stock": self.shop.stock.id, "material": self.shop.material.id}
        return names | {"thickness_mm": self.thickness}


def trial_job(name: str, system: str) -> TrialJob:
    """The student's shop and work; of shops without any setting inside limits the next is taken."""
    for offset in count():
        try:
            return _job(name, system, seed_of(name) + offset)
        except NoSettingError:
            continue
    raise AssertionError("count() never ends")


def fresh(job: TrialJob) -> Shop:
    """The same shop with no cut made yet: its first band is the same first band."""
    return Shop(job.shop.config)


def _job(name: str, system: str, seed: int) -> TrialJob:
    random = own_random(name, 6)
    metal, kind = str(random.choice(METAL_IDS)), str(random.choice(KINDS))
    L = nice(float(random.uniform(25.0, 60.0)), "length", system)
    life = float(np.exp(random.uniform(*np.log(LIFE))))
    config = lying(random_shop(seed, kind, metals=(metal,)), random)
    start = _start(Shop(config), L)
    shop = Shop(_lasting(config, start, L, life))
    best = shop.best_setting(work_thickness=L, machine=MACHINE)
    return TrialJob(shop, L, start, best)


def lying(config: ShopConfig, random: np.random.Generator) -> ShopConfig:
    """The vertical machine alone, its dial 4 to 8 % off one way or the other, its readings plain."""
    machine = next(m for m in config.machines if m.sheet.id == MACHINE)
    off = float(random.choice([-1.0, 1.0]) * random.uniform(OFF, 2 * OFF))
    machine = replace(machine, dial=1.0 + off)
    check = speed_check(machine, random)
    machine = replace(machine, sheet=replace(machine.sheet, speed_check=check))
    stock = tuple(replace(s, dulling=DULLING * s.dulling) for s in config.stock)
    return replace(config, machines=(machine,), stock=stock, noise=replace(config.noise, **PLAIN))


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


def _lasting(config: ShopConfig, start: tuple[float, float], L: float, minutes: float) -> ShopConfig:
    """The shop with its metal made harder or softer, so that bands last `minutes` at the published start."""
    V, feed = start
    run = Shop(config).long_run(V, feed, work_thickness=L, machine=MACHINE)
    material = config.materials[0]
    law = replace(material.law, reference_life=material.law.reference_life * minutes / float(run.minutes))
    return replace(config, materials=(replace(material, law=law),))
