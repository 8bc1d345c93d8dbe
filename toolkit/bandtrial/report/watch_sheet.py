"""The watch sheet: the bands in service on a page, to read on a screen or to hang at the saws."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial.report import answers, words
from bandtrial.watch.record import ROWS
from bandtrial.watch.state import finishes

if TYPE_CHECKING:
    from bandtrial.study.model import Study


NOTHING_YET = "Nothing was written down yet. Each time the watch is asked it writes down what it foretells."


def write_watch_sheet(watch: Any, study: Study, out: Any, pdf: bool = False, made: str | None = None) -> Path:
    """Write a `watch.Watch` to `out` (HTML, self-contained), and a PDF beside it if asked.

    made : the date on the sheet, today's by default. Returns the path of the HTML file. Raises pdf.NoBrowser,
    disk.NotWrittenError.
    """
    from bandtrial.report.html import write_sheet_of

    return write_sheet_of("watch_sheet.html", watch_sheet_fields(watch, study), study, out, pdf, made)


def watch_sheet_fields(watch: Any, study: Study) -> dict[str, Any]:
    """Every field of templates/watch_sheet.html that it has beside other sheets."""
    from bandtrial import published
    from bandtrial.report.sheet import STOP

    most = answers.MOST_BANDS
    rest = len(watch.bands) - most
    return {
        "alarms": [f"ALARM {alarm}." for alarm in watch.alarms if alarm.now],
        "bands": [_band(band, study) for band in watch.bands[:most]],
        "more": words.sentences(
            [
                watch.not_yet,
                *watch.warnings,
                f"{rest} bands more are less worn; bandtrial watch lists them" if rest > 0 else "",
                *(f"{band} is in service and has no cut yet" for band in watch.without_cuts),
            ]
        ),
        "stop": STOP,
        "score": (watch.score and watch.score.say()) or NOTHING_YET,
        "heads": ROWS,
        "past": watch.score.rows() if watch.score and watch.score.past else [],
        "cautions": published.CAUTIONS,
    }


def _band(b: Any, study: Study) -> dict[str, str]:
    change = b.change.said if b.change else "when it is dull, or ends otherwise"
    return {
        "name": b.band,
        "where": f"{b.machine}, {study.materials[b.material].name or b.material}",
        "left": f"{words.count(b.pieces_left, 'piece')} left",
        "span": f"{b.pieces_left_low:,} to {b.pieces_left_high:,}, as at its last cut, {b.last_cut}",
        "change": f"{change[0].upper()}{change[1:]}.",
        "used": words.between(b.wear_used, b.wear_used_low, b.wear_used_high),
        "next": finishes(b.next_finishes),
    }
