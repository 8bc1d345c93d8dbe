"""A start: published settings for one job, with sources, disagreements and cautions."""

from dataclasses import dataclass
from typing import Any

from bandtrial.published.cautions import CAUTIONS
from bandtrial.published.rows import Row, start_rows
from bandtrial.published.settings import Settings, choose
from bandtrial.published.showing import both
from bandtrial.published.tables import PublishedError, source_titles
from bandtrial.published.warnings import start_warnings


@dataclass(frozen=True)
class Start:
    """Starting settings from published sources; text, HTML and JSON are made from the same rows."""

    settings: Settings
    system: str
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]
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
    def sources(self) -> dict[str, str]:
        """Short name and title of each source used, in order of use."""
        used = dict.fromkeys(name.strip() for row in self.rows for name in row.source.split(";"))
        return {name: source_titles()[name] for name in used if name in source_titles()}

    def __str__(self) -> str:
        from bandtrial.published.as_text import start_text

        return start_text(self)

    def _repr_html_(self) -> str:
        from bandtrial.published.as_html import start_html

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
) -> Start:
    """Published starting settings for a job.

    material_group : a published group, or a grade of one ("304", "A36")
    thickness_mm : work thickness L in the cut; for a tube its wall [mm]
    edge : carbon, bimetal or carbide
    coolant : flood, mist, air or dry
    system : "us" or "metric", for display; both are always shown
    section : rectangular, round or tube

    Raises `PublishedError` saying what is allowed.

    >>> print(start("low-carbon steel", 15.875, "carbon").status)
    Set 169 ft/min (51.4 m/min) with a 10 tpi regular tooth, raker set band; feed 7.1 in/min (180 mm/min).
    """
    if system not in ("us", "metric"):
        raise PublishedError(f'system of units "{system}" is not known; give us or metric.')
    settings = choose(material_group, thickness_mm, edge, coolant, section)
    return Start(settings, system, start_rows(settings, system), tuple(start_warnings(settings, system)))
