"""Readings that no saw, machine or meter gives, and cuts and bands in time: logged twice, before a band was fitted, two
at once, far away from all others.
"""

from itertools import pairwise

import numpy as np
import pandas as pd

from bandtrial.study.plausible.entries import Entries
from bandtrial.study.typed import Sheet
from bandtrial.words import quoted

STILL = 8
"""Equal readings in a row, while the cuts differ, from which a meter is asked about."""
CHIPS = (0.05, 150.0)
"""Chip loads that are no slip [um]: published 5 to 50 (sarwar_2010, read); light weight feeds 0.4 (a shop's own log);
three times the greatest for coarse teeth in soft metal, assumed."""
THICK = 50.0
"""Chip load that is much for the usual cut of a log whose feed nobody set [um]: published 5 to 50, as above."""
ENERGIES = (0.15, 200.0)
"""Motor energy over sawn volume that is no slip [J/mm3]: published 3 to 9 for steels (sarwar_2009, memory), soft metals
0.5 to 1 (textbooks, memory), a light chip or a dull band many times as much; assumed."""
KERF = 1.3
"""Kerf of a band that nobody measured [mm]; assumed."""


def standing_still(e: Entries) -> None:
    """A motor power that is the same to the last digit, cut after cut, though speed, feed or size change."""
    power = e["motor_power"]
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero((e["machine"] == machine) & (power > 0))
        begins = [0, *(np.flatnonzero(np.diff(power[at]) != 0) + 1).tolist(), len(at)]
        for begin, end in pairwise(begins):
            if end - begin >= STILL and _differ(e, at[begin:end]):
                first, to = int(at[begin]), e.sheet.rows[at[end - 1]]
                words = f"{e.typed('motor_power', first)} in {end - begin} cuts in a row, to row {to}"
                e.ask("motor_power", first, f"{words}, though these differ; does the meter stand still?")


def _differ(e: Entries, run: np.ndarray) -> bool:
    """Whether cuts differ so much, or are so many, that the same reading can't belong to all."""
    rate = e["Z"][run]
    return bool(np.nanmax(rate) > 1.25 * np.nanmin(rate)) or len(run) >= 3 * STILL


def possible(e: Entries, asked: dict[int, str]) -> None:
    """Chips and energies beyond what sawing has, whatever the rest of the log says."""
    used = (e["operation"] == "sawing") & (e["exclude"] == "")
    h = e["h"]
    with np.errstate(invalid="ignore", divide="ignore"):
        odd = used & ((h < CHIPS[0]) | (h > CHIPS[1]))
        energy = e["motor_power"] * 60 / (e["Z"] * 100 * KERF)
        wasteful = used & ~odd & (e["motor_power"] > 0) & ((energy < ENERGIES[0]) | (energy > ENERGIES[1]))
    free = used & (h > 0) & np.isnan(e["feed_rate"])
    if free.sum() >= 3 and (usual := float(np.median(h[free]))) > THICK and not odd.any():
        n, said = int(np.argmax(free)), f"by this log each tooth took {usual:.3g} µm in the usual cut"
        e.ask("cut_time", n, f"{e.typed('cut_time', n)}: {said}, and {THICK:g} is much; minutes and seconds mixed up?")
    for n in (n for n in np.flatnonzero(odd).tolist() if n not in asked):
        asked[n] = "cut_time"
        e.ask("cut_time", n, f"{e.typed('cut_time', n)}: with its travel and speed each tooth took {h[n]:.3g} µm, and "
              f"saw teeth take {CHIPS[0]:g} to {CHIPS[1]:g}; check time, travel, speed and their units",
              "warning")  # fmt: skip
    for n in (n for n in np.flatnonzero(wasteful).tolist() if n not in asked):
        e.ask("motor_power", n, f"{e.typed('motor_power', n)}: with its rate that is {energy[n]:.3g} J/mm³, and "
              f"sawing takes {ENERGIES[0]:g} to {ENERGIES[1]:g}; check power, time and their units",
              "warning")  # fmt: skip


def in_range(e: Entries, asked: dict[int, str]) -> None:
    """Feed rates and forces that the machine, as study.toml has it, can't be set to."""
    for name, one in e.settings.machines.items():
        for column, span in (("feed_rate", one.feed_rate_range), ("feed_force", one.feed_force_range)):
            low, high = span or (0.0, np.inf)
            value = e[column]
            for n in np.flatnonzero((e["machine"] == name) & ((value > 1.1 * high) | (value < low / 1.1))).tolist():
                asked.setdefault(n, column)
                e.ask(column, n, f"{e.typed(column, n)} is outside the {column.replace('_', ' ')} of {name}, "
                      f"{e.in_its_unit(column, low)} to {e.in_its_unit(column, high)}", "warning")  # fmt: skip


FAR_DAYS = 550
"""A step in time of more than this, and more than all of the rest of the log, is asked about."""
OVERLAP_SHARE = 0.2
"""Share of a cut's own time that the next may begin before its end."""
OFTEN = 0.1
"""Share of a log's cuts that overlap from which it is the way the log is kept, and said once."""


def logged_twice(e: Entries) -> None:
    """Two rows that are alike in all that is written, their number aside."""
    names = [name for name in e.sheet.raw if name not in ("cut", "note") and any(map(_written, e.sheet.raw[name]))]
    timed = ~np.isnat(e.started) & (e.started.astype("int64") % 86400 > 0)  # of a day alone many cuts are alike
    measured = np.isfinite(e["motor_power"]) & np.isfinite(e["deviation"])
    written = pd.DataFrame({name: list(map(_written, e.sheet.raw[name])) for name in names})
    first = written.duplicated(keep="first").to_numpy(bool)
    if not first.any():
        return
    keys = pd.MultiIndex.from_frame(written)
    place = pd.Series(np.arange(len(e))).groupby(pd.factorize(keys)[0]).transform("first").to_numpy()
    next_to = place == np.arange(len(e)) - 1
    for n in np.flatnonzero(first & (timed | (measured & next_to))):
        other = place[n]
        e.ask("cut", int(n), f"{quoted(e.sheet.raw['cut'][n])} is in all else the row {e.sheet.rows[other]}, cut "
              f"{quoted(e.sheet.raw['cut'][other])}; logged twice?")  # fmt: skip


def _written(cell: object) -> str:
    return str(cell).strip()


def before_fitted(e: Entries, bands: Sheet) -> None:
    """A cut dated before its band was fitted."""
    first = bands.frame.drop_duplicates("band")
    fitted_on = dict(zip(first["band"], first["fitted"].to_numpy("datetime64[s]"), strict=True))
    fitted = np.array([fitted_on.get(band, np.datetime64("NaT", "s")) for band in e["band"]], "datetime64[s]")
    day = fitted.astype("datetime64[D]").astype("datetime64[s]")
    early = np.flatnonzero(e.started < day)
    for at in pd.Series(early).groupby(pd.factorize(e["band"][early])[0]).agg(list):
        n, when = int(at[0]), fitted[at[0]].astype("datetime64[D]")
        more = f", and so are {len(at) - 1} more of its cuts; the right date in {bands.file}?" if len(at) > 1 else ""
        words = f"{quoted(e.sheet.raw['started'][n])} is before band {e['band'][n]} was fitted, {when}{more}"
        e.ask("started", n, words, "warning", at)


def odd_band(e: Entries) -> dict[int, str]:
    """A single cut of another band in the midst of a run of one band on a machine."""
    asked = {}
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero(e["machine"] == machine)
        band = e["band"][at]
        if len(at) < 5:
            continue
        two, one, own, next_one, next_two = (band[k : len(band) - 4 + k] for k in range(5))
        alone = (one == next_one) & ((two == one) | (next_one == next_two)) & (own != one)
        for k in np.flatnonzero(alone) + 2:
            asked[int(at[k])] = "band"
            e.ask("band", int(at[k]), f"{quoted(band[k])} on {machine}, where the cuts before and after are of "
                  f"{band[k - 1]}; the right band?")  # fmt: skip
    return asked


def overlapping(e: Entries) -> None:
    """A cut that begins on a machine well before the one before it can have ended; midnight is a day without a time."""
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero((e["machine"] == machine) & ~np.isnat(e.started))
        if len(at) < 2:
            continue
        began = e.started[at].astype("int64") / 60.0
        took = e["cut_time"][at] * e["pieces"][at]
        early = began[:-1] + took[:-1] - began[1:]
        with np.errstate(invalid="ignore"):
            timed = (began[1:] % 1440 > 0) & (began[1:] >= began[:-1])
            odd = (early > np.fmax(OVERLAP_SHARE * took[:-1], 2.0)) & timed
            same = (began[1:] == began[:-1]) & (early > 0)
        if odd.mean() > OFTEN or same.mean() > OFTEN:
            continue  # `started` is then no time at which a cut began
        for k in np.flatnonzero(odd):
            n, before = int(at[k + 1]), int(at[k])
            e.ask("started", n, f"{quoted(e.sheet.raw['started'][n])} is {early[k]:.0f} min before the cut in row "
                  f"{e.sheet.rows[before]} can have ended ({e['pieces'][before]:.0f} x {e.typed('cut_time', before)}); "
                  "is that so?")  # fmt: skip


def far_in_time(e: Entries) -> None:
    """A date far from all others of the log."""
    at = np.flatnonzero(~np.isnat(e.started))
    if len(at) < 3:
        return
    days = e.started[at].astype("int64") / 86400.0
    middle = float(np.median(days))
    order = np.argsort(np.abs(days - middle))
    gaps = np.diff(np.abs(days - middle)[order])
    reach = np.abs(days - middle)[order][:-1]
    cut = np.flatnonzero((gaps > FAR_DAYS) & (gaps > 2 * reach))
    if len(cut) and len(at) - (cut[0] + 1) <= max(2, 0.1 * len(at)):
        others = days[order[: cut[0] + 1]]
        for k in order[cut[0] + 1 :]:
            e.ask("started", int(at[k]), f"{quoted(e.sheet.raw['started'][at[k]])} is read as {_day(days[k])}, far "
                  f"from the other cuts, {_day(others.min())} to {_day(others.max())}; the right year?")  # fmt: skip


def _day(days: float) -> str:
    return str(np.datetime64(int(days), "D"))


def two_at_once(bands: Sheet, e: Entries) -> None:
    """Two bands that by bands.csv were on one machine at the same time."""
    frame = bands.frame
    removed, fitted = (frame[name].to_numpy("datetime64[D]") for name in ("removed", "fitted"))
    for machine in pd.unique(frame["machine"].to_numpy(object)):
        at = np.flatnonzero((frame["machine"] == machine).to_numpy(bool) & ~np.isnat(fitted))
        at = at[np.argsort(fitted[at], kind="stable")]
        for one, two in pairwise(at if machine else []):
            if removed[one] > fitted[two]:
                words = (f"{bands.raw['fitted'][two]}, when band {frame['band'][one]} was still on {machine}, removed "
                         f"{bands.raw['removed'][one]}; two bands at once?")  # fmt: skip
                e.problems.add("question", bands.file, words, row=int(bands.rows[two]), column="fitted",
                               value=bands.raw["fitted"][two])  # fmt: skip
