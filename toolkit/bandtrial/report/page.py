"""Pages from templates: one environment, all that is not the template's own is escaped."""

from __future__ import annotations

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

    from bandtrial.report.glossary import explained

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
    return environment().get_template(template).render(**fields)


def style(name: str) -> str:
    """The style sheet `templates/<name>` as text to stand inside the page."""
    return (TEMPLATES / name).read_text(encoding="utf-8")


def data_uri(svg_or_png: str | bytes) -> str:
    """A drawing as an address that holds the drawing itself, so that the page asks nobody for it."""
    kind = "svg+xml" if isinstance(svg_or_png, str) else "png"
    raw = svg_or_png.encode("utf-8") if isinstance(svg_or_png, str) else svg_or_png
    return f"data:image/{kind};base64,{base64.b64encode(raw).decode('ascii')}"
