"""A start as HTML for a notebook; every text is escaped."""

from collections.abc import Iterable
from html import escape
from itertools import groupby
from typing import TYPE_CHECKING

from bandtrial.published.as_text import legend

if TYPE_CHECKING:
    from bandtrial.published.rows import Row
    from bandtrial.published.start import Start

HEADS = ("Figure", "Value", "How known", "Source", "Note")
LEFT = 'style="text-align:left;vertical-align:top"'


def start_html(start: "Start") -> str:
    """The same parts as the text: status, what to know, figures, cautions, sources."""
    return "\n".join(
        [
            '<div class="bandtrial-start">',
            f"<h4>Published start: {escape(start.title)}</h4>",
            f"<p><b>{escape(start.status)}</b></p>",
            _listed(start.warnings),
            "<p><b>Before cutting</b></p>",
            _listed(start.cautions),
            _table(start),
            "<details><summary>Sources</summary>",
            _listed(f"{name}: {title}" for name, title in start.sources.items()),
            f"<p>{escape(legend(start))}</p></details>",
            "</div>",
        ]
    )


def _listed(texts: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<ul>{items}</ul>" if items else ""


def _table(start: "Start") -> str:
    head = "".join(f'<th scope="col" {LEFT}>{text}</th>' for text in HEADS)
    bodies = []
    for topic, rows in groupby(start.rows, lambda row: row.topic):
        title = f'<tr><th scope="rowgroup" colspan="{len(HEADS)}" {LEFT}>{escape(topic.capitalize())}</th></tr>'
        bodies.append(f"<tbody>{title}{''.join(_line(row, start.sources) for row in rows)}</tbody>")
    return f"<table><thead><tr>{head}</tr></thead>{''.join(bodies)}</table>"


def _line(row: "Row", titles: dict[str, str]) -> str:
    value = f"{row.value} (sources disagree)" if row.disagrees else row.value
    hover = "; ".join(titles.get(name, name) for name in row.source.split("; "))
    cells = [f"<td {LEFT}>{escape(text)}</td>" for text in (row.quantity, value, row.how_known, row.note)]
    cells.insert(3, f'<td {LEFT} title="{escape(hover)}">{escape(row.source)}</td>')
    return f"<tr>{''.join(cells)}</tr>"
