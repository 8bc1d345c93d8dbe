"""The table of cuts to make, checked, with a default for what the shop has only one of."""

from __future__ import annotations

from collections.abc import Mapping
from math import nan
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

NEEDED = ("band", "work_thickness", "cut_travel", "band_speed")
DEFAULTS: dict[str, Any] = {
    "pieces": 1,
    "coolant": "flood",
    "exclude": "",
    "note": "",
    "feed_rate": nan,
    "feed_force": nan,
}
POSITIVE = ("work_thickness", "cut_travel", "band_speed", "pieces")


class ShopError(ValueError):
    """A virtual shop was asked for a cut it can't make; the message says why, one line a problem."""


def read_settings(
    settings: pd.DataFrame, materials: list[str], coolants: list[str], machine_of: Mapping[str, str],
    feeds: Mapping[str, str],
) -> pd.DataFrame:  # fmt: skip
    """A complete table of cuts, or `ShopError` with every problem.

    machine_of : band -> machine, of the bands that still run
    feeds : machine -> "rate" or "force"
    """
    missing = [name for name in NEEDED if name not in settings]
    if missing:
        raise ShopError(f"The table of cuts has no column {', '.join(missing)}; it needs {', '.join(NEEDED)}.")
    table = settings.reset_index(drop=True)
    for name, value in DEFAULTS.items():
        if name not in table:
            table[name] = value
    if "material" not in table:
        table["material"] = materials[0]
    problems = _wrong_names(table, "band", list(machine_of), "fit a new band with new_band()")
    problems += _wrong_names(table, "material", materials) + _wrong_names(table, "coolant", coolants)
    for name in POSITIVE:
        problems += [
            f"cut {i + 1}: {name} is {value}; give a number above 0."
            for i, value in enumerate(table[name])
            if not value > 0
        ]
    if not problems:
        table["machine"] = table["band"].map(machine_of)
        table["forced"] = table["machine"].map(feeds) == "force"
        problems = _wrong_feeds(table)
    if problems:
        raise ShopError("\n".join(problems))
    return table


def _wrong_names(table: pd.DataFrame, column: str, known: list[str], advice: str = "") -> list[str]:
    wrong = [(i, value) for i, value in enumerate(table[column]) if value not in known]
    allowed = f"it is one of {', '.join(known)}" if known else "there is none"
    end = f"{allowed}; or {advice}." if advice else f"{allowed}."
    return [f'cut {i + 1}: {column} "{value}" can\'t be used; {end}' for i, value in wrong]


def _wrong_feeds(table: pd.DataFrame) -> list[str]:
    problems = []
    for forced, name, other in ((False, "feed_rate", "feed_force"), (True, "feed_force", "feed_rate")):
        wrong = (table["forced"] == forced) & (~(table[name] > 0) | table[other].notna())
        for i in np.flatnonzero(wrong):
            row = table.iloc[i]
            problems.append(
                f"cut {i + 1}: {row.machine} takes a set {name}: give {name} above 0 and no {other} "
                f"(given: {name} {row[name]:g}, {other} {row[other]:g})."
            )
    return problems
