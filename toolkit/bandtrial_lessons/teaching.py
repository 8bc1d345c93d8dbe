"""A student's own shop for the first three lessons: one machine, one band stock, one metal, no scatter.

Its lives follow V T^n = C exactly, its dial is true and its bands are alike, so that a textbook can be tried on
it. The fourth lesson takes that away again. Everything is invented, and follows from the student's name.
"""

from __future__ import annotations

from dataclasses import replace

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
REFERENCE_SPACING_CHIP = 8.0
"""Chip load the life at the published start is stated for [um]."""


def own_random(name: str, lesson: int) -> np.random.Generator:
    """Random numbers of a student in a lesson; the same on every computer."""
    return np.random.default_rng([seed_of(name), STREAM, lesson])


def teaching_shop(name: str, thickness: float = 50.0) -> Shop:
    """The student's shop, with a metal, prices and a life law drawn from the name.

    Taylor's n lies between 1/9 and 1/5; a band lasts 100 to 250 minutes of cutting at the published start.

    thickness : work thickness that this life is stated for [mm]
    """
    random = own_random(name, 0)
    metal = str(random.choice(METAL_IDS))
    slope, minutes = float(random.uniform(5.0, 9.0)), float(np.exp(random.uniform(np.log(100.0), np.log(250.0))))
    base = random_shop(seed_of(name), metals=(metal,))
    machine, stock = honest(base.machines[0]), unbreakable(base.stock[0])
    config = replace(
        base,
        kind="teaching",
        machines=(machine,),
        stock=(stock,),
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
