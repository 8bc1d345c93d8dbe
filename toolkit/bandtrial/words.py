"""Texts for people: quoted values, numbers, counts, lists, near names, a table as text and as HTML; JSON for scripts.

Knows no units (`units` puts them to a number) and imports nothing of ours.
"""

import difflib
import json
import math
import re
from collections.abc import Iterable, Sequence
from html import escape
from typing import Any

COMPARISONS = 5000
"""Pairs of a given and a known name compared before near names are no longer looked for; 10,000 take a second."""


def quoted(value: object) -> str:
    """`value` in quotes for a message: one line, no control characters, 40 characters at most.

    >>> quoted("12\\n34")
    '"12 34"'
    """
    return f'"{printable(value)}"'


def printable(value: object) -> str:
    """`value` as one line without control characters, shortened beyond 40 characters."""
    text = "".join(c if c.isprintable() else " " for c in str(value)[:200])
    return text[:37] + "..." if len(text) > 40 else text


def listed(names: Iterable[str], last: str = "and") -> str:
    """Names in a sentence, the last one behind `last`.

    >>> listed(["a"]), listed(["a", "b", "c"]), listed(["a", "b"], "or"), listed([])
    ('a', 'a, b and c', 'a or b', 'none')
    """
    *others, end = list(names) or ["none"]
    return f"{', '.join(others)} {last} {end}" if others else end


def count(n: int, word: str, plural: str | None = None) -> str:
    """A number of things.

    >>> count(1, "cut"), count(1200, "cut"), count(0, "piece")
    ('1 cut', '1,200 cuts', 'no pieces')
    """
    many = plural or word + "s"
    return f"1 {word}" if n == 1 else f"{n:,} {many}" if n else f"no {many}"


def shown(value: float, digits: int = 3) -> str:
    """A number to `digits` significant digits, never fewer than stand before the point, without exponent.

    >>> shown(1234.5), shown(0.000277778), shown(0.75), shown(12.0)
    ('1234', '0.000278', '0.75', '12')
    """
    if not math.isfinite(value):
        return "not known" if math.isnan(value) else "unlimited"
    text = f"{value:.{max(0, digits - 1 - _place(value))}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def between(value: float, low: float, high: float, unit: str = "") -> str:
    """'value (low to high) unit', ending at the second figure of the interval's half width.

    >>> between(1234.4, 1010.1, 1543.9, "in²"), between(0.123456, 0.101, 0.155)
    ('1,230 (1,010 to 1,540) in²', '0.123 (0.101 to 0.155)')
    """
    if not (numbers := in_range(value, low, high)):
        return f"{rounded(value, 3)} {unit}".strip()
    return f"{numbers[0]} ({numbers[1]} to {numbers[2]}) {unit}".strip().replace("-", "−")


def in_range(value: float, low: float, high: float) -> list[str]:
    """A value and its interval, to the second figure of the half width; [] where that is nothing to a reader."""
    half = (high - low) / 2
    if not (math.isfinite(half) and half > 0.002 * abs(value)):
        return []
    places = 1 - math.floor(math.log10(half))
    return [f"{round(x, places):,.{max(places, 0)}f}" for x in (value, low, high)]


def rounded(value: float, figures: int = 2) -> str:
    """A number to so many figures, thousands apart.

    >>> rounded(40455.0), rounded(1.0689), rounded(1779.2, 3), rounded(0.04572)
    ('40,000', '1.1', '1,780', '0.046')
    """
    places = max(0, figures - 1 - math.floor(math.log10(abs(value) or 1)))
    text = f"{float(f'{value:.{figures}g}'):,.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def percent(p: float) -> str:
    """A probability as it may be said: never 0 % or 100 % of something uncertain.

    >>> percent(0.999), percent(0.5), percent(1.0)
    ('over 99 %', '50 %', 'over 99 %')
    """
    return "over 99 %" if p > 0.99 else "under 1 %" if p < 0.01 else f"{100 * p:.0f} %"


def sentences(texts: Iterable[str]) -> list[str]:
    """Texts as sentences: a capital first, a full stop last, empty ones and marks of code left out.

    >>> sentences(["thin evidence: 5 cuts", "", "make 6; `bandtrial plan` lays them out."])
    ['Thin evidence: 5 cuts.', 'Make 6; bandtrial plan lays them out.']
    """
    plain = (text.strip().replace("`", "") for text in texts)
    return [f"{text[0].upper()}{text[1:].rstrip('.')}." for text in plain if text]


def with_error(value: float, error: float | None) -> str:
    """value ± error, ending at the second digit of the error; the value alone where there is no error.

    >>> with_error(50.292, 1.234), with_error(1234.0, 123.0), with_error(0.75, None)
    ('50.3 ± 1.2', '1230 ± 120', '0.75')
    """
    if error is None or not math.isfinite(error) or error == 0 or not math.isfinite(value):
        return shown(value)
    decimals = 1 - _place(error)
    if decimals < 0:
        step = 10.0**-decimals
        return f"{round(value / step) * step:.0f} ± {round(error / step) * step:.0f}"
    return f"{value:.{decimals}f} ± {error:.{decimals}f}"


def _place(value: float) -> int:
    """Power of ten of the first digit, after rounding to two digits: 0.0996 is 0.10, place -1."""
    return int(f"{value:.1e}".partition("e")[2]) if value else 0


def nearest(given: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known name most like the one given, without regard to case; None where none is as like as `cutoff`.

    >>> nearest("Swa1", ["saw1", "saw2"]), nearest("xyz", ["saw1"])
    ('saw1', None)
    """
    folded = {name[:200].casefold(): name for name in known}
    close = difflib.get_close_matches(given[:80].casefold(), folded, n=1, cutoff=cutoff)
    return folded[close[0]] if close else None


def near(given: str, known: Iterable[str], cutoff: float | None = None) -> str:
    """`; did you mean "saw1"?`, or nothing where no known name is near; in a short name one letter of two is half.

    >>> near("plate 1018", ["plate_1018", "plate_304"]), near("xyz", ["saw1"])
    ('; did you mean "plate_1018"?', '')
    """
    close = nearest(given, known, cutoff or (0.5 if len(given) < 4 else 0.6))
    return f"; did you mean {quoted(close)}?" if close else ""


class Nearest:
    """`near` for many given names among the same known ones; silent once it has compared `COMPARISONS` pairs."""

    def __init__(self, known: Iterable[str]) -> None:
        self.known = list(known)
        self.left = COMPARISONS

    def __call__(self, given: str) -> str:
        if self.left <= 0:
            return ""
        self.left -= len(self.known)
        return near(given, self.known)


RISKY = ("=", "+", "-", "@", "\t", "\r")
"""What a cell begins with that a spreadsheet takes for a formula (OWASP, CSV Injection)."""


def defused(text: str) -> str:
    """`text` so that no spreadsheet takes it for a formula; a number stays as it is.

    >>> defused("=1+1"), defused("-0.5"), defused("feed too low")
    ("'=1+1", '-0.5', 'feed too low')
    """
    if not text.startswith(RISKY) or re.fullmatch(r"[+-]?\d[\d.,]*(e[+-]?\d+)?", text, re.I):
        return text
    return "'" + text


def table_text(rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table, its columns as wide as their widest cell.

    >>> table_text([("name", "n"), ("B1", "12")])
    ['name  n', 'B1    12']
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  ".join(f"{cell:<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]


RULED = "padding:.15rem .7rem .15rem 0;border-bottom:1px solid #ccc;white-space:normal"
"""CSS of the cells of a table with a line under each row."""


class Html(str):
    """HTML as it is: a cell of a table that is not escaped again."""


def table_html(heads: Sequence[str], rows: Iterable[Sequence[object]], caption: str = "", style: str = "") -> Html:
    """An HTML table, everything escaped but `Html`; a row of one cell heads those below it, and a pair is a cell and
    its hover.

    heads : of the columns; without any, the first cell of each row is its head; style : CSS of each cell
    """
    style = f"text-align:left;vertical-align:top;{style}"
    head = "".join(f'<th scope="col" style="{style}">{escape(name)}</th>' for name in heads)
    head = f"<thead><tr>{head}</tr></thead>" if heads else ""
    body = "".join(f"<tr>{_cells(row, len(heads), style)}</tr>" for row in rows)
    title = f'<caption style="text-align:left;font-weight:bold">{escape(caption)}</caption>' if caption else ""
    return Html(f'<table style="border-collapse:collapse;line-height:1.35">{title}{head}<tbody>{body}</tbody></table>')


def _cells(row: Sequence[object], width: int, style: str) -> str:
    if len(row) == 1 < width:
        return f'<th scope="rowgroup" colspan="{width}" style="{style}">{escape(str(row[0]))}</th>'
    pairs = [cell if isinstance(cell, tuple) else (cell, "") for cell in row]
    hovers = [f' title="{escape(str(hover))}"' if hover else "" for _, hover in pairs]
    tags = ["td" if width else 'th scope="row"', *["td"] * (len(row) - 1)]
    return "".join(
        f'<{tag} style="{style}"{hover}>{text if isinstance(text, Html) else escape(str(text))}</{tag[:2]}>'
        for tag, (text, _), hover in zip(tags, pairs, hovers, strict=True)
    )


def list_html(texts: Iterable[object], style: str = "") -> str:
    """An HTML list, everything escaped; nothing where there is nothing to list."""
    items = "".join(f"<li>{escape(str(text))}</li>" for text in texts)
    look = f' style="{style}"' if style else ""
    return f"<ul{look}>{items}</ul>" if items else ""


def json_text(value: Any, **look: Any) -> str:
    """`value` as strict JSON, letters as they are; look : as `json.dumps` takes it."""
    return json.dumps(plain(value), allow_nan=False, ensure_ascii=False, **look)


def plain(value: Any) -> Any:
    """`value` in the types that JSON knows; a number that is not finite becomes None.

    >>> plain({"life": float("nan"), "runs": (1, 2)})
    {'life': None, 'runs': [1, 2]}
    """
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set):
        return [plain(item) for item in value]
    if value is None or isinstance(value, str | bool | int):
        return value
    if hasattr(value, "tolist"):  # a numpy scalar or array
        return plain(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return str(value)  # a path, a date
