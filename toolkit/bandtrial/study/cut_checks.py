"""All checks of the rows of cuts: for a whole log, and for a row before it is saved."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from bandtrial import units, words
from bandtrial.published.materials import find
from bandtrial.study import shop_checks, toml
from bandtrial.study.problems import Problems, as_count
from bandtrial.study.sections import DIAMETER, WALLED, Geometry, geometry
from bandtrial.study.typed import Sheet, known_names, same_names
from bandtrial.words import quoted, shown

if TYPE_CHECKING:
    from bandtrial.study.settings import Settings


def check_cuts(cuts: Sheet, bands: Sheet | None, known: Settings, problems: Problems) -> None:
    """Every problem of the cuts that a single cell does not show. Names written in another case become the known."""
    shop_checks.only_machine(cuts, known)
    same_names(cuts, "machine", known.machines, problems)
    called = {name: (one.name, one.group, find(one.group).grade or "") for name, one in known.materials.items()}
    same_names(cuts, "material", known.materials, problems, called)
    if bands is not None:
        same_names(cuts, "band", bands.frame["band"], problems)
    numbers_used_twice(cuts, problems)
    numbers_alike(cuts, problems)
    machines = known_names(cuts, "machine", known.machines, known.faulty, toml.FILE, "machine", problems)
    known_names(cuts, "material", known.materials, known.faulty, toml.FILE, "material", problems)
    shop_checks.speeds_known(cuts, known, problems)
    shop_checks.speeds_in_range(cuts, known, machines, problems)
    sections_complete(cuts, problems)
    feed_and_time_agree(cuts, problems)
    shop_checks.forces_given(cuts, known, problems)
    shop_checks.machine_limits(cuts, known, problems)
    shop_checks.times_in_order(cuts, problems)
    if bands is not None:
        stock_of = dict(zip(bands.frame["band"], bands.frame["stock"], strict=True))
        known_names(cuts, "band", stock_of, frozenset(), bands.file, "band", problems)
        stock = cuts.frame["band"].map(stock_of).to_numpy(object)
        shop_checks.teeth_enough(cuts, known, stock, problems)
        shop_checks.bands_agree(cuts, bands, machines, problems)


FEED_TOLERANCE = 1.25
"""Achieved over set feed rate (or the other way round) beyond which a row is worth a look."""


def numbers_used_twice(cuts: Sheet, problems: Problems) -> None:
    """Each cut has a number of its own."""
    number = cuts.frame["cut"]
    again = (number.duplicated() & (number != "")).to_numpy(bool)
    if not again.any():
        return
    first = dict(zip(number[::-1], cuts.rows[::-1], strict=True))
    used, at = set(number), np.flatnonzero(again)
    before = number.to_numpy(object)[np.maximum(at - 1, 0)]
    next_ones = [str(n + 1) if (n := as_count(str(one))) else "" for one in before]
    free = ["" if one in used else one for one in next_ones]
    cuts.each(problems, "error", "cut", at, [number.to_numpy(object)[at], free], lambda own, next_free:
              f"{quoted(own)} is already the number of row {first[own]}; each cut needs a number of its own"
              + (f"; {next_free} is still free" if next_free else ""))  # fmt: skip


def numbers_alike(cuts: Sheet, problems: Problems) -> None:
    """Numbers written in different ways: 1, 01, 1.0 and an Arabic 1 are one number to whoever reads them."""
    number = cuts.frame["cut"].to_numpy(object)
    odd = [n for n, one in enumerate(number) if not (one.isascii() and one.isdecimal() and one[0] != "0")]
    if not odd:
        return
    same = number.copy()
    same[odd] = [_as_number(one) for one in number[odd]]
    first: dict[str, int] = {}
    at = np.array([n for n, one in enumerate(same) if one and number[first.setdefault(one, n)] != number[n]], int)
    keys = [number[at], [cuts.rows[first[same[n]]] for n in at], [number[first[same[n]]] for n in at]]
    cuts.each(problems, "warning", "cut", at, keys, lambda own, row, other:
              f"{quoted(own)} is the number of row {row}, {quoted(other)}, written another way; is it another "
              "cut?")  # fmt: skip


def _as_number(text: str) -> str:
    """A whole number in its plainest form; "" for any other text."""
    plain = unicodedata.normalize("NFKC", text).strip()
    found = re.fullmatch(r"0*(\d{1,15}?)(?:[.,]0*)?", plain)
    return str(int(found[1] or 0)) if found else ""


def feed_and_time_agree(cuts: Sheet, problems: Problems) -> None:
    """The feed rate that was set against cut travel over cut time."""
    F, D = cuts.frame["feed_rate"].to_numpy(float), geometry(cuts.frame).cut_travel
    t = cuts.frame["cut_time"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = D / t / F
    at = np.flatnonzero((ratio > FEED_TOLERANCE) | (ratio < 1 / FEED_TOLERANCE))
    unit = cuts.unit["feed_rate"] or "mm/min"
    got = [words.shown(units.from_inside(one, "feed_rate", unit)) for one in (D / t)[at]]
    keys = [cuts.all_given("cut_time", at), [_minutes(one) for one in t[at]], got, cuts.all_given("feed_rate", at)]
    cuts.each(problems, "warning", "cut_time", at, keys, lambda given, minutes, got, set_to:
              f"{given} is read as {minutes}; with its cut travel that is a feed rate of {got} {unit}, but feed_rate "
              f"says {set_to}; check time, travel and feed rate")  # fmt: skip


def _minutes(t: float) -> str:
    """A cut time in words: 12 min 40 s."""
    seconds = round(t * 60, 1)
    whole, rest = divmod(seconds, 60)
    return f"{whole:.0f} min {rest:g} s" if whole else f"{rest:g} s"


SIDED = tuple(name for name in WALLED if name not in DIAMETER)
AREA_TOLERANCE = 1.1
"""Logged area over that of the logged sizes (or the other way round) beyond which a row is worth a look."""


_NEEDS = (  # column, sections, message
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
    for column, sections, message in _NEEDS:
        where = without_area & lacks[column] & ~cuts.bad[column] & np.isin(geo.section.astype(str), sections)
        if column in ("work_thickness", "cut_travel") and "rectangular" not in sections:
            where &= lacks["diameter"] | ((geo.section == "hole") & (column == "work_thickness"))
        at = np.flatnonzero(where)
        cuts.each(problems, "error", column, at, [[""] * len(at)], _always(message))
    _agree(cuts, geo, problems)
    only = ~lacks["cut_area"] & lacks["work_thickness"] & lacks["cut_travel"] & lacks["diameter"]
    at = np.flatnonzero(only & (geo.section != "round"))
    cuts.each(problems, "warning", "cut_area", at, [["all"] * len(at)], _always(
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
    cuts.each(problems, "error", "wall", at, [cuts.all_given("wall", at), words, what],
              lambda wall, side, name: f"{wall} is more than half the {name}, {side}")  # fmt: skip
    bundle = frame["stacked"].to_numpy(float) > 1
    at = np.flatnonzero(np.isin(section, DIAMETER) & (far > 1.01 * d) & ~bundle)
    keys = [cuts.all_given(name, at) for name in ("cut_travel", "diameter")]
    cuts.each(problems, "warning", "cut_travel", at, keys, lambda travel, diameter:
              f"{travel} is more than the diameter, {diameter}, which is used")  # fmt: skip
    without = geometry(frame.assign(cut_area=np.nan)).cut_area if frame["cut_area"].notna().any() else geo.cut_area
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = geo.cut_area / without
    at = np.flatnonzero((ratio > AREA_TOLERANCE) | (ratio < 1 / AREA_TOLERANCE))
    unit = cuts.unit["cut_area"] or units.KINDS["area"]
    other = [shown(float(units.from_inside(one, "area", unit))) for one in without[at]]
    cuts.each(problems, "warning", "cut_area", at, [cuts.all_given("cut_area", at), other],
              lambda area, sizes: f"{area} is not the area of the sizes beside it, {sizes} {unit}; the cut area is "
              "used, check which is right")  # fmt: skip
