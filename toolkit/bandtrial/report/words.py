"""Numbers and lists as the report writes them, in the study's units, digits after their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bandtrial import units, words

count, shown = words.count, words.shown


def quantity(value, kind: str, system: str) -> str:
    """One value in the unit of the system, or a dash where it is not known."""
    if value is None or not math.isfinite(float(value)):
        return "–"
    return _tidy(units.show(float(value), kind, system))


def interval(value, low, high, kind: str, system: str) -> str:
    """'value (low to high) unit' of a kind, in the unit of the system.

    >>> interval(50.0, 48.4, 52.1, "speed", "metric")
    '50.0 (48.4 to 52.1) m/min'
    """
    unit = units.display_unit(kind, system)
    value, low, high = (float(units.from_inside(x, kind, unit)) for x in (value, low, high))
    return between(value, low, high, unit)


def between(value, low, high, unit: str = "") -> str:
    """'value (low to high) unit', ending at the second figure of the interval's half width.

    >>> between(1234.4, 1010.1, 1543.9, "in²"), between(0.123456, 0.101, 0.155)
    ('1,230 (1,010 to 1,540) in²', '0.123 (0.101 to 0.155)')
    """
    half = (high - low) / 2
    if not (math.isfinite(half) and half > 0.002 * abs(value)):  # nothing a reader could use
        return f"{_tidy(words.shown(value))} {unit}".strip()
    places = 1 - math.floor(math.log10(half))
    numbers = [f"{round(x, places):,.{max(places, 0)}f}" for x in (value, low, high)]
    return f"{numbers[0]} ({numbers[1]} to {numbers[2]}) {unit}".strip().replace("-", "−")


def either(low, high, kind: str, system: str) -> str:
    """'low to high unit'.

    >>> either(30.0, 45.0, "speed", "metric")
    '30 to 45 m/min'
    """
    return f"{quantity(low, kind, system).split(' ')[0]} to {quantity(high, kind, system)}"


def money_per_area(value, low, high, currency: str, system: str) -> str:
    """Cost per displayed area with its interval, from currency per cm2."""
    unit = units.display_unit("area", system)
    per = 1 / float(units.from_inside(1.0, "area", unit))
    return between(value * per, low * per, high * per, f"{currency}/{unit}")


def money(value, currency: str) -> str:
    """An amount of money.

    >>> money(72.0, "USD"), money(None, "USD")
    ('72.00 USD', '–')
    """
    return "–" if value is None or not math.isfinite(value) else f"{value:,.2f} {currency}"


def probability(p: float) -> str:
    """A probability as it may be said: never 0 % or 100 % of something uncertain.

    >>> probability(0.999), probability(0.503)
    ('over 99 %', '50 %')
    """
    return "over 99 %" if p > 0.99 else "under 1 %" if p < 0.01 else f"{100 * p:.0f} %"


def rounded(value: float, figures: int = 2) -> str:
    """A number to so many figures, thousands apart.

    >>> rounded(40455.0), rounded(1.0689), rounded(1779.2, 3), rounded(0.04572)
    ('40,000', '1.1', '1,780', '0.046')
    """
    places = max(0, figures - 1 - math.floor(math.log10(abs(value) or 1)))
    text = f"{float(f'{value:.{figures}g}'):,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def listed(names: Iterable[str]) -> str:
    """Names in a sentence.

    >>> listed(["a"]), listed(["a", "b", "c"]), listed([])
    ('a', 'a, b and c', 'none')
    """
    names = list(names)
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else "none"


def sentences(texts: Iterable[str]) -> list[str]:
    """Texts as sentences: a capital first, a full stop last, empty ones and marks of code left out.

    >>> sentences(["thin evidence: 5 cuts", "", "make 6; `bandtrial plan` lays them out."])
    ['Thin evidence: 5 cuts.', 'Make 6; bandtrial plan lays them out.']
    """
    plain = (text.strip().replace("`", "") for text in texts)
    return [f"{text[0].upper()}{text[1:].rstrip('.')}." for text in plain if text]


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


@dataclass(frozen=True)
class Units:
    """How a study's numbers are written: its system of units and its currency."""

    system: str
    currency: str

    def one(self, value, kind: str) -> str:
        """A single value, see `quantity`."""
        return quantity(value, kind, self.system)

    def span(self, v, kind: str) -> str:
        """An estimate with value, low and high, see `interval`."""
        return interval(v.value, v.low, v.high, kind, self.system)

    def cost(self, v) -> str:
        """A cost per area with value, low and high."""
        return money_per_area(v.value, v.low, v.high, self.currency, self.system)
