"""Slips of the pen: another unit, a point in the wrong place, two digits in the wrong order."""

import re

import numpy as np

FACTORS = {
    "time": {60.0: "minutes and seconds mixed up"},
    "length": {25.4: "inches and millimeters mixed up", 39.37: "thousandths and millimeters mixed up"},
    "speed": {3.2808: "ft/min and m/min mixed up"},
    "feed_rate": {25.4: "inches and millimeters mixed up", 60.0: "minutes and seconds mixed up"},
    "force": {4.4482: "lbf and N mixed up", 9.80665: "kgf and N mixed up"},
    "power": {1000.0: "W and kW mixed up", 745.7: "hp and W mixed up"},
    "roughness": {39.37: "microinches and micrometers mixed up"},
    "area": {6.4516: "in2 and cm2 mixed up", 645.16: "in2 and mm2 mixed up", 100.0: "cm2 and mm2 mixed up"},
}  # fmt: skip
"""Ratio of units that are mixed up, by kind of quantity."""
POINT = {10.0: "a slipped decimal point", 100.0: "a slipped decimal point", 1000.0: "a slipped decimal point"}
NEAR = 0.012
"""How near a ratio must come to a factor, as a share, where both values are set and not measured."""


def factor_between(ratio: float, kind: str, near: float = NEAR, point: bool = True) -> str:
    """What turns one value into the other, in words; "" where nothing known does.

    >>> factor_between(25.4, "length"), factor_between(1.3, "length"), factor_between(0.1, "time")
    ('inches and millimeters mixed up', '', 'a slipped decimal point')
    """
    if not (np.isfinite(ratio) and ratio > 0):
        return ""
    for factor, words in {**FACTORS.get(kind, {}), **(POINT if point else {})}.items():
        if abs(abs(np.log(ratio)) - np.log(factor)) <= near:
            return words
    return ""


def swapped(text: str, other: str) -> bool:
    """Whether two written numbers differ by two neighboring digits in the wrong order.

    >>> swapped("278 s", "287"), swapped("278", "279"), swapped("1.25", "1.52")
    (True, False, True)
    """
    one, two = digits(text), digits(other)
    if len(one) != len(two) or one == two:
        return False
    off = [n for n, (a, b) in enumerate(zip(one, two, strict=True)) if a != b]
    return len(off) == 2 and off[1] == off[0] + 1 and one[off[0]] == two[off[1]] and one[off[1]] == two[off[0]]


def swaps(text: str) -> list[str]:
    """The numbers that a written one becomes with two neighboring digits exchanged."""
    number = digits(text)
    pairs = [(n, n + 1) for n in range(len(number) - 1)]
    found = []
    for a, b in pairs:
        if number[a].isdigit() and number[b].isdigit() and number[a] != number[b]:
            found.append(number[:a] + number[b] + number[a] + number[b + 1 :])
    return found


def digits(text: str) -> str:
    """The number at the head of a cell, as written."""
    found = re.match(r"\s*([\d.,]+)", str(text))
    return found[1] if found else ""
