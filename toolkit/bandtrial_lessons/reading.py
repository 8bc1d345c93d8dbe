"""Answers as students type them, and how a value is shown to them: their system of units throughout."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from bandtrial import units, words

from bandtrial_lessons import typed

NUMBERS = ("number", "percent")
"""Kinds of answer without a unit; a percentage is a share inside."""
EXAMPLES = {
    ("speed", "us"): "165 ft/min", ("speed", "metric"): "50 m/min",
    ("feed_rate", "us"): "4.5 in/min", ("feed_rate", "metric"): "115 mm/min",
    ("chip_load", "us"): "0.0004 in", ("chip_load", "metric"): "10 um",
    ("time", "us"): "42 min", ("time", "metric"): "42 min",
    ("pitch", "us"): "10 tpi", ("pitch", "metric"): "10 tpi",
    ("length", "us"): "0.25 in", ("length", "metric"): "6 mm",
    ("force", "us"): "90 lbf", ("force", "metric"): "400 N",
    ("power", "us"): "2.5 hp", ("power", "metric"): "1.9 kW",
    ("number", "us"): "0.25", ("number", "metric"): "0.25",
    ("percent", "us"): "12 %", ("percent", "metric"): "12 %",
}  # fmt: skip
SLIPS_OF_UNIT: dict[str, tuple[tuple[float, str], ...]] = {
    "speed": (
        (0.3048, "m/min written as ft/min"), (1 / 0.3048, "ft/min written as m/min"),
        (1 / 60, "a speed for each second"), (60.0, "a speed for each hour"),
    ),
    "power": ((0.7457, "hp taken for kW"), (1 / 0.7457, "kW taken for hp"), (1000.0, "W taken for kW"),
              (0.001, "kW taken for W")),
    "length": ((25.4, "inches written as mm"), (1 / 25.4, "mm written as inches"), (10.0, "cm mixed with mm"),
               (0.1, "cm mixed with mm")),
    "force": ((4.448, "N written as lbf"), (1 / 4.448, "lbf written as N"), (9.807, "kg taken for N")),
    "time": ((60.0, "seconds written as minutes"), (1 / 60, "hours written as minutes")),
    "feed_rate": ((25.4, "mm written as inches"), (1 / 25.4, "inches written as mm")),
    "chip_load": (
        (1000.0, "a factor 1000: a chip load is thousandths of a millimetre"),
        (0.001, "a factor 1000: a chip load is thousandths of a millimetre"),
        (25.4, "mm written as inches"), (1 / 25.4, "inches written as mm"),
    ),
    "number": ((25.4, "millimetres mixed with inches"), (1 / 25.4, "millimetres mixed with inches")),
    "percent": ((100.0, "a percentage taken twice"), (0.01, "a share written as a percentage")),
    "cost": (
        (60.0, "an hour taken for a minute"), (1 / 60, "a minute taken for an hour"),
        (6.4516, "cm2 mixed with in2"), (1 / 6.4516, "cm2 mixed with in2"),
    ),
}  # fmt: skip
"""Kind -> factor of an answer to the right one, and what mix-up of units makes it."""

KILO = 1000.0
"""Power from which it is told in kW [W]."""
SURELY_PERCENT = 5.0
"""A share without a sign that is this or more was meant in percent: none that is asked for here comes near 500 %."""


class AnswerError(ValueError):
    """An answer that can't be read; the message says what can."""


def example(kind: str, system: str, currency: str = "") -> str:
    """How an answer of a kind may be written.

    >>> example("speed", "us")
    '165 ft/min'
    """
    if kind == "letter":
        return "b"
    if kind == "cost":
        return f"0.25 {currency}/in2" if system == "us" else f"0.04 {currency}/cm2"
    return EXAMPLES[kind, system]


def read_answer(text: str, kind: str, system: str, currency: str = "") -> float | str:
    """An answer in its inside unit, or a letter in lower case. `AnswerError` in a sentence if it is neither.

    kind : a kind of `units`, or "letter", "percent" (a share inside), "cost" (money per cm2 inside)
    """
    hint = f'write it as "{example(kind, system, currency)}"'
    if not text.strip():
        raise AnswerError(f"nothing is written yet; {hint}.")
    if kind == "letter":
        return _letter(text)
    try:
        if kind in NUMBERS:
            return _share(text, kind)
        return _cost(text, currency) if kind == "cost" else typed.quantity(typed.tidied(text), kind)
    except units.UnitError as error:
        raise AnswerError(f"{str(error).rstrip('.')}; {hint}.") from None


def number_typed(text: str) -> float | None:
    """The number at the start of an answer, without its unit; None if there is none.

    >>> number_typed("n = 0.14"), number_typed("42 min"), number_typed("b")
    (0.14, 42.0, None)
    """
    try:
        return units.number(typed.split(typed.tidied(text))[0])
    except units.UnitError:
        return None


def digits_typed(text: str) -> int:
    """Significant digits of the number at the start of an answer; zeros at the end of a whole number count.

    >>> digits_typed("0.142"), digits_typed("42 min"), digits_typed("0.050"), digits_typed("1.46e3 min")
    (3, 2, 2, 3)
    """
    number = re.split(r"[eE/ ]", typed.split(typed.tidied(text))[0])[0]
    return len(re.sub(r"[-+.,]", "", number).lstrip("0"))


def either_way(text: str) -> tuple[str, ...]:
    """Both readings of an answer whose comma can stand for thousands or for decimals.

    >>> either_way("1,461 min"), either_way("0,142")
    (('1461 min', '1.461 min'), ())
    """
    unclear = re.search(r"(?<![\d.,])[1-9]\d{0,2},\d{3}(?![\d.,])", text)
    return (text.replace(",", ""), text.replace(",", ".")) if unclear else ()


def show_answer(value: float | str, kind: str, system: str, currency: str = "") -> str:
    """A value as it would be answered, three significant digits.

    >>> show_answer(50.33, "speed", "us"), show_answer(0.125, "percent", "us")
    ('165 ft/min', '12.5 %')
    """
    if isinstance(value, str):
        return value
    if kind == "percent":
        return f"{words.shown(100.0 * value)} %"
    if kind == "cost":
        area = units.display_unit("area", system)
        return f"{words.shown(value / float(units.from_inside(1.0, 'area', area)))} {currency}/{area}"
    if kind == "power" and system == "metric" and value >= KILO:
        return f"{words.shown(value / KILO)} kW"
    return units.show(value, kind, system)


def nice(value: float, kind: str, system: str, digits: int = 2) -> float:
    """The value rounded to so many digits in the unit people of the system read it in; inside unit.

    >>> nice(50.3, "speed", "metric"), round(nice(50.3, "speed", "us"), 4)
    (50.0, 51.816)
    """
    unit = units.display_unit(kind, system)
    shown = float(f"{float(units.from_inside(value, kind, unit)):.{digits - 1}e}")
    return float(units.convert(shown, unit, kind))


def nice_all(values: Any, kind: str, system: str, digits: int = 3) -> np.ndarray:
    """`nice` of an array."""
    return np.array([nice(value, kind, system, digits) for value in np.asarray(values, dtype=float)])


def _letter(text: str) -> str:
    letter = typed.letter(text)
    if not letter:
        raise AnswerError('answer with one letter, as "b".')
    return letter


def _share(text: str, kind: str) -> float:
    """A number without a unit, or a percentage."""
    number, behind = typed.ratio(typed.tidied(text))
    if typed.PERCENT.match(behind) or (kind == "percent" and number >= SURELY_PERCENT):
        return number / 100.0
    return number


def _cost(text: str, currency: str) -> float:
    """Money per area; cents are hundredths."""
    number, behind = typed.split(typed.tidied(text))
    money = rf"\s*(?:{re.escape(currency) or 'EUR'}|euros?|dollars?|usd|gbp)?\s*"
    found = re.fullmatch(rf"{money}(c|ct|cents?)?\s*(?:/|per\b){money}(.*)", behind, re.IGNORECASE)
    if not number or not found:
        raise units.UnitError(f'"{text.strip()[:40]}" is not a cost per area')
    return units.number(number) * (0.01 if found[1] else 1.0) / float(units.factor(found[2].strip(), "area"))
