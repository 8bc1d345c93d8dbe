"""A job's answer for a reader: the answer box and the recommendation's tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bandtrial.recommend.wording import KINDS, change_words, hand_pace, setting_fields
from bandtrial.report import words

if TYPE_CHECKING:
    from bandtrial.recommend.comparison import Comparison
    from bandtrial.recommend.job import Job
    from bandtrial.recommend.limits import Limit
    from bandtrial.report.answers import Answer
    from bandtrial.study.model import Study


def title(study: Study, answer: Answer) -> str:
    """The job in a line: material, thickness, machine, band stock."""
    stock = study.band_stock[answer.stock]
    name = study.materials[answer.material].name or answer.material
    thickness = words.quantity(answer.thickness, "length", study.units)
    band = f"band stock {answer.stock} ({stock.pitch}, {stock.edge})"
    return f"{name}, {thickness}, on {answer.machine} with {band}"


def more_answers(study: Study, answers: list[Answer]) -> words.Table:
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
        dial, cost = words.quantity(s.indicated, "speed", study.units), words.money_per_area(s.cost, study)
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
        return words.quantity(value, "force", job.system)
    rate = words.quantity(value, "feed_rate", job.system)
    return f"{rate} ({hand_pace(value, job.system)})" if job.feed == "hand" else rate


def settings(answer: Answer) -> words.Table:
    """The recommended setting and what it gives: rows of (quantity, value, note)."""
    return ["quantity", "value", "note"], [list(row) for row in setting_fields(answer.recommendation)]


def worked_out(answer: Answer) -> words.Table:
    """Every line of the recommendation, as the command and the panel fold them away."""
    return ["quantity", "value", "note"], [list(row) for row in answer.recommendation.fields()]


def speed_range(job: Job, indicated: float) -> str:
    """Which of the machine's speed ranges a speed on the dial is in, numbered from the slowest."""
    ranges = sorted(job.machine.band_speed_ranges)
    for i, (low, high) in enumerate(ranges, start=1):
        if low * (1 - 1e-9) <= indicated <= high * (1 + 1e-9):
            ends = f"{words.quantity(low, 'speed', job.system)} to {words.quantity(high, 'speed', job.system)}"
            return f"speed range {i} of {len(ranges)}: {ends}"
    return "in none of the machine's speed ranges"


def compared(study: Study, answer: Answer) -> words.Table:
    """Published start, what the shop runs now, and the recommendation, side by side."""
    job, system = answer.recommendation.job, study.units
    heads = ["setting", "true speed", "feed", "cost per area", "area per band", "cutting rate", "beaten by ours"]
    rows = []
    for s in answer.recommendation.table:
        cost, life = words.money_per_area(s.cost, study), words.span(s.life, "area", system)
        speed, rate = words.quantity(s.band_speed, "speed", system), words.span(s.rate, "rate", system)
        beaten = "–" if s.beaten_by is None else words.percent(s.beaten_by)
        rows.append([s.name, speed, feed(job, s.feed), cost, life, rate, beaten])
    return heads, rows


def limits(study: Study, answer: Answer) -> words.Table:
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


def published_rows(study: Study, answer: Answer) -> words.Table:
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
        return words.quantity(value, KINDS[unit], system)
    return f"{words.shown(value)} {'' if unit in ('', '-') else unit}".strip()


def comparison(study: Study, result: Comparison) -> words.Table:
    """The published start against the shop's optimum, a row per machine and material."""
    system = study.units
    heads = ["material on machine", "published start", "the shop's best speed", "the shop's best chip load",
             "published costs more by", "speeds not ruled out"]  # fmt: skip
    rows = []
    for row in result.rows:
        start = f"{words.quantity(row.published_band_speed, 'speed', system)}, "
        start += words.quantity(row.published_chip_load, "chip_load", system)
        if row.reason:
            rows.append([f"{row.material} on {row.machine}", start, f"not yet: {row.reason}", "–", "–", "–"])
            continue
        shares = (row.published_costs_more, row.published_costs_more_low, row.published_costs_more_high)
        value, low, high = (100 * share for share in shares)
        more = "not known: far from all that was cut" if row.published_unlike else words.between(value, low, high, "%")
        rows.append([
            f"{row.material} on {row.machine}", start,
            words.interval(row.band_speed, row.band_speed_low, row.band_speed_high, "speed", system),
            words.interval(row.chip_load, row.chip_load_low, row.chip_load_high, "chip_load", system),
            more, words.either(row.open_low, row.open_high, "speed", system),
        ])  # fmt: skip
    return heads, rows
