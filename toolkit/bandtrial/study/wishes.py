"""How much work somebody means: as an area, as cuts, or as hours of sawing at the shop's own pace."""

import re
from typing import TYPE_CHECKING

from bandtrial import units
from bandtrial.words import quoted

if TYPE_CHECKING:
    import pandas as pd

LIKE = 0.05
"""Thicknesses this near count as one [-]."""
_CUTS = re.compile(r"([\d.,]+)\s*(?:cuts?|pieces?|pcs\.?)", re.I)


def work_area(text: str, cuts: "pd.DataFrame", material: str, thickness: float, system: str) -> float:
    """Area that is meant [cm2]: `"2000 in2"`, a bare number in the unit of the system, `"400 cuts"`, `"8 h"`.

    cuts : the cut table. Cuts are of the usual area, hours at the usual cutting rate, of those logged in the material
        at the thickness [mm] (medians), or else in the material at any
    UnitError where that can't be read, or nothing was cut in the material yet
    """
    counted, time = _CUTS.fullmatch(text.strip()), _minutes(text)
    if not counted and time is None:
        return units.read(text, "area", units.display_unit("area", system))
    alike = cuts[(cuts["material"] == material) & (cuts["exclude"] == "")]
    near = alike[(alike["work_thickness"] / thickness - 1).abs() < LIKE]
    used = near if len(near) else alike
    if used.empty:
        raise units.UnitError(f"{quoted(text)}: no cut in {material} is logged yet, so how much that is can't be "
                              f"known; give an area, as 2000 {'in2' if system == 'us' else 'cm2'}")  # fmt: skip
    if counted:
        return units.number(counted[1]) * float(used["cut_area"].median())
    assert time is not None
    return time * float((used["cut_area"] / used["cut_time"]).median())


def _minutes(text: str) -> float | None:
    """A time with its unit, or as a clock shows it [min]; None where the text is none."""
    try:
        return units.read(text, "time")
    except units.UnitError:
        return None
