"""What the cuts must agree with in their machines and band stock."""

from collections.abc import Callable

import numpy as np
import pandas as pd

from bandtrial import units, words
from bandtrial.study.problems import Problems, Severity
from bandtrial.study.sections import WALLED, geometry
from bandtrial.study.settings import Settings
from bandtrial.study.tables import assumed_speeds
from bandtrial.study.typed import Sheet

Ranges = tuple[tuple[float, float], ...]
FEWEST_TEETH = 2.0
"""Least teeth in the cut (published tooth_pitch.csv)."""


def only_machine(cuts: Sheet, settings: Settings) -> None:
    """Enter the machine where the study has one and the row names none."""
    if len(settings.all_machines) == 1:
        machine = cuts.frame["machine"].to_numpy(object)
        cuts.frame["machine"] = np.where(machine == "", settings.all_machines[0], machine)


def speeds_known(cuts: Sheet, settings: Settings, problems: Problems) -> None:
    """Cuts without a band speed: what is taken for it."""
    if not cuts.frame["band_speed"].isna().any():
        return
    _, why = assumed_speeds(cuts.frame, settings.machines, str(settings.info["units"]))
    at = np.flatnonzero((why != "") & ~cuts.bad["band_speed"])
    problems.each("warning", cuts.file, "band_speed", cuts.rows[at], [why[at]], lambda words:
                  f"{words}; the cut counts with its time, and teaches nothing of speed")  # fmt: skip


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
            message = _outside(name, one.band_speed_ranges, unit, hint=severity == "error")
            problems.each(severity, cuts.file, "band_speed", cuts.rows[at], keys, message)


def _outside(name: str, ranges: Ranges, unit: str, hint: bool) -> Callable[[str, float], str]:
    """Wording for a speed outside the ranges, with the hint of a slipped decimal where that would fit."""

    def shown(V: float) -> str:
        return words.shown(float(units.from_inside(V, "speed", unit)))

    span = " or ".join(shown(low) if low == high else f"{shown(low)} to {shown(high)}" for low, high in ranges)

    def message(given: str, V: float) -> str:
        fits = [V * by for by in (0.1, 10.0) if any(low <= V * by <= high for low, high in ranges)]
        slipped = f"; a slipped decimal point? {shown(fits[0])} would fit" if fits and hint else ""
        return f"{given} is outside the speeds of {name}, {span} {unit}{slipped}"

    return message


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
    machine = cuts.frame["machine"].to_numpy(object)
    for name, one in settings.machines.items():
        here = machine == name
        for column, kind, most, what in (
            ("work_thickness", "length", one.throat, "throat"),
            ("diameter", "length", one.throat, "throat"),
            ("motor_power", "power", one.motor_power, "motor power"),
        ):
            at = np.flatnonzero(here & (cuts.frame[column].to_numpy(float) > 1.001 * most))
            unit = cuts.unit[column] or units.KINDS[kind]
            limit = f"{words.shown(float(units.from_inside(most, kind, unit)))} {unit}"
            given = [cuts.given(column, n) for n in at]
            message = _more_than(f"{what} of {name}, {limit}")
            problems.each("warning", cuts.file, column, cuts.rows[at], [given], message)


def _more_than(limit: str) -> Callable[[str], str]:
    return lambda given: f"{given} is more than the {limit}"


def teeth_enough(cuts: Sheet, settings: Settings, stock: np.ndarray, problems: Problems) -> None:
    """Work too thin for the pitch strips teeth; a tube is as thin as its wall."""
    spacing = pd.Series(stock, dtype=object).map({name: s.tooth_spacing for name, s in settings.band_stock.items()})
    geo = geometry(cuts.frame)
    walled = np.isin(geo.section, WALLED) & cuts.frame["wall"].notna().to_numpy(bool)
    thin = np.where(walled, cuts.frame["wall"].to_numpy(float), geo.work_thickness)
    teeth = thin / spacing.to_numpy(float)
    few = (teeth < FEWEST_TEETH) & (cuts.frame["operation"] == "sawing").to_numpy(bool)
    known = {name: cuts.frame[name].notna().to_numpy(bool) for name in ("diameter", "work_thickness")}
    rest = few & ~walled
    for column, where in (("wall", few & walled), ("diameter", rest & known["diameter"]),
                          ("work_thickness", rest & ~known["diameter"] & known["work_thickness"])):  # fmt: skip
        at = np.flatnonzero(where)
        keys = [[cuts.given(column, n) for n in at], [words.shown(one, 2) for one in teeth[at]], stock[at]]
        problems.each("warning", cuts.file, column, cuts.rows[at], keys, lambda given, n, band:
                      f"{given} leaves too few teeth of {band} in the cut, {n}; at least {FEWEST_TEETH:.0f} are "
                      "needed, check thickness and band")  # fmt: skip
