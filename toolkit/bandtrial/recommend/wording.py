"""Answers in words: one list of (label, value, note) behind the text and the HTML of every result."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from bandtrial import sawing, units, words
from bandtrial.published.tables import CAUTIONS
from bandtrial.words import list_html, percent

if TYPE_CHECKING:
    from bandtrial.recommend.answer import Recommendation
    from bandtrial.recommend.card_beside import Line
    from bandtrial.recommend.job import Job
    from bandtrial.recommend.limits import Limit


Field = tuple[str, str, str]
WIDTH = 110
NEAREST = "nearest to the published start"
"""What the setting is called that comes as near the published start as the machine can be set."""
WORKED_OUT = "How this was worked out"
MEAN_LIFE = "mean area per band; costs are reckoned with less, as short lives cost most"


def interval(value: float, low: float, high: float, kind: str, system: str, level: str = "80 %") -> str:
    """Value with its interval in a system's unit, digits following the interval's width.

    >>> interval(50.0, 48.4, 52.1, "speed", "metric")
    '50.0 m/min (80 %: 48.4 to 52.1)'
    """
    unit = units.display_unit(kind, system)
    return spread([units.from_inside(x, kind, unit) for x in (value, low, high)], unit, level)


def money(value: Any, low: Any, high: Any, currency: str, system: str) -> str:
    """Cost per area with its interval, per square inch or cm2."""
    unit = units.display_unit("area", system)
    per = 1 / float(units.from_inside(1.0, "area", unit))
    return spread([x * per for x in (value, low, high)], f"{currency}/{unit}")


def price(value: float, currency: str, system: str) -> str:
    """Cost per area without an interval."""
    unit = units.display_unit("area", system)
    return f"{words.shown(value / float(units.from_inside(1.0, 'area', unit)))} {currency}/{unit}"


def spread(values: list[float], unit: str, level: str = "80 %") -> str:
    """'value unit (80 %: low to high)' to two figures of the half width; three in all where it has none."""
    value, low, high = (float(x) for x in values)
    if not (numbers := words.in_range(value, low, high)):
        return f"{words.shown(value)} {unit}"
    return "{} {unit} ({level}: {} to {})".format(*(one.replace(",", "") for one in numbers), unit=unit, level=level)


def feed_words(job: Job, feed: float) -> str:
    """The feed's setting: a rate, a force, or for a hand feed the pace."""
    if job.feed == "force":
        return units.show(feed, "force", job.system)
    rate = units.show(feed, "feed_rate", job.system)
    return f"{rate}, by hand {hand_pace(feed, job.system)}" if job.feed == "hand" else rate


def hand_pace(feed: float, system: str) -> str:
    """What to count while pushing, at a feed rate [mm/min].

    >>> hand_pace(60.0, "metric"), hand_pace(60.0, "us")
    ('10.0 s per 10 mm', '25.4 s per inch')
    """
    return f"{sawing.seconds_per_inch(feed):.1f} s per inch" if system == "us" else f"{600 / feed:.1f} s per 10 mm"


def setting_words(job: Job, band_speed: float, bite: float) -> str:
    """A setting as it is set: the dial, and the feed."""
    shown = units.show(float(job.machine.indicated_speed(band_speed)), "speed", job.system)
    return f"{shown} on the dial, {feed_words(job, float(job.feed_of(band_speed, bite)))}"


def run_words(job: Job, run: Any) -> str:
    """A run of trial cuts as it is set, on one line."""
    shown = units.show(run.indicated, "speed", job.system)
    many = words.count(run.cuts, "cut")
    band = f"a new {job.stock.id}" if run.band == "new" else f"band {run.band} ({job.stock.id})"
    return f"{many} on {band} at {shown} on the dial, {feed_words(job, run.feed)}, {run.minutes:g} min"


def change_words(change_after: float | None, system: str) -> str:
    """When the band comes off."""
    return "run to the end" if change_after is None else f"after {units.show(change_after, 'area', system)}"


def fields(r: Recommendation) -> list[Field]:
    """Every line of a recommendation, status first."""
    warned = [("warning", text, "") for text in r.warnings]
    return [("status", r.status, ""), *_set(r), *warned, *_gives(r), *_stops(r), *_compared(r), *_limits(r), *_ends(r)]


def setting_fields(r: Recommendation) -> list[Field]:
    """The same of the setting alone, without what it is compared with and its limits."""
    return [*_set(r), *_gives(r), *_stops(r), *_ends(r)]


def _set(r: Recommendation) -> list[Field]:
    """What to set, and when to change the band."""
    job, s, system = r.job, r.setting, r.job.system
    by_hand = " (hand feed: the pace to hold)" if job.feed == "hand" else ""
    why_then = "an earlier change would not pay" if s.change_after is None else "or when it ends, if that comes first"
    return [
        (
            "job",
            f"{job.material.id}, {units.show(job.thickness, 'length', system)}, {job.machine.id}, "
            f"{job.stock.id} ({job.stock.pitch})",
            f"goal: {r.goal}",
        ),
        (
            "set the band speed to",
            units.show(s.indicated, "speed", system),
            f"on the dial; true {units.show(s.band_speed, 'speed', system)}",
        ),
        (
            "set the feed to",
            feed_words(job, s.feed),
            f"chip load {units.show(s.chip_load, 'chip_load', system)}, {job.teeth:.1f} teeth in the cut" + by_hand,
        ),
        ("change the band", change_words(s.change_after, system), why_then),
        *([("the sign to look for", *r.sign.said(system))] if r.sign else []),
    ]


def _gives(r: Recommendation) -> list[Field]:
    """What the setting gives in the long run."""
    job, s, system = r.job, r.setting, r.job.system
    return [
        ("cost", money(s.cost.value, s.cost.low, s.cost.high, job.currency, system), "long-run, all in"),
        ("band life", interval(s.life.value, s.life.low, s.life.high, "area", system), MEAN_LIFE),
        ("cutting rate", interval(s.rate.value, s.rate.low, s.rate.high, "rate", system), "while cutting"),
        (
            "best speed",
            interval(r.speed.value, r.speed.low, r.speed.high, "speed", system),
            f"true; published start {units.show(r.published_band_speed, 'speed', system)}",
        ),
        ("rounding costs", f"{100 * r.rounding_cost:.1f} %", "against settings no dial could hold"),
    ]


STOPS = {"faster": "the next faster", "heavier": "the next heavier", "published_start": "why not published"}


def _stops(r: Recommendation) -> list[Field]:
    """What stops the next faster and heavier setting, and what rules the published start out."""
    return [(STOPS[name], stop.said, stop.setting) for name, stop in r.stops.items()]


def _compared(r: Recommendation) -> list[Field]:
    rows = []
    for other in r.table:
        if other.beaten_by is None:
            continue
        cost = money(other.cost.value, other.cost.low, other.cost.high, r.job.currency, r.job.system)
        rows.append(
            (
                other.name,
                f"{units.show(other.band_speed, 'speed', r.job.system)}, {feed_words(r.job, other.feed)}: {cost}",
                _against(r, other),
            )
        )
    return rows


def _against(r: Any, other: Any) -> str:
    """How surely the recommendation is better than another setting, and why it is not taken where it is not."""
    better = f"the recommendation is better with {percent(other.beaten_by)} probability"
    if other.beaten_by == 0 and other.note.endswith("it is this one"):
        return str(other.note)
    stop = r.stops.get("published_start") if other.name == NEAREST and other.beaten_by < 0.5 else None
    return "; ".join(text for text in (better, stop.said if stop else "", other.note) if text)


KINDS = {"m/min": "speed", "mm/min": "feed_rate", "N": "force", "mm": "length", "um": "chip_load", "W": "power",
         "cm2": "area"}  # fmt: skip
"""Units of limits that are shown in the study's own; the others are the same in both systems."""


def limit_words(limit: Limit, system: str) -> tuple[str, str, str]:
    """Value, limit and unit of a limit, in the units of a system."""
    if limit.unit not in KINDS:
        return words.shown(limit.value), words.shown(limit.limit), limit.unit.strip("-")
    kind = KINDS[limit.unit]
    unit = units.display_unit(kind, system)
    value, bound = (words.shown(float(units.from_inside(x, kind, unit))) for x in (limit.value, limit.limit))
    return value, bound, unit


def _limits(r: Recommendation) -> list[Field]:
    rows = []
    for limit in r.limits:
        side = "at most" if limit.at_most else "at least"
        sure = "" if limit.probability in (0.0, 1.0) else f", {percent(limit.probability)} sure"
        rows.append(
            (
                f"limit: {limit.name}",
                "{} ({side} {}) {}".format(*limit_words(limit, r.job.system), side=side).strip(),
                f"{'holds' if limit.ok else 'BROKEN'}{sure}" + (f"; {limit.note}" if limit.note else ""),
            )
        )
    return rows


def _ends(r: Recommendation) -> list[Field]:
    e = r.evidence
    rows = [
        (
            "evidence",
            f"{words.count(e['cuts'], 'cut')}, {e['minutes']:g} minutes, {words.count(e['bands'], 'band')}, "
            f"{e['failed']} of them ended",
            f"{e['censored']} still sound when last seen",
        )
    ]
    if r.next_step:
        rows.append(("next step", r.next_step, ""))
    if r.telling_cut:
        rows.append(("would tell most", run_words(r.job, r.telling_cut), r.telling_cut.why))
    return rows


def table_text(rows: list[Field]) -> str:
    """The lines as plain text, labels in a column."""
    width = max(len(label) for label, _, _ in rows)
    return "\n".join(f"{label:<{width}}  {value}" + (f"  [{note}]" if note else "") for label, value, note in rows)


def table_html(rows: list[Field], title: str) -> str:
    """The same lines as an HTML table, the cautions above it."""
    return cautions_html() + words.table_html((), rows, title)


def cautions_html() -> str:
    """The cautions as a list."""
    return f"<p>Before cutting:</p>{list_html(CAUTIONS)}"


def cautions_text() -> str:
    """The cautions of `CAUTIONS` as one paragraph of plain lines."""
    return "\n".join(wrapped("Before cutting:", " ".join(CAUTIONS)))


def told(rows: list[Field]) -> str:
    """Lines as plain text: the first, how things stand, then the cautions, then the rest."""
    first, *rest = table_text(rows).split("\n")
    return "\n\n".join([first, cautions_text(), "\n".join(rest)]).rstrip()


def wrapped(label: str, text: str, indent: int = 2) -> list[str]:
    """A label and its text in lines of at most WIDTH, those after the first indented."""
    return textwrap.wrap(f"{label:<{indent - 1}} {text}".strip(), WIDTH, subsequent_indent=" " * indent)


def as_text(r: Recommendation) -> str:
    """A recommendation as plain text: its status, cautions, the card, and after a rule how it came about."""
    rule = f"---- {WORKED_OUT} ".ljust(WIDTH, "-")
    return "\n\n".join([r.head, cautions_text(), "\n".join(card_text(r.card_lines())), rule, table_text(fields(r))])


def card_text(card: list[Line]) -> list[str]:
    """Lines of the card as lines of text, its labels in a column."""
    width, said = max(len(line.label) for line in card) + 2, []
    for line in card:
        label = f"{line.label:<{width}}"
        said += (
            [f"{' ' * width if i else label}{text}" for i, text in enumerate(words.table_text(line.rows))]
            or wrapped(line.label, line.text, width)
        )  # fmt: skip
    return said


def as_html(r: Recommendation) -> str:
    """The same as HTML, with one fold."""
    worked_out = words.table_html((), fields(r), "Recommendation")
    fold = f"<details><summary>{WORKED_OUT}</summary>{worked_out}</details>"
    return cautions_html() + card_html(r.card_lines(), r.head) + fold


def card_html(card: list[Line], head: str) -> str:
    """Lines of the card as an HTML table under its head, everything escaped."""
    inner = "padding-right:1.2rem"
    cells = [words.table_html(one.rows[0], one.rows[1:], style=inner) if one.rows else one.text for one in card]
    return words.table_html((), zip((one.label for one in card), cells, strict=True), head, words.RULED)
