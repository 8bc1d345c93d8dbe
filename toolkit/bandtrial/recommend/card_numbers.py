"""A line of the card, and its numbers as people read them: as fine as their ranges leave them, parts that add up."""

import math
from dataclasses import dataclass

from bandtrial import units
from bandtrial.recommend.job import Value
from bandtrial.words import rounded, table_text


@dataclass(frozen=True)
class Line:
    """One line of the card: a stable key, a label, whole sentences, or a small table, its heads first."""

    key: str
    label: str
    sentences: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()

    @property
    def text(self) -> str:
        """The sentences, one after the other; the lines of the table."""
        return " ".join(self.sentences) or "\n".join(table_text(self.rows))


def places(v: Value) -> int:
    """Decimals of a value in its range: to the second figure of half of it, but no more than three figures in all."""
    half, most = (v.high - v.low) / 2, max(abs(v.value), abs(v.low), abs(v.high)) or 1.0
    three = 2 - math.floor(math.log10(most))
    return min(1 - math.floor(math.log10(half)), three) if half > 2e-3 * most else three


def in_units(v: Value, kind: str, system: str) -> tuple[Value, str]:
    """A value of a kind in the unit of a system, and that unit."""
    unit = units.display_unit(kind, system)
    return v.times(float(units.from_inside(1.0, kind, unit))), unit


def plain(v: Value) -> str:
    """A value with the digits that its range leaves it."""
    return span(v).split(" ")[0]


def closing(total: float, parts: list[float], decimals: int | None = None) -> list[str]:
    """Parts of a total, rounded so that they add up to the rounded total (to three decimals, fewer from 10 on, unless
    `decimals` says): the largest remainders go up.

    >>> closing(0.924, [0.714, 0.134, 0.076], 2), closing(16.2, [20.5, -4.3], 0)
    (['0.71', '0.13', '0.08'], ['20', '−4'])
    """
    decimals = max(0, 3 - max(0, math.floor(math.log10(total)))) if decimals is None else decimals
    units_of = [part * 10**decimals for part in parts]
    whole = [math.floor(x) for x in units_of]
    left = round(total * 10**decimals) - sum(whole)
    for i in sorted(range(len(parts)), key=lambda i: whole[i] - units_of[i])[: max(left, 0)]:
        whole[i] += 1
    return [f"{x / 10**decimals:,.{max(decimals, 0)}f}".replace("-", "−") for x in whole]


def span(v: Value, unit: str = "") -> str:
    """A value in its range, to the second figure of half the range, but no more than three figures in all.

    >>> span(Value(0.14351, 0.1397, 0.1563), "EUR"), span(Value(96.9, 20.0, 160.0)), span(Value(-3.0, -5.0, 1.0))
    ('0.144 (0.140 to 0.156) EUR', '97 (20 to 160)', '−3.0 (−5.0 to 1.0)')
    """
    if not v.high - v.low > 4e-3 * max(abs(v.value), abs(v.low), abs(v.high)):
        return f"{rounded(v.value, 3)} {unit}".strip()
    decimals = places(v)
    value, low, high = (f"{round(x, decimals):,.{max(decimals, 0)}f}" for x in (v.value, v.low, v.high))
    return f"{value} ({low} to {high}) {unit}".strip().replace("-", "−")


def saves(v: Value, money: str) -> str:
    """What is saved, or costs more, with its range; both ends in words where they are on both sides.

    >>> saves(Value(16.0, 8.0, 22.0), "EUR"), saves(Value(-47.0, -141.0, 56.0), "EUR")
    ('saves 16.0 (8.0 to 22.0) EUR', 'costs 47 EUR more (from 56 less to 141 more)')
    """
    saves = v.value > 0
    if not v.low < 0 < v.high:
        return f"saves {span(v, money)}" if saves else f"costs {span(v.turned(), money)} more"
    value, low, high = (part.strip("()").replace("−", "") for part in span(v).replace("to ", "").split(" "))
    if saves:
        return f"saves {value} {money} (from {low} lost to {high} saved)"
    return f"costs {value} {money} more (from {high} less to {low} more)"


def share(v: Value, more: str, less: str) -> str:
    """A factor with its range, as a share more or less.

    >>> share(Value(0.7, 0.6, 0.8), "more", "fewer"), share(Value(1.0, 1.0, 1.0), "longer", "less")
    ('30 % (20 to 40) fewer', 'as long')
    """
    value, low, high = (100 * (x - 1) for x in (v.value, v.low, v.high))
    if abs(value) < 0.5 and high - low < 1:
        return "as many" if more == "more" else "as long"
    if low < 0 < high:
        return f"{abs(value):.0f} % {more if value > 0 else less} ({abs(low):.0f} % {less} to {high:.0f} % {more})"
    ends = sorted((abs(low), abs(high)))
    span = f" ({ends[0]:.0f} to {ends[1]:.0f})" if ends[1] - ends[0] >= 1 else ""
    return f"{abs(value):.0f} %{span} {more if value > 0 else less}"


def chances(p: float) -> str:
    """A chance as people say it.

    >>> chances(0.98), chances(0.4), chances(1.0)
    ('98 chances in 100', '40 chances in 100', 'Over 99 chances in 100')
    """
    return "Over 99 chances in 100" if p > 0.99 else f"{100 * p:.0f} chances in 100"
