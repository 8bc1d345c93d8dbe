"""What a person should know about a start before relying on it."""

from bandtrial.published.settings import Settings
from bandtrial.published.showing import both
from bandtrial.published.tables import prior_figure
from bandtrial.published.teeth import FEW, MANY
from bandtrial.units import convert

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
