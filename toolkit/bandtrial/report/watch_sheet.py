"""The bands in service in words and pictures, and the watch sheet: a page to read or to hang at the saws."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial import published
from bandtrial.report import figures, words
from bandtrial.watch.charts import readings
from bandtrial.watch.record import ROWS
from bandtrial.watch.state import Watch, finishes

if TYPE_CHECKING:
    from bandtrial.report.context import Gathered
    from bandtrial.study.model import Study


NOTHING_YET = "Nothing was written down yet. Each time the watch is asked it writes down what it foretells."
MEANING = (
    "An alarm says that the readings of a band or a machine have kept to one side of what the fit expects: something "
    "has changed. Look at band, guides, coolant and bar before the next cut."
)
MOST_PICTURES = 4
MOST_BANDS = 20  # in the picture; the table has them all


def write_watch_sheet(watch: Any, study: Study, out: Any, pdf: bool = False, made: str | None = None) -> Path:
    """Write a `watch.Watch` to `out` (HTML, self-contained), and a PDF beside it if asked.

    made : the date on the sheet, today's by default. Returns the path of the HTML file. Raises pdf.NoBrowser,
    disk.NotWrittenError.
    """
    from bandtrial.report.html import write_sheet_of

    return write_sheet_of("watch_sheet.html", watch_sheet_fields(watch, study), study, out, pdf, made)


def watch_sheet_fields(watch: Any, study: Study) -> dict[str, Any]:
    """Every field of templates/watch_sheet.html that it has beside other sheets."""
    from bandtrial.report.sheet import STOP

    rest = len(watch.bands) - MOST_BANDS
    return {
        "alarms": [f"ALARM {alarm}." for alarm in watch.alarms if alarm.now],
        "bands": [_band(band, study) for band in watch.bands[:MOST_BANDS]],
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


def table(study: Study, watch: Watch) -> words.Table:
    """A row per band in service, the most worn first."""
    heads = ["band", "on", "area sawn", "wear used", "pieces left", "cuts left", "next piece finishes", "alarm"]
    rows = []
    for b in watch.bands:
        ringing = [alarm.signal.replace("_", " ") for alarm in b.alarms if alarm.now]
        rows.append([
            b.band, f"{b.machine}, {b.material}", words.quantity(b.area, "area", study.units),
            words.between(b.wear_used, b.wear_used_low, b.wear_used_high),
            f"{b.pieces_left:,} ({b.pieces_left_low:,} to {b.pieces_left_high:,})",
            f"{b.cuts_left:,} ({b.cuts_left_low:,} to {b.cuts_left_high:,})", finishes(b.next_finishes),
            words.listed(ringing) if ringing else "no",
        ])  # fmt: skip
    return heads, rows


def sentences(watch: Watch) -> list[str]:
    """The alarms in words, and the rule they come from."""
    lines = [] if watch.bands else ["No band is in service."]
    lines += [f"{b.band}: {b.change.said}." for b in watch.bands[:MOST_BANDS] if b.change]
    lines += [f"{band} is in service and has no cut yet." for band in watch.without_cuts]
    ringing = [str(alarm) for alarm in watch.alarms if alarm.now]
    lines += [f"ALARM: {text}." for text in ringing] or ["No alarm rings now."]
    lines += [f"Earlier: {text}." if not text.endswith(":") else f"Earlier: {text}" for text in watch.earlier()]
    if watch.bands:
        lines.append(MEANING)
        lines.append("What is left is counted at the setting of each band's last cut.")
    lines += watch.past()
    return [*lines, watch.rule_in_words()]


def pictures(g: Gathered) -> list[figures.Picture]:
    """Wear used of the bands in service, and the charts of the first alarms that ring now."""
    found = [figures.wear_used(g.watch.bands[:MOST_BANDS])] if g.watch.bands else []
    ringing = [alarm for alarm in g.watch.alarms if alarm.now][:MOST_PICTURES]
    if not ringing:
        return found
    rows = readings(g.fit, g.cuts[g.cuts["operation"] == "sawing"])
    for alarm in ringing:
        mine = rows[(rows[alarm.kind] == alarm.name) & (rows["signal"] == alarm.signal)]
        found.append(figures.alarm_chart(mine, alarm, g.watch.limit, g.study.lines.of))
    return found
