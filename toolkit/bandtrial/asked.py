"""What has to be known of a shop, as it is asked in forms and on the command line, and how answers become study.toml;
how much work somebody means.

An answer is a text as people type it. A bare number is in the unit of the study's system; what can't be split is
handed on as it is, for the check of the study to say what is wrong with it.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from bandtrial import units
from bandtrial.sawing import EDGES, SETS, TOOTH_FORMS
from bandtrial.words import quoted

if TYPE_CHECKING:
    import pandas as pd

GOALS = ("lowest-cost", "highest-output")
SEVERAL = re.compile(r"\s*;\s*|\s*,\s+|,(?=\d\d)|\s+and\s+")
_SPAN = re.compile(r"\s*(?:-|–|—|\bto\b|\.\.\.?|…)\s*")


@dataclass(frozen=True)
class Asked:
    """One thing that is asked. `kind` is a kind of quantity, or text, choice; `form` one, span, speeds or pairs."""

    name: str
    words: str
    kind: str = "text"
    form: str = "one"
    needed: bool = False
    choices: tuple[str, ...] = ()
    us: str = ""
    metric: str = ""
    feeds: tuple[str, ...] = ()
    """The feeds of a machine that have it; none: any."""

    def example(self, system: str) -> str:
        """How it may be answered."""
        return (self.metric if system == "metric" else "") or self.us


STUDY = (
    Asked("name", "name of the study", us="Tool room saw"),
    Asked("question", "what it should answer", us="Which speed and feed for 2 in A36?",
          metric="Which speed and feed for 50 mm S235?"),
    Asked("units", "units", "choice", choices=("us", "metric"), needed=True),
    Asked("currency", "currency", us="USD", metric="EUR"),
    Asked("safety_notes", "safety notes", us="glasses at the saw"),
)  # fmt: skip
COSTS = (
    Asked("machine_and_labor_per_hour", "cost of an hour", "money", needed=True, us="60, machine and labor"),
    Asked("band_change_minutes", "band change, minutes", "time", needed=True, us="10"),
    Asked("scrapped_piece", "a scrapped piece", "money", needed=True, us="0"),
    Asked("work_ahead", "work still to be sawn", "area", us="60000 in2", metric="400000 cm2"),
)  # fmt: skip
MACHINE = (
    Asked("kind", "kind", "choice", choices=("vertical", "horizontal"), needed=True),
    Asked("feed", "how the work is fed", "choice", choices=("rate", "force", "hand"), needed=True),
    Asked("band_speeds", "band speeds", "speed", "speeds", needed=True, us="60 to 300, or 80, 120, 200",
          metric="20 to 90, or 25, 40, 60"),
    Asked("band_length", "band length", "length", needed=True, us="115 in", metric="2950 mm"),
    Asked("throat", "throat", "length", us="14 in", metric="350 mm"),
    Asked("feed_rate_range", "feed rates", "feed_rate", "span", us="0.5 to 20 in/min", metric="10 to 500 mm/min",
          feeds=("rate",)),
    Asked("feed_force_range", "feed forces", "force", "span", us="5 to 40 lbf", metric="20 to 200 N", feeds=("force",)),
    Asked("wheel_diameter", "wheel diameter", "length", us="14 in", metric="350 mm"),
    Asked("motor_power", "motor power", "power", us="1 hp", metric="0.75 kW"),
    Asked("speed_check", "speed check", "speed", "pairs", us="dial = measured: 100 = 95, 250 = 239",
          metric="dial = measured: 30 = 29"),
)  # fmt: skip
STOCK = (
    Asked("pitch", "pitch", "pitch", needed=True, us="10 tpi or 6/10 tpi"),
    Asked("edge", "edge", "choice", choices=EDGES, needed=True),
    Asked("price", "price of a band", "money", needed=True, us="38, welded"),
    Asked("tooth_form", "tooth form", "choice", choices=TOOTH_FORMS),
    Asked("set", "set", "choice", choices=SETS),
    Asked("width", "width", "length", us="1/2 in", metric="13 mm"),
    Asked("thickness", "band thickness", "length", us="0.025 in", metric="0.65 mm"),
    Asked("kerf", "kerf", "length", us="0.04 in", metric="1 mm"),
)
MATERIAL = (
    Asked("group", "group or grade", us="A36, 6061, 304; or empty", metric="S235, C45, 1.4301; or empty"),
    Asked("name", "what people call it", us="A36 plate", metric="S235 plate"),
    Asked("hardness", "hardness", "hardness", us="130 HB"),
    Asked("start_speed", "start speed", "speed", us="165 ft/min, if you have one", metric="50 m/min, if you have one"),
    Asked("deviation_at_most", "out of square at most", "length", us="0.01 in", metric="0.2 mm"),
    Asked("pieces_per_month", "pieces per month", "number", us="400"),
)
FORMS = {"study": STUDY, "costs": COSTS, "machines": MACHINE, "band_stock": STOCK, "materials": MATERIAL}
"""What is asked for each table of study.toml."""


def answers(table: str, typed: Mapping[str, str], system: str) -> dict[str, Any]:
    """The values of a table of study.toml; None where nothing is typed.

    >>> answers("machines", {"feed": "hand", "band_speeds": "80, 120, 200", "throat": "14"}, "us")
    {'feed': 'hand', 'band_speed_ranges': None, 'band_speeds': ['80 ft/min', '120 ft/min', '200 ft/min'],
     'throat': '14 in'}
    >>> answers("machines", {"band_speeds": "60-150,200-490 fpm"}, "us")["band_speed_ranges"]
    [['60 fpm', '150 fpm'], ['200 fpm', '490 fpm']]
    """
    made: dict[str, Any] = {}
    for asked in FORMS[table]:
        if asked.name in typed:
            made |= _answer(asked, " ".join(typed[asked.name].split()), system)
    return made


def _answer(asked: Asked, text: str, system: str) -> dict[str, Any]:
    if asked.form == "speeds":
        spans = [part for part in (_SPAN.split(one) for one in SEVERAL.split(text)) if part != [""]]
        ranges = any(len(part) > 1 for part in spans)
        return {"band_speed_ranges": _with_units(spans, asked.kind, system) if ranges else None,
                "band_speeds": _with_units([part[0] for part in spans], asked.kind, system) if spans and not ranges
                else None}  # fmt: skip
    return {asked.name: _value(asked, text, system) if text else None}


def _value(asked: Asked, text: str, system: str) -> Any:
    if asked.kind in ("text", "choice"):
        return text
    if asked.form == "span":
        return _with_units(_SPAN.split(text), asked.kind, system)
    if asked.form == "pairs":
        return _with_units([re.split(r"\s*[=:]\s*", one) for one in SEVERAL.split(text)], asked.kind, system)
    if not units.KINDS[asked.kind] or asked.name == "band_change_minutes":
        return _number(text, asked.kind)
    return _with_units([text], asked.kind, system)[0]


def _number(text: str, kind: str) -> Any:
    """A number without unit as one, a time in minutes; anything else as the text that it is."""
    found = _read(text, "number")
    if found is None and kind == "time":
        found = _read(text, "time")
    return text if found is None else found


def _with_units(parts: list[Any], kind: str, system: str) -> list[Any]:
    """Each bare number with the unit that stands behind the last, or else that of the system."""
    flat = [one for part in parts for one in (part if isinstance(part, list) else [part])]
    last = next((one for one in reversed(flat) if _read(one, kind) is not None), "")
    behind = re.sub(r"^[\d\s.,/]*", "", last)
    unit = behind or ("HB" if kind == "hardness" else units.display_unit(kind, system))
    return [[_one(one, kind, unit) for one in part] if isinstance(part, list) else _one(part, kind, unit)
            for part in parts]  # fmt: skip


def _one(text: str, kind: str, unit: str) -> str:
    if _read(text, kind) is not None or _read(text, kind, unit) is None:
        return text
    return f"{text} {units.plain_unit(unit)}"


def _read(text: str, kind: str, unit: str | None = None) -> float | None:
    """A quantity in its inside unit; None where the text is none."""
    try:
        return units.read(text, kind, unit)
    except units.UnitError:
        return None


def as_typed(table: str, values: Mapping[str, Any]) -> dict[str, str]:
    """What stands in a table of study.toml as somebody might have typed it, for a form that changes it.

    >>> as_typed("machines", {"band_speed_ranges": [["60 fpm", "150 fpm"]], "speed_check": [["30 fpm", "29 fpm"]]})
    {'band_speeds': '60 fpm to 150 fpm', 'speed_check': '30 fpm = 29 fpm'}
    """
    made = {}
    for asked in FORMS[table]:
        value = values.get(asked.name)
        if asked.form == "speeds":
            value = values.get("band_speeds") or values.get("band_speed_ranges")
        if value is not None:
            made[asked.name] = _typed(value, " = " if asked.form == "pairs" else " to ", asked.form)
    return made


def _typed(value: Any, between: str, form: str) -> str:
    if not isinstance(value, list):
        return f"{value:g}" if isinstance(value, float) else str(value)
    if form == "span" or (value and isinstance(value[0], list) is False and form == "pairs"):
        return between.join(map(str, value))
    if len(value) == 2 and form == "speeds" and not isinstance(value[0], list):
        return "; ".join(map(str, value))
    return "; ".join(between.join(map(str, one)) if isinstance(one, list) else str(one) for one in value)


LIKE = 0.05
"""Thicknesses this near count as one [-]."""
_CUTS = re.compile(r"([\d.,]+)\s*(?:cuts?|pieces?|pcs\.?)", re.I)


def work_area(text: str, cuts: "pd.DataFrame", material: str, thickness: float, system: str) -> float:
    """Area that is meant [cm2]: `"2000 in2"`, a bare number in the unit of the system, `"400 cuts"`, `"8 h"`.

    cuts : the cut table. Cuts are of the usual area, hours at the usual cutting rate, of those logged in the material
        at the thickness [mm] (medians), or else in the material at any
    UnitError where that can't be read, or nothing was cut in the material yet
    """
    counted, time = _CUTS.fullmatch(text.strip()), _read(text, "time")
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
