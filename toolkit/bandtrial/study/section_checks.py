"""Whether each row of cuts says how large the cut was, one way or another, and says it once."""

from collections.abc import Callable

import numpy as np

from bandtrial import units
from bandtrial.study.problems import Problems
from bandtrial.study.sections import DIAMETER, WALLED, Geometry, geometry
from bandtrial.study.typed import Sheet
from bandtrial.words import shown

SIDED = tuple(name for name in WALLED if name not in DIAMETER)
AREA_TOLERANCE = 1.1
"""Logged area over that of the logged sizes (or the other way round) beyond which a row is worth a look."""


_NEEDS = (  # column, sections, words
    ("work_thickness", ("rectangular",), "empty; a cut needs its work thickness (or, round work, its diameter)"),
    ("cut_travel", ("rectangular",), "empty; a cut needs its cut travel (or, round work, its diameter)"),
    ("diameter", DIAMETER, "empty; a round or a tube needs its diameter"),
    ("work_thickness", ("hole",), "empty; a hole needs the work thickness it is sawn through"),
    ("cut_travel", ("hole",), "empty; a hole needs its cut travel, the length of its path (a round one, its diameter)"),
    ("work_thickness", SIDED, "empty; a profile needs its sides, work thickness and cut travel (or its cut area)"),
    ("cut_travel", SIDED, "empty; a profile needs its sides, work thickness and cut travel (or its cut area)"),
    ("wall", ("tube",), "empty; a tube needs its wall"),
    ("wall", SIDED, "empty; a profile needs its wall (or its cut area)"),
    ("cut_area", ("other",), "empty; a section that is no other needs its cut area"),
)


def sections_complete(cuts: Sheet, problems: Problems) -> None:
    """Each row says how thick the work is and how far the cut went, or its area."""
    geo = geometry(cuts.frame)
    lacks = {name: np.isnan(cuts.frame[name].to_numpy(float)) for name in
             ("work_thickness", "cut_travel", "diameter", "wall", "cut_area")}  # fmt: skip
    without_area = lacks["cut_area"] & ~cuts.bad["cut_area"]
    for column, sections, words in _NEEDS:
        where = without_area & lacks[column] & ~cuts.bad[column] & np.isin(geo.section.astype(str), sections)
        if column in ("work_thickness", "cut_travel") and "rectangular" not in sections:
            where &= lacks["diameter"] | ((geo.section == "hole") & (column == "work_thickness"))
        at = np.flatnonzero(where)
        problems.each("error", cuts.file, column, cuts.rows[at], [[""] * len(at)], _always(words))
    _agree(cuts, geo, problems)
    only = ~lacks["cut_area"] & lacks["work_thickness"] & lacks["cut_travel"] & lacks["diameter"]
    at = np.flatnonzero(only & (geo.section != "round"))
    problems.each("warning", cuts.file, "cut_area", cuts.rows[at], [["all"] * len(at)], _always(
        "the only size given: the cut is taken for a square; a work_thickness or cut_travel beside it makes its wear "
        "surer"))  # fmt: skip


def _always(words: str) -> Callable[[str], str]:
    return lambda _: words


def _agree(cuts: Sheet, geo: Geometry, problems: Problems) -> None:
    """Walls, travels and areas that can't go with the other sizes."""
    frame, section = cuts.frame, geo.section
    d, w, far = (frame[name].to_numpy(float) for name in ("diameter", "wall", "cut_travel"))
    least = np.fmin(frame["work_thickness"].to_numpy(float), far)
    across = np.where(section == "tube", d, np.where(np.isnan(least), d, least))
    column = np.where((section == "tube") | np.isnan(least), "diameter", "work_thickness")
    at = np.flatnonzero(np.isin(section, ("tube", "rectangular_tube")) & (2 * w > across))
    words = [cuts.given(column[n], n) for n in at]
    what = ["diameter" if section[n] == "tube" else "side" for n in at]
    problems.each("error", cuts.file, "wall", cuts.rows[at], [[cuts.given("wall", n) for n in at], words, what],
                  lambda wall, side, name: f"{wall} is more than half the {name}, {side}")  # fmt: skip
    bundle = frame["stacked"].to_numpy(float) > 1
    at = np.flatnonzero(np.isin(section, DIAMETER) & (far > 1.01 * d) & ~bundle)
    problems.each("warning", cuts.file, "cut_travel", cuts.rows[at],
                  [[cuts.given("cut_travel", n) for n in at], [cuts.given("diameter", n) for n in at]],
                  lambda travel, diameter: f"{travel} is more than the diameter, {diameter}, which is "
                  "used")  # fmt: skip
    without = geometry(frame.assign(cut_area=np.nan)).cut_area if frame["cut_area"].notna().any() else geo.cut_area
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = geo.cut_area / without
    at = np.flatnonzero((ratio > AREA_TOLERANCE) | (ratio < 1 / AREA_TOLERANCE))
    unit = cuts.unit["cut_area"] or units.KINDS["area"]
    other = [shown(float(units.from_inside(one, "area", unit))) for one in without[at]]
    problems.each("warning", cuts.file, "cut_area", cuts.rows[at], [[cuts.given("cut_area", n) for n in at], other],
                  lambda area, sizes: f"{area} is not the area of the sizes beside it, {sizes} {unit}; the cut area is "
                  "used, check which is right")  # fmt: skip
