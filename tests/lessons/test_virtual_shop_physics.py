"""The hidden mechanics of the virtual shop against limits, published forms and numerical calculus."""

import math
from dataclasses import replace

import numpy as np
import pytest
from bandtrial_lessons.shop import KINDS, Shop
from bandtrial_lessons.shop.force import chip_force, chip_load_at_thrust, chip_load_of_force, edge_growth
from bandtrial_lessons.shop.wear_path import GRID, wear_path
from bandtrial_lessons.shop.wear_rate import (
    REFERENCE_CHIP_LOAD,
    REFERENCE_THICKNESS,
    WearLaw,
    chipping,
    rubbing,
    wear_rate,
)

LAW = WearLaw(reference_speed=40.0, reference_life=6.0, slope=8.0, abrasive_share=0.2)
REFERENCE = (40.0, REFERENCE_CHIP_LOAD, REFERENCE_THICKNESS)
SPEEDS = np.geomspace(10.0, 160.0, 60)
SHOPS = [Shop(seed, kind=kind) for kind in KINDS for seed in (1, 2)]
NAMES = [f"{shop.config.kind}-{shop.config.seed}" for shop in SHOPS]
every_shop = pytest.mark.parametrize("shop", SHOPS, ids=NAMES)


def slope(law: WearLaw, V: float) -> float:
    """-d log(life) / d log(V) by a central difference; its own error is of order 1e-8."""
    up, down = (math.log(wear_rate(law, V * f, *REFERENCE[1:])) for f in (1 + 1e-4, 1 - 1e-4))
    return (up - down) / (math.log1p(1e-4) - math.log1p(-1e-4))


def test_kienzle_chip_force_is_the_handbook_one():
    """C45, kc1.1 2220 N/mm2, mc 0.14 (Kienzle tables, from memory): 3839 N/mm2 at 0.02 mm, CHECKS D5."""
    assert chip_force(20.0, 2220.0, 0.14) / 0.020 == pytest.approx(3839.0, rel=2e-4)  # 3839 is rounded


def test_reference_state_wears_a_band_in_its_reference_life():
    assert wear_rate(LAW, *REFERENCE) * 6.0 == pytest.approx(1.0, rel=1e-12)


@pytest.mark.parametrize("m", [5.0, 8.0, 12.5])
@pytest.mark.parametrize("abrasive", [0.0, 0.3, 0.6])
def test_local_slope_is_the_stated_taylor_exponent(m, abrasive):
    """V T^n = C has d log T / d log V = -1/n; 0.08 to 0.2 for n is 12.5 to 5 for m (Groover, from memory)."""
    law = replace(LAW, slope=m, abrasive_share=abrasive)
    assert slope(law, law.reference_speed) == pytest.approx(m, rel=1e-6)


def test_a_slope_of_one_is_archard_straight_in_speed():
    """Archard: wear goes with sliding distance, so per minute with speed to the power of 1."""
    law = replace(LAW, slope=1.0)
    assert wear_rate(law, SPEEDS, 10.0, 100.0) / SPEEDS == pytest.approx(1.0 / 40.0 / 6.0, rel=1e-12)


def test_thermal_wear_is_a_straight_line_against_one_over_temperature():
    """Usui: log(wear per sliding distance) is linear in 1/T with slope -C2; checked on scipy's line fit."""
    from bandtrial_lessons.shop.wear_rate import temperature, thermal_wear
    from scipy.stats import linregress

    T = temperature(LAW, SPEEDS, 10.0, 100.0)
    line = linregress(1.0 / T, np.log(thermal_wear(LAW, SPEEDS, 10.0, 100.0) / SPEEDS))
    assert line.slope == pytest.approx(-LAW.activation, rel=1e-9)
    assert line.rvalue == pytest.approx(-1.0, abs=1e-9)


def test_dry_at_the_handbooks_lower_speed_is_as_hot_as_flood():
    """Dry cutting: 30 to 50 % lower speed (Machinery's Handbook 31st ed., p. 1245); 40 % in its middle."""
    from bandtrial_lessons.shop.config import HEAT
    from bandtrial_lessons.shop.wear_rate import temperature

    dry, flood = temperature(LAW, 24.0, 10.0, 100.0, HEAT["dry"]), temperature(LAW, 40.0, 10.0, 100.0)
    assert dry == pytest.approx(flood, abs=3.0)  # HEAT is stated to two decimals: 0.005 x 557 K


@every_shop
def test_wear_rate_rises_with_speed_and_vanishes_with_it(shop):
    m = shop.mechanics()
    rate = m.wear_rate(SPEEDS, 12.0, 50.0)
    assert np.all(np.diff(rate) > 0)
    assert m.wear_rate(1e-9, 12.0, 50.0) < 1e-9 * rate[0]


@every_shop
def test_less_coolant_wears_more(shop):
    rates = [shop.mechanics(coolant=c).wear_rate(40.0, 12.0, 50.0) for c in ("flood", "mist", "air", "dry")]
    assert np.all(np.diff(rates) > 0)


def test_bent_life_bends_and_gentle_hardly():
    """Slope of log life at 1.4 times the reference speed over that at 0.7 of it; 1 for a straight line."""

    def bend(kind: str) -> float:
        law = Shop(5, kind=kind).config.materials[0].law
        return slope(law, 1.4 * law.reference_speed) / slope(law, 0.7 * law.reference_speed)

    assert bend("bent_life") > 2.5
    assert bend("gentle") == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("h, factor", [(0.0, 11.0), (LAW.rub_chip_load, 2.0), (50.0, 1.0)])
def test_rubbing_doubles_wear_at_its_chip_load_and_is_bounded(h, factor):
    assert rubbing(LAW, h) == pytest.approx(factor, rel=1e-8)


def test_chipping_doubles_wear_at_its_chip_load_and_with_a_packed_gullet():
    assert chipping(LAW, LAW.strip_chip_load, 0.0) == pytest.approx(1.0, rel=1e-12)
    assert chipping(LAW, 1e-6, 1.0) == pytest.approx(1.0, rel=1e-12)
    assert chipping(LAW, 1e-6, 0.0) < 1e-30


@every_shop
def test_life_in_area_has_a_best_chip_load(shop):
    """Rubbing on one side and chipping on the other: area per wear, h / R, peaks between 5 and 50 um.

    5 to 50 um is the range of band sawing (Sarwar et al. 2010, abstract read).
    """
    h = np.geomspace(1.0, 100.0, 400)
    best = h[np.argmax(h / shop.mechanics().wear_rate(40.0, h, 20.0))]
    assert 5.0 < best < 50.0


def test_heavy_feed_chips_more_in_the_strong_chip_kind():
    chipped = [Shop(5, kind=kind).mechanics().chipped_share(14.0, 50.0) for kind in ("gentle", "any", "strong_chip")]
    assert np.all(np.diff(chipped) > 0)


def test_edge_growth_starts_at_nothing_fast_then_even_then_fast_again():
    """Three stages of a wear curve (Groover, from memory): slope high, low, high."""
    E = np.linspace(0.0, 2.0, 2001)
    W = edge_growth(E, 0.5, 0.04, 3.0, 0.2)
    rate = np.gradient(W, E)
    assert W[0] == 0.0
    assert rate[0] > 2.0 * rate[500] and rate[-1] > 1.5 * rate[500]


def test_chip_load_at_thrust_solves_the_force_balance():
    """scipy's root finder on thrust = r K h^(1 - mc) + edge; its rounding shifts the root by 2e-3 at most."""
    from scipy.optimize import brentq

    r, kc11, mc, edge, thrust = 0.45, 2350.0, 0.21, 6.0, 40.0
    h = brentq(lambda h: r * chip_force(h, kc11, mc) + edge - thrust, 0.1, 100.0)
    assert chip_load_at_thrust(thrust, edge, r, kc11, mc) == pytest.approx(h, rel=2e-3)


def test_chip_load_of_force_undoes_chip_force():
    h = np.geomspace(0.5, 100.0, 9)
    assert chip_load_of_force(chip_force(h, 2350.0, 0.21), 2350.0, 0.21) == pytest.approx(h, rel=1e-12)


@every_shop
def test_chip_thins_with_dulling_and_thickens_with_force(shop):
    m = shop.mechanics("weight_feed")
    force = m.feed_force(12.0, 50.0, 0.0)
    assert np.all(np.diff(m.chip_load_at_force(force, 50.0, np.linspace(0.0, 1.5, 40))) <= 0)
    assert np.all(np.diff(m.chip_load_at_force(force, 50.0, np.linspace(0.0, 0.5, 40))) < 0)
    assert np.all(np.diff(m.chip_load_at_force(force * np.linspace(0.6, 2.0, 40), 50.0, 0.3)) > 0)


def test_thinning_kind_thins_more():
    def left(kind: str) -> float:
        m = Shop(5, kind=kind).mechanics("weight_feed")
        return float(m.chip_load_at_force(m.feed_force(12.0, 50.0, 0.1), 50.0, 1.0)) / 12.0

    assert left("force_feed_thinning") < 0.9 * left("any")


@every_shop
def test_signals_grow_with_wear_and_load(shop):
    m, E = shop.mechanics(), np.linspace(0.0, 2.0, 50)
    assert np.all(np.diff(m.motor_power(40.0, 12.0, 50.0, E)) > 0)
    assert np.all(np.diff(m.deviation(m.feed_force(12.0, 50.0, E), 50.0, E)) > 0)
    assert np.all(np.diff(m.roughness(12.0, E)) > 0)
    assert np.all(np.diff(m.motor_power(40.0, np.linspace(3.0, 30.0, 50), 50.0, 0.2)) > 0)


@every_shop
def test_power_of_a_sharp_edge_is_kienzles_energy_times_the_volume_sawn(shop):
    """Without edge force and friction: motor power x efficiency = kc h^-mc x mm3 per second."""
    m = shop.mechanics()
    m = replace(m, stock=replace(m.stock, edge_force=0.0), machine=replace(m.machine, idle_power=0.0))
    h = np.array([5.0, 10.0, 20.0])
    feed_rate = h * 40.0 / m.spacing
    volume = feed_rate / 60.0 * 50.0 * m.stock.sheet.kerf
    energy = 0.8 * m.motor_power(40.0, h, 50.0, 0.0) / volume
    assert energy == pytest.approx(m.material.kc11 * (h / 1000.0) ** -m.material.mc / 1000.0, rel=1e-12)


def test_thinner_bands_and_larger_wheels_last_more_bends():
    """Basquin: life with strain to the power of -c; strain of a bent band is thickness / wheel diameter."""
    m = Shop(5).mechanics()
    thin = replace(m.stock, sheet=replace(m.stock.sheet, thickness=m.stock.sheet.thickness / 2.0))
    ratio = replace(m, stock=thin).bending_life() / m.bending_life()
    assert ratio == pytest.approx(2.0**m.stock.bending_exponent, rel=1e-12)


@pytest.mark.parametrize("force", [150.0, 400.0])
def test_wear_path_at_a_set_force_is_the_solution_of_its_differential_equation(force):
    """scipy's solve_ivp on dE/dt = L R(h(E)) / B and dD/dt = F(h(E)); trapezoids on GRID are good to 1e-3."""
    from scipy.integrate import solve_ivp

    m = Shop(5, kind="force_feed_thinning").mechanics()
    V, L, B = 35.0, 50.0, m.machine.sheet.band_length

    def change(t, state):
        h = m.chip_load_at_force(force, L, state[0])
        return [L / B * m.wear_rate(V, h, L), h * V / m.spacing]

    path = wear_path(m, V, L, feed_force=force)
    end = int(np.searchsorted(GRID, 1.0))
    minutes = path.minutes[0, end]
    solved = solve_ivp(change, (0.0, minutes), [0.0, 0.0], rtol=1e-9, atol=1e-9).y[:, -1]
    assert GRID[end] == pytest.approx(solved[0], rel=1e-3)
    assert path.travel[0, end] == pytest.approx(solved[1], rel=1e-3)
