"""Quantities for people: the unit of their system, digits that follow the uncertainty; or both systems at once."""

import math
from fractions import Fraction

from bandtrial.units.reading import from_inside
from bandtrial.units.spelling import display_unit
from bandtrial.words import shown, with_error


def show(value: float, kind: str, system: str, error: float | None = None) -> str:
    """`value` of `kind` (inside unit) in the unit of a system; with `error` (inside unit), value ± error.

    The error gets two significant digits and the value ends at the same place. Without an error: three
    significant digits, or all digits before the point. No exponents.

    >>> show(50.292, "speed", "us"), show(50.292, "speed", "metric", error=1.234)
    ('165 ft/min', '50.3 ± 1.2 m/min')
    """
    unit = display_unit(kind, system)
    value = float(from_inside(value, kind, unit))
    spread = None if error is None else abs(float(from_inside(error, kind, unit)))
    return f"{with_error(value, spread)} {unit if math.isfinite(value) else ''}".strip()


def both(value: float, kind: str, system: str, digits: int = 3) -> str:
    """A quantity in both systems, the reader's own first.

    >>> both(50.292, "speed", "us"), both(15.875, "length", "us")
    ('165 ft/min (50.3 m/min)', '5/8 in (15.9 mm)')
    """
    return f"{one(value, kind, system, digits)} ({one(value, kind, other(system), digits)})"


def both_range(low: float, high: float, kind: str, system: str, digits: int = 3) -> str:
    """A range in both systems.

    >>> both_range(5.0, 50.0, "chip_load", "metric")
    '5 to 50 µm (0.000197 to 0.00197 in)'
    """
    return f"{_span(low, high, kind, system, digits)} ({_span(low, high, kind, other(system), digits)})"


def one(value: float, kind: str, system: str, digits: int = 3) -> str:
    """A quantity in one system; inches of length as a fraction where they are one, to 1/64.

    >>> one(38.1, "length", "us"), one(20.0, "length", "us"), one(20.0, "length", "metric")
    ('1 1/2 in', '0.787 in', '20 mm')
    """
    if kind == "length" and system == "us":
        inches = from_inside(value, kind, "in")
        parts = round(inches * 64)
        if parts and abs(inches * 64 / parts - 1.0) < 1e-4:
            return f"{_mixed(Fraction(parts, 64))} in"
    unit = display_unit(kind, system)
    return f"{shown(from_inside(value, kind, unit), digits)} {unit}"


def plain_unit(unit: str) -> str:
    """A unit in letters that every keyboard has.

    >>> plain_unit("in²"), plain_unit("µin")
    ('in2', 'uin')
    """
    return unit.replace("²", "2").replace("µ", "u")


def other(system: str) -> str:
    """The other system of units."""
    return "metric" if system == "us" else "us"


def _span(low: float, high: float, kind: str, system: str, digits: int) -> str:
    unit = display_unit(kind, system)
    first = one(low, kind, system, digits).removesuffix(unit).strip()
    return f"{first} to {one(high, kind, system, digits)}"


def _mixed(inches: Fraction) -> str:
    whole, rest = divmod(inches, 1)
    return " ".join(part for part in (str(whole) if whole else "", str(rest) if rest else "") if part)
