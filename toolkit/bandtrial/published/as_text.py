"""A start as text."""

from textwrap import wrap
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bandtrial.published.start import Start

WIDTH = 100
LEFT = 28
LEGEND = (
    "How known. read: seen in the source. memory: remembered from it. memory, unsure: shown, never used as a "
    "check. trade fact: common practice. worked out: from the lines above. our choice: nobody published it."
)


def legend(start: "Start") -> str:
    """What the ways of knowing mean, with those used here only."""
    own = any(row.how_known == "your own" for row in start.rows)
    return f"{LEGEND} your own: from study.toml." if own else LEGEND


def start_text(start: "Start") -> str:
    """Status first, then what to know, the figures with source and how known, cautions, sources."""
    lines = [f"Published start: {start.title}", *_wrapped(start.status)]
    lines += ["", *(line for text in start.warnings for line in _item(text, "!"))] if start.warnings else []
    topic = ""
    for row in start.rows:
        if row.topic != topic:
            topic = row.topic
            lines += ["", topic.capitalize()]
        mark = "  (sources disagree)" if row.disagrees else ""
        lines += _columns(row.quantity, f"{row.value}{mark}")
        lines += _columns("", f"[{row.how_known}] {': '.join(part for part in (row.source, row.note) if part)}")
    lines += ["", "Before cutting", *(line for text in start.cautions for line in _item(text, "-"))]
    lines += ["", "Sources"]
    lines += [line for name, title in start.sources.items() for line in _columns(name, title)]
    lines += ["", *_wrapped(legend(start))]
    return "\n".join(lines)


def _wrapped(text: str, indent: str = "") -> list[str]:
    return wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def _item(text: str, mark: str) -> list[str]:
    return wrap(text, WIDTH, initial_indent=f"  {mark} ", subsequent_indent="    ")


def _columns(left: str, right: str) -> list[str]:
    first = f"  {left:<{LEFT}}"
    return wrap(right, WIDTH, initial_indent=first, subsequent_indent=" " * len(first))
