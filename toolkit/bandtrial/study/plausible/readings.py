"""Settings that stand alone in their run, and readings that no saw, machine or meter gives."""

from itertools import pairwise

import numpy as np
import pandas as pd

from bandtrial.study.plausible.entries import KINDS, Entries, factor_between, swapped

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
    chip = {"band_speed": (_off(e, np.log(e["h"])), 1.0), "feed_force": (_off(e, _at_its_force(e)), -1.2)}
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


def left_out(e: Entries) -> None:
    """A log of which most is left out."""
    out = e["exclude"] != ""
    if len(e) >= 4 and out.mean() > 0.5:
        e.problems.add("question", e.sheet.file, f"{out.sum()} of {len(e)} cuts are left out, each with a reason in "
                       "exclude; is that meant? An empty cell or no keeps a cut", column="exclude")  # fmt: skip
