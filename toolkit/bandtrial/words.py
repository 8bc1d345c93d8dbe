"""Texts for people: quoted values, numbers, counts, lists, near names, and a table as text and as HTML.

Knows no units (`units.showing` puts them to a number) and imports nothing of ours.
"""

import difflib
import math
from collections.abc import Iterable, Sequence
from html import escape

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


def table_text(rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a table, its columns as wide as their widest cell.

    >>> table_text([("name", "n"), ("B1", "12")])
    ['name  n', 'B1    12']
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return ["  ".join(f"{cell:<{w}}" for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]


def table_html(heads: Sequence[str], rows: Iterable[Sequence[object]], caption: str = "", style: str = "") -> str:
    """An HTML table, everything escaped; a row of one cell heads those below it, and a pair is a cell and its hover.

    style : CSS of each cell
    """
    style = f"text-align:left;vertical-align:top;{style}"
    head = "".join(f'<th scope="col" style="{style}">{escape(name)}</th>' for name in heads)
    body = "".join(f"<tr>{_cells(row, len(heads), style)}</tr>" for row in rows)
    title = f'<caption style="text-align:left;font-weight:bold">{escape(caption)}</caption>' if caption else ""
    return (f'<table style="border-collapse:collapse;line-height:1.35">{title}<thead><tr>{head}</tr></thead>'
            f"<tbody>{body}</tbody></table>")  # fmt: skip


def _cells(row: Sequence[object], width: int, style: str) -> str:
    if len(row) == 1 < width:
        return f'<th scope="rowgroup" colspan="{width}" style="{style}">{escape(str(row[0]))}</th>'
    pairs = [cell if isinstance(cell, tuple) else (cell, "") for cell in row]
    hovers = [f' title="{escape(str(hover))}"' if hover else "" for _, hover in pairs]
    return "".join(
        f'<td style="{style}"{hover}>{escape(str(text))}</td>' for (text, _), hover in zip(pairs, hovers, strict=True)
    )


def list_html(texts: Iterable[object], style: str = "") -> str:
    """An HTML list, everything escaped; nothing where there is nothing to list."""
    items = "".join(f"<li>{escape(str(text))}</li>" for text in texts)
    look = f' style="{style}"' if style else ""
    return f"<ul{look}>{items}</ul>" if items else ""
