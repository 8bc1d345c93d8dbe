"""Published band speed of a material, adjusted for work thickness, edge and cutting fluid.

V = V_table x f_thickness x f_edge x f_fluid; the table is for a bimetal edge, 4 in of work and flood.
Source of the table and of every factor: `sources.csv`, handbook_31 (p. 1245) and handbook_older.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bandtrial.published.materials import allowed, find
from bandtrial.published.tables import Figure, PublishedError, SpeedRow, adjustments, worst_known
from bandtrial.units import convert


@dataclass(frozen=True)
class Factor:
    """A factor on the table's band speed, with where it comes from."""

    low: float
    typical: float
    high: float
    source: str
    how_known: str
    note: str = ""


@dataclass(frozen=True)
class SpeedRange:
    """Published band speed: cautious low, typical and high [m/min], and the figures it was made of."""

    low: float
    typical: float
    high: float
    base: SpeedRow
    thickness: Factor
    edge: Factor
    fluid: Factor


EDGES = {
    "bimetal": Factor(1.0, 1.0, 1.0, "handbook_31", "read", "the table's own edge"),
    "carbide": Factor(1.0, 1.0, 1.0, "our choice", "our choice",
                      "no published factor for carbide was found: the bimetal speed, a cautious start"),
}  # fmt: skip
FLUIDS = {
    "flood": Factor(1.0, 1.0, 1.0, "handbook_31", "read", "the table's own cutting fluid"),
    "mist": Factor(0.7, 0.85, 1.0, "our choice", "our choice",
                   "no published factor for mist was found: taken between dry and flood"),
}  # fmt: skip


AS_IT_IS = Factor(1.0, 1.0, 1.0, "study.toml", "your own", "used as it is")
"""The factors of a speed of the shop's own."""


def edge_factor(edge: str) -> Factor:
    """Factor for the tooth material: carbon from the handbook, bimetal 1, carbide as bimetal."""
    known = EDGES | {figure.work: _factor(figure) for figure in adjustments("edge")}
    return _pick("edge", edge, known)


def fluid_factor(coolant: str) -> Factor:
    """Factor for the cutting fluid: flood 1, dry and air the handbook's middle, mist between them."""
    dry = {name: _factor(figure) for figure in adjustments("cutting_fluid") for name in (figure.work, "air")}
    return _pick("coolant", coolant, FLUIDS | dry)


@cache
def thickness_lines() -> tuple[NDArray[np.float64], NDArray[np.float64], tuple[Figure, ...]]:
    """Work thickness [mm] and factor of the published lines, thin to thick, and the lines themselves."""
    figures = sorted(adjustments("work_thickness"), key=_inches)
    return (
        convert(np.array([_inches(figure) for figure in figures]), "in", "length"),
        np.array([float(figure.low) for figure in figures]),
        tuple(figures),
    )


def thickness_factors(thickness_mm: ArrayLike) -> NDArray[np.float64]:
    """Factor for work thickness L [mm]: straight in log L between published lines, level beyond the ends.

    The handbook's own example takes the nearest line instead (3/4 in for 5/8 in: 1.12). The two differ by
    half a step between lines at most, 0.06.

    >>> thickness_factors([0.75 * 25.4, 101.6]).round(2).tolist()
    [1.12, 1.0]
    """
    L, factor, _ = thickness_lines()
    return np.asarray(np.interp(np.log(np.asarray(thickness_mm, dtype=float)), np.log(L), factor), float)


def thickness_factor(thickness_mm: float) -> Factor:
    """`thickness_factors` of one thickness [mm], with its source and a note on the lines used."""
    L, _, figures = thickness_lines()
    value = float(thickness_factors(_positive(thickness_mm)))
    right = int(np.clip(np.searchsorted(L, thickness_mm), 0, len(L) - 1))
    used = {figures[right]} if L[right] == thickness_mm else {figures[max(right - 1, 0)], figures[right]}
    note = f"between the lines for {' and '.join(f.work for f in sorted(used, key=_inches))}"
    if len(used) == 1:
        note = f"the line for {figures[right].work}"
    note = "; ".join([note, *(f"{f.work}: {f.note}" for f in used if f.note)])
    if thickness_mm < L[0] * (1 - 1e-9):
        used, note = {figures[0]}, f"thinner than the table's first line ({figures[0].work}): that line kept"
    if thickness_mm > L[-1] * (1 + 1e-9):
        used, note = {figures[-1]}, f"thicker than the table's last line ({figures[-1].work}): that line kept"
    source = "; ".join(sorted({figure.source for figure in used}))
    return Factor(value, value, value, source, worst_known(*(f.how_known for f in used)), note)


def speed_range(material_group: str, thickness_mm: float, edge: str = "bimetal", coolant: str = "flood") -> SpeedRange:
    """Published band speed range of a material group or grade in work of thickness L [mm].

    typical: the group's base line (`Match.base`) x the factors; low and high: over every line of the group and the
    factors' own ranges. Raises `PublishedError` for an unknown material, edge or coolant.
    """
    match = find(material_group)
    rows, base = match.rows, match.base
    factors = thickness_factor(thickness_mm), edge_factor(edge), fluid_factor(coolant)
    if match.is_own:
        factors = AS_IT_IS, AS_IT_IS, AS_IT_IS
    low, typical, high = min(row.low for row in rows), base.low, max(row.high for row in rows)
    for factor in factors:
        low, typical, high = low * factor.low, typical * factor.typical, high * factor.high
    low, typical, high = (convert(speed, "ft/min", "speed") for speed in (low, typical, high))
    return SpeedRange(low, typical, high, base, *factors)


def band_speed(material_group: str, thickness_mm: float, edge: str = "bimetal", coolant: str = "flood") -> float:
    """Published starting band speed [m/min], typical; see `speed_range`.

    The handbook's example, 5/8 in of low-carbon steel with a carbon edge, is 168 ft/min:

    >>> band_speed("low-carbon steel", 15.875, "carbon") / 0.3048
    168.7
    """
    return speed_range(material_group, thickness_mm, edge, coolant).typical


def band_speeds(
    groups: ArrayLike, thicknesses: ArrayLike, edges: ArrayLike = "bimetal", coolants: ArrayLike = "flood"
) -> NDArray[np.float64]:
    """`band_speed` [m/min] of many cuts at once; names and thicknesses [mm] broadcast together.

    Each name is looked up once, so a million cuts take well under a second. Raises `PublishedError` naming
    every unknown name at once.

    >>> band_speeds(["304", "4140"], [101.6, 203.2]).round(2).tolist()
    [36.58, 67.06]
    """
    problems: list[str] = []
    speed = _each(groups, lambda name: convert(find(name).base.low, "ft/min", "speed"), problems)
    edge = _each(edges, lambda name: edge_factor(name).typical, problems)
    fluid = _each(coolants, lambda name: fluid_factor(name).typical, problems)
    own = _each(groups, lambda name: float(find(name).is_own), []) == 1.0
    if problems:
        raise PublishedError("\n".join(_once(problems, allowed())))
    return np.asarray(speed * np.where(own, 1.0, thickness_factors(thicknesses) * edge * fluid))


def _each(names: ArrayLike, value: Callable[[str], float], problems: list[str]) -> NDArray[np.float64]:
    """value(name) of each name, worked out once per different name; what is wrong is added to `problems`."""
    import pandas as pd

    array = np.asarray(names, dtype=object)
    codes, different = pd.factorize(array.ravel())
    values = []
    for name in different:
        try:
            values.append(value(name))
        except PublishedError as error:
            problems.append(str(error))
            values.append(np.nan)
    return np.append(values, np.nan)[codes].reshape(array.shape)


def _once(problems: list[str], ending: str) -> list[str]:
    """Problems with an ending that several share said once, behind the last of them."""
    sharing = [i for i, problem in enumerate(problems) if problem.endswith(ending)]
    return [problem.removesuffix(f" {ending}") if i in sharing[:-1] else problem for i, problem in enumerate(problems)]


def _factor(figure: Figure) -> Factor:
    low, high = float(figure.low), float(figure.high)
    middle = "" if low == high else "the middle of the published range"
    note = "; ".join(part for part in (figure.note, middle) if part)
    return Factor(low, (low + high) / 2.0, high, figure.source, figure.how_known, note)


def _pick(what: str, given: str, known: dict[str, Factor]) -> Factor:
    if given not in known:
        raise PublishedError(f'{what} "{given}" is not known; give one of {", ".join(known)}.')
    return known[given]


def _positive(thickness_mm: float) -> float:
    if not thickness_mm > 0.0:
        raise PublishedError(f"work thickness {thickness_mm:g} mm is not a thickness; give one above 0 mm.")
    return thickness_mm


def _inches(figure: Figure) -> float:
    return float(figure.work.split()[0])
