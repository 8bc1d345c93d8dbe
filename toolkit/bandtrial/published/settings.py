"""The starting settings themselves: everything a start chooses or works out, as numbers in inside units."""

from dataclasses import dataclass

from bandtrial import sawing
from bandtrial.published.materials import Match, find
from bandtrial.published.speeds import SpeedRange, speed_range
from bandtrial.published.tables import Figure, prior_figure
from bandtrial.published.teeth import GOOD, Pitch, best_pitch, set_of_teeth, tooth_form

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
        return sawing.tooth_spacing(self.pitch.tpi)

    @property
    def teeth_in_cut(self) -> float:
        """L / p [-]."""
        return sawing.teeth_in_cut(self.thickness, self.tooth_spacing)

    @property
    def feed_rate(self) -> float:
        """F = h V / p [mm/min]."""
        return sawing.feed_rate(self.speed.typical, self.chip_load, self.tooth_spacing)

    @property
    def cutting_rate(self) -> float:
        """Z = F L [cm2/min]."""
        return sawing.cutting_rate(self.feed_rate, self.thickness)

    @property
    def gullet_area(self) -> float:
        """Estimated from pitch and tooth form [mm2]."""
        return gullet_area(self.pitch, self.form)

    @property
    def gullet_fill(self) -> float:
        """Share of the estimated gullet that the loose chip needs [-]."""
        return sawing.gullet_fill(self.chip_load, self.thickness, self.gullet_area)


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
        match=match,
        thickness=thickness_mm,
        edge=edge,
        coolant=coolant,
        section=section,
        speed=speed,
        pitch=pitch,
        form=form,
        set=set_of_teeth(section, thickness_mm),
        chip_load=chip_load,
        chip_load_why=why,
    )


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
    return sawing.gullet_area_estimate(sawing.tooth_spacing(pitch.tpi), form.low.split()[0])
