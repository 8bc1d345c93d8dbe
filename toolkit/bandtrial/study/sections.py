"""What a logged section amounts to: mean work thickness, cut travel and area of one piece."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from bandtrial import sawing


class Geometry(NamedTuple):
    """Of each cut: mean work thickness [mm], cut travel [mm], area [cm2], and the section it was read as."""

    work_thickness: np.ndarray
    cut_travel: np.ndarray
    cut_area: np.ndarray
    section: np.ndarray


def geometry(cuts: pd.DataFrame) -> Geometry:
    """Geometry of logged cuts; NaN where the row does not say enough.

    Rectangular: thickness and travel as logged. Round and tube: the area of the circle or ring the cut passed,
    over its travel; the travel is the diameter unless the row says how far the cut got. A row without a
    section but with a diameter and no thickness is round, or a tube where it has a wall.
    """
    L, D, d, w = (cuts[name].to_numpy(float) for name in ("work_thickness", "cut_travel", "diameter", "wall"))
    section = cuts["section"].to_numpy(object)
    bare = (section == "") & np.isnan(L) & ~np.isnan(d)
    section = np.where(bare, np.where(np.isnan(w), "round", "tube"), np.where(section == "", "rectangular", section))
    curved = section != "rectangular"
    if not curved.any():
        return Geometry(L, D, sawing.cut_area_rectangular(L, D), section)
    travel = np.where(curved, np.fmin(np.where(np.isnan(D), d, D), d), D)
    hole = np.where(section == "tube", d - 2 * w, 0.0)
    ring = circle_passed(d, travel) - circle_passed(np.fmax(hole, 0.0), travel - (d - hole) / 2)
    area = np.where(curved, ring / 100.0, sawing.cut_area_rectangular(L, D))
    return Geometry(np.where(curved, 100.0 * area / travel, L), travel, area, section)


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
