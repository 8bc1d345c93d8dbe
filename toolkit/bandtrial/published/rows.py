"""The lines a start shows: each a figure with its source, how it is known, and a note."""

from dataclasses import dataclass

from bandtrial import sawing
from bandtrial.published import tables
from bandtrial.published.settings import (
    GOOD,
    MANY,
    Settings,
    chip_load_range,
    constant_pitch,
    is_soft,
    trade_pitch,
    variable_pitch,
)
from bandtrial.published.speeds import Factor
from bandtrial.units import both, both_range, convert, one
from bandtrial.words import shown


@dataclass(frozen=True)
class Row:
    """One figure of a start, as shown to people; the value is text, the reader's units first."""

    topic: str
    quantity: str
    value: str
    source: str
    how_known: str
    note: str = ""
    disagrees: bool = False
    """This source says otherwise than the setting chosen above it."""


def start_rows(settings: Settings, system: str) -> tuple[Row, ...]:
    """Every line of a start, by topic, in the order a person sets a machine up."""
    parts = (band_rows, speed_rows, feed_rows, contour_rows, file_rows, polishing_rows)
    return tuple(row for part in parts for row in part(settings, system))


def band_rows(s: Settings, system: str) -> list[Row]:
    """Pitch with its alternatives, teeth in the cut with both minimum rules, tooth form, set."""
    rows = [Row("band", "pitch", f"{s.pitch.text} tpi", s.pitch.source, s.pitch.how_known, s.pitch.note)]
    for kind, pitch in (("variable", variable_pitch(s.thickness)), ("constant", constant_pitch(s.thickness))):
        if pitch.text != s.pitch.text:
            quantity = f"pitch, if {kind}"
            rows.append(Row("band", quantity, f"{pitch.text} tpi", pitch.source, pitch.how_known, pitch.note))
    if fact := trade_pitch(s.match.group, s.thickness):
        rows.append(Row("band", "pitch, trade", f"{fact.low} {fact.unit}", fact.source, fact.how_known, fact.note))
    teeth = f"{shown(s.teeth_in_cut, 2)}"
    best = f"{GOOD} to 12 is best in solids, {MANY} at most (common practice, memory)"
    rows.append(Row("band", "teeth in the cut", teeth, "", "worked out", best))
    rows += [
        Row("band", "fewest teeth", f"{rule.low} teeth", rule.source, rule.how_known, rule.note, i > 0)
        for i, rule in enumerate(tables.tooth_rules("minimum teeth"))
    ]
    rows.append(Row("band", "tooth form", s.form.low, s.form.source, s.form.how_known, s.form.note or s.form.work))
    rows.append(Row("band", "set", s.set.low, s.set.source, s.set.how_known, s.set.note or s.set.work))
    return rows


def speed_rows(s: Settings, system: str) -> list[Row]:
    """Band speed with its reckoning, its range, what it rests on, and the sources that say otherwise."""
    base, speed = s.speed.base, s.speed
    reckoned = (
        f"{_table_speed(base, system)} for {', '.join(base.grades)}, x {shown(speed.thickness.typical, 4)} "
        f"for thickness ({speed.thickness.note}), x {shown(speed.edge.typical)} for the edge, "
        f"x {shown(speed.fluid.typical)} for the fluid"
    )
    if s.match.is_own:
        reckoned = "your own speed, used as it is for every thickness, edge and fluid"
    factors = (speed.thickness, speed.edge, speed.fluid)
    known = tables.worst_known(base.how_known, *(factor.how_known for factor in factors))
    sources = "; ".join(dict.fromkeys(name for part in (base, *factors) for name in part.source.split("; ")))
    rows = [Row("speed", "band speed", both(speed.typical, "speed", system), sources, known, reckoned)]
    if speed.high - speed.low > 1e-9 * speed.high:
        spread = "over the lines of this material and the ranges of the factors"
        rows.append(Row("speed", "range", both_range(speed.low, speed.high, "speed", system), sources, known, spread))
    if len(s.match.rows) > 1 or (base.note and not s.match.is_own):
        rows += [_line_row("table line", line, system) for line in s.match.rows]
    rows += [_line_row("elsewhere", line, system, disagrees=True) for line in s.match.others]
    rows += [
        Row("speed", name, _factor_text(f), f.source, f.how_known, f.note)
        for name, f in (("edge factor", speed.edge), ("fluid factor", speed.fluid))
        if (f.low, f.high) != (1.0, 1.0) or f.how_known not in ("read", "your own")
    ]
    return rows


def feed_rows(s: Settings, system: str) -> list[Row]:
    """Chip load, the feed and pace it means, gullet fill, break-in."""
    low, high = chip_load_range()
    chip, edge, gentle = map(tables.prior_figure, ("chip_load", "edge_radius", "break_in_feed"))
    rubs = f"edge radius of a {edge.work} {edge.low} to {edge.high} µm: {edge.note}"
    pace = f"hand feed: {shown(sawing.seconds_per_inch(s.feed_rate), 2)} s per inch"
    slowest, quickest = (float(share) * s.feed_rate for share in (gentle.low, gentle.high))
    return [
        Row("feed", "chip load", both(s.chip_load, "chip_load", system, 2), "", "our choice",
            s.chip_load_why),
        Row("feed", "chip load range", both_range(low, high, "chip_load", system, 2), chip.source,
            chip.how_known, rubs),
        Row("feed", "feed rate", both(s.feed_rate, "feed_rate", system, 2), "", "worked out",
            f"chip load x band speed / tooth spacing; {pace}"),
        Row("feed", "cutting rate", both(s.cutting_rate, "rate", system, 2), "", "worked out", ""),
        Row("feed", "gullet fill", f"{s.gullet_fill:.0%}", "", "worked out",
            "of a gullet area estimated from pitch and tooth form; no source"),
        Row("feed", "new band, first cuts", both_range(slowest, quickest, "feed_rate", system, 2),
            gentle.source, gentle.how_known, f"{gentle.low} to {gentle.high} of that feed, {gentle.note}"),
    ]  # fmt: skip


def contour_rows(s: Settings, system: str) -> list[Row]:
    """Smallest radius for each band width of the chart."""
    widths, radii = tables.contour_chart()
    pairs = zip(widths, radii, strict=True)
    chart = ", ".join(f"{one(w, 'length', system)} band {one(r, 'length', system)}" for w, r in pairs)
    value = f"{both_range(radii[0], radii[-1], 'length', system)}, by band width"
    return [Row("contour", "smallest radius", value, "common practice", "memory", f"shop chart: {chart}")]


def file_rows(s: Settings, system: str) -> list[Row]:
    """File-band start: coarseness for this metal, speed, pressure, smallest bend."""
    soft = is_soft(s.match.group)
    coarseness = tables.operation_figures("filing", "file coarseness")[1 if soft else 0]
    return [
        _operation_row("file band", figure, system)
        for figure in (coarseness, *tables.operation_figures("filing"))
        if figure is coarseness or figure.kind != "file coarseness"
    ]


def polishing_rows(s: Settings, system: str) -> list[Row]:
    """Polishing-band start: speed and grit."""
    return [_operation_row("polishing band", figure, system) for figure in tables.operation_figures("polishing")]


def _operation_row(topic: str, figure: tables.Figure, system: str) -> Row:
    kind = {"ft/min": "speed", "in": "length"}.get(figure.unit)
    low, high = figure.low, figure.high
    if kind:
        low_mm, high_mm = (convert(float(text), figure.unit, kind) for text in (low, high))
        value = both(low_mm, kind, system) if low == high else both_range(low_mm, high_mm, kind, system)
    elif low:
        value = f"{low} to {high} {figure.unit}"
    else:
        value = "see note"
    return Row(
        topic, figure.kind, value, figure.source, figure.how_known, figure.note or figure.work.replace("any", ""),
    )  # fmt: skip


def _table_speed(row: tables.SpeedRow, system: str) -> str:
    low, high = (convert(speed, "ft/min", "speed") for speed in (row.low, row.high))
    return both(low, "speed", system) if low == high else both_range(low, high, "speed", system)


def _line_row(quantity: str, line: tables.SpeedRow, system: str, disagrees: bool = False) -> Row:
    speed = _table_speed(line, system)
    return Row("speed", quantity, speed, line.source, line.how_known, _about(line), disagrees)


def _about(row: tables.SpeedRow) -> str:
    terms = "bimetal, 4 in, flood" if row.is_base else "edge and fluid not stated"
    return "; ".join(part for part in (f"{', '.join(row.grades)} ({terms})", row.note) if part)


def _factor_text(f: Factor) -> str:
    return f"x {shown(f.low)}" if f.low == f.high else f"x {shown(f.low)} to {shown(f.high)}"
