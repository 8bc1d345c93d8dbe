"""The starting settings: pitch, tooth form, set, chip load and all else that a start chooses, in inside units."""

from dataclasses import dataclass

import numpy as np

from bandtrial import sawing
from bandtrial.published.materials import Match, find
from bandtrial.published.own_starts import NO_GROUP
from bandtrial.published.speeds import SpeedRange, speed_range
from bandtrial.published.tables import Figure, PublishedError, adjustments, prior_figure, tooth_rules, worst_known
from bandtrial.units import both, convert, read

CONSTANT_PITCHES = (2, 3, 4, 6, 8, 10, 14, 18, 24, 32)
"""Constant pitches commonly made [tpi]; common practice, from memory."""
FEWEST, FEW = 2, 3
"""Teeth in the cut: refuse below the first, warn below the second; the sources disagree."""
GOOD, MANY = 6, 24
"""Teeth in the cut: the constant pitch is chosen for at least the first; warn above the second."""
COARSE = 6
"""Skip and hook teeth are made in pitches up to this [tpi]; common practice, from memory."""
THIN = 3.2
"""Work [mm] up to here counts as thin, for the set: 1/8 in, our choice."""
SECTIONS = ("rectangular", "round", "tube")
SOFT = ("aluminum", "brass", "copper", "bronze")
NEITHER = ("titanium", "nickel alloy")


@dataclass(frozen=True)
class Pitch:
    """A pitch as bands are sold ("10", "6/10"), its mean [tpi], and where the choice comes from."""

    text: str
    tpi: float
    source: str
    how_known: str
    note: str = ""

    def teeth(self, thickness_mm: float) -> float:
        """Teeth in the cut [-] of work of thickness L [mm]."""
        return thickness_mm * self.tpi / 25.4


def variable_pitch(thickness_mm: float) -> Pitch:
    """The handbook's variable pitch for work thickness L [mm]: the nearest line in log L.

    >>> variable_pitch(15.875).text
    '6/10'
    """
    lines = adjustments("work_thickness")
    line = min(lines, key=lambda figure: abs(np.log(read(figure.work, "length") / thickness_mm)))
    note = "; ".join(part for part in (f"the line for {line.work}", line.note) if part)
    return Pitch(line.unit, read(f"{line.unit} tpi", "pitch"), line.source, line.how_known, note)


def constant_pitch(thickness_mm: float) -> Pitch:
    """The coarsest common constant pitch with at least 6 teeth in work of thickness L [mm], else the finest.

    Coarse, because thick work wants the fewest teeth (Navy NAVEDTRA 14119); 6 is common practice for solids.

    >>> constant_pitch(15.875).text
    '10'
    """
    tpi = next((p for p in CONSTANT_PITCHES if p * thickness_mm / 25.4 >= GOOD - 1e-9), CONSTANT_PITCHES[-1])
    note = f"coarsest common pitch with {GOOD} teeth in the cut"
    if tpi * thickness_mm / 25.4 < GOOD:
        note = f"the finest common pitch; fewer than {GOOD} teeth in the cut"
    return Pitch(str(tpi), float(tpi), "navy_14119; common practice", worst_known("read", "memory"), note)


def trade_pitch(group: str, thickness_mm: float) -> Figure | None:
    """The trade's own pitch for this group and work thickness L [mm], if one is on record."""
    for fact in tooth_rules("constant pitch"):
        _, of_group, inches = (part.strip() for part in fact.kind.split(","))
        if of_group == group and abs(read(inches, "length") / thickness_mm - 1.0) < 0.01:
            return fact
    return None


def best_pitch(edge: str, thickness_mm: float) -> Pitch:
    """Constant pitch for a carbon edge, else variable where it leaves 3 teeth in the cut, else constant.

    Raises `PublishedError` where the finest pitch leaves fewer than 2 teeth in the cut.
    """
    variable = variable_pitch(thickness_mm)
    constant = constant_pitch(thickness_mm)
    if constant.teeth(thickness_mm) < FEWEST - 1e-9:
        thinnest = both(convert(FEWEST / constant.tpi, "in", "length"), "length", "us")
        raise PublishedError(
            f"work {both(thickness_mm, 'length', 'us')} thick has {constant.teeth(thickness_mm):.1f} teeth "
            f"of the finest common pitch ({constant.text} tpi) in the cut, and every source asks for at "
            f"least {FEWEST}. Stack sheets to {thinnest} or more, or lay the work so that the cut is longer."
        )
    return variable if edge != "carbon" and variable.teeth(thickness_mm) >= FEW - 1e-9 else constant


def is_soft(group: str) -> bool:
    """A softer non-ferrous metal, by the tooth form rule."""
    return any(name in group for name in SOFT)


def tooth_form(group: str, pitch: Pitch) -> Figure:
    """The published tooth form rule for a material group; `low` is the form ("regular", "skip or hook")."""
    hard, soft = tooth_rules("tooth form")
    if is_soft(group) and pitch.tpi > COARSE:
        note = f"the rule says {soft.low}, which are made to about {COARSE} tpi only (common practice, memory)"
        return Figure(soft.kind, group, "regular", "regular", "", soft.source, "our choice", note)
    if is_soft(group):
        return soft
    if any(name in group for name in NEITHER) or group == NO_GROUP:
        note = "no published rule names this metal: taken with the hard metals"
        return Figure(hard.kind, group, hard.low, hard.high, "", hard.source, "our choice", note)
    return hard


def set_of_teeth(section: str, thickness_mm: float) -> Figure:
    """The published set rule for a section; `low` is the set ("raker", "wave").

    Raises `PublishedError` for an unknown section.
    """
    if section not in SECTIONS:
        raise PublishedError(f'section "{section}" is not known; give one of {", ".join(SECTIONS)}.')
    solid, thin, _little_used = tooth_rules("set")
    return thin if section == "tube" or thickness_mm <= THIN else solid


START_SHARE = 0.25
"""Where the starting chip load lies in the published range, on a log scale: our choice, cautious."""


@dataclass(frozen=True)
class Settings:
    """A start in numbers; what each came from is in its parts."""

    match: Match
    thickness: float
    """L [mm]."""
    edge: str
    coolant: str
    section: str
    speed: SpeedRange
    pitch: Pitch
    form: Figure
    set: Figure
    chip_load: float
    """h [um]."""
    chip_load_why: str

    @property
    def tooth_spacing(self) -> float:
        """p [mm]."""
        return float(sawing.tooth_spacing(self.pitch.tpi))

    @property
    def teeth_in_cut(self) -> float:
        """L / p [-]."""
        return float(sawing.teeth_in_cut(self.thickness, self.tooth_spacing))

    @property
    def feed_rate(self) -> float:
        """F = h V / p [mm/min]."""
        return float(sawing.feed_rate(self.speed.typical, self.chip_load, self.tooth_spacing))

    @property
    def cutting_rate(self) -> float:
        """Z = F L [cm2/min]."""
        return float(sawing.cutting_rate(self.feed_rate, self.thickness))

    @property
    def gullet_area(self) -> float:
        """Estimated from pitch and tooth form [mm2]."""
        return gullet_area(self.pitch, self.form)

    @property
    def gullet_fill(self) -> float:
        """Share of the estimated gullet that the loose chip needs [-]."""
        return float(sawing.gullet_fill(self.chip_load, self.thickness, self.gullet_area))


def choose(material: str, thickness_mm: float, edge: str, coolant: str, section: str) -> Settings:
    """Settings for a published material group or grade in work of thickness L [mm]; wall for a tube.

    Raises `PublishedError` for names that are not published, and for work too thin for any pitch.
    """
    match = find(material)
    speed = speed_range(material, thickness_mm, edge, coolant)
    pitch = best_pitch(edge, thickness_mm)
    form = tooth_form(match.group, pitch)
    chip_load, why = starting_chip_load(pitch.teeth(thickness_mm), thickness_mm, gullet_area(pitch, form))
    return Settings(
        match=match, thickness=thickness_mm, edge=edge, coolant=coolant, section=section, speed=speed, pitch=pitch,
        form=form, set=set_of_teeth(section, thickness_mm), chip_load=chip_load, chip_load_why=why,
    )  # fmt: skip


def chip_load_range() -> tuple[float, float]:
    """Published chip loads of band sawing, low and high [um] (Sarwar et al.)."""
    figure = prior_figure("chip_load")
    return float(figure.low), float(figure.high)


def starting_chip_load(teeth: float, thickness_mm: float, gullet_area_mm2: float) -> tuple[float, str]:
    """Cautious chip load [um] and why: low (high / low)^0.25, or low where few teeth share the load.

    teeth : teeth in the cut; few are fewer than 6 [-]
    thickness_mm : L [mm]
    gullet_area_mm2 : A, which the chip must not overfill [mm2]

    >>> starting_chip_load(6.25, 15.875, 1.5)[0], starting_chip_load(3.8, 3.0, 0.15)[0]
    (8.89, 5.0)
    """
    low, high = chip_load_range()
    choices = [
        (low * (high / low) ** START_SHARE,
         f"a cautious start, {START_SHARE:.0%} of the way up the published range on a log scale"),
        (sawing.chip_load_at_full_gullet(thickness_mm, gullet_area_mm2), "all that the gullet holds"),
    ]  # fmt: skip
    if teeth < GOOD - 1e-9:
        choices.append((low, f"the low end of the published range: fewer than {GOOD} teeth share the load"))
    return min(choices)


def gullet_area(pitch: Pitch, form: Figure) -> float:
    """Estimated gullet area [mm2] of a pitch and the first tooth form of a rule ("skip or hook": skip)."""
    return float(sawing.gullet_area_estimate(sawing.tooth_spacing(pitch.tpi), form.low.split()[0]))
