"""A table for people whose cells are sentences: shown whole, in a notebook and as text."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """Heads, and rows of words."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def column(self, head: str) -> dict[str, str]:
        """First word of each row -> its word under a head."""
        at = self.heads.index(head)
        return {row[0]: row[at] for row in self.rows}

    def __str__(self) -> str:
        lines = [
            "\n".join(f"  {head}: {cell}" for head, cell in zip(self.heads[1:], row[1:], strict=True))
            for row in self.rows
        ]
        return "\n".join(f"{row[0]}\n{text}" for row, text in zip(self.rows, lines, strict=True))

    def _repr_html_(self) -> str:
        from bandtrial.panels.base import table

        return table(self.heads, self.rows)
