"""What the cuts must agree with in their machines and band stock."""

from collections.abc import Callable

import numpy as np
import pandas as pd

from bandtrial import units
from bandtrial.study.problems import Problems, Severity
from bandtrial.study.sections import geometry
from bandtrial.study.settings import Settings
from bandtrial.study.typed import Sheet

Ranges = tuple[tuple[float, float], ...]
FEWEST_TEETH = 2.0
"""Least teeth in the cut (published tooth_pitch.csv)."""


def speeds_in_range(cuts: Sheet, settings: Settings, known: np.ndarray, problems: Problems) -> None:
    """Band speeds that the machine's dial can show: an error 10 % off a range, a warning 1 % off."""
    V, machine = cuts.frame["band_speed"].to_numpy(float), cuts.frame["machine"].to_numpy(object)
    unit = cuts.unit["band_speed"] or "m/min"
    severities: tuple[tuple[Severity, float, float], ...] = (("error", 1.1, np.inf), ("warning", 1.01, 1.1))
    for name, one in settings.machines.items():
        here = np.flatnonzero(known & (machine == name) & np.isfinite(V))
        off = np.min([np.fmax(low / V[here], V[here] / high) for low, high in one.band_speed_ranges], axis=0)
        for severity, above, most in severities:
            at = here[(off > above) & (off <= most)]
            keys = [[cuts.given("band_speed", n) for n in at], V[at].tolist()]
            message = _outside(name, one.band_speed_ranges, unit)
            problems.each(severity, cuts.file, "band_speed", cuts.rows[at], keys, message)


def _outside(name: str, ranges: Ranges, unit: str) -> Callable[[str, float], str]:
    """Wording for a speed outside the ranges; where ten times more or less would fit, with that hint."""

    def shown(V: float) -> str:
        return units.shown(float(units.from_inside(V, "speed", unit)))

    span = " or ".join(f"{shown(low)} to {shown(high)}" for low, high in ranges)

    def words(given: str, V: float) -> str:
        fits = [V * by for by in (0.1, 10.0) if any(low <= V * by <= high for low, high in ranges)]
        hint = f"; a slipped decimal point? {shown(fits[0])} would fit" if fits else ""
        return f"{given} is outside the speeds of {name}, {span} {unit}{hint}"

    return words


def forces_given(cuts: Sheet, settings: Settings, problems: Problems) -> None:
    """A machine that feeds by force has its feed force logged."""
    machine = cuts.frame["machine"].to_numpy(object)
    by_force = [name for name, one in settings.machines.items() if one.feed == "force"]
    missing = pd.Series(machine).isin(by_force).to_numpy(bool) & cuts.frame["feed_force"].isna().to_numpy(bool)
    at = np.flatnonzero(missing & ~cuts.bad["feed_force"])
    problems.each(
        "warning",
        cuts.file,
        "feed_force",
        cuts.rows[at],
        [machine[at]],
        lambda name: f"empty, but {name} feeds by force; the cut tells nothing of the force it needs",
    )


def machine_limits(cuts: Sheet, settings: Settings, problems: Problems) -> None:
    """Work that does not fit under the guide, and power that the motor does not have."""
    machine, L = cuts.frame["machine"].to_numpy(object), geometry(cuts.frame).work_thickness
    d = cuts.frame["diameter"].to_numpy(float)
    power = cuts.frame["motor_power"].to_numpy(float)
    for name, one in settings.machines.items():
        here = machine == name
        for column, value, most, what in (
            ("work_thickness", np.where(np.isnan(d), L, d), one.throat, "throat"),
            ("motor_power", power, one.motor_power, "motor power"),
        ):
            source = "diameter" if column == "work_thickness" and np.isfinite(d[here]).any() else column
            at = np.flatnonzero(here & (value > 1.001 * most))
            kind = "power" if column == "motor_power" else "length"
            unit = cuts.unit[source] or units.KINDS[kind]
            shown = units.shown(float(units.from_inside(most, kind, unit)))
            problems.each(
                "warning",
                cuts.file,
                source,
                cuts.rows[at],
                [[cuts.given(source, n) for n in at]],
                lambda given, name=name, what=what, limit=f"{shown} {unit}": (
                    f"{given} is more than the {what} of {name}, {limit}"
                ),
            )


def teeth_enough(cuts: Sheet, settings: Settings, stock: np.ndarray, problems: Problems) -> None:
    """Work too thin for the pitch strips teeth."""
    spacing = pd.Series(stock).map({name: one.tooth_spacing for name, one in settings.band_stock.items()})
    geo = geometry(cuts.frame)
    wall = cuts.frame["wall"].to_numpy(float)
    thin = np.where(geo.section == "tube", wall, geo.work_thickness)
    teeth = thin / spacing.to_numpy(float)
    at = np.flatnonzero((teeth < FEWEST_TEETH) & (cuts.frame["operation"] == "sawing").to_numpy(bool))
    column = "work_thickness"
    problems.each(
        "warning",
        cuts.file,
        column,
        cuts.rows[at],
        [[units.shown(one, 2) for one in teeth[at]], stock[at]],
        lambda n, band: (
            f"only {n} teeth of {band} are in the cut, and at least "
            f"{FEWEST_TEETH:.0f} are needed; check thickness and band"
        ),
    )
