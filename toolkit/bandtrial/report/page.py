"""Pages from templates: one environment, all that is not the template's own is escaped; and the glossary: what the
words of the trade and of statistics on a page mean, each explained where it stands.
"""

import base64
import re
from functools import lru_cache
from pathlib import Path
from typing import Any

TEMPLATES = Path(__file__).parents[1] / "templates"
_RIGHT = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefe\U00010800-\U00010fff\U0001e800-\U0001efff"
_FROM_THE_RIGHT = re.compile(rf"(?<![\w-])[\w-]*[{_RIGHT}](?:[^A-Za-z<>&\u2066-\u2069]{{0,80}}[{_RIGHT}])*[\w-]*")
PAPER = {"us": "letter", "metric": "A4"}


@lru_cache(maxsize=1)
def environment() -> Any:
    """The jinja2 environment: autoescape always on, a missing field is an error and never an empty place."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        finalize=lambda field: isolated(field) if type(field) is str else field,
    )
    made.filters["explained"] = lambda text: explained(isolated(text) if type(text) is str else text)
    return made


def isolated(text: str) -> str:
    """`text` with each name that runs from the right set off, so that numbers and words beside it keep their places.

    Done with the signs FSI and PDI (Unicode Standard Annex 9), which work in attributes and styles as well.

    >>> isolated("saw 1"), isolated("منشار 3").encode("unicode_escape").decode().count("u2068")
    ('saw 1', 1)
    """
    return text if text.isascii() else _FROM_THE_RIGHT.sub("\u2068\\g<0>\u2069", text)


def render(template: str, **fields: Any) -> str:
    """The page of `templates/<template>` with its fields filled in."""
    return str(environment().get_template(template).render(**fields))


def style(*names: str) -> str:
    """The style sheets `templates/<name>` as text to stand inside the page."""
    return "".join((TEMPLATES / name).read_text(encoding="utf-8") for name in names)


def data_uri(svg_or_png: str | bytes) -> str:
    """A drawing as an address that holds the drawing itself, so that the page asks nobody for it."""
    kind = "svg+xml" if isinstance(svg_or_png, str) else "png"
    raw = svg_or_png.encode("utf-8") if isinstance(svg_or_png, str) else svg_or_png
    return f"data:image/{kind};base64,{base64.b64encode(raw).decode('ascii')}"


TERMS = {
    "on the dial": "what the machine's own speed dial shows; the band may run faster or slower",
    "true speed": "the speed of the band itself, as the speed check with a tachometer found it",
    "chip load": "the layer of metal that each tooth takes; it grows with the feed and falls with the band speed",
    "feed per tooth": "the layer of metal that each tooth takes",
    "gullet fill": "how full of chips the gap between two teeth is when the tooth leaves the work; at 1 it packs",
    "teeth in the cut": "how many teeth are in the work at a time",
    "squareness": "how far the cut runs off square or off its line at its worst place",
    "out of square": "how far the cut runs off square or off its line at its worst place",
    "break-in": "the first cuts of a new band, at a light feed, so that its edges wear evenly",
    "published start": "the band speed that printed tables give for this metal, thickness and kind of edge",
    "wear used": "the share of a typical band's life that is used up: 0 for a new band, 1 for a worn-out one",
    "band life": "how much a band saws before it is worn out or breaks, on average over many bands",
    "cutting rate": "the area sawn per minute of cutting",
    "contact minutes": "the time that one tooth has been in the work",
    "evidence": "the cuts and bands in the log that the answer rests on",
    "80 % interval": "a range that holds the true figure 8 times in 10",
    "80 % intervals": "ranges that hold the true figure 8 times in 10",
    "80 %": "of the range that is given: it holds the true figure 8 times in 10",
    "probability": "how many times in 100 it is so",
    "prior": "what was believed before the trial, from published figures and common practice",
    "posterior": "what is believed after the trial: the prior and the cuts together",
    "Weibull shape": "how alike bands live: the higher, the more they end at about the same wear",
    "residual": "a reading less what the model foretold for it",
    "residuals": "readings less what the model foretold for them",
    "standard deviation": "how far readings stray: two in three lie within it",
}
"""Each word as it stands in texts, and what it means in the trade's words."""

_FOUND = re.compile(rf"\b(?:{'|'.join(re.escape(word) for word in sorted(TERMS, key=len, reverse=True))})(?!\w)", re.I)
_MEANS = {word.casefold(): meaning for word, meaning in TERMS.items()}


def explained(text: Any) -> Any:
    """A text as HTML, escaped, the first of each word of the glossary in it with its meaning to hover over.

    >>> print(explained("gullet fill < 1"))
    <abbr title="how full of chips the gap between two teeth is when the tooth leaves the work; at 1 it packs">gullet fill</abbr> &lt; 1
    """  # noqa: E501
    from markupsafe import Markup, escape

    said: set[str] = set()

    def about(found: re.Match[str]) -> str:
        word = found[0].casefold()
        if word in said:
            return found[0]
        said.add(word)
        return f'<abbr title="{escape(_MEANS[word])}">{found[0]}</abbr>'

    return Markup(_FOUND.sub(about, str(escape(text))))
