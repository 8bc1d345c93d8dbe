"""Settings that stand alone in their run, readings that no saw, machine or meter gives, and cuts and bands in time:
logged twice, before a band was fitted, two at once, far away from all others.
"""

from itertools import pairwise

import numpy as np
import pandas as pd

from bandtrial.study.plausible.entries import KINDS, Entries, factor_between, swapped
from bandtrial.study.typed import Sheet
from bandtrial.words import quoted

SET = ("work_thickness", "cut_travel", "diameter", "wall", "band_speed", "feed_rate", "feed_force")
_FACTORS = np.array([25.4, 39.37, 3.2808, 4.4482, 9.80665, 60, 1000, 100, 10])
COMMON = 4
"""Cuts with the same value that make it a usual one."""
LEVELS = 200
"""Different values of a setting beyond which none is a usual one."""
OFF = float(np.log(1.5))
"""How far a chip must be from the usual, on a log scale, for a speed or a force to be asked about."""


def odd_settings(e: Entries) -> dict[int, str]:
    """Ask of each size or setting that is the usual one but for a slip; which cuts, and in which column."""
    asked: dict[int, str] = {}
    chip = {"band_speed": (_off(e, np.log(e["h"])), 1.0), "feed_force": (_off(e, _at_its_force(e)), 1.2)}
    for column in SET:
        value = e[column]
        if np.isfinite(value).sum() < 3:
            continue
        row, single = _in_its_run(e, column), _common(e, value)
        for n in np.flatnonzero(np.isfinite(value)).tolist():
            if e["exclude"][n] or not e["complete"][n]:
                continue
            words = _slip(e, column, n, int(row[n]), "the cuts before and after it have") if row[n] >= 0 else ""
            for other in () if words else single.get(n, ()):
                if column not in chip or _explains(*chip[column], n, np.log(value[n] / value[other])):
                    words = words or _slip(e, column, n, other, "the usual value on this machine is", alone=True)
            if words:
                asked[n] = column
                e.ask(column, n, words)
    return asked


def _in_its_run(e: Entries, column: str) -> np.ndarray:
    """For each cut a neighbor with the value that both its neighbors have, all other settings alike; -1 without one."""
    keys = pd.factorize(pd.MultiIndex.from_arrays([e["band"], e["material"]]))[0]
    others = [np.nan_to_num(e[name], nan=-1.0) for name in SET if name != column]
    settings = pd.factorize(pd.MultiIndex.from_arrays([keys, *others]))[0]
    value = e[column]
    found = np.full(len(e), -1)
    for at in pd.Series(np.arange(len(e))).groupby(keys).indices.values():
        for k, n in enumerate(at):
            pair = (at[k - 1], at[k + 1]) if 0 < k < len(at) - 1 else tuple(at[1:3] if k == 0 else at[-3:-1])
            alike = len(pair) == 2 and bool((settings[[*pair]] == settings[n]).all())
            if alike and value[pair[0]] == value[pair[1]] != value[n]:
                found[n] = pair[0]
    return found


def _common(e: Entries, value: np.ndarray) -> dict[int, list[int]]:
    """For each cut whose value no other cut on its machine has: cuts with the usual ones of which it can be a slip."""
    found: dict[int, list[int]] = {}
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero((e["machine"] == machine) & np.isfinite(value))
        levels, first, codes, counts = np.unique(value[at], return_index=True, return_inverse=True, return_counts=True)
        usual, cuts = levels[counts >= COMMON], at[first[counts >= COMMON]]
        if not len(usual) or len(levels) > LEVELS:
            continue
        for n, level in zip(at, codes, strict=True):
            if counts[level] == 1:
                own = np.isin(usual, value[e["band"] == e["band"][n]])
                found[int(n)] = [int(cuts[_nearest_by_factor(levels[level], usual)]), *cuts[own].tolist()]
    return found


def _nearest_by_factor(x: float, usual: np.ndarray) -> int:
    """Place of the usual value that a unit mixed up makes x of, as the ratio alone tells."""
    off = np.abs(np.abs(np.log(x / usual))[:, None] - np.log(_FACTORS))
    return int(np.argmin(off.min(axis=1)))


def _at_its_force(e: Entries) -> np.ndarray:
    """Log chip load over what a force per tooth gives, by Kienzle's law turned round with mc 0.17."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.log(e["h"]) - 1.2 * np.log(e["feed_force"] * e["p"] / e["L"]))


def _off(e: Entries, y: np.ndarray) -> np.ndarray:
    """y (n,) less the median of the cuts in the same material on the same machine."""
    keys = pd.factorize(pd.MultiIndex.from_arrays([e["machine"], e["material"]]))[0]
    return np.asarray(y - pd.Series(y).groupby(keys).transform("median").to_numpy(float))


def _explains(off: np.ndarray, power: float, n: int, ratio: float) -> bool:
    """Whether a setting exp(ratio) times too large makes a chip that is off usual again, or much more so."""
    return bool(abs(off[n]) > OFF and abs(off[n] + power * ratio) < 0.5 * abs(off[n]))


def _slip(e: Entries, column: str, n: int, other: int, where: str, alone: bool = False) -> str:
    """What to ask of a value that is not that of the cut `other`; "" where nothing makes the one of the other."""
    value, usual = e[column][n], e[column][other]
    why = factor_between(value / usual, KINDS[column], point=not alone or _out_of_reach(e, column, n))
    if not why and swapped(e.typed(column, n), e.typed(column, other)):
        why = "digits in the wrong order"
    return f"{e.typed(column, n)}, where {where} {e.typed(column, other)}; {why}?" if why else ""


def _out_of_reach(e: Entries, column: str, n: int) -> bool:
    """Whether a value is far outside all others of its machine."""
    others = e[column][(e["machine"] == e["machine"][n]) & np.isfinite(e[column])]
    others = others[others != e[column][n]]
    return len(others) > 0 and not others.min() / 3 < e[column][n] < others.max() * 3


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
                      f"{e.in_its_unit(column, n, low)} to {e.in_its_unit(column, n, high)}", "warning")  # fmt: skip


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
    for n in np.flatnonzero(e.started < day):
        when = fitted[n].astype("datetime64[D]")
        words = f"{quoted(e.sheet.raw['started'][n])} is before band {e['band'][n]} was fitted, {when}"
        e.ask("started", int(n), words, severity="warning")


def odd_band(e: Entries) -> dict[int, str]:
    """A single cut of another band in the midst of a run of one band on a machine."""
    asked = {}
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero(e["machine"] == machine)
        band = e["band"][at]
        if len(at) < 5:
            continue
        two, one, own, next_one, next_two = (band[k : len(band) - 4 + k] for k in range(5))
        alone = (two == one) & (one == next_one) & (next_one == next_two) & (own != one)
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
