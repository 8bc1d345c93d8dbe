"""What the cuts must agree with in their machines, band stock and bands, and in their order."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from bandtrial import units, words
from bandtrial.study.model import Machine
from bandtrial.study.problems import Problems, Severity
from bandtrial.study.sections import WALLED, assumed_speeds, geometry
from bandtrial.study.toml import FILE
from bandtrial.study.typed import Sheet, known_names, same_names
from bandtrial.words import quoted

if TYPE_CHECKING:
    from bandtrial.study.settings import Settings

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
    cuts.each(problems, "warning", "band_speed", at, [why[at]], lambda words:
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
            keys = [cuts.all_given("band_speed", at), V[at].tolist()]
            message = _outside(name, one.band_speed_ranges, unit, hint=severity == "error")
            cuts.each(problems, severity, "band_speed", at, keys, message)


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
    cuts.each(
        problems, "warning", "feed_force", at, [machine[at]],
        lambda name: f"empty, but {name} feeds by force; the cut tells nothing of the force it needs",
    )  # fmt: skip


def fed_by_hand(cuts: Sheet, settings: Settings, problems: Problems) -> dict[str, Machine]:
    """The machines; one fed by a force that none of its cuts says is judged by their times, as a hand feed is."""
    machines = dict(settings.machines)
    force = cuts.frame["feed_force"].groupby(cuts.frame["machine"]).count()
    for name, one in settings.machines.items():
        if one.feed == "force" and force.get(name, 1) == 0 and not cuts.bad["feed_force"].any():
            machines[name] = replace(one, feed="hand")
            words = f"none is logged on {quoted(name)}, so its cuts are judged by their times, as those of a hand feed"
            problems.add("warning", cuts.file, f"{words}; once a cut has one, by force", column="feed_force")
    return machines


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
            given = cuts.all_given(column, at)
            message = _more_than(f"{what} of {name}, {limit}")
            cuts.each(problems, "warning", column, at, [given], message)


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
        keys = [cuts.all_given(column, at), [words.shown(one, 2) for one in teeth[at]], stock[at]]
        cuts.each(problems, "warning", column, at, keys, lambda given, n, band:
                  f"{given} leaves too few teeth of {band} in the cut, {n}; at least {FEWEST_TEETH:.0f} are "
                  "needed, check thickness and band")  # fmt: skip


def check_bands(bands: Sheet, settings: Settings, problems: Problems) -> None:
    """Every problem of the bands that a single cell does not show."""
    same_names(bands, "stock", settings.band_stock, problems)
    same_names(bands, "machine", settings.machines, problems)
    known_names(bands, "stock", settings.band_stock, settings.faulty, FILE, "band stock", problems)
    known_names(bands, "machine", settings.machines, settings.faulty, FILE, "machine", problems)
    _entered_twice(bands, problems)
    _ends(bands, problems)


def _entered_twice(bands: Sheet, problems: Problems) -> None:
    band = bands.frame["band"]
    again = (band.duplicated() & (band != "")).to_numpy(bool)
    first = dict(zip(band[::-1], bands.rows[::-1], strict=True))
    at = np.flatnonzero(again)
    bands.each(
        problems, "error", "band", at, [band.to_numpy(object)[at]],
        lambda name: f"{quoted(name)} is already in row {first[name]}; a band has one row, delete the other",
    )  # fmt: skip


def _ends(bands: Sheet, problems: Problems) -> None:
    """A band without an end is in service, which is asked about where another came after it; dates and end agree."""
    frame = bands.frame
    written = np.array([str(cell).strip() != "" for cell in bands.raw["end"]], bool)
    gone = ~frame["removed"].isna().to_numpy(bool)
    last = ~frame["machine"].duplicated(keep="last").to_numpy(bool)
    at = np.flatnonzero(~written & ~gone & ~last)
    bands.each(problems, "warning", "end", at, [[""] * len(at)],
               lambda _: "empty, read as in_service, though another of its machine stands below it")  # fmt: skip
    at = np.flatnonzero(~written & gone)
    bands.each(
        problems, "error", "end", at, [[""] * len(at)],
        lambda _: "empty, though the band was removed; say how it ended, removed_sound if it was still good",
    )  # fmt: skip
    at = np.flatnonzero(written & gone & (frame["end"] == "in_service").to_numpy(bool) & ~bands.bad["end"])
    bands.each(
        problems, "warning", "end", at, [bands.raw["removed"][at]],
        lambda when: f"in_service, though the band was removed {when}",
    )  # fmt: skip
    at = np.flatnonzero((frame["removed"] < frame["fitted"]).to_numpy(bool))
    bands.each(
        problems, "error", "removed", at, [bands.raw["removed"][at], bands.raw["fitted"][at]],
        lambda removed, fitted: f"{removed} is before the band was fitted, {fitted}",
    )  # fmt: skip


def times_in_order(cuts: Sheet, problems: Problems) -> None:
    """A machine's cuts stand in the order they were made: the fewest that do not fit are named."""
    started = cuts.frame["started"].to_numpy("datetime64[s]")
    machine = cuts.frame["machine"].to_numpy(object)
    for name in pd.unique(machine):
        at = np.flatnonzero((machine == name) & ~np.isnat(started))
        seconds = started[at].astype("int64")
        if len(at) > 1 and (np.diff(seconds) < 0).any():
            out = at[~_longest_rising(seconds)]
            for n in out[:200]:
                here = int(np.searchsorted(at, n))
                around = [
                    f"row {cuts.rows[at[k]]} says {_moment(started[at[k]])}"
                    for k in (here - 1, here + 1)
                    if 0 <= k < len(at)
                ]
                problems.add(
                    "warning",
                    cuts.file,
                    f"{quoted(cuts.raw['started'][n])} is read as "
                    f"{_moment(started[n])}, out of order with its neighbors: "
                    f"{' and '.join(around)}",
                    row=int(cuts.rows[n]),
                    column="started",
                    value=cuts.raw["started"][n],
                )
            if len(out) > 200:
                problems.add(
                    "warning", cuts.file, f"and {len(out) - 200} more rows of {name} are out of order", column="started"
                )


def _moment(time: np.datetime64) -> str:
    return str(time.astype("datetime64[m]"))


def _longest_rising(values: np.ndarray) -> np.ndarray:
    """Mask of the longest part of `values` that never falls.

    >>> _longest_rising(np.array([1, 9, 2, 3, 3, 0, 4])).astype(int).tolist()
    [1, 0, 1, 1, 1, 0, 1]
    """
    tails: list[int] = []
    ends: list[int] = []
    before = np.full(len(values), -1)
    for n, value in enumerate(values.tolist()):
        k = bisect_right(tails, value)
        before[n] = ends[k - 1] if k else -1
        tails[k : k + 1] = [value]
        ends[k : k + 1] = [n]
    mask = np.zeros(len(values), bool)
    n = ends[-1]
    while n >= 0:
        mask[n] = True
        n = int(before[n])
    return mask


def bands_agree(cuts: Sheet, bands: Sheet, known: np.ndarray, problems: Problems) -> None:
    """The machine a band was fitted to, where the row's own is `known`; cuts logged after a band had ended."""
    band, machine = (cuts.frame[name].to_numpy(object) for name in ("band", "machine"))
    table = bands.frame.drop_duplicates("band")
    row = pd.Index(table["band"], dtype=object).get_indexer(band)  # -1, the last of what follows: unknown
    fitted_to = np.append(table["machine"].to_numpy(object), "")[row]
    at = np.flatnonzero(known & (fitted_to != "") & (fitted_to != machine))
    cuts.each(
        problems, "warning", "machine", at, [machine[at], band[at], fitted_to[at]],
        lambda here, name, there: f"band {name} cuts on {here}, but {bands.file} has it on {there}",
    )  # fmt: skip
    removed = np.append(table["removed"].to_numpy("datetime64[s]"), np.datetime64("NaT", "s"))[row]
    midnight = removed == removed.astype("datetime64[D]")
    removed = np.where(midnight, removed + np.timedelta64(86399, "s"), removed)
    at = np.flatnonzero(cuts.frame["started"].to_numpy("datetime64[s]") > removed)
    cuts.each(
        problems, "warning", "started", at, [cuts.raw["started"][at], band[at], [_moment(one) for one in removed[at]]],
        lambda when, name, end: f"{quoted(when)} is after band {name} was removed, {end}",
    )  # fmt: skip
    _after_the_end(cuts, band, problems)


def _after_the_end(cuts: Sheet, band: np.ndarray, problems: Problems) -> None:
    """Cuts of a band after the one it died in."""
    died = np.flatnonzero(~cuts.frame["complete"].to_numpy(bool))
    if not len(died):
        return
    names, first = np.unique(band[died].astype(str), return_index=True)
    at_row = np.append(died[first], len(band))[pd.Index(names, dtype=object).get_indexer(band)]
    at = np.flatnonzero(np.arange(len(band)) > at_row)
    cuts.each(
        problems, "warning", "band", at, [band[at], cuts.rows[at_row[at]]],
        lambda name, row: f"band {name} cuts again, though it died in row {row} (complete: no)",
    )  # fmt: skip
