"""What a logged section amounts to: mean work thickness, cut travel and area of one cut."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from bandtrial import sawing

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
    L, D, d, w, A, n = (cuts[name].to_numpy(float) for name in
                        ("work_thickness", "cut_travel", "diameter", "wall", "cut_area", "stacked"))  # fmt: skip
    section = _sections(cuts["section"].to_numpy(object), L, d, w, A)
    plain = (section == "rectangular") & np.isnan(A) & (n == 1)
    if plain.all():
        return Geometry(L, D, sawing.cut_area_rectangular(L, D), section)
    travel, area = D.copy(), n * L * D / 100.0
    for kind in pd.unique(section):
        here = section == kind
        if kind in DIAMETER:
            travel[here], area[here] = _round(kind, D[here], d[here], w[here], n[here])
        elif kind != "rectangular":
            travel[here], area[here] = _walled(kind, L[here], D[here], d[here], w[here], n[here])
    travel = np.where(np.isnan(A), travel, _travel_of_area(A, L * n, D, d, section))
    area = np.where(np.isnan(A), area, A)
    with np.errstate(divide="ignore", invalid="ignore"):
        return Geometry(np.where(plain, L, 100.0 * area / travel), travel, area, section)


def _sections(section: np.ndarray, L: np.ndarray, d: np.ndarray, w: np.ndarray, A: np.ndarray) -> np.ndarray:
    bare = (section == "") & np.isnan(L) & ~np.isnan(d)
    rest = np.where(np.isnan(A), "rectangular", "other")
    rest = np.where(~np.isnan(L), "rectangular", rest)
    return np.where(bare, np.where(np.isnan(w), "round", "tube"), np.where(section == "", rest, section))


def _round(kind: str, D: np.ndarray, d: np.ndarray, w: np.ndarray, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Travel [mm] and area [cm2] of n rounds, tubes or hexagons; a travel beyond the diameter is that of a bundle."""
    travel = np.where(np.isnan(D), d, D)
    bundle = (n > 1) & (travel > d)
    passed = np.fmin(travel, d)
    if kind == "hexagon":
        return np.where(bundle, travel, passed), n * HEXAGON * d**2 * (passed / d) / 100.0
    hole = d - 2 * w if kind == "tube" else np.zeros_like(d)
    ring = circle_passed(d, passed) - circle_passed(np.fmax(hole, 0.0), passed - (d - hole) / 2)
    return np.where(bundle, travel, passed), n * ring / 100.0


def _walled(
    kind: str, L: np.ndarray, D: np.ndarray, d: np.ndarray, w: np.ndarray, n: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Travel [mm] and area [cm2] of profiles with outer sides L and D (or both d) and a mean wall w, and of holes.

    Rectangular tube L D - (L - 2 w)(D - 2 w); angle w (L + D - w); channel and beam, the web the longer side,
    w (long + 2 short - 2 w). A hole: thickness times its path, the circumference where it is round.
    """
    if kind == "hole":
        path = np.where(np.isnan(D), np.pi * d, D)
        return path, n * L * path / 100.0
    a, b = np.where(np.isnan(L), d, L), np.where(np.isnan(D), d, D)
    if kind == "rectangular_tube":
        area = a * b - np.fmax(a - 2 * w, 0.0) * np.fmax(b - 2 * w, 0.0)
    elif kind == "angle":
        area = w * (a + b - w)
    elif kind in ("channel", "beam"):
        area = w * (np.fmax(a, b) + 2 * np.fmin(a, b) - 2 * w)
    else:
        area = a * b
    return b, n * area / 100.0


def _travel_of_area(A: np.ndarray, L: np.ndarray, D: np.ndarray, d: np.ndarray, section: np.ndarray) -> np.ndarray:
    """Travel [mm] of a logged area A [cm2]: as logged, A/L, the diameter, or that of a circle or square as large."""
    alike = np.where(section == "round", np.sqrt(4 / np.pi), 1.0) * np.sqrt(100.0 * A)
    travel = np.where(np.isnan(D), 100.0 * A / L, D)
    return np.where(np.isnan(travel), np.where(np.isnan(d), alike, d), travel)


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
