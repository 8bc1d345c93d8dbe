"""The kinds of quantity and their units. Conversions are pint's; its registry holds only the units of a saw.

Unit texts are matched against a list of spellings before pint sees them: text from a file is never evaluated.
"""

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from bandtrial.units.numbers import UnitError, tidy
from bandtrial.words import listed, near, quoted

if TYPE_CHECKING:
    import pint

KINDS = {
    "speed": "m/min", "length": "mm", "feed_rate": "mm/min", "force": "N", "time": "min", "power": "W",
    "roughness": "um", "chip_load": "um", "pitch": "tpi", "area": "cm2", "gullet_area": "mm2",
    "rate": "cm2/min", "energy": "J/mm3", "hardness": "HB", "mass": "kg", "money": "", "number": "",
}  # fmt: skip
"""Kind of quantity -> the unit it has inside."""

_DISPLAY = {
    "us": {
        "speed": "ft/min", "length": "in", "feed_rate": "in/min", "force": "lbf", "power": "hp",
        "roughness": "µin", "chip_load": "in", "area": "in²", "gullet_area": "in²", "rate": "in²/min",
        "energy": "hp*min/in³", "mass": "lb",
    },
    "metric": {"roughness": "µm", "chip_load": "µm", "area": "cm²", "gullet_area": "mm²", "rate": "cm²/min",
               "energy": "J/mm³"},
}  # fmt: skip

_EXAMPLES = {
    "speed": ("ft/min", "m/min", "m/s"), "length": ("in", "ft", "thou", "mm", "cm", "m"),
    "feed_rate": ("in/min", "mm/min", "mm/s"), "force": ("lbf", "N", "kgf"), "time": ("s", "min", "h"),
    "power": ("hp", "W", "kW"), "roughness": ("uin", "um"), "chip_load": ("in", "thou", "um", "mm"),
    "pitch": ("tpi", "teeth/in"), "area": ("in2", "ft2", "cm2", "mm2"), "gullet_area": ("in2", "mm2"),
    "rate": ("in2/min", "cm2/min"), "energy": ("hp*min/in3", "J/mm3"), "hardness": ("HB",),
    "mass": ("lb", "kg"), "money": (), "number": (),
}  # fmt: skip

_DEFINITIONS = """
m = [length]
s = [time]
kg = [mass]
HB = [hardness]
mm = 1e-3 m
cm = 1e-2 m
um = 1e-6 m
inch = 0.0254 m
ft = 12 inch
thou = 1e-3 inch
uin = 1e-6 inch
minute = 60 s
h = 3600 s
day = 24 h
g = 1e-3 kg
lb = 0.45359237 kg
N = kg * m / s ** 2
kN = 1e3 N
daN = 10 N
kgf = 9.80665 N
lbf = 0.45359237 kgf
W = N * m / s
kW = 1e3 W
hp = 550 ft * lbf / s
PS = 75 kgf * m / s
J = N * m
kJ = 1e3 J
tpi = 1 / inch
fpm = ft / minute
ipm = inch / minute
teeth = []
"""

_SPELLINGS = {
    "m": "m meter meters metre metres", "mm": "mm millimeter millimeters millimetre millimetres",
    "cm": "cm centimeter centimeters centimetre centimetres",
    "um": "um micron microns micrometer micrometers micrometre micrometres",
    "inch": 'in in. inch inches " \'\'', "ft": "ft ft. foot feet '", "thou": "thou mil mils",
    "uin": "uin microinch microinches", "s": "s sec sec. secs second seconds",
    "minute": "min min. mins minute minutes", "h": "h hr hrs hour hours", "day": "d day days",
    "kg": "kg kilogram kilograms", "g": "g gram grams", "lb": "lb lbs lb. pound pounds",
    "N": "N newton newtons", "kN": "kN", "daN": "daN", "kgf": "kgf kp", "lbf": "lbf", "W": "W watt watts",
    "kW": "kW kilowatt kilowatts", "hp": "hp horsepower", "PS": "PS",
    "J": "J joule joules", "kJ": "kJ", "HB": "HB HBW BHN",
    "tpi": "tpi", "fpm": "fpm sfm sfpm", "ipm": "ipm", "teeth": "teeth tooth t 1",
}  # fmt: skip

_UNIT_OF = {word: unit for unit, words in _SPELLINGS.items() for word in words.split()}
_UNIT_OF_FOLDED = {word.casefold(): unit for word, unit in _UNIT_OF.items()}
_AS_FORCE = {"lb": "lbf", "kg": "kgf"}  # a weight feed is written by its weight


@cache
def registry() -> "pint.UnitRegistry[Any]":
    """The one pint registry, made at first use."""
    import pint

    return pint.UnitRegistry(_DEFINITIONS.strip().splitlines(), on_redefinition="ignore")


@lru_cache(maxsize=1024)
def factor(unit: str, kind: str) -> float:
    """What a value in `unit` is multiplied by to be in the inside unit of `kind`; UnitError with near names.

    >>> factor("in", "length"), factor("kW", "power")
    (25.4, 1000.0)
    """
    import pint

    quantities = registry()
    try:
        given = quantities.parse_units(_canonical(unit, kind))
        return float(quantities.Quantity(1.0, given).to(_canonical(KINDS[kind], kind)).magnitude)
    except pint.DimensionalityError:
        raise UnitError(f"{quoted(unit)} is not a unit of {words(kind)}; use {listed(units_of(kind), 'or')}") from None


def display_unit(kind: str, system: str) -> str:
    """The unit people of a system ("us" or "metric") read a kind in.

    >>> display_unit("speed", "us"), display_unit("speed", "metric")
    ('ft/min', 'm/min')
    """
    if kind not in KINDS:
        raise KeyError(f"no kind of quantity {kind!r}; there are {', '.join(KINDS)}")
    if system not in _DISPLAY:
        raise ValueError(f"system of units {quoted(system)}; there are us and metric")
    return _DISPLAY[system].get(kind, KINDS[kind])


def units_of(kind: str) -> tuple[str, ...]:
    """Units to offer where a kind is asked for."""
    return _EXAMPLES[kind]


def words(kind: str) -> str:
    """A kind in words: `feed_rate` as `feed rate`."""
    return kind.replace("_", " ")


def _canonical(unit: str, kind: str) -> str:
    """`unit` spelled in the registry's own names: `sq in / MIN` as `inch ** 2 / minute`."""
    text = re.sub(r"\bper\b", "/", tidy(unit))
    text = re.sub(r"\b(?:sq|square)\.?\s*([a-z]+)", r"\1 2", text, flags=re.I)
    text = re.sub(r"\bcu(?:bic)?\.?\s*([a-z]+)", r"\1 3", text, flags=re.I)
    sides = text.replace("**", "^").split("/")
    if len(text) > 40 or len(sides) > 2:
        raise _unknown(unit, kind)
    return " / ".join(_product(side, unit, kind) for side in sides)


def _product(text: str, unit: str, kind: str) -> str:
    """One side of the fraction bar: atoms with exponents, as in `hp*min` or `cm^2`."""
    atoms = []
    for atom in text.split("*"):
        found = re.fullmatch(r"\s*([a-zA-Z\"'.]+|1)\s*(?:\^?\s*([123]))?\s*", atom)
        name = found and (_UNIT_OF.get(found[1]) or _UNIT_OF_FOLDED.get(found[1].casefold()))
        if not found or not name:
            raise _unknown(unit, kind)
        name = _AS_FORCE.get(name, name) if kind == "force" else name
        atoms.append(f"{name} ** {found[2]}" if found[2] else name)
    return atoms[0] if len(atoms) == 1 else f"({' * '.join(atoms)})"


def _unknown(unit: str, kind: str) -> UnitError:
    hint = near(tidy(unit)[:40], units_of(kind), 0.5)
    use = f"use {listed(units_of(kind), 'or')}" if units_of(kind) else "none is needed"
    return UnitError(f"{quoted(unit)} is not a unit of {words(kind)} known here: {use}{hint}")
