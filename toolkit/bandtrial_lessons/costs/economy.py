"""Cost and output at a known life: the textbook economics of a tool-life law, told for a band.

Cutting takes 1 / Z minutes per area. A band lasts T cutting minutes and then costs a change t_c and its
price. Per area that is
    cost = (c + (c t_c + p) / T) / Z,        c = machine and labor per minute.
At a constant chip load Z is proportional to V, and T = (C / V)^(1/n), so d cost / dV = 0 gives
    T = (1/n - 1) (t_c + p / c)              lowest cost,
    T = (1/n - 1) t_c                        greatest output (the same with p = 0),
whatever the chip load and the section. Needs n < 1: above, the fastest speed always wins.
Source: Groover, Fundamentals of Modern Manufacturing, machining economics.
"""

import numpy as np

from bandtrial_lessons.costs.taylor import Numbers, taylor_speed


def cost_per_area(
    cutting_rate: Numbers,
    life: Numbers,
    machine_and_labor_per_hour: Numbers,
    band_change_minutes: Numbers,
    band_price: Numbers,
) -> Numbers:
    """Cost per area (c + (c t_c + p) / T) / Z [money/cm2].

    cutting_rate : Z [cm2/min]
    life : T, in cutting minutes [min]
    machine_and_labor_per_hour : 60 c [money/h]
    band_change_minutes : t_c [min]
    band_price : p, for one band [money]

    >>> cost_per_area(10.0, 120.0, 60.0, 12.0, 48.0)
    0.15
    """
    c = machine_and_labor_per_hour / 60.0
    return (c + (c * band_change_minutes + band_price) / life) / cutting_rate


def cost_per_cut(cost_per_area: Numbers, area: Numbers, handling_minutes: Numbers = 0.0,
                 machine_and_labor_per_hour: Numbers = 0.0) -> Numbers:  # fmt: skip
    """Cost of one cut: area x cost per area + handling at the machine's rate [money].

    cost_per_area [money/cm2], area [cm2], handling_minutes [min], machine_and_labor_per_hour [money/h]

    >>> cost_per_cut(0.15, 100.0, 2.0, 60.0)
    17.0
    """
    return cost_per_area * area + handling_minutes * machine_and_labor_per_hour / 60.0


def output_rate(cutting_rate: Numbers, life: Numbers, band_change_minutes: Numbers) -> Numbers:
    """Area per minute with the changes counted: Z T / (T + t_c) [cm2/min]; Z [cm2/min], T and t_c [min].

    >>> output_rate(10.0, 90.0, 10.0)
    9.0
    """
    return cutting_rate * life / (life + band_change_minutes)


def maximum_output_life(n: Numbers, band_change_minutes: Numbers) -> Numbers:
    """Life of the greatest output T = (1/n - 1) t_c [min]; n [-], t_c [min].

    >>> maximum_output_life(0.125, 2.0)
    14.0
    """
    return (1.0 / _exponent(n) - 1.0) * band_change_minutes


def minimum_cost_life(
    n: Numbers, band_change_minutes: Numbers, band_price: Numbers, machine_and_labor_per_hour: Numbers
) -> Numbers:
    """Life of the lowest cost T = (1/n - 1) (t_c + p / c) [min].

    n [-], band_change_minutes t_c [min], band_price p [money], machine_and_labor_per_hour 60 c [money/h]

    >>> minimum_cost_life(0.125, 2.0, 3.0, 30.0)
    56.0
    """
    return (1.0 / _exponent(n) - 1.0) * (band_change_minutes + 60.0 * band_price / machine_and_labor_per_hour)


def maximum_output_speed(n: Numbers, C: Numbers, band_change_minutes: Numbers) -> Numbers:
    """Speed of the greatest output C / T^n [m/min], T of `maximum_output_life`; C [m/min] in cutting minutes.

    >>> maximum_output_speed(0.125, 70.0, 2.0)
    50.33
    """
    return taylor_speed(maximum_output_life(n, band_change_minutes), n, C)


def minimum_cost_speed(
    n: Numbers,
    C: Numbers,
    band_change_minutes: Numbers,
    band_price: Numbers,
    machine_and_labor_per_hour: Numbers,
) -> Numbers:
    """Speed of the lowest cost C / T^n [m/min], T of `minimum_cost_life`; C [m/min] in cutting minutes.

    >>> minimum_cost_speed(0.125, 70.0, 2.0, 3.0, 30.0)
    42.32
    """
    life = minimum_cost_life(n, band_change_minutes, band_price, machine_and_labor_per_hour)
    return taylor_speed(life, n, C)


def _exponent(n: Numbers) -> Numbers:
    """n, if 0 < n < 1; outside, no speed is best."""
    if np.any((np.asarray(n) <= 0.0) | (np.asarray(n) >= 1.0)):
        raise ValueError(
            f"Taylor exponent n = {n} has no best speed; n must lie between 0 and 1 "
            "(at n >= 1 output and cost both gain from any higher speed)"
        )
    return n
