"""What the books say for a lesson's metal, in short: what a saw is set to, and who says so."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bandtrial.published import Start

TOPICS = ("band", "speed", "feed")
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

    def __str__(self) -> str:
        lines = [f"{row[0]}: {row[1]} ({', '.join(filter(None, row[2:4]))})" for row in self.rows()]
        said = [f"{name}: {title}" for name, title in self.sources()]
        return "\n".join([self.start.title, self.start.status, *self.start.warnings, *lines, *said])

    def _repr_html_(self) -> str:
        from html import escape

        from bandtrial.panels.base import spaced, table

        start = self.start
        said = "".join(f"<p>{text}</p>" for text in (f"<b>{escape(start.status)}</b>", *map(escape, start.warnings)))
        return spaced(said + table(HEADS, self.rows(), f"Published start: {start.title}")
                      + table(("source", "what it is"), self.sources()))  # fmt: skip
