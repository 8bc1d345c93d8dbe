"""A student's own shop for the first three lessons: one machine, one band stock, one metal, no scatter.

Its lives follow V T^n = C exactly, its dial is true and its bands are alike, so that a textbook can be tried on
it. The fourth lesson takes that away again. Everything is invented, and follows from the student's name or code.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons.shop import METALS, Noise, Scatter, Shop, ShopConfig, random_shop, seed_of
from bandtrial_lessons.shop.config import VirtualMachine, VirtualMaterial, VirtualStock
from bandtrial_lessons.shop.wear_rate import WearLaw

METAL_IDS = ("mild", "medium", "chromoly", "bearing", "stainless", "iron")
"""Metals whose published speeds, and half as much again, are on the dial."""
STREAM = 21
"""Stream of random numbers of the lessons."""
STRAIGHT = 1e-4
"""Exponent of the speed in the temperature rise. As it goes to 0 at a given slope, the hidden wear law goes over
into a power of the speed: log life is straight in log speed to 1e-3 over a factor 2."""
NEVER = 1e15
"""Bending cycles at which bands of these lessons would break."""
SLOPES = (5.0, 9.0)
"""Of log life against log speed, 1/n, drawn between [-]; our saws' own setting, about the published n of bimetal."""
BEST = (0.72, 1.45)
"""Cheapest speed over the published start, drawn between [-], so that it lies on either side of it."""
CLEAR = 0.07
"""Nearest that it comes to the published start [-]."""
LIVES = (35.0, 1500.0)
"""Of bands at the published start, at least and at most [min]."""
STRIP = (7.0, 17.0)
"""Chip load that doubles the wear by chipping, drawn between [um], so that the best one lies on either side of 10."""
RUB = (2.5, 4.5)
"""Chip load that doubles it by rubbing, drawn between [um]."""
DEARER = (0.4, 0.9)
"""Price of a band over that of an hour, drawn between [-], so that lowest cost and greatest output differ."""
REFERENCE_SPACING_CHIP = 8.0
"""Chip load the life at the published start is stated for [um]."""


def own_random(drawn: str, lesson: int) -> np.random.Generator:
    """Random numbers of a student in a lesson; the same on every computer."""
    return np.random.default_rng([seed_of(drawn), STREAM, lesson])


@dataclass(frozen=True)
class Prices:
    """hour of machine and labor, band [currency]; change of a band [min]."""

    hour: float
    change: float
    band: float

    @property
    def minutes(self) -> float:
        """A change and a new band, in minutes of machine and labor [min]."""
        return self.change + 60.0 * self.band / self.hour


def prices_of(drawn: str) -> Prices:
    """A student's prices, the same in every lesson."""
    random = own_random(drawn, 5)
    hour = float(random.integers(40, 96))
    return Prices(hour, float(random.integers(8, 19)), float(np.round(hour * random.uniform(*DEARER))))


def teaching_shop(drawn: str, thickness: float = 50.0) -> Shop:
    """The student's shop, with a metal, prices and a life law drawn from the name or code.

    Taylor's n lies between 1/9 and 1/5. The life at the published start is such that the cheapest speed lies on
    either side of it, by the closed form of `costs`.

    thickness : work thickness that this life is stated for [mm]
    """
    random = own_random(drawn, 0)
    metal, slope = str(random.choice(METAL_IDS)), float(random.uniform(*SLOPES))
    ratio, sides = 1.0, np.log(BEST)
    while abs(np.log(ratio)) < CLEAR:
        ratio = float(np.exp(random.uniform(*sides)))
    strip, rub = float(np.exp(random.uniform(*np.log(STRIP)))), float(random.uniform(*RUB))
    cheapest = (slope - 1.0) * prices_of(drawn).minutes
    minutes = float(np.clip(cheapest * ratio**slope, *LIVES))
    base = random_shop(seed_of(drawn), metals=(metal,))
    machine, stock = honest(base.machines[0]), unbreakable(base.stock[0])
    law = replace(base.materials[0].law, strip_chip_load=strip, rub_chip_load=rub)
    config = replace(
        base,
        kind="teaching",
        machines=(machine,),
        stock=(stock,),
        materials=(replace(base.materials[0], law=law),),
        scatter=Scatter(wear_shape=1e6, batch=0.0, band=0.0, crooked=0.0),
        noise=Noise(cut_time=0.0, motor_power=0.003, outlier_share=0.0, stopwatch=1e-6, power_step=0.1),
    )
    V = published.band_speed(METALS[metal].group, thickness, stock.sheet.edge)
    contact = float(sawing.contact_minutes(minutes, thickness, machine.sheet.band_length))
    return Shop(replace(config, materials=(straight_life(config, V, slope, contact, thickness),)))


def honest(machine: VirtualMachine) -> VirtualMachine:
    """The machine with a true dial, one range of speeds and a feed that goes as far as the lessons do."""
    sheet = replace(machine.sheet, band_speed_ranges=((15.0, 160.0),), speed_check=(), feed_rate_range=(5.0, 3000.0))
    return replace(machine, sheet=sheet, dial=1.0, dial_bend=0.0, wear_factor=1.0, signals=("motor_power",))


def unbreakable(stock: VirtualStock) -> VirtualStock:
    """The band stock without bending fatigue, so that every band ends by wear."""
    return replace(stock, bending_life=NEVER)


def straight_life(config: ShopConfig, V: float, slope: float, contact: float, thickness: float) -> VirtualMaterial:
    """The first material with Taylor lives: tau = contact (V / v)^slope contact minutes at 8 um chip load.

    V : speed of that life [m/min]; contact : that life [min]; thickness [mm]
    """
    material = config.materials[0]
    law: WearLaw = replace(
        material.law,
        reference_speed=V,
        reference_life=1.0,
        slope=slope,
        abrasive_share=0.0,
        heat_speed=STRAIGHT,
        heat_chip=0.0,
        heat_thickness=0.0,
    )
    trial = Shop(replace(config, materials=(replace(material, law=law),)))
    rate = float(trial.mechanics().wear_rate(V, REFERENCE_SPACING_CHIP, thickness))
    return replace(material, law=replace(law, reference_life=contact * rate))


def cutting_life(shop: Shop, V: float, h: float, L: float) -> float:
    """Hidden life of a typical band [cutting minutes] at speed V [m/min], chip load h [um], thickness L "
    "[mm]."""
    per_minute = float(shop.mechanics().wear_rate(V, h, L)) * L / shop.machine.band_length
    return 1.0 / per_minute
