"""Slips of the pen: each changes a log and names the row to be said, (table, row); None where it can't be made."""

import tempfile
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
from bandtrial import study
from clean_logs import Log

Plant = Callable[[Log, np.random.Generator], tuple[str, int] | None]
KINDS_OF_SLIP: dict[str, Plant] = {}


def slip(name: str) -> Callable[[Plant], Plant]:
    def keep(plant: Plant) -> Plant:
        KINDS_OF_SLIP[name] = plant
        return plant

    return keep


def filled(log: Log, column: str, rng: np.random.Generator) -> tuple[int, int] | None:
    """A row whose cell of the column holds a number, and the cell's place; not where the cut was lost or left out."""
    at, lost, out = log.at(column), log.at("complete"), log.at("exclude")
    if at is None:
        return None
    whole = (n for n in range(1, len(log.cuts)) if lost is None or log.cuts[n][lost] != "no")
    rows = [n for n in whole if log.cuts[n][at].strip() and (out is None or not log.cuts[n][out])]
    return (int(rng.choice(rows)), at) if rows else None


def times(column: str, factor: float) -> Plant:
    """The number of a cell times a factor, written with as many digits as people write."""

    def plant(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
        found = filled(log, column, rng)
        if not found:
            return None
        row, at = found
        value = float(log.cuts[row][at]) * factor
        if value == 0:
            return None
        log.cuts[row][at] = f"{value:.4g}" if value < 1e5 else f"{value:.0f}"
        return "cuts", row + 1

    return plant


def digits(column: str) -> Plant:
    """Two neighboring digits exchanged, the first two that differ: 278 becomes 728."""

    def plant(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
        for _ in range(20):
            found = filled(log, column, rng)
            if not found:
                return None
            row, at = found
            text = log.cuts[row][at]
            for n in range(len(text) - 1):
                if text[n].isdigit() and text[n + 1].isdigit() and text[n] != text[n + 1] and text[n + 1] != "0":
                    log.cuts[row][at] = text[:n] + text[n + 1] + text[n] + text[n + 2 :]
                    return "cuts", row + 1
        return None

    return plant


def unit_slip(column: str, pairs: dict[str, float]) -> Plant:
    """The number written in another unit than the head's: pairs head's unit -> factor."""

    def plant(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
        factor = pairs.get(log.unit(column))
        return times(column, factor)(log, rng) if factor else None

    return plant


for column in ("cut_time", "cut_travel", "band_speed", "feed_rate", "feed_force", "motor_power"):
    KINDS_OF_SLIP[f"{column}: a point too far right"] = times(column, 10)
for column in ("cut_time", "cut_travel", "band_speed", "feed_rate", "feed_force"):
    KINDS_OF_SLIP[f"{column}: a point too far left"] = times(column, 0.1)
for column in ("cut_time", "cut_travel", "feed_rate", "band_speed"):
    KINDS_OF_SLIP[f"{column}: digits exchanged"] = digits(column)
KINDS_OF_SLIP |= {
    "cut_time: minutes under [s], or seconds under [min]": unit_slip("cut_time", {"s": 1 / 60, "min": 60}),
    "work_thickness: mm under [in], or inches under [mm]": unit_slip("work_thickness", {"in": 25.4, "mm": 1 / 25.4}),
    "cut_travel: mm under [in], or inches under [mm]": unit_slip("cut_travel", {"in": 25.4, "mm": 1 / 25.4}),
    "band_speed: m/min under [ft/min], or back": unit_slip("band_speed", {"ft/min": 1 / 3.2808, "m/min": 3.2808}),
    "feed_rate: mm/min under [in/min], or back": unit_slip("feed_rate", {"in/min": 25.4, "mm/min": 1 / 25.4}),
    "feed_force: N under [lbf], or back": unit_slip("feed_force", {"lbf": 4.4482, "N": 1 / 4.4482}),
    "motor_power: W under [kW], or back": unit_slip("motor_power", {"kW": 1000, "W": 1 / 1000, "hp": 745.7}),
    "deviation: thousandths": unit_slip("deviation", {"mm": 39.37, "in": 1000}),
}


def dated(log: Log) -> int | None:
    at = log.at("started")
    return at if at is not None and any(row[at] for row in log.cuts[1:]) else None


@slip("a cut logged twice")
def twice(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    if dated(log) is None:
        return None
    row = int(rng.integers(1, len(log.cuts)))
    again = list(log.cuts[row])
    again[log.at("cut") or 0] = str(len(log.cuts) + 100)
    log.cuts.insert(row + 1, again)
    return "cuts", row + 2


@slip("a cut before its band was fitted")
def before(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = dated(log)
    if at is None or "fitted" not in log.bands[0]:
        return None
    fitted = log.bands[0].index("fitted")
    row = int(rng.integers(1, len(log.cuts)))
    own = next(band for band in log.bands[1:] if band[0] == log.cuts[row][log.at("band") or 0])
    if not own[fitted]:
        return None
    log.cuts[row][at] = str(np.datetime64(own[fitted][:10]) - int(rng.integers(2, 20))) + "T09:00"
    return "cuts", row + 1


@slip("another band's name")
def other_band(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("band") or 0
    bands = [band[0] for band in log.bands[1:]]
    row = int(rng.integers(1, len(log.cuts)))
    others = [band for band in bands if band != log.cuts[row][at]]
    if not others:
        return None
    log.cuts[row][at] = str(rng.choice(others))
    return "cuts", row + 1


@slip("two bands at once on a machine")
def at_once(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    if not {"fitted", "removed"} <= set(log.bands[0]):
        return None
    machine, fitted, removed = (log.bands[0].index(name) for name in ("machine", "fitted", "removed"))
    order = sorted((n for n in range(1, len(log.bands)) if log.bands[n][fitted]),
                   key=lambda n: (log.bands[n][machine], log.bands[n][fitted]))  # fmt: skip
    pairs = [(a, b) for a, b in pairwise(order) if log.bands[a][machine] == log.bands[b][machine]
             and log.bands[a][removed]]  # fmt: skip
    if not pairs:
        return None
    one, two = pairs[int(rng.integers(len(pairs)))]
    log.bands[one][removed] = str(np.datetime64(log.bands[two][fitted][:10]) + int(rng.integers(2, 9)))
    return "bands", two + 1


@slip("a cut that overlaps the one before")
def overlap(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at, machine = dated(log), log.at("machine")
    if at is None or machine is None:
        return None
    opened = study.open_study(log.copy().write(Path(tempfile.mkdtemp()) / "study"))
    took = (opened.cuts["cut_time"] * opened.cuts["pieces"]).to_numpy(float)
    rows = [n for n in range(2, len(log.cuts)) if took[n - 2] > 8 and log.cuts[n][machine] == log.cuts[n - 1][machine]]
    if not rows:
        return None
    row = int(rng.choice(rows))
    begun = np.datetime64(log.cuts[row - 1][at]) + np.timedelta64(int(took[row - 2] * rng.uniform(0.05, 0.6)), "m")
    log.cuts[row][at] = str(begun)[:16]
    return "cuts", row + 1


@slip("a year of 2097")
def far_year(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = dated(log)
    if at is None:
        return None
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] = "2097" + log.cuts[row][at][4:]
    return "cuts", row + 1


@slip("an offset from universal time")
def offset(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = dated(log)
    if at is None:
        return None
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] += "+02:00"
    return "cuts", row + 1


@slip("a meter that stands still")
def still(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("motor_power")
    if at is None:
        return None
    rows = [n for n in range(1, len(log.cuts)) if log.cuts[n][at]]
    if len(rows) < 20:
        return None
    first = int(rng.integers(0, len(rows) - 16))
    for n in rows[first : first + 16]:
        log.cuts[n][at] = log.cuts[rows[first]][at]
    while first and log.cuts[rows[first - 1]][at] == log.cuts[rows[first]][at]:  # it was the same before by chance
        first -= 1
    return "cuts", rows[first] + 1


@slip("a name in another case")
def other_case(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("material") or 0
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] = log.cuts[row][at].upper()
    return "cuts", row + 1


@slip("a number written another way")
def other_number(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    row, at = int(rng.integers(2, len(log.cuts))), log.at("cut") or 0
    log.cuts[row][at] = "0" + log.cuts[row - 1][at]
    return "cuts", row + 1


@slip("exclude says no")
def says_no(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("exclude")
    if at is None:
        log.cuts = [[*row, ""] for row in log.cuts]
        log.cuts[0][-1], at = "exclude", len(log.cuts[0]) - 1
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] = str(rng.choice(["no", "0", "FALSE", "n/a"]))
    return "cuts", row + 1


@slip("feet and inches with a dash")
def dashed(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    found = filled(log, "cut_travel", rng)
    if not found or log.unit("cut_travel") != "in" or float(log.cuts[found[0]][found[1]]) < 12:
        return None
    row, at = found
    feet, inches = divmod(float(log.cuts[row][at]), 12)
    log.cuts[row][at] = f"{feet:.0f}'-{inches:g}\""
    return "cuts", row + 1
