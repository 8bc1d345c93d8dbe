"""What a row of the log says of its cut: the section it went through, and the band speed where none was logged.

A speed that was not logged is the machine's only one, or what the shop usually runs, said as such."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from bandtrial import sawing, units, words
from bandtrial.study.model import Machine

DIAMETER = ("round", "tube", "hexagon")
"""Sections known by their diameter; a hexagon by its width across flats."""
WALLED = ("tube", "rectangular_tube", "angle", "channel", "beam")
HEXAGON = np.sqrt(3) / 2
"""Area of a hexagon over its width across flats squared."""


class Geometry(NamedTuple):
    """Of each cut: mean work thickness [mm], cut travel [mm], area [cm2], and the section it was read as."""

    work_thickness: np.ndarray
    cut_travel: np.ndarray
    cut_area: np.ndarray
    section: np.ndarray


def geometry(cuts: pd.DataFrame) -> Geometry:
    """Geometry of logged cuts; NaN where the row does not say enough.

    Rectangular: thickness and travel as logged, the pieces of a stack above one another. Any other section: its area
    over its travel. Round and tube: the area of the circle or ring the cut passed; the travel is the diameter unless
    the row says how far the cut got. A row without a section but with a diameter and no thickness is round, or a tube
    where it has a wall. A logged area (of the whole cut) goes before all; without travel or thickness it is a square.
    """
    L, D, diameter, wall, area_logged, stacked = (cuts[name].to_numpy(float) for name in
                        ("work_thickness", "cut_travel", "diameter", "wall", "cut_area", "stacked"))  # fmt: skip
    section = _sections(cuts["section"].to_numpy(object), L, diameter, wall, area_logged)
    plain = (section == "rectangular") & np.isnan(area_logged) & (stacked == 1)
    if plain.all():
        return Geometry(L, D, sawing.cut_area_rectangular(L, D), section)
    travel, area = D.copy(), stacked * L * D / 100.0
    for kind in pd.unique(section):
        here = section == kind
        if kind in DIAMETER:
            travel[here], area[here] = _round(kind, D[here], diameter[here], wall[here], stacked[here])
        elif kind != "rectangular":
            travel[here], area[here] = _walled(kind, L[here], D[here], diameter[here], wall[here], stacked[here])
    travel = np.where(np.isnan(area_logged), travel, _travel_of_area(area_logged, L * stacked, D, diameter, section))
    area = np.where(np.isnan(area_logged), area, area_logged)
    with np.errstate(divide="ignore", invalid="ignore"):
        return Geometry(np.where(plain, L, 100.0 * area / travel), travel, area, section)


def _sections(
    section: np.ndarray, L: np.ndarray, diameter: np.ndarray, wall: np.ndarray, area_logged: np.ndarray
) -> np.ndarray:
    bare = (section == "") & np.isnan(L) & ~np.isnan(diameter)
    rest = np.where(np.isnan(area_logged), "rectangular", "other")
    rest = np.where(~np.isnan(L), "rectangular", rest)
    return np.where(bare, np.where(np.isnan(wall), "round", "tube"), np.where(section == "", rest, section))


def _round(
    kind: str, D: np.ndarray, diameter: np.ndarray, wall: np.ndarray, stacked: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Travel [mm] and area [cm2] of rounds, tubes or hexagons; a travel beyond the diameter is that of a bundle."""
    travel = np.where(np.isnan(D), diameter, D)
    bundle = (stacked > 1) & (travel > diameter)
    passed = np.fmin(travel, diameter)
    if kind == "hexagon":
        return np.where(bundle, travel, passed), stacked * HEXAGON * diameter**2 * (passed / diameter) / 100.0
    hole = diameter - 2 * wall if kind == "tube" else np.zeros_like(diameter)
    ring = circle_passed(diameter, passed) - circle_passed(np.fmax(hole, 0.0), passed - (diameter - hole) / 2)
    return np.where(bundle, travel, passed), stacked * ring / 100.0


def _walled(
    kind: str, L: np.ndarray, D: np.ndarray, diameter: np.ndarray, wall: np.ndarray, stacked: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Travel [mm] and area [cm2] of profiles with outer sides L and D (or both the diameter) and a mean wall w, and of
    holes.

    Rectangular tube L D - (L - 2 w)(D - 2 w); angle w (L + D - w); channel and beam, the web the longer side,
    w (long + 2 short - 2 w). A hole: thickness times its path, the circumference where it is round.
    """
    if kind == "hole":
        path = np.where(np.isnan(D), np.pi * diameter, D)
        return path, stacked * L * path / 100.0
    a, b = np.where(np.isnan(L), diameter, L), np.where(np.isnan(D), diameter, D)
    if kind == "rectangular_tube":
        area = a * b - np.fmax(a - 2 * wall, 0.0) * np.fmax(b - 2 * wall, 0.0)
    elif kind == "angle":
        area = wall * (a + b - wall)
    elif kind in ("channel", "beam"):
        area = wall * (np.fmax(a, b) + 2 * np.fmin(a, b) - 2 * wall)
    else:
        area = a * b
    return b, stacked * area / 100.0


def _travel_of_area(
    area_logged: np.ndarray, L: np.ndarray, D: np.ndarray, diameter: np.ndarray, section: np.ndarray
) -> np.ndarray:
    """Travel [mm] of a logged area [cm2]: as logged, area / L, the diameter, or that of a circle or square as large."""
    alike = np.where(section == "round", np.sqrt(4 / np.pi), 1.0) * np.sqrt(100.0 * area_logged)
    travel = np.where(np.isnan(D), 100.0 * area_logged / L, D)
    return np.where(np.isnan(travel), np.where(np.isnan(diameter), alike, diameter), travel)


def circle_passed(d: np.ndarray, t: np.ndarray) -> np.ndarray:
    """Area r^2 acos(1 - t/r) - (r - t) sqrt(2 r t - t^2) [mm2] of a circle d [mm] that a cut has passed.

    t : how far the cut got [mm]; below 0 counts as 0, beyond d as d

    >>> float(circle_passed(np.array(100.0), np.array(50.0)))
    3926.99
    """
    r = np.asarray(d, float) / 2
    t = np.clip(t, 0.0, 2 * r)
    with np.errstate(invalid="ignore", divide="ignore"):
        angle = np.arccos(np.clip(1 - t / r, -1.0, 1.0))
    return np.where(r == 0, 0.0, r**2 * angle - (r - t) * np.sqrt(np.clip(2 * r * t - t**2, 0.0, None)))


NOT_LOGGED = "band speed not known"


def assumed_speeds(cuts: pd.DataFrame, machines: dict[str, Machine], system: str) -> tuple[np.ndarray, np.ndarray]:
    """Indicated band speeds V [m/min] without gaps, and what each filled one rests on ("" where it was logged).

    A machine with a single speed runs at it. Else the median of the machine's cuts in the material, of all its cuts, or
    the middle of its speeds is taken: such a cut keeps its time, but must not teach how speed wears a band.
    """
    logged = cuts["band_speed"].to_numpy(float)
    V, why, gap = logged.copy(), np.full(len(logged), "", object), np.isnan(logged)
    machine, material = (cuts[name].to_numpy(object) for name in ("machine", "material"))
    for name, one in machines.items():
        here = machine == name
        if not (here & gap).any():
            continue
        if one.only_speed == one.only_speed:
            V[here & gap] = one.only_speed
            continue
        for metal in pd.unique(material[here & gap]):
            alike = here & (material == metal)
            speed, rest = _usual(one, logged[alike & ~gap], logged[here & ~gap], metal)
            V[alike & gap] = speed
            why[alike & gap] = f"{NOT_LOGGED}: {units.show(speed, 'speed', system)} is taken, {rest}"
    return V, why


def _usual(machine: Machine, alike: np.ndarray, every: np.ndarray, metal: str) -> tuple[float, str]:
    """A machine's usual speed [m/min] in a material, from its logged ones, and what it rests on."""
    if len(alike):
        return float(np.median(alike)), f"the median of {words.count(len(alike), 'cut')} in {metal} on {machine.id}"
    if len(every):
        return float(np.median(every)), f"the median of {words.count(len(every), 'cut')} on {machine.id}"
    low, high = machine.band_speed_ranges[0][0], machine.band_speed_ranges[-1][1]
    return float(np.sqrt(low * high)), f"the middle of the speeds of {machine.id}"


def true_speeds(machines: dict[str, Machine], machine: np.ndarray, indicated: np.ndarray) -> np.ndarray:
    """True band speed of each cut [m/min] by its machine's speed check."""
    V = np.asarray(indicated, float).copy()
    for name, one in machines.items():
        here = machine == name
        V[here] = one.true_speed(V[here])
    return V
