"""How numbers and units are written: `3/4`, `1 1/2`, `6,0`, `12:40`; the kinds of quantity and their units.

A number that can be read in two ways is refused in words, never guessed. Unit texts are matched against a list of
spellings before pint sees them: text from a file is never evaluated. Conversions are pint's; its registry holds only
the units of a saw.
"""

import math
import re
import unicodedata
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

from bandtrial.words import listed, near, quoted

if TYPE_CHECKING:
    import pint

LONGEST = 80
"""Characters a number with its unit may have."""

_SIGN = r"[+-]?\s*"
_MIXED = r"\d{1,9}(?:\s+|-|\s+-\s+)\d{1,9}\s*/\s*\d{1,9}"
_FRACTION = r"\d{1,9}\s*/\s*\d{1,9}(?![\d.])"
_CLOCK = r"\d{1,9}:\d{1,2}(?::\d{1,2})?(?:[.,]\d+)?"
_SPACED = r"\d{1,3}(?:\s\d{3})+(?:[.,]\d+)?(?![\d])"
_PLAIN = r"(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d{1,3}(?!\d))?"
UNSIGNED = rf"(?:{_MIXED}|{_CLOCK}|{_FRACTION}|{_SPACED}|{_PLAIN})"
NUMBER = rf"{_SIGN}{UNSIGNED}"
_RAISED, _LOWERED = "⁰¹²³⁴⁵⁶⁷⁸⁹", "₀₁₂₃₄₅₆₇₈₉"
_SMALL_FRACTION = re.compile(rf"([{_RAISED}]+)[\u2044/]([{_LOWERED}]+)")


class UnitError(ValueError):
    """A text that is no quantity of the kind asked for; the message is a whole sentence for its writer."""


def tidy(text: str) -> str:
    """Typographic signs as plain ones: the vulgar fraction one half as ` 1/2`, the true minus as `-`.

    A raised or encircled digit is plain only behind a letter, as in in²: 1² is not 12, and stays what it is.
    """
    fractions = _SMALL_FRACTION.sub(_as_fraction, text)
    parts = (_plain_sign(c, fractions[:n].rstrip()[-1:]) for n, c in enumerate(fractions))
    plain = unicodedata.normalize("NFC", "".join(parts)).replace("\u2044", "/")
    return plain.translate({0x2212: "-", 0x2013: "-", 0x3BC: "u", 0xB7: "*", 0xD7: "*"}).strip()


def _as_fraction(found: re.Match[str]) -> str:
    above, below = (unicodedata.normalize("NFKC", part) for part in found.groups())
    return f" {above}/{below}"


def _plain_sign(c: str, before: str) -> str:
    """One character in its plain form; `before` is the last one in front of it that is no blank."""
    if c.isascii():
        return c
    kind = unicodedata.decomposition(c)
    if kind.startswith("<fraction>"):
        return f" {unicodedata.normalize('NFKC', c)}"
    if kind.startswith(("<super>", "<sub>", "<circle>")) and not before.isalpha():
        return c
    return unicodedata.normalize("NFKC", c)


def number(text: str) -> float:
    """The number that `text` writes, without a unit; UnitError where it writes none, or two.

    >>> number("3/4"), number("1 1/2"), number("6,0"), number("1,234.5")
    (0.75, 1.5, 6.0, 1234.5)
    >>> number("1,234")
    Traceback (most recent call last):
    bandtrial.spelling.UnitError: "1,234" can mean 1.234 or 1234; write it as one of these
    """
    if len(text) > LONGEST:
        raise UnitError(f"{quoted(text)} is too long for a number")
    plain = tidy(text)
    sign = -1.0 if plain.startswith("-") else 1.0
    value = _unsigned(plain.lstrip("+-" if plain[:2] not in ("--", "++") else "").strip(), text)
    if not math.isfinite(value):
        raise UnitError(f"{quoted(text)} is too large for a number")
    return sign * value


def clock(text: str) -> float | None:
    """Minutes of a clock time, `minutes:seconds` or `hours:minutes:seconds`; None where it is none.

    >>> clock("12:30"), clock("1:02:30")
    (12.5, 62.5)
    """
    if not re.fullmatch(_CLOCK, text):
        return None
    parts = [float(part.replace(",", ".")) for part in text.split(":")]
    if parts[-1] >= 60 or (len(parts) == 3 and parts[1] >= 60):
        raise UnitError(f"{quoted(text)} is no clock time: minutes and seconds after the first run to 59")
    hours, minutes, seconds = parts if len(parts) == 3 else [0.0, *parts]
    return hours * 60 + minutes + seconds / 60


def _unsigned(plain: str, text: str) -> float:
    if re.fullmatch(_MIXED, plain):
        whole, above, below = (int(part) for part in re.findall(r"\d+", plain))
        return whole + _ratio(above, below, text)
    if re.fullmatch(_FRACTION, plain):
        above, below = (int(part) for part in re.findall(r"\d+", plain))
        return _ratio(above, below, text)
    if re.fullmatch(_SPACED, plain):
        plain = re.sub(r"\s", "", plain).replace(",", ".")
    if re.fullmatch(_PLAIN, plain):
        return float(_decimal_point(plain, text))
    raise UnitError(f"{quoted(text)} is not a number")


def _ratio(above: int, below: int, text: str) -> float:
    if below == 0:
        raise UnitError(f"{quoted(text)} divides by zero")
    return above / below


def _decimal_point(plain: str, text: str) -> str:
    """`plain` with a decimal point and no signs between thousands."""
    commas, points = plain.count(","), plain.count(".")
    if not commas and points <= 1:
        return plain
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", plain):
        point, none = plain.replace(",", "."), plain.replace(",", "")
        raise UnitError(f"{quoted(text)} can mean {point} or {none}; write it as one of these")
    if not points and re.fullmatch(r"\d*,\d+", plain):
        return plain.replace(",", ".")
    if re.fullmatch(r"\d{1,3}(,\d{3})+(\.\d*)?", plain):
        return plain.replace(",", "")
    if re.fullmatch(r"\d{1,3}(\.\d{3})+(,\d+)?", plain):
        return plain.replace(".", "").replace(",", ".")
    raise UnitError(f"{quoted(text)} is not a number: its points and commas do not fit together")


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
    "rate": ("in2/min", "cm2/min"), "energy": ("hp*min/in3", "J/mm3"), "hardness": ("HB", "HRC", "HRB", "HV"),
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
    text = re.sub(r"\b(?:square|sq)\.?\s*([a-z]+)", r"\1 2", text, flags=re.I)
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
