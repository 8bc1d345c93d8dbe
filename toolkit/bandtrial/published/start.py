"""A start: published settings for one job, with sources, disagreements and cautions; as text, HTML and JSON."""

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import groupby
from textwrap import wrap
from typing import Any

from bandtrial.published.rows import Row, start_rows
from bandtrial.published.settings import FEW, MANY, Settings, chip_load_range, choose
from bandtrial.published.tables import CAUTIONS, PublishedError, prior_figure, source_titles
from bandtrial.sawing import feed_rate, seconds_per_inch
from bandtrial.units import both, both_range, convert
from bandtrial.words import list_html, shown, table_html

OPERATIONS = {"sawing": "", "filing": "file band", "polishing": "polishing band", "contour": "contour"}
"""What a start is asked for, and the topic of its rows; sawing has those of band, speed and feed."""
FAR = 0.2
"""Sources further apart than this share are said to disagree."""


def start_warnings(s: Settings, system: str) -> list[str]:
    """Sentences on doubtful figures, disagreement and limits of the tables; none where all is well."""
    return [*_doubts(s), *_disagreements(s, system), *_teeth(s), *_machine(s, system), *_fire(s)]


def _doubts(s: Settings) -> list[str]:
    found = [s.match.note] if s.match.note else []
    if "unsure" in s.speed.base.how_known:
        found.append("The band speed is from memory and unsure: check it against the band maker's first.")
    elif s.speed.base.how_known == "memory":
        found.append("The band speed of this material is from memory, not read in its source.")
    for what, factor in (("edge", s.speed.edge), ("cutting fluid", s.speed.fluid)):
        if factor.how_known == "our choice":
            found.append(f"Band speed, {what}: {factor.note}.")
    if "that line kept" in s.speed.thickness.note:
        found.append(f"Band speed, thickness: {s.speed.thickness.note}.")
    return found


def _disagreements(s: Settings, system: str) -> list[str]:
    found = []
    for row in s.match.others:
        theirs = convert(row.low, "ft/min", "speed")
        ours = convert(s.speed.base.low, "ft/min", "speed")
        if abs(theirs / ours - 1.0) > FAR:
            found.append(
                f"Sources disagree: {row.source} gives {both(theirs, 'speed', system)} ({row.note}), "
                f"{s.speed.base.source} {both(ours, 'speed', system)} before adjustment. Neither is averaged."
            )
    return found


def _teeth(s: Settings) -> list[str]:
    if s.teeth_in_cut < FEW - 1e-9:
        return [
            f"{s.teeth_in_cut:.1f} teeth in the cut: one source asks for at least {FEW}, others for 2. "
            "Feed gently, or make the cut longer."
        ]
    if s.teeth_in_cut > MANY:
        return [f"{s.teeth_in_cut:.0f} teeth in the cut, more than {MANY}: a coarser pitch clears better."]
    return []


def _machine(s: Settings, system: str) -> list[str]:
    usual = prior_figure("machine_band_speed")
    low, high = (convert(float(speed), usual.unit, "speed") for speed in (usual.low, usual.high))
    if low <= s.speed.typical <= high:
        return []
    return [
        f"{both(s.speed.typical, 'speed', system)} is outside the {usual.low} to {usual.high} {usual.unit} "
        f"of usual {usual.work} ({usual.source}): set the nearest speed the machine has."
    ]


def _fire(s: Settings) -> list[str]:
    if "titanium" not in s.match.group:
        return []
    return ["Titanium chips burn: keep them away from sparks, and clear them often."]


@dataclass(frozen=True)
class Start:
    """Starting settings from published sources; text, HTML and JSON are made from the same rows."""

    settings: Settings
    system: str
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]
    operation: str = "sawing"
    cautions: tuple[str, ...] = tuple(CAUTIONS)

    @property
    def title(self) -> str:
        """What the start is for."""
        s = self.settings
        material = s.match.group if s.match.grade is None else f"{s.match.grade} ({s.match.group})"
        shape = "" if s.section == "rectangular" else f" {s.section}"
        thickness = both(s.thickness, "length", self.system)
        return f"{material}, {thickness}{shape}, {s.edge} edge, {s.coolant}"

    @property
    def status(self) -> str:
        """The settings in one sentence, and how far to trust them."""
        s = self.settings
        speed = both(s.speed.typical, "speed", self.system)
        feed = both(s.feed_rate, "feed_rate", self.system, 2)
        return f"Set {speed} with a {s.pitch.text} tpi {s.form.low} tooth, {s.set.low} set band; feed {feed}."

    @property
    def shown(self) -> list[Row]:
        """The rows of the operation asked for, in the order in which a trial asks for them."""
        topics = (OPERATIONS[self.operation],) if self.operation != "sawing" else SAWING
        return [row for topic in topics for row in self.rows if row.topic == topic]

    @property
    def sources(self) -> dict[str, str]:
        """Short name and title of each source used, in order of use."""
        used = dict.fromkeys(name.strip() for row in self.shown for name in row.source.split(";"))
        return {name: source_titles()[name] for name in used if name in source_titles()}

    def lines(self) -> list[tuple[str, str]]:
        """(label, text) of what to do first, where to go from there and what to doubt."""
        return sawing_lines(self) if self.operation == "sawing" else operation_lines(self)

    def __str__(self) -> str:
        return start_text(self)

    def _repr_html_(self) -> str:
        return start_html(self)

    def to_json(self) -> dict[str, Any]:
        """Settings in inside units by name, then the rows, warnings, cautions and sources as shown."""
        s = self.settings
        return {
            "material": s.match.group,
            "grade": s.match.grade,
            "thickness_mm": s.thickness,
            "edge": s.edge,
            "coolant": s.coolant,
            "section": s.section,
            "operation": self.operation,
            "band_speed_m_min": s.speed.typical,
            "band_speed_m_min_low": s.speed.low,
            "band_speed_m_min_high": s.speed.high,
            "pitch": s.pitch.text,
            "pitch_tpi": s.pitch.tpi,
            "teeth_in_cut": s.teeth_in_cut,
            "tooth_form": s.form.low,
            "set": s.set.low,
            "chip_load_um": s.chip_load,
            "feed_rate_mm_min": s.feed_rate,
            "cutting_rate_cm2_min": s.cutting_rate,
            "gullet_fill": s.gullet_fill,
            "lines": dict(self.lines()),
            "rows": [vars(row) for row in self.rows],
            "warnings": list(self.warnings),
            "cautions": list(self.cautions),
            "sources": self.sources,
        }


def start(
    material_group: str,
    thickness_mm: float,
    edge: str = "bimetal",
    coolant: str = "flood",
    system: str = "us",
    section: str = "rectangular",
    operation: str = "sawing",
) -> Start:
    """Published starting settings for a job.

    material_group : a published group, or a grade of one ("304", "A36")
    thickness_mm : work thickness L in the cut; for a tube its wall [mm]
    edge : carbon, bimetal or carbide
    coolant : flood, mist, air or dry
    system : "us" or "metric", for display; both are always shown
    section : rectangular, round or tube
    operation : sawing, filing, polishing or contour: what is shown

    Raises `PublishedError` saying what is allowed.

    >>> print(start("low-carbon steel", 15.875, "carbon").status)
    Set 169 ft/min (51.4 m/min) with a 10 tpi regular tooth, raker set band; feed 7.1 in/min (180 mm/min).
    """
    if system not in ("us", "metric"):
        raise PublishedError(f'system of units "{system}" is not known; give us or metric.')
    if operation not in OPERATIONS:
        raise PublishedError(f'operation "{operation}" is not known; give one of {", ".join(OPERATIONS)}.')
    settings = choose(material_group, thickness_mm, edge, coolant, section)
    return Start(settings, system, start_rows(settings, system), tuple(start_warnings(settings, system)),
                 operation)  # fmt: skip


WIDTH, LEFT = 100, 16
SAWING = ("speed", "feed", "band")
LEGEND = (
    "How known. read: seen in the source. memory: remembered from it. memory, unsure: shown, never used as a "
    "check. trade fact: common practice. worked out: from the lines above. our choice: nobody published it."
)


def legend(start: "Start") -> str:
    """What the ways of knowing mean, with those used here only."""
    own = any(row.how_known == "your own" for row in start.rows)
    return f"{LEGEND} your own: from study.toml." if own else LEGEND


def sawing_lines(start: "Start") -> list[tuple[str, str]]:
    """The first cut of a trial, the settings to try after it, the band for it, and what to doubt."""
    s, system = start.settings, start.system
    row = {one.quantity: one for one in start.rows if one.topic in SAWING}
    low, high = (feed_rate(s.speed.typical, chip, s.tooth_spacing) for chip in chip_load_range())
    least, most = (both(float(feed), "feed_rate", system, 2) for feed in (low, high))
    speeds = (
        "" if s.speed.low == s.speed.high else f"Speeds from {both_range(s.speed.low, s.speed.high, 'speed', system)}. "
    )
    hand = f"{seconds_per_inch(s.feed_rate):.1f} s per inch"
    known = "; ".join(f"{name} {row[name].how_known}" for name in ("band speed", "pitch", "chip load"))
    return [
        ("First cut", f"{both(s.speed.typical, 'speed', system)} true, feed "
                      f"{both(s.feed_rate, 'feed_rate', system, 2)}; by hand {hand}."),
        ("New band", f"Before that, {row['new band, first cuts'].value} until it is run in."),
        ("Then try", f"{speeds}Feed up or down by a tenth at a time: under {least} teeth rub, {most} is the most "
                     "that is published."),
        ("On this band", f"{s.pitch.text} tpi, {s.form.low} tooth, {s.set.low} set: "
                         f"{shown(s.teeth_in_cut, 2)} teeth in the cut."),
        *(("Mind", text) for text in start.warnings),
        ("How known", f"{known}."),
    ]  # fmt: skip


def operation_lines(start: "Start") -> list[tuple[str, str]]:
    """The figures of filing, polishing or contour work, each with how it is known."""
    return [
        (row.quantity.capitalize(), f"{row.value} ({row.how_known}{': ' if row.note else ''}{row.note}).")
        for row in start.shown
    ]


def start_text(start: "Start", evidence: bool = False) -> str:
    """Cautions, then what to do; with `evidence` each figure with its source."""
    lines = [f"Start of a trial: {start.title}, {start.operation}", ""]
    lines += [*wrap("Before cutting: " + " ".join(start.cautions), WIDTH, subsequent_indent="  "), ""]
    lines += [line for label, text in start.lines() for line in _columns(label, text)]
    if evidence:
        return "\n".join([*lines, *_evidence(start)])
    others = "|".join(name for name in OPERATIONS if name != start.operation)
    return "\n".join([*lines, *_columns("More", f"--evidence gives each figure's source; --operation {others}.")])


def _evidence(start: "Start") -> Iterator[str]:
    """Each figure with its source and how it is known, the sources in full, and what the words mean."""
    topic = ""
    for row in start.shown:
        if row.topic != topic:
            topic = row.topic
            yield from ("", f"Where the figures of the {topic} are from")
        mark = " (sources disagree)" if row.disagrees else ""
        known = f"[{row.how_known}] {': '.join(part for part in (row.source, row.note) if part)}"
        yield from _columns(row.quantity, f"{row.value}{mark} {known}", 28)
    yield from ("", "Sources")
    for name, title in start.sources.items():
        yield from _columns(name, title, 28)
    yield from ("", *wrap(legend(start), WIDTH))


def _columns(left: str, right: str, width: int = LEFT) -> list[str]:
    first = f"{left:<{max(width, len(left) + 2)}}"
    return wrap(right, WIDTH, initial_indent=first, subsequent_indent=" " * len(first), break_on_hyphens=False)


def start_html(start: "Start") -> str:
    """The same parts as the text, the evidence in a fold."""
    parts = [
        f"<h4>Start of a trial: {escape(start.title)}, {escape(start.operation)}</h4><p><b>Before cutting</b></p>",
        list_html(start.cautions),
        table_html(("", ""), start.lines()),
        "<details><summary>Where the figures are from, and where sources disagree</summary>",
        table_html(("Figure", "Value", "How known", "Source", "Note"), _rows_html(start)),
        list_html(f"{name}: {title}" for name, title in start.sources.items()),
        f"<p>{escape(legend(start))}</p></details>",
    ]
    return '<div class="bandtrial-start">' + "\n".join(parts) + "</div>"


def _rows_html(start: "Start") -> Iterator[tuple[object, ...]]:
    """The rows as cells, each topic under a row of its own; a source tells its title to who points at it."""
    for topic, rows in groupby(start.shown, lambda row: row.topic):
        yield (topic.capitalize(),)
        for row in rows:
            value = f"{row.value} (sources disagree)" if row.disagrees else row.value
            hover = "; ".join(start.sources.get(name, name) for name in row.source.split("; "))
            yield row.quantity, value, row.how_known, (row.source, hover), row.note
