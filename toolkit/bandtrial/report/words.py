"""Numbers and lists as the report writes them, in the study's units, digits after their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from bandtrial import units, words
from bandtrial.published.materials import find
from bandtrial.published.own_starts import NO_GROUP
from bandtrial.published.tables import CAUTIONS, PublishedError
from bandtrial.recommend.job import Value
from bandtrial.study.model import Study

between, count, listed, rounded = words.between, words.count, words.listed, words.rounded
percent, sentences, shown = words.percent, words.sentences, words.shown


RARE = {"Magnesium and titanium": ("magnesium", "titanium"), "Dust": ("beryll", "copper", "bronze", "brass")}
"""What a caution that some metals alone need begins with, and what their names hold."""
FRICTION, GUIDE = "; add a face shield for friction sawing", "1/8 to 1/4 in (3 to 6 mm)"


def cautions(study: Study) -> list[str]:
    """The cautions for what the study saws: all of them where the group of one of its metals is not known, else without
    those for other metals and for an operation that no log has. Metric shops read mm first."""
    every = [text.replace(GUIDE, "3 to 6 mm (1/8 to 1/4 in)") if study.units == "metric" else text for text in CAUTIONS]
    try:
        groups = [find(metal.group).group for metal in study.materials.values()]
    except PublishedError:
        return every
    if NO_GROUP in groups:
        return every
    named = " ".join([*groups, *(f"{key} {metal.name}" for key, metal in study.materials.items())]).casefold()
    other = tuple(begins for begins, parts in RARE.items() if not any(part in named for part in parts))
    return [text.replace(FRICTION, "") for text in every if not (other and text.startswith(other))]


def quantity(value: Any, kind: str, system: str) -> str:
    """One value in the unit of the system, or a dash where it is not known."""
    if value is None or not math.isfinite(float(value)):
        return "–"
    return _tidy(units.show(float(value), kind, system))


def interval(value: float, low: float, high: float, kind: str, system: str) -> str:
    """'value (low to high) unit' of a kind, in the unit of the system.

    >>> interval(50.0, 48.4, 52.1, "speed", "metric")
    '50.0 (48.4 to 52.1) m/min'
    """
    unit = units.display_unit(kind, system)
    value, low, high = (float(units.from_inside(x, kind, unit)) for x in (value, low, high))
    return between(value, low, high, unit)


def either(low: float, high: float, kind: str, system: str) -> str:
    """'low to high unit'.

    >>> either(30.0, 45.0, "speed", "metric")
    '30 to 45 m/min'
    """
    return f"{quantity(low, kind, system).split(' ')[0]} to {quantity(high, kind, system)}"


def span(v: Value, kind: str, system: str) -> str:
    """An estimate with its interval, see `interval`."""
    return interval(v.value, v.low, v.high, kind, system)


def money_per_area(v: Value, study: Study) -> str:
    """Cost per displayed area with its interval, from currency per cm2."""
    unit = units.display_unit("area", study.units)
    per = 1 / float(units.from_inside(1.0, "area", unit))
    return between(v.value * per, v.low * per, v.high * per, f"{study.currency}/{unit}")


def money(value: Any, currency: str) -> str:
    """An amount of money.

    >>> money(72.0, "USD"), money(None, "USD")
    ('72.00 USD', '–')
    """
    return "–" if value is None or not math.isfinite(value) else f"{value:,.2f} {currency}"


def first(lines: Iterable[str], most: int, where: str) -> list[str]:
    """The first of many lines, and how many more there are, and where.

    >>> first(["a", "b", "c", "d"], 2, "the CSV file has them"), first(["a"], 2, "")
    (['a', 'b', 'and 2 more: the CSV file has them'], ['a'])
    """
    every = list(lines)
    return every if len(every) <= most else [*every[:most], f"and {len(every) - most:,} more: {where}"]


def runs(names: Iterable[str]) -> str:
    """Numbered cuts as runs, in their order: every cut is named, and a long log stays short.

    >>> runs(["1", "2", "3", "5", "8", "9", "A7"])
    '1–3, 5, 8–9, A7'
    """
    parts: list[list[str]] = []
    for name in names:
        last = parts[-1][-1] if parts else ""
        if name.isdecimal() and last.isdecimal() and int(name) == int(last) + 1:
            parts[-1] = [parts[-1][0], name]
        else:
            parts.append([name])
    return ", ".join("–".join(part) for part in parts) or "none"


def _tidy(text: str) -> str:
    """Thousands apart in the number a text begins with."""
    number, _, unit = text.partition(" ")
    whole, dot, rest = number.partition(".")
    return f"{int(whole):,}{dot}{rest} {unit}".strip() if whole.isdecimal() else text


Table = tuple[list[str], list[list[str]]]
"""Heads and rows of a table of texts."""
