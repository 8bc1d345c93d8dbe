"""What the books say for a lesson's metal, in short: what a saw is set to, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bandtrial.published import Start

TOPICS = ("band", "speed", "feed")
SHORT = ("pitch, if constant", "tooth form", "set", "band speed", "chip load range", "new band, first cuts")
"""Figures told in short."""
HEADS = ("figure", "value", "how known", "source", "note")


@dataclass(frozen=True)
class Books:
    """A published start without what a lesson does not ask for: contours, file bands, polishing bands."""

    start: Start

    def rows(self) -> list[tuple[str, ...]]:
        return [(row.quantity, row.value, row.how_known, row.source, row.note) for row in self.start.rows
                if row.topic in TOPICS]  # fmt: skip

    def sources(self) -> list[tuple[str, str]]:
        """The sources that the rows name, spelled out."""
        named = {name for row in self.rows() for name in row[3].split("; ")}
        return [(name, title) for name, title in self.start.sources.items() if name in named]

    def in_short(self) -> list[str]:
        """The few figures that a saw is set by, one line each, with how they are known."""
        rows = {row[0]: row for row in self.rows()}
        return [
            f"{name}: {rows[name][1]} ({', '.join(filter(None, rows[name][2:4]))})" for name in SHORT if name in rows
        ]

    def __str__(self) -> str:
        lines = [f"{row[0]}: {row[1]} ({', '.join(filter(None, row[2:4]))})" for row in self.rows()]
        said = [f"{name}: {title}" for name, title in self.sources()]
        return "\n".join([self.start.title, self.start.status, *self.start.warnings, *lines, *said])

    def _repr_html_(self) -> str:
        from html import escape

        from bandtrial.panels.base import spaced, table

        start = self.start
        short = "".join(f"<li>{escape(text)}</li>" for text in self.in_short())
        said = "".join(f"<p>{text}</p>" for text in (f"<b>{escape(start.status)}</b>", *map(escape, start.warnings)))
        whole = (said + table(HEADS, self.rows(), f"Published start: {start.title}")
                 + table(("source", "what it is"), self.sources()))  # fmt: skip
        fold = f"<details><summary>every figure, with its source</summary>{whole}</details>"
        return spaced(f"<ul>{short}</ul>{fold}")
