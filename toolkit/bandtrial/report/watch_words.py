"""The watch for a reader: what bands in service have left, the alarms and the rule behind them."""

from __future__ import annotations

from bandtrial.report import figures, words
from bandtrial.watch.alarms import readings
from bandtrial.watch.state import finishes

MEANING = (
    "An alarm says that the readings of a band or a machine have kept to one side of what the fit expects: something "
    "has changed. Look at band, guides, coolant and bar before the next cut."
)
MOST_PICTURES = 4
MOST_BANDS = 20  # in the picture; the table has them all


def table(study, watch):
    """A row per band in service, the most worn first."""
    heads = [
        "band",
        "on",
        "area sawn",
        "wear used",
        "pieces left",
        "cuts left",
        "next piece finishes",
        "alarm",
    ]
    rows = []
    for b in watch.bands:
        ringing = [alarm.signal.replace("_", " ") for alarm in b.alarms if alarm.now]
        rows.append(
            [
                b.band,
                f"{b.machine}, {b.material}",
                words.quantity(b.area, "area", study.units),
                words.between(b.wear_used, b.wear_used_low, b.wear_used_high),
                f"{b.pieces_left:,} ({b.pieces_left_low:,} to {b.pieces_left_high:,})",
                f"{b.cuts_left:,} ({b.cuts_left_low:,} to {b.cuts_left_high:,})",
                finishes(b.next_finishes),
                words.listed(ringing) if ringing else "no",
            ]
        )
    return heads, rows


def sentences(watch) -> list[str]:
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


def pictures(g) -> list[figures.Picture]:
    """Wear used of the bands in service, and the charts of the first alarms that ring now."""
    found = [figures.wear_used(g.watch.bands[:MOST_BANDS])] if g.watch.bands else []
    ringing = [alarm for alarm in g.watch.alarms if alarm.now][:MOST_PICTURES]
    if not ringing:
        return found
    rows = readings(g.fit, g.cuts[g.cuts["operation"] == "sawing"])
    return found + [
        figures.alarm_chart(
            rows[(rows[alarm.kind] == alarm.name) & (rows["signal"] == alarm.signal)], alarm, g.watch.limit
        )
        for alarm in ringing
    ]
