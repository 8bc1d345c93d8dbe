"""Quantities for people: the unit of their system, digits that follow the uncertainty."""

import math

from bandtrial.units.reading import from_inside
from bandtrial.units.registry import display_unit


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
    return f"{_with_error(value, spread)} {unit}".strip() if math.isfinite(value) else _not_finite(value)


def shown(value: float, digits: int = 3) -> str:
    """A number to `digits` significant digits, never fewer than stand before the point, without exponent.

    >>> shown(1234.5), shown(0.000277778), shown(0.75), shown(12.0)
    ('1234', '0.000278', '0.75', '12')
    """
    if not math.isfinite(value):
        return _not_finite(value)
    text = f"{value:.{max(0, digits - 1 - _place(value))}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def count(n: int, word: str, plural: str | None = None) -> str:
    """A number of things.

    >>> count(1, "cut"), count(1200, "cut"), count(0, "piece")
    ('1 cut', '1,200 cuts', 'no pieces')
    """
    many = plural or word + "s"
    return f"1 {word}" if n == 1 else f"{n:,} {many}" if n else f"no {many}"


def _with_error(value: float, spread: float | None) -> str:
    if spread is None or not math.isfinite(spread) or spread == 0:
        return shown(value)
    decimals = 1 - _place(spread)
    if decimals < 0:
        step = 10.0**-decimals
        return f"{round(value / step) * step:.0f} ± {round(spread / step) * step:.0f}"
    return f"{value:.{decimals}f} ± {spread:.{decimals}f}"


def _place(value: float) -> int:
    """Power of ten of the first digit, after rounding to two digits: 0.0996 is 0.10, place -1."""
    return int(f"{value:.1e}".partition("e")[2]) if value else 0


def _not_finite(value: float) -> str:
    return "not known" if math.isnan(value) else "unlimited"
