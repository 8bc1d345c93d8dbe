"""Numbers as people type them: `3/4`, `1 1/2`, `6,0`, `1,234.5`, `12:40`.

A number that can be read in two ways is refused in words, never guessed.
"""

import math
import re
import unicodedata

from bandtrial.words import quoted

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
    bandtrial.units.numbers.UnitError: "1,234" can mean 1.234 or 1234; write it as one of these
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
