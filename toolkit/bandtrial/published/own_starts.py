"""Where a material begins that no published group stands for: by hardness, or by a speed of the shop's own.

Its name says where that comes from, so that it can stand wherever a published group or grade does:
`none (hardness 240 HB)`, `none (start 120 ft/min)`, `aluminum alloy (start 900 m/min)`, `none`.
"""

import re
from dataclasses import dataclass
from functools import cache

import numpy as np

from bandtrial import hardness, units
from bandtrial.published.tables import PublishedError, SpeedRow, lines, speed_rows

NO_GROUP = "no published group"
"""What stands in place of the group of such a material."""
UNKNOWN = ("nothing known",)
"""What stands in place of the grades where there is no start at all."""
_NAMED = re.compile(r"(?P<group>[^()]+) \((?P<by>hardness|start) (?P<figure>[^(),]+)(?:, (?P<why>[^()]+))?\)")
_BARE = re.compile(r"\s*(?P<figure>\d[\d.,]*\s*(?P<unit>[A-Za-z/]+\d*))\s*")


@dataclass(frozen=True)
class OwnStart:
    """What such a name says: its group ("none" without one), and its start: `by` hardness, start or nothing."""

    group: str
    by: str
    figure: str = ""
    """As written, with its unit."""
    why: str = ""


def own_name(group: str, by: str, figure: str, why: str = "") -> str:
    """The name of a material with a start of its own.

    >>> own_name("none", "hardness", "240 HB"), own_name("none", "start", "120 ft/min", "its own cuts")
    ('none (hardness 240 HB)', 'none (start 120 ft/min, its own cuts)')
    """
    reason = f", {why}" if why else ""
    return f"{group} ({by} {figure}{reason})"


def own_start(name: str) -> OwnStart | None:
    """What the name of a material with a start of its own says; None for any other name.

    >>> own_start("240 HB").by, own_start("120 ft/min").by, own_start("none").by, own_start("304")
    ('hardness', 'start', '', None)
    """
    if name.strip().casefold() == "none":
        return OwnStart("none", "")
    found = _NAMED.fullmatch(name)
    if found:
        by, figure, group, why = found["by"], found["figure"].strip(), found["group"], found["why"] or ""
    elif bare := _BARE.fullmatch(hardness.turned(name)):
        is_hardness = hardness.scale(bare["unit"]) or bare["unit"].casefold().startswith("hb")
        by = "hardness" if is_hardness else "start"
        figure, group, why = bare["figure"].strip(), "none", ""
    else:
        return None
    try:
        units.read(figure, "hardness" if by == "hardness" else "speed")
    except units.UnitError as error:
        if by == "hardness" and not found:
            raise PublishedError(str(error)) from None
        return None
    return OwnStart(group, by, figure, why)


def own_row(start: OwnStart) -> SpeedRow:
    """The line of the speed table that stands for such a start."""
    if start.by == "start":
        speed = float(units.from_inside(units.read(start.figure, "speed"), "speed", "ft/min"))
        return SpeedRow(start.group, ("your own speed",), speed, speed, "any", None, "any", "study.toml", "your own",
                        start.why)  # fmt: skip
    if start.by == "hardness":
        speed = hardness_speed(units.read(start.figure, "hardness"))
        sources = "; ".join(dict.fromkeys(line["source"] for line in hardness_lines()))
        return SpeedRow(NO_GROUP, (start.figure,), speed, speed, "bimetal", 4.0, "flood", sources, "our choice",
                        "the slowest published metals about as hard, whose hardness is from memory")  # fmt: skip
    slowest = min((row for row in speed_rows() if row.is_base), key=lambda row: row.low)
    return SpeedRow(NO_GROUP, UNKNOWN, slowest.low, slowest.low, "bimetal", 4.0, "flood", slowest.source,
                    "our choice", f"the slowest line of the table, {slowest.group}")  # fmt: skip


@cache
def hardness_lines() -> tuple[dict[str, str], ...]:
    """hardness_starts.csv, soft to hard."""
    return lines("hardness_starts")


def hardness_speed(brinell: float) -> float:
    """Starting band speed [ft/min] of a metal of which only its hardness [HB] is known, for the table's own terms.

    Straight in the logs between the lines of hardness_starts.csv, level beyond them: our choice, on the slow side.

    >>> hardness_speed(150.0), round(hardness_speed(180.0), 1)
    (100.0, 95.1)
    """
    points = np.array([(line["hardness_hb"], line["band_speed_ft_min"]) for line in hardness_lines()], float)
    at, speed = np.log(points).T
    return float(np.exp(np.interp(np.log(brinell), at, speed)))


def own_note(start: OwnStart, row: SpeedRow, name: str = "", about: str = "") -> str:
    """What a person should know of such a start, in a sentence.

    name : what the metal was called, if not by this start; about : what is said of that name
    """
    lack = f'"{name}" has no published group' if name else "No published group"
    about = f", {about}" if about else ""
    if start.by == "start":
        which = "The" if start.group != "none" else f"{lack}: the"
        behind = "" if start.group == "none" else f"; {start.group} stands for the rest"
        return (f"{which} band speed is {start.figure} ({start.why or 'your own'}), used as it is for every thickness, "
                f"edge and coolant{behind}.")  # fmt: skip
    if start.by == "hardness":
        brinell = f"{units.read(start.figure, 'hardness'):.0f} HB"
        about += f", {brinell} if it is a steel" if "hb" not in start.figure.casefold() else ""
        return (f"{lack}: the band speed is that of the slowest published metals about as hard "
                f"({start.figure}{about}), on the slow side on purpose; metals as hard can take several times as "
                "much.")  # fmt: skip
    return (f"{lack}{about}, no hardness and no speed of your own: the slowest published speed is taken, "
            f"{row.low:g} ft/min ({row.note.rpartition(', ')[2]}).")  # fmt: skip
