"""Sizes and settings that stand alone, and that a slip of the pen would make of the usual one."""

import numpy as np
import pandas as pd

from bandtrial.study.plausible.entries import KINDS, Entries
from bandtrial.study.plausible.slips import factor_between, swapped

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
