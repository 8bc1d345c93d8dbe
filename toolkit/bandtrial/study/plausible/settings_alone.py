"""Sizes and settings that stand alone in their run, on their machine, or among the cuts of their band."""

import numpy as np
import pandas as pd

from bandtrial.study.plausible.entries import FACTORS, KINDS, NEAR, POINT, Entries, factor_between, swapped

SET = ("work_thickness", "cut_travel", "diameter", "wall", "band_speed", "feed_rate", "feed_force")
COMMON = 4
"""Cuts with the same value that make it a usual one."""
SHARED = 3
"""Cuts of one band and material with the same value that make it the one meant."""
LEVELS = 200
"""Different values of a setting beyond which none is a usual one."""
OFF = float(np.log(1.5))
"""How far a chip must be from the usual, on a log scale, for a speed or a force to be asked about."""

FAR = 0.05
"""The same as `NEAR` for a value far outside all others of its machine, which need not be the usual one of its cut."""


def odd_settings(e: Entries) -> dict[int, str]:
    """Ask of each size or setting that is the usual one but for a slip; which cuts, and in which column."""
    asked: dict[int, str] = {}
    chip = {"band_speed": (_off(e, np.log(e["h"])), 1.0), "feed_force": (_off(e, _at_its_force(e)), 1.2)}
    for column in SET:
        value = e[column]
        if np.isfinite(value).sum() < 3:
            continue
        row, single, of_band = _in_its_run(e, column), _common(e, column), _exchanged(e, column)
        for n in np.flatnonzero(np.isfinite(value)).tolist():
            if e["exclude"][n] or not e["complete"][n]:
                continue
            words = _slip(e, column, n, int(row[n]), "the cuts before and after it have") if row[n] >= 0 else ""
            if not words and (twin := of_band.get(n)) is not None:
                words = _slip(e, column, n, twin, "the other cuts of its band in this material have")
            for other in () if words else single.get(n, ()):
                if column not in chip or _explains(*chip[column], n, np.log(value[n] / value[other])):
                    words = words or _slip(e, column, n, other, "the usual value on this machine is", alone=True)
            if words:
                asked[n] = column
                e.ask(column, n, words)
    return asked


def _in_its_run(e: Entries, column: str) -> np.ndarray:
    """For each cut a neighbor with the value that both its neighbors have, or the two before or after it, all other
    settings alike; -1 without one."""
    keys = pd.factorize(pd.MultiIndex.from_arrays([e["band"], e["material"]]))[0]
    others = [np.nan_to_num(e[name], nan=-1.0) for name in SET if name != column]
    settings = pd.factorize(pd.MultiIndex.from_arrays([keys, *others]))[0]
    value = e[column]
    found = np.full(len(e), -1)
    for at in pd.Series(np.arange(len(e))).groupby(keys).indices.values():
        for k, n in enumerate(at):
            around = np.r_[at[max(k - 1, 0) : k], at[k + 1 : k + 2]]
            for pair in (around, at[max(k - 2, 0) : k], at[k + 1 : k + 3]):
                alike = len(pair) == 2 and bool((settings[pair] == settings[n]).all())
                if alike and value[pair[0]] == value[pair[1]] != value[n]:
                    found[n] = pair[0]
    return found


def _exchanged(e: Entries, column: str) -> dict[int, int]:
    """For each cut that stands alone with its value among those of its band in its material: one that has the value
    which this one is with two digits exchanged, where `SHARED` have it."""
    found, value = {}, e[column]
    keys = pd.factorize(pd.MultiIndex.from_arrays([e["machine"], e["band"], e["material"]]))[0]
    for at in pd.Series(np.flatnonzero(np.isfinite(value))).groupby(keys[np.isfinite(value)]).indices.values():
        at = np.flatnonzero(np.isfinite(value))[at]
        _, first, counts = np.unique(value[at], return_index=True, return_counts=True)
        for n in at[first[counts == 1]] if np.sum(counts == 1) == 1 else ():
            usual = (at[k] for k in first[counts >= SHARED] if swapped(e.typed(column, n), e.typed(column, at[k])))
            if (other := next(usual, None)) is not None:
                found[int(n)] = int(other)
    return found


def _common(e: Entries, column: str) -> dict[int, list[int]]:
    """For each cut whose value no other cut on its machine has: cuts with the usual ones of which it can be a slip."""
    found: dict[int, list[int]] = {}
    value, factors = e[column], np.log([*FACTORS[KINDS[column]], *POINT])
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero((e["machine"] == machine) & np.isfinite(value))
        levels, first, codes, counts = np.unique(value[at], return_index=True, return_inverse=True, return_counts=True)
        usual, cuts = levels[counts >= COMMON], at[first[counts >= COMMON]]
        if not len(usual) or len(levels) > LEVELS:
            continue
        for n, level in zip(at, codes, strict=True):
            if counts[level] == 1:
                own = np.isin(usual, value[e["band"] == e["band"][n]])
                found[int(n)] = [int(cuts[_nearest_by_factor(levels[level], usual, factors)]), *cuts[own].tolist()]
    return found


def _nearest_by_factor(x: float, usual: np.ndarray, factors: np.ndarray) -> int:
    """Place of the usual value that a unit mixed up makes x of, as the ratio alone tells; logs of factors."""
    off = np.abs(np.abs(np.log(x / usual))[:, None] - factors)
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
    value, usual, far = e[column][n], e[column][other], alone and _out_of_reach(e, column, n)
    why = factor_between(value / usual, KINDS[column], near=FAR if far else NEAR, point=not alone or far)
    if not why and swapped(e.typed(column, n), e.typed(column, other)):
        why = "digits in the wrong order"
    return f"{e.typed(column, n)}, where {where} {e.typed(column, other)}; {why}?" if why else ""


def _out_of_reach(e: Entries, column: str, n: int) -> bool:
    """Whether a value is far outside all others of its machine."""
    others = e[column][(e["machine"] == e["machine"][n]) & np.isfinite(e[column])]
    others = others[others != e[column][n]]
    return len(others) > 0 and not others.min() / 3 < e[column][n] < others.max() * 3
