"""Answers as students type them, and how a value is shown to them: their system of units throughout."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
from bandtrial import units, words

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
    ("power", "us"): "2.5 hp", ("power", "metric"): "1900 W",
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

LETTER_BEFORE = re.compile(r"^[A-Za-z]\w*\s*[=:]\s*")
"""What people write before a number: "n = 0.142"."""
COUNTED = re.compile(r"\s*(?:x|×|times|teeth|tooth|%)$", re.IGNORECASE)
"""What people write after a number that has no unit: "1.14x", "4.72 teeth", "114 %"."""


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
    text = LETTER_BEFORE.sub("", text.strip()).strip()
    hint = f'write it as "{example(kind, system, currency)}"'
    if not text:
        raise AnswerError(f"nothing is written yet; {hint}.")
    if kind == "letter":
        return _letter(text)
    try:
        if kind == "percent":
            return units.number(text.removesuffix("%").strip()) / (100.0 if text.endswith("%") else 1.0)
        if kind == "cost":
            return _cost(text, currency)
        if kind == "number":
            return units.number(COUNTED.sub("", text)) / (100.0 if text.endswith("%") else 1.0)
        return units.read(text, kind)
    except units.UnitError as error:
        raise AnswerError(f"{str(error).rstrip('.')}; {hint}.") from None


def number_typed(text: str) -> float | None:
    """The number at the start of an answer, without its unit; None if there is none.

    >>> number_typed("n = 0.14"), number_typed("42 min"), number_typed("b")
    (0.14, 42.0, None)
    """
    found = re.match(r"[-+]?[\d.,]+", LETTER_BEFORE.sub("", text.strip()))
    if not found:
        return None
    try:
        return units.number(found[0])
    except units.UnitError:
        return None


def digits_typed(text: str) -> int:
    """Significant digits of the number at the start of an answer; zeros at the end of a whole number count.

    >>> digits_typed("0.142"), digits_typed("42 min"), digits_typed("0.050")
    (3, 2, 2)
    """
    found = re.match(r"[-+]?([\d.,]+)", LETTER_BEFORE.sub("", text.strip()))
    return len(re.sub(r"[.,]", "", found[1]).lstrip("0")) if found else 0


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
    letter = text.strip("().").casefold()
    if len(letter) != 1 or not letter.isalpha():
        raise AnswerError('answer with one letter, as "b".')
    return letter


def _cost(text: str, currency: str) -> float:
    amount, bar, per = text.partition("/")
    if not bar:
        raise units.UnitError(f'"{text[:40]}" is not a cost per area')
    words = amount.replace(currency, " ") if currency else amount
    return units.number(words.strip()) / float(units.factor(per.strip(), "area"))
