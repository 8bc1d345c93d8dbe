"""Rockwell and Vickers hardness as Brinell: of steels that are not austenitic, by the tables of ASTM E140.

Figures are from memory, of table 1 (Rockwell C, 20 to 65) and table 2 (Rockwell B, 55 to 100, where Vickers and Brinell
are the same number); Brinell with a ball of carbide and 3000 kgf. In between they are straight. For other metals, such
as austenitic stainless or copper, they are no more than near.
"""

import re
from typing import Any

from bandtrial.spelling import UnitError, number
from bandtrial.words import quoted, shown

_C_FROM, _C_VICKERS = 20, (
    "238 243 248 254 260 266 272 279 286 294 302 310 318 327 336 345 354 363 372 382 392 402 412 423 434 446 458 471 "
    "484 498 513 528 544 560 577 595 613 633 653 674 697 720 746 772 800 832")  # fmt: skip
_C_BRINELL = (
    "226 231 237 243 247 253 258 264 271 279 286 294 301 311 319 327 336 344 353 362 371 381 390 400 409 421 432 443 "
    "455 469 481 496 512 525 543 560 577 595 615 634 654 670 688 705 722 739")  # fmt: skip
_B_FROM, _B_BRINELL = 55, (
    "100 101 103 104 106 107 108 110 112 114 116 117 119 121 123 125 127 130 132 135 137 139 141 144 147 150 153 156 "
    "159 162 165 169 172 176 180 185 190 195 200 205 210 216 222 228 234 240")  # fmt: skip


def _scale(first: int, hardness: str) -> list[tuple[float, float]]:
    return [(float(first + n), float(hb)) for n, hb in enumerate(hardness.split())]


_SOFT = [(hb, hb) for _, hb in _scale(_B_FROM, _B_BRINELL)]
_HARD = [(float(hv), float(hb)) for hv, hb in zip(_C_VICKERS.split(), _C_BRINELL.split(), strict=True)]
TABLES = {
    "HRC": _scale(_C_FROM, _C_BRINELL),
    "HRB": _scale(_B_FROM, _B_BRINELL),
    "HV": _SOFT + [pair for pair in _HARD if pair[0] > 260],  # the two differ by 12 where they meet
}
"""Pairs (hardness on the scale, HB), by scale."""
_SPELLED = {"hrc": "HRC", "rc": "HRC", "hrb": "HRB", "rb": "HRB", "hv": "HV", "vpn": "HV", "dph": "HV"}
_BEFORE = re.compile(r"\s*(HRC|RC|HRB|RB|HV|HBW?|BHN)\s*(\d[^A-Za-z]*(?:to[^A-Za-z]*)?)", re.I)
_RANGE = re.compile(r"\s*([\d.,]+)\s*(?:-|to\b)\s*([\d.,]+)(.*)", re.S)


def turned(text: str) -> str:
    """A scale that stands before its number put behind it; of a range the harder end, on the slow side.

    >>> turned("HRC 32"), turned("130 HB"), turned("28-32 HRC"), turned("HB 180 to 220")
    ('32 HRC', '130 HB', '32 HRC', '220 HB')
    """
    found = _BEFORE.fullmatch(text)
    text = f"{found[2].strip()} {found[1]}" if found else text
    ends = _RANGE.fullmatch(text)
    return f"{max(ends[1], ends[2], key=number)}{ends[3]}" if ends else text


def scale(unit: str) -> str:
    """Which of `TABLES` a unit names, or ""; a load behind it is left out.

    >>> scale("Rc"), scale("HV10"), scale("HB")
    ('HRC', 'HV', '')
    """
    return _SPELLED.get(re.sub(r"\d+$", "", unit.strip()).casefold(), "")


def brinell(value: Any, name: str) -> float:
    """Hardness [HB] of a number on the scale `name` of `TABLES`; UnitError outside its table.

    >>> brinell(32, "HRC"), brinell(72, "HRB"), brinell(140, "HV"), brinell(30.5, "HRC")
    (301.0, 130.0, 140.0, 290.0)
    """
    table, given = TABLES[name], float(value)
    (least, _), (most, _) = table[0], table[-1]
    if not least <= given <= most:
        softer = "; write so soft a metal in HRB or HB" if name == "HRC" and given < least else ""
        harder = "; write so hard a metal in HRC or HB" if name == "HRB" and given > most else ""
        raise UnitError(f"{quoted(f'{shown(given)} {name}')} is outside the table that turns {name} into HB, {least:g} "
                        f"to {most:g} {name}{softer}{harder}")  # fmt: skip
    low = max(pair for pair in table if pair[0] <= given)
    high = min(pair for pair in table if pair[0] >= given)
    share = (given - low[0]) / (high[0] - low[0]) if high != low else 0.0
    return low[1] + share * (high[1] - low[1])
