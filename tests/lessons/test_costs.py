"""Economics of a life law, against published worked examples and scipy."""

import numpy as np
import pytest
from bandtrial_lessons import costs
from scipy.optimize import minimize_scalar

FIVE_FIGURES = 5e-5
"""Answers given to 5 figures: half a unit of the last one."""
GROOVER = {"n": 0.125, "C": 70.0}


def test_greatest_output_of_the_turning_example():
    """Groover, Fundamentals of Modern Manufacturing, machining economics, from memory; prints 50 m/min."""
    assert costs.maximum_output_life(0.125, 2.0) == pytest.approx(14.0, rel=1e-12)
    assert costs.maximum_output_speed(**GROOVER, band_change_minutes=2.0) == pytest.approx(50.3306, rel=FIVE_FIGURES)


def test_lowest_cost_of_the_turning_example():
    """The same example: change 2.0 min, 30 per hour, 3 per edge; book prints 42 m/min."""
    assert costs.minimum_cost_life(0.125, 2.0, 3.0, 30.0) == pytest.approx(56.0, rel=1e-12)
    speed = costs.minimum_cost_speed(
        **GROOVER, band_change_minutes=2.0, band_price=3.0, machine_and_labor_per_hour=30.0
    )
    assert speed == pytest.approx(42.3228, rel=FIVE_FIGURES)


def test_lowest_cost_with_a_dearer_hour():
    """Textbook-type exercise, answers computed: C 80, n 0.13, change 3 min, 3.3333 per edge, 40 per hour."""
    assert costs.minimum_cost_life(0.13, 3.0, 10.0 / 3.0, 40.0) == pytest.approx(53.538, rel=FIVE_FIGURES)
    assert costs.minimum_cost_speed(0.13, 80.0, 3.0, 10.0 / 3.0, 40.0) == pytest.approx(47.683, rel=FIVE_FIGURES)


def test_the_turning_example_part_by_part():
    """The same part (500 x 100 mm, feed 0.25 mm/rev) priced piece by piece, without our formulas: the cost of
    one part is cutting time + its share of a change + its share of an edge; a search finds the same speed."""

    def part_cost(v):
        minutes = np.pi * 0.100 * 500.0 / (v * 0.25)
        parts_per_edge = (70.0 / v) ** 8 / minutes
        return 30.0 / 60.0 * (minutes + 2.0 / parts_per_edge) + 3.0 / parts_per_edge

    found = minimize_scalar(part_cost, bounds=(10.0, 69.0), method="bounded", options={"xatol": 1e-8}).x
    ours = costs.minimum_cost_speed(**GROOVER, band_change_minutes=2.0, band_price=3.0,
                                    machine_and_labor_per_hour=30.0)  # fmt: skip
    assert ours == pytest.approx(found, rel=1e-6)  # a minimum is located to the square root of the rounding


@pytest.mark.parametrize("n", [0.08, 0.125, 0.25, 0.5])
@pytest.mark.parametrize("L", [5.0, 50.0])
def test_closed_forms_against_a_search_for_a_band(n, L):
    """Band in contact minutes, chip load 8 um, 4 mm spacing: closed forms against scipy's bounded search."""
    C = costs.cutting_constant(60.0, n, L, 4000.0)
    shop = {"band_change_minutes": 12.0, "band_price": 48.0, "machine_and_labor_per_hour": 72.0}

    def life_and_rate(V):
        return 4000.0 / L * (60.0 / V) ** (1.0 / n), 8.0 * V / 4.0 * L / 100.0

    def cost(log_v):
        T, Z = life_and_rate(np.exp(log_v))
        return costs.cost_per_area(cutting_rate=Z, life=T, **shop)

    def slowness(log_v):
        T, Z = life_and_rate(np.exp(log_v))
        return 1.0 / costs.output_rate(Z, T, 12.0)

    search = {"bounds": (np.log(1.0), np.log(2e3)), "method": "bounded", "options": {"xatol": 1e-9}}
    cheapest = np.exp(minimize_scalar(cost, **search).x)
    quickest = np.exp(minimize_scalar(slowness, **search).x)
    assert costs.minimum_cost_speed(n, C, **shop) == pytest.approx(cheapest, rel=1e-6)  # as above
    assert costs.maximum_output_speed(n, C, 12.0) == pytest.approx(quickest, rel=1e-6)
    assert cheapest < quickest


def test_exponent_without_a_best_speed():
    with pytest.raises(ValueError) as caught:
        costs.minimum_cost_speed(1.2, 70.0, 2.0, 3.0, 30.0)
    assert str(caught.value) == (
        "Taylor exponent n = 1.2 has no best speed; n must lie between 0 and 1 "
        "(at n >= 1 output and cost both gain from any higher speed)"
    )


def test_cost_per_cut_adds_handling():
    """Arithmetic: 100 cm2 at 0.15 per cm2 and 2 minutes at 60 per hour."""
    assert costs.cost_per_cut(0.15, 100.0, 2.0, 60.0) == pytest.approx(17.0, rel=1e-12)
