"""Random shops of a kind, each from its seed alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons.shop.config import (
    Costs,
    Scatter,
    ShopConfig,
    VirtualMachine,
    VirtualMaterial,
    VirtualStock,
)
from bandtrial_lessons.shop.dial import true_speed
from bandtrial_lessons.shop.metals import METALS, Metal
from bandtrial_lessons.shop.settings import ShopError
from bandtrial_lessons.shop.sheets import BandStock, Machine, Material
from bandtrial_lessons.shop.wear_rate import REFERENCE_THICKNESS, WearLaw

SHOP = 4
"""Stream of random numbers of a shop's own constants."""


def gentle(config: ShopConfig) -> ShopConfig:
    """Log life nearly straight in log speed, chips that hardly chip the edge, bands much alike."""
    config = _with_law(config, abrasive_share=0.003, strip_exponent=4.0)
    config = _with_strip_factor(config, 1.5)
    return replace(config, scatter=replace(config.scatter, batch=0.05, band=0.05))


def bent_life(config: ShopConfig) -> ShopConfig:
    """Abrasion rules when slow, heat when fast: log life falls ever more steeply with log speed."""
    return _with_law(config, abrasive_share=0.18)


def strong_chip(config: ShopConfig) -> ShopConfig:
    """Heavy chips chip the edges: the cheapest chip load is well inside the range."""
    config = _with_law(config, strip_exponent=7.0, pressure_exponent=0.9, heat_chip=0.03)
    return _with_strip_factor(config, 0.75)


def force_feed_thinning(config: ShopConfig) -> ShopConfig:
    """Dull edges take much of the feed force, so that chips thin fast; the force machine comes first."""
    stock = tuple(replace(s, edge_thrust=1.3 * s.edge_thrust, dulling=1.2 * s.dulling) for s in config.stock)
    machines = sorted(config.machines, key=lambda m: m.sheet.feed != "force")
    return replace(config, stock=stock, machines=tuple(machines))


KINDS: dict[str, Callable[[ShopConfig], ShopConfig]] = {
    "any": lambda config: config,
    "gentle": gentle,
    "bent_life": bent_life,
    "strong_chip": strong_chip,
    "force_feed_thinning": force_feed_thinning,
}


def random_shop(seed: int, kind: str = "any", metals: tuple[str, ...] | None = None, count: int = 3) -> ShopConfig:
    """A shop drawn from the seed: two machines (set feed rate, set feed force), a band stock, some materials.

    kind : one of `KINDS`
    metals : ids of `metals.METALS` to use; None draws `count` of them

    Raises `ShopError` for an unknown kind or metal.
    """
    _known_names(kind, metals or ())
    random = np.random.default_rng([seed, SHOP])
    drawn = [str(id) for id in random.permutation(list(METALS))[:count]]
    shop_factor = float(np.exp(0.10 * random.standard_normal()))
    config = ShopConfig(
        kind=kind,
        seed=seed,
        machines=(_machine(random, "rate"), _machine(random, "force")),
        stock=(_stock(random),),
        materials=tuple(_material(random, METALS[id], shop_factor) for id in metals or drawn),
        costs=_costs(random),
        scatter=_scatter(random),
    )
    return KINDS[kind](config)


def _known_names(kind: str, metals: tuple[str, ...]) -> None:
    wrong = []
    if kind not in KINDS:
        wrong.append(f'kind "{kind}" is not known; it is one of {", ".join(KINDS)}.')
    for id in metals:
        if id not in METALS:
            wrong.append(f'metal "{id}" is not known; it is one of {", ".join(METALS)}.')
    if wrong:
        raise ShopError("\n".join(wrong))


def _with_law(config: ShopConfig, **changes: float) -> ShopConfig:
    """The same shop with fields of every material's wear law changed."""
    materials = tuple(replace(m, law=replace(m.law, **changes)) for m in config.materials)
    return replace(config, materials=materials)


def _with_strip_factor(config: ShopConfig, factor: float) -> ShopConfig:
    """The same shop with edges that chip at `factor` times the chip load."""
    materials = tuple(
        replace(m, law=replace(m.law, strip_chip_load=factor * m.law.strip_chip_load)) for m in config.materials
    )
    return replace(config, materials=materials)


def _scatter(random: np.random.Generator) -> Scatter:
    return Scatter(
        wear_shape=random.uniform(2.2, 4.0),
        batch=random.uniform(0.05, 0.18),
        band=random.uniform(0.05, 0.15),
    )


def _costs(random: np.random.Generator) -> Costs:
    return Costs(
        machine_and_labor_per_hour=float(random.integers(40, 96)),
        band_change_minutes=float(random.integers(8, 19)),
        scrapped_piece=float(random.integers(5, 61)),
    )


def _machine(random: np.random.Generator, feed: str) -> VirtualMachine:
    wheel = float(random.choice([500.0, 600.0, 700.0]))
    sheet = Machine(
        id="vertical" if feed == "rate" else "weight_feed",
        kind="vertical",
        feed=feed,
        band_speed_ranges=((15.0, 45.0), (55.0, 160.0)) if random.random() < 0.5 else ((15.0, 140.0),),
        wheel_diameter=wheel,
        band_length=float(np.round(sawing.equal_wheels_band_length(wheel, 1.8 * wheel), -1)),
        motor_power=float(random.choice([3000.0, 4000.0, 5500.0])),
        feed_rate_range=(10.0, 1500.0) if feed == "rate" else None,
        feed_force_range=(60.0, 1500.0) if feed == "force" else None,
    )
    machine = VirtualMachine(
        sheet=sheet,
        dial=random.uniform(0.92, 1.05),
        dial_bend=random.uniform(-0.02, 0.02),
        wear_factor=float(np.exp(0.12 * random.standard_normal())),
        signals=("motor_power", "deviation") if feed == "rate" else ("deviation",),
    )
    return replace(machine, sheet=replace(sheet, speed_check=speed_check(machine, random)))


def speed_check(machine: VirtualMachine, random: np.random.Generator) -> tuple[tuple[float, float], ...]:
    """(indicated, measured) at three speeds [m/min]: the dial's lie, give or take 0.3 %."""
    speeds = [speed for pair in machine.sheet.band_speed_ranges for speed in pair]
    indicated = np.round(min(speeds) + (max(speeds) - min(speeds)) * np.array([0.15, 0.45, 0.85]))
    measured = true_speed(machine, indicated) * np.exp(0.003 * random.standard_normal(3))
    return tuple(zip(indicated.tolist(), np.round(measured, 1).tolist(), strict=True))


def _stock(random: np.random.Generator) -> VirtualStock:
    sheet = BandStock(
        id="six",
        pitch_tpi=6.0,
        tooth_form="regular",
        set="raker",
        edge="bimetal",
        price=float(random.integers(30, 91)),
        width=20.0,
        thickness=0.9,
        kerf=1.4,
    )
    return VirtualStock(
        sheet=sheet,
        edge_force=random.uniform(6.0, 10.0),
        edge_thrust=random.uniform(1.8, 3.0),
        break_in=random.uniform(0.3, 0.8),
        dulling=random.uniform(2.0, 3.5),
        bending_life=float(3.0e4 * np.exp(0.4 * random.standard_normal())),
    )


def _material(random: np.random.Generator, metal: Metal, shop_factor: float) -> VirtualMaterial:
    """Its real reference speed is the published one times a factor of the shop and one of its own."""
    published_speed = published.band_speed(metal.group, REFERENCE_THICKNESS)
    law = WearLaw(
        reference_speed=published_speed * shop_factor * float(np.exp(0.10 * random.standard_normal())),
        reference_life=float(12.0 * np.exp(0.30 * random.standard_normal())),
        slope=float(7.5 * np.exp(0.20 * random.standard_normal())),
        abrasive_share=random.uniform(0.02, 0.10),
        pressure_exponent=1.0 - metal.mc,
        heat_chip=random.uniform(0.0, 0.03),
        heat_thickness=random.uniform(0.0, 0.03),
        rub_chip_load=random.uniform(4.0, 7.0),
        strip_chip_load=metal.strip_chip_load * float(np.exp(0.1 * random.standard_normal())),
    )
    sheet = Material(metal.id, metal.name, metal.group, metal.hardness)
    return VirtualMaterial(sheet, metal.kc11, metal.mc, law, thrust_ratio=random.uniform(0.38, 0.52))
