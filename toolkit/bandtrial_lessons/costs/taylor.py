"""The tool-life law V T^n = C (Taylor 1907), and linear damage over changing settings."""

from typing import Any, NamedTuple, TypeAlias

import numpy as np

Numbers: TypeAlias = Any
"""A number, or an array that broadcasts with the other arguments."""


class TaylorLaw(NamedTuple):
    """V T^n = C: exponent n [-] and C, the speed [m/min] of a life of one minute."""

    n: Numbers
    C: Numbers


def taylor_life(V: Numbers, n: Numbers, C: Numbers) -> Numbers:
    """Life T = (C / V)^(1/n) [min] at speed V [m/min]; C [m/min], n [-].

    >>> taylor_life(50.0, 0.125, 70.0)
    14.758
    """
    return (C / V) ** (1.0 / n)


def taylor_speed(T: Numbers, n: Numbers, C: Numbers) -> Numbers:
    """Speed V = C / T^n [m/min] of life T [min]; C [m/min], n [-]. Inverse of `taylor_life`.

    >>> taylor_speed(14.0, 0.125, 70.0)
    50.33
    """
    return C / T**n


def taylor_from_two_points(V1: Numbers, T1: Numbers, V2: Numbers, T2: Numbers) -> TaylorLaw:
    """The law through two trials: n = log(V1/V2) / log(T2/T1), C = V1 T1^n; V [m/min], T [min].

    Two points carry no scatter: nothing here says how sure n is. Groover's worked example:

    >>> law = taylor_from_two_points(160.0, 5.0, 100.0, 41.0)
    >>> float(law.n), float(law.C)
    (0.2234, 229.2)
    """
    if np.any(np.asarray(V1) == V2) or np.any(np.asarray(T1) == T2):
        raise ValueError(
            f"two trials at speeds {V1} and {V2} m/min with lives {T1} and {T2} min fix no exponent; "
            "give two different speeds and two different lives"
        )
    n = np.log(np.divide(V1, V2)) / np.log(np.divide(T2, T1))
    return TaylorLaw(n, V1 * np.power(T1, n))


def cutting_constant(C: Numbers, n: Numbers, L: Numbers, band_length: Numbers) -> Numbers:
    """C (B / L)^n [m/min]: the same law with life counted in cutting minutes instead of contact minutes.

    A tooth is in the work for the share L / B of the cutting time, so cutting minutes are contact minutes
    times B / L, and V (T L / B)^n = C is V T^n = C (B / L)^n.

    C : constant of the law in contact minutes [m/min]
    L : work thickness [mm]
    band_length : B [mm]

    >>> cutting_constant(40.0, 0.5, 50.0, 5000.0)
    400.0
    """
    return C * (band_length / L) ** n


def wear_used(minutes: Numbers, lives: Numbers, axis: int = -1) -> Numbers:
    """Wear used E = sum of t_i / T_i [-] (linear damage): minutes t_i [min] at settings of life T_i [min].

    >>> float(wear_used([5.0, 10.0], [20.0, 40.0]))
    0.5
    """
    return np.sum(np.divide(minutes, lives), axis=axis)


def remaining_life_linear_damage(minutes: Numbers, lives: Numbers, next_life: Numbers, axis: int = -1) -> Numbers:
    """Minutes left T (1 - E) [min] at a setting of life T, after minutes t_i at lives T_i; never below 0.

    Linear damage, as in Nelson's cumulative exposure: what is left does not depend on the order of the cuts.

    >>> float(remaining_life_linear_damage([7.38], [14.758], 59.537))
    29.76
    """
    return next_life * np.maximum(0.0, 1.0 - wear_used(minutes, lives, axis=axis))
