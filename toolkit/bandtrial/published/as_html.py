"""A start as HTML for a notebook; every text is escaped."""

from collections.abc import Iterable
from html import escape
from typing import TYPE_CHECKING

from bandtrial.published.as_text import LEGEND

if TYPE_CHECKING:
    from bandtrial.published.rows import Row
    from bandtrial.published.start import Start


def start_html(start: "Start") -> str:
    """The same parts as the text: status, what to know, figures, cautions, sources."""
    return "\n".join(
        [
            '<div class="bandtrial-start">',
            f"<h4>Published start: {escape(start.title)}</h4>",
            f"<p><b>{escape(start.status)}</b></p>",
            _listed(start.warnings),
            _table(start.rows),
            "<h5>Before cutting</h5>",
            _listed(start.cautions),
            "<details><summary>Sources</summary>",
            _listed(f"{name}: {title}" for name, title in start.sources.items()),
            f"<p>{escape(LEGEND)}</p></details>",
            "</div>",
        ]
    )


def _listed(texts: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<ul>{items}</ul>" if items else ""


def _table(rows: "tuple[Row, ...]") -> str:
    heads = ("", "Figure", "Value", "How known", "Source", "Note")
    head = "".join(f'<th scope="col" style="text-align:left">{text}</th>' for text in heads)
    return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(map(_line, rows))}</tbody></table>"


def _line(row: "Row") -> str:
    value = f"{row.value} (sources disagree)" if row.disagrees else row.value
    cells = (row.topic, row.quantity, value, row.how_known, row.source, row.note)
    return "<tr>" + "".join(f'<td style="text-align:left">{escape(cell)}</td>' for cell in cells) + "</tr>"
