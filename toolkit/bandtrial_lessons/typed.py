"""What people write around a number: "n = 0.142", "about 42 min of cutting", "1.46 x 10^3 min (24 h)", "1.14x".

Only the writing is tidied here; what a number and a unit mean is for `bandtrial.units`.
"""

from __future__ import annotations

import re

from bandtrial import units

UNSEEN = str.maketrans(
    {"\u200b": "", "\ufeff": "", "\u00a0": " ", "\u202f": " ", "−": "-", "$": " ", "€": " ", "£": " "}
)
POWERS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻", "0123456789-")
TIMES_TEN = re.compile(r"\s*[x×*·]\s*10\s*(?:\^|\*\*)?\s*\(?([-+]?\d+|[⁻]?[⁰¹²³⁴⁵⁶⁷⁸⁹]+)\)?(?!\d)", re.IGNORECASE)
EQUALS = re.compile(r"[=≈~→]|:(?!\d)")
BEFORE = re.compile(r"^[^\d]*?(?=[-+]?[.,]?\d)")
BEHIND = re.compile(r"\s*[(\[].*$|,\s+[a-z].*$|\s+(?:or|and|because|so)\s.*$|[\s.;,!?)\]]+$", re.IGNORECASE | re.DOTALL)
FORMULA = re.compile(r"^[^\d]*(?:[a-z]\(|[<{])", re.IGNORECASE)
"""A formula, as "log(2)", is no number; it is left as it is, for the reader to refuse."""
NUMBER = r"[-+]?(?:\d+\s+\d+/\d+|\d+/\d+|[\d.,]*\d[\d.,]*(?:e[-+]?\d+)?)"
PERCENT = re.compile(r"\s*(?:%|percent|per cent|pct|p\.?c\.?)", re.IGNORECASE)
UNITS = re.compile(r"\s*(?:[munk]?m|µm|cm|inch|in|ft|thou|min|h|s|lbf|w|kw|hp|tpi|eur)\b(?!\s+the)", re.IGNORECASE)
"""Behind a number that has no unit, these are a mistake; other words are passed over."""
TEETH = re.compile(r"\s*-?\s*(?:teeth|tooth|pitch|zpz|z|t\.p\.i\.?|(?:teeth |tooth )?per (?:inch|in))$", re.IGNORECASE)
WRITTEN = {
    "time": ((re.compile(r"(?<=\d)\s*(?:m|')$"), " min"),),
    "speed": ((re.compile(r"\s*mpm$", re.IGNORECASE), " m/min"), (re.compile(r"ft/m$"), "ft/min")),
    "chip_load": ((re.compile(r"(?<=\d)\s*ipt$", re.IGNORECASE), " in"), (re.compile(r"/\s*z$"), "")),
    "pitch": ((TEETH, " tpi"),),
    "power": ((re.compile(r"h\.p$", re.IGNORECASE), "hp"), (re.compile(r"Nm/s$"), "W")),
    "force": ((re.compile(r"pounds?[- ]force$", re.IGNORECASE), "lbf"),),
}
"""Kind -> what is written in shops, and the unit that it stands for."""
ASSUMED = {"time": "min", "pitch": "tpi"}
"""Units that their questions name, so that a bare number will do."""


def tidied(text: str) -> str:
    """The number of an answer with what belongs to it: what stands before and behind it goes.

    >>> tidied("n = 0.142"), tidied("about 42 min (0.7 h)."), tidied("1.46 x 10^3 min"), tidied("log(2)")
    ('0.142', '42 min', '1.46e3 min', 'log(2)')
    """
    plain = text.translate(UNSEEN).strip()
    behind = [part for part in EQUALS.split(plain) if re.search(r"\d", part)]
    plain = TIMES_TEN.sub(lambda found: "e" + found[1].translate(POWERS), behind[-1] if behind else plain)
    if FORMULA.match(plain):
        return plain
    plain = re.sub(r"(?<=\d)-(?=[a-z])", " ", BEFORE.sub("", plain, count=1) or plain, flags=re.IGNORECASE)
    shorter = ""
    while shorter != plain:
        shorter, plain = plain, BEHIND.sub("", plain, count=1) or plain
    return plain.strip()


def split(text: str) -> tuple[str, str]:
    """The number at the start of a tidied answer, and what follows it.

    >>> split("42 min"), split("1 1/2 in"), split("12% of its life"), split("b")
    (('42', 'min'), ('1 1/2', 'in'), ('12', '% of its life'), ('', 'b'))
    """
    found = re.match(NUMBER, text, re.IGNORECASE)
    return (found[0], text[found.end() :].strip()) if found else ("", text)


def ratio(text: str) -> tuple[float, str]:
    """A number without a unit, or one over another, with the words behind it; UnitError if it is none.

    >>> ratio("1.14x"), ratio("1/7.04"), ratio("4.72 teeth in the cut")
    ((1.14, 'x'), (0.14205, ''), (4.72, 'teeth in the cut'))
    """
    over = re.fullmatch(r"([\d.]+)\s*[/:]\s*([\d.]+)", text)
    if over and float(over[2]):
        return float(over[1]) / float(over[2]), ""
    number, words = split(text)
    if not number or UNITS.match(words) or re.search(r"\d", words):
        number = text  # which says what is wrong with it
    return units.number(number), words


def quantity(text: str, kind: str) -> float:
    """A quantity in its inside unit, words behind its unit passed over; UnitError if it is none.

    >>> quantity("42 min of cutting", "time"), quantity("42", "time"), quantity("10 teeth", "pitch")
    (42.0, 42.0, 10.0)
    """
    for pattern, unit in WRITTEN.get(kind, ()):
        text = pattern.sub(unit, text)
    try:
        return units.read(text, kind, ASSUMED.get(kind))
    except units.UnitError:
        number, words = split(text)
        first = words.split(" ")[0].rstrip(",;")
        if not number or first == words or re.search(r"\d", words[len(first) :]):
            raise
    return units.read(f"{number} {first}", kind)


def letter(text: str) -> str:
    """The letter of a choice, alone or with what people write about it; "" if there is none.

    >>> letter("(B)"), letter("answer b"), letter("b - a brush"), letter("a brush"), letter("bc")
    ('b', 'b', 'b', '', '')
    """
    plain = re.sub(r"^(?:the |my )?(?:answer|ans|option|choice|letter|it is|it's|i think|i say)\b[\s:=]*(?:is\s)?", "",
                   text.strip().casefold())  # fmt: skip
    found = re.fullmatch(r"[(\[\"'“‘]*([a-z])[)\]\"'”’.?!]*(?:\s*[-–,:;(=].*)?", plain.strip(), re.DOTALL)
    return found[1] if found else ""
