"""Units: the one place where quantities are read, converted and written.

Quantities from text, one value, one column head, one column of numbers; and quantities for people: the unit of their
system, digits that follow the uncertainty, or both systems at once. How numbers and units are written: `spelling`.
"""

import datetime
import math
import numbers as abstract
import re
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import Any

from bandtrial import hardness
from bandtrial.spelling import (
    KINDS,
    LONGEST,
    NUMBER,
    UNSIGNED,
    UnitError,
    clock,
    display_unit,
    factor,
    number,
    tidy,
    units_of,
    words,
)
from bandtrial.words import listed, printable, quoted, shown, with_error

__all__ = [
    "KINDS", "UnitError", "both", "both_range", "convert", "display_unit", "factor", "from_inside", "head", "is_unit",
    "number", "one", "plain_unit", "read", "show", "units_of",
]  # fmt: skip

_VALUE = re.compile(rf"(?P<number>{NUMBER})\s*(?P<unit>.*)", re.S)
_STEP = rf"(?>{UNSIGNED})\s*(?>[A-Za-z'\"]+)\.?"
_STEPS = re.compile(rf"{_STEP}(?:\s*(?:,|-|\+|&|and\b)?\s*{_STEP}){{1,3}}")
_MEAN_PITCH = re.compile(r"(\d+(?:[.,]\d+)?)\s*[/-]\s*(\d+(?:[.,]\d+)?)\s*(.*)")


def read(value: Any, kind: str, unit: str | None = None) -> float:
    """`value` in the inside unit of `kind`: text with a unit, or a number or text in `unit`.

    A unit in the text goes before `unit`. Reads fractions, clock times (minutes:seconds), sums of steps
    (5 ft 3 in), decimal commas where they can mean one thing, variable pitches as their mean. Raises
    UnitError with a whole sentence; never evaluates the text.

    >>> read("5/8 in", "length"), read("12:30", "time"), read("4/6 tpi", "pitch"), read("3/4", "length", "in")
    (15.875, 12.5, 5.0, 19.05)
    """
    if kind not in KINDS:
        raise KeyError(f"no kind of quantity {kind!r}; there are {', '.join(KINDS)}")
    if isinstance(value, datetime.time | datetime.timedelta) and kind == "time":
        return _clock_cell(value)
    if isinstance(value, abstract.Real) and not isinstance(value, bool):
        if value != value or value in (math.inf, -math.inf):
            raise UnitError(f"{value} is not a number that can be used; write a finite one")
        return _converted(_as_float(value), _needed(unit, kind, value), kind, value)
    if not isinstance(value, str):
        raise UnitError(f"{quoted(value)} is not a {words(kind)}{_example(kind)}")
    return _read_text(value, kind, unit)


@lru_cache(maxsize=1024)
def head(text: str) -> tuple[str, str | None]:
    """Name and unit of a column head or key, `name [unit]`; the name in lower case with `_` for blanks.

    >>> head("Band Speed [ft/min]"), head("note")
    (('band_speed', 'ft/min'), ('note', None))
    """
    found = re.fullmatch(r"([^\[\]()]*)[\[(]([^\[\]()]*)[\])]\s*", text, re.S)
    name, unit = (found[1], found[2].strip()) if found else (text, "")
    return re.sub(r"[\s_]+", "_", name.strip()).strip("_").casefold(), unit or None


def convert(array: Any, unit: str | None, kind: str) -> Any:
    """Numbers in `unit` as numbers in the inside unit of `kind`; a pitch in a length is a tooth spacing.

    >>> convert(2.0, "in", "length"), convert(6.35, "mm", "pitch")
    (50.8, 4.0)
    """
    if not unit or not KINDS[kind]:
        return array
    if kind == "pitch" and is_unit(unit, "length"):
        return 25.4 / (array * factor(unit, "length"))
    if kind == "hardness" and (scale := hardness.scale(unit)):
        return hardness.brinell(array, scale)
    return array * factor(unit, kind)


def from_inside(value: Any, kind: str, unit: str | None) -> Any:
    """Numbers in the inside unit of `kind` as numbers in `unit`; undoes `convert`."""
    if not unit or not KINDS[kind]:
        return value
    if kind == "pitch" and is_unit(unit, "length"):
        return 25.4 / value / factor(unit, "length")
    return value / factor(unit, kind)


def is_unit(unit: str, kind: str) -> bool:
    """Whether quantities of a kind can be given in a unit."""
    try:
        convert(1.0, unit, kind)
    except UnitError:
        return False
    return True


def _read_text(text: str, kind: str, unit: str | None) -> float:
    plain = tidy(text) if len(text) <= LONGEST else ""
    if kind == "pitch" and (found := _MEAN_PITCH.fullmatch(plain)):
        coarse, fine = number(found[1]), number(found[2])
        return _converted((coarse + fine) / 2, found[3] or _needed(unit, kind, text), kind, text)
    plain = hardness.turned(plain) if kind == "hardness" else plain
    found = _VALUE.fullmatch(plain)
    if not found:
        raise UnitError(f"{quoted(text)} is not a {words(kind)}{_example(kind)}")
    if ":" in found["number"]:
        return _clock_text(found, text, kind)
    if kind in ("length", "time") and _STEPS.fullmatch(plain):
        return _steps(re.findall(_STEP, plain), kind, text)
    if "%" in found["unit"]:
        raise UnitError(f"{quoted(text)} is a percentage; write the number itself, such as 0.8 for 80 %")
    if found["unit"] and not KINDS[kind]:
        raise UnitError(f"{quoted(text)} should be a plain number without a unit")
    return _converted(number(found["number"]), found["unit"] or _needed(unit, kind, text), kind, text)


def _steps(steps: list[str], kind: str, text: str) -> float:
    """The sum of steps such as 5 ft and 3 in, each smaller than the one before; UnitError where they are not."""
    values = [_read_text(step, kind, None) for step in steps]
    total = _finite(sum(values), kind, text)
    ones = [_read_text(f"1 {re.sub(UNSIGNED, '', step, count=1)}", kind, None) for step in steps]
    for (larger, after), step, value in zip(pairwise(ones), steps[1:], values[1:], strict=True):
        if after >= larger or value >= larger:
            sample = "5 ft 3 in" if kind == "length" else "2 min 30 s"
            raise UnitError(f"{quoted(text)} can't be added up, {step.strip()} is no part of what stands before it; "
                            f"write one number, or steps that grow smaller, as in {sample}")  # fmt: skip
    return total


def _converted(value: float, unit: str | None, kind: str, given: object) -> float:
    """One number in the inside unit; UnitError where that has no finite number for it."""
    try:
        return _finite(convert(value, unit, kind), kind, given)
    except ZeroDivisionError:  # a tooth spacing of 0
        return _finite(math.inf, kind, given)


def _finite(value: float, kind: str, given: object) -> float:
    if not math.isfinite(value):
        raise UnitError(f"{quoted(given)} is too large or too small for a {words(kind)}")
    return value


def _as_float(value: abstract.Real) -> float:
    try:
        return float(value)
    except OverflowError:  # a whole number of more than 308 digits
        return math.inf


def _clock_text(found: re.Match[str], text: str, kind: str) -> float:
    minutes = clock(found["number"]) if kind == "time" else None
    if minutes is None or found["unit"] not in ("", "min", "h"):
        raise UnitError(f"{quoted(text)} is not a {words(kind)}{_example(kind)}")
    if found["unit"] == "h":
        raise UnitError(f"{quoted(text)} is read as minutes:seconds; write hours as h:mm:ss")
    return minutes


def _clock_cell(value: datetime.time | datetime.timedelta) -> float:
    """A spreadsheet keeps 12:40 as a time of day: from one hour on, without seconds, it was meant as minutes:seconds.

    0:05:00 is 5 minutes, as in a CSV; where the spreadsheet shows 0:05, its reader hands on that text.
    """
    if isinstance(value, datetime.timedelta):
        hours, rest = divmod(value.total_seconds(), 3600)
        minutes, seconds = divmod(rest, 60)
    else:
        hours, minutes, seconds = value.hour, value.minute, value.second
    return hours + minutes / 60 if seconds == 0 and hours else hours * 60 + minutes + seconds / 60


def _needed(unit: str | None, kind: str, value: object) -> str | None:
    if not unit and KINDS[kind]:
        most = 3 if kind != "hardness" else 1  # what is a Brinell number is no Rockwell one
        ways = listed([f"{printable(value).strip()} {unit}" for unit in units_of(kind)[:most]], "or")
        raise UnitError(f"{quoted(value)} has no unit; write {ways}")
    return unit


def _example(kind: str) -> str:
    if not KINDS[kind]:
        return "; write a plain number"
    samples = {
        "time": '"95 s" or "1:35" (minutes:seconds)',
        "pitch": '"8 tpi" or "4/6 tpi"',
        "length": '"5/8 in" or "16 mm"',
        "hardness": '"240 HB" or "32 HRC"',
    }
    sample = samples.get(kind) or listed([f'"5 {unit}"' for unit in units_of(kind)[:2]], "or")
    return f"; write a number with a unit, such as {sample}"


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
