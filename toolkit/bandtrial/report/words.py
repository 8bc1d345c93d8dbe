"""Numbers, lists and a job's answer as the report writes them: in the study's units, digits after their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from bandtrial import units, words
from bandtrial.published.materials import find
from bandtrial.published.own_starts import NO_GROUP
from bandtrial.published.tables import CAUTIONS, PublishedError
from bandtrial.recommend.job import Value
from bandtrial.recommend.wording import KINDS, change_words, hand_pace, setting_fields
from bandtrial.study.model import Study

if TYPE_CHECKING:
    from bandtrial.recommend.comparison import Comparison
    from bandtrial.recommend.job import Job
    from bandtrial.recommend.limits import Limit
    from bandtrial.report.answers import Answer
    from bandtrial.study.model import Study

between, count, listed, rounded = words.between, words.count, words.listed, words.rounded
percent, sentences, shown = words.percent, words.sentences, words.shown


RARE = {"Magnesium and titanium": ("magnesium", "titanium"), "Dust": ("beryll", "copper", "bronze", "brass")}
"""What a caution that some metals alone need begins with, and what their names hold."""
FRICTION, GUIDE = "; add a face shield for friction sawing", "1/8 to 1/4 in (3 to 6 mm)"


def cautions(study: Study) -> list[str]:
    """The cautions for what the study saws: all of them where the group of one of its metals is not known, else without
    those for other metals and for an operation that no log has. Metric shops read mm first."""
    every = [text.replace(GUIDE, "3 to 6 mm (1/8 to 1/4 in)") if study.units == "metric" else text for text in CAUTIONS]
    try:
        groups = [find(metal.group).group for metal in study.materials.values()]
    except PublishedError:
        return every
    if NO_GROUP in groups:
        return every
    named = " ".join([*groups, *(f"{key} {metal.name}" for key, metal in study.materials.items())]).casefold()
    other = tuple(begins for begins, parts in RARE.items() if not any(part in named for part in parts))
    return [text.replace(FRICTION, "") for text in every if not (other and text.startswith(other))]


def quantity(value: Any, kind: str, system: str) -> str:
    """One value in the unit of the system, or a dash where it is not known."""
    if value is None or not math.isfinite(float(value)):
        return "–"
    return _tidy(units.show(float(value), kind, system))


def interval(value: float, low: float, high: float, kind: str, system: str) -> str:
    """'value (low to high) unit' of a kind, in the unit of the system.

    >>> interval(50.0, 48.4, 52.1, "speed", "metric")
    '50.0 (48.4 to 52.1) m/min'
    """
    unit = units.display_unit(kind, system)
    value, low, high = (float(units.from_inside(x, kind, unit)) for x in (value, low, high))
    return between(value, low, high, unit)


def either(low: float, high: float, kind: str, system: str) -> str:
    """'low to high unit'.

    >>> either(30.0, 45.0, "speed", "metric")
    '30 to 45 m/min'
    """
    return f"{quantity(low, kind, system).split(' ')[0]} to {quantity(high, kind, system)}"


def span(v: Value, kind: str, system: str) -> str:
    """An estimate with its interval, see `interval`."""
    return interval(v.value, v.low, v.high, kind, system)


def money_per_area(v: Value, study: Study) -> str:
    """Cost per displayed area with its interval, from currency per cm2."""
    unit = units.display_unit("area", study.units)
    per = 1 / float(units.from_inside(1.0, "area", unit))
    return between(v.value * per, v.low * per, v.high * per, f"{study.currency}/{unit}")


def money(value: Any, currency: str) -> str:
    """An amount of money.

    >>> money(72.0, "USD"), money(None, "USD")
    ('72.00 USD', '–')
    """
    return "–" if value is None or not math.isfinite(value) else f"{value:,.2f} {currency}"


def first(lines: Iterable[str], most: int, where: str) -> list[str]:
    """The first of many lines, and how many more there are, and where.

    >>> first(["a", "b", "c", "d"], 2, "the CSV file has them"), first(["a"], 2, "")
    (['a', 'b', 'and 2 more: the CSV file has them'], ['a'])
    """
    every = list(lines)
    return every if len(every) <= most else [*every[:most], f"and {len(every) - most:,} more: {where}"]


def runs(names: Iterable[str]) -> str:
    """Numbered cuts as runs, in their order: every cut is named, and a long log stays short.

    >>> runs(["1", "2", "3", "5", "8", "9", "A7"])
    '1–3, 5, 8–9, A7'
    """
    parts: list[list[str]] = []
    for name in names:
        last = parts[-1][-1] if parts else ""
        if name.isdecimal() and last.isdecimal() and int(name) == int(last) + 1:
            parts[-1] = [parts[-1][0], name]
        else:
            parts.append([name])
    return ", ".join("–".join(part) for part in parts) or "none"


def _tidy(text: str) -> str:
    """Thousands apart in the number a text begins with."""
    number, _, unit = text.partition(" ")
    whole, dot, rest = number.partition(".")
    return f"{int(whole):,}{dot}{rest} {unit}".strip() if whole.isdecimal() else text


Table = tuple[list[str], list[list[str]]]
"""Heads and rows of a table of texts."""


def title(study: Study, answer: Answer) -> str:
    """The job in a line: material, thickness, machine, band stock."""
    stock = study.band_stock[answer.stock]
    name = study.materials[answer.material].name or answer.material
    thickness = quantity(answer.thickness, "length", study.units)
    band = f"band stock {answer.stock} ({stock.pitch}, {stock.edge})"
    return f"{name}, {thickness}, on {answer.machine} with {band}"


def more_answers(study: Study, answers: list[Answer]) -> Table:
    """The jobs that the question did not ask for, a row each."""
    heads = ["job", "on the dial", "feed", "change the band", "cost per area", "before cutting"]
    rows = []
    for a in answers:
        r = a.recommendation
        if r is None:
            rows.append([title(study, a), f"not yet: {a.not_yet}", "–", "–", "–", "–"])
            continue
        s = r.setting
        after = change_words(s.change_after, study.units)
        dial, cost = quantity(s.indicated, "speed", study.units), money_per_area(s.cost, study)
        rows.append([title(study, a), dial, feed(r.job, s.feed), after, cost, r.status])
    return heads, rows


def not_yet(answer: Answer) -> str:
    """Why there is no answer yet."""
    return f"Not yet: {answer.not_yet.rstrip('.')}."


def would_help(answer: Answer) -> list[str]:
    """What would help where there is no answer yet, the planned cuts first."""
    if answer.recommendation is not None:
        return []
    lines = words.sentences(answer.would_help)
    if answer.plan is not None and answer.plan.runs:
        minutes = sum(run.minutes for run in answer.plan.runs)
        runs = words.count(len(answer.plan.runs), "run")
        lines.insert(0, f"The {runs} of section 9: {minutes:.0f} minutes of cutting, settings spread on purpose.")
    return lines


def feed_name(job: Job) -> str:
    """What is set beside the speed."""
    return {"force": "feed force", "hand": "pace by hand"}.get(job.feed, "feed rate")


def feed(job: Job, value: float) -> str:
    """The feed's setting; for a hand feed the pace to hold."""
    if job.feed == "force":
        return quantity(value, "force", job.system)
    rate = quantity(value, "feed_rate", job.system)
    return f"{rate} ({hand_pace(value, job.system)})" if job.feed == "hand" else rate


def settings(answer: Answer) -> Table:
    """The recommended setting and what it gives: rows of (quantity, value, note)."""
    return ["quantity", "value", "note"], [list(row) for row in setting_fields(answer.recommendation)]


def worked_out(answer: Answer) -> Table:
    """Every line of the recommendation, as the command and the panel fold them away."""
    return ["quantity", "value", "note"], [list(row) for row in answer.recommendation.fields()]


def speed_range(job: Job, indicated: float) -> str:
    """Which of the machine's speed ranges a speed on the dial is in, numbered from the slowest."""
    ranges = sorted(job.machine.band_speed_ranges)
    for i, (low, high) in enumerate(ranges, start=1):
        if low * (1 - 1e-9) <= indicated <= high * (1 + 1e-9):
            ends = f"{quantity(low, 'speed', job.system)} to {quantity(high, 'speed', job.system)}"
            return f"speed range {i} of {len(ranges)}: {ends}"
    return "in none of the machine's speed ranges"


def compared(study: Study, answer: Answer) -> Table:
    """Published start, what the shop runs now, and the recommendation, side by side."""
    job, system = answer.recommendation.job, study.units
    heads = ["setting", "true speed", "feed", "cost per area", "area per band", "cutting rate", "beaten by ours"]
    rows = []
    for s in answer.recommendation.table:
        cost, life = money_per_area(s.cost, study), span(s.life, "area", system)
        speed, rate = quantity(s.band_speed, "speed", system), span(s.rate, "rate", system)
        beaten = "–" if s.beaten_by is None else words.percent(s.beaten_by)
        rows.append([s.name, speed, feed(job, s.feed), cost, life, rate, beaten])
    return heads, rows


def limits(study: Study, answer: Answer) -> Table:
    """Every limit with its value, margin and how surely it holds."""
    heads = ["limit", "value here", "limit is", "margin", "holds", "note"]
    rows = []
    for limit in answer.recommendation.limits:
        holds = "yes" if limit.ok else "NO"
        if 0 < limit.probability < 1:
            holds += f", {words.percent(limit.probability)} sure"
        side = "at most" if limit.at_most else "at least"
        value, edge = (_in_units(x, limit.unit, study.units) for x in (limit.value, limit.limit))
        rows.append([limit.name, value, f"{side} {edge}", margin(limit), holds, limit.note])
    return heads, rows


def margin(limit: Limit) -> str:
    """How far a limit is, as a share of it; beyond twice the limit the figure says no more."""
    return "over 100 %" if limit.margin > 1 else f"{100 * limit.margin:.0f} %"


def published_rows(study: Study, answer: Answer) -> Table:
    """The published figures a job starts from, each with its source and how it is known."""
    from bandtrial import published

    material, stock = study.materials[answer.material], study.band_stock[answer.stock]
    heads = ["quantity", "published", "source", "how it is known", "note"]
    try:
        start = published.start(material.group, answer.thickness, stock.edge, answer.coolant, study.units)
    except published.PublishedError as none:
        return heads, [["none for this work", "–", "–", "–", str(none)]]
    rows = [row for row in start.rows if row.topic in ("band", "speed", "feed")]
    return heads, [[row.quantity, row.value, row.source, row.how_known, row.note] for row in rows]


def _in_units(value: float, unit: str, system: str) -> str:
    if unit in KINDS:
        return quantity(value, KINDS[unit], system)
    return f"{words.shown(value)} {'' if unit in ('', '-') else unit}".strip()


def comparison(study: Study, result: Comparison) -> Table:
    """The published start against the shop's optimum, a row per machine and material."""
    system = study.units
    heads = ["material on machine", "published start", "the shop's best speed", "the shop's best chip load",
             "published costs more by", "speeds not ruled out"]  # fmt: skip
    rows = []
    for row in result.rows:
        start = f"{quantity(row.published_band_speed, 'speed', system)}, "
        start += quantity(row.published_chip_load, "chip_load", system)
        if row.reason:
            rows.append([f"{row.material} on {row.machine}", start, f"not yet: {row.reason}", "–", "–", "–"])
            continue
        shares = (row.published_costs_more, row.published_costs_more_low, row.published_costs_more_high)
        value, low, high = (100 * share for share in shares)
        more = "not known: far from all that was cut" if row.published_unlike else words.between(value, low, high, "%")
        rows.append([
            f"{row.material} on {row.machine}", start,
            interval(row.band_speed, row.band_speed_low, row.band_speed_high, "speed", system),
            interval(row.chip_load, row.chip_load_low, row.chip_load_high, "chip_load", system),
            more, either(row.open_low, row.open_high, "speed", system),
        ])  # fmt: skip
    return heads, rows
