"""Each cut against the shop's own: how fast it went, and what the machine took for it."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from bandtrial.spelling import UnitError, number
from bandtrial.study.plausible.entries import KINDS, POINT, Entries, factor_between, swaps

FEWEST = 6
"""Cuts alike from which they say what is usual."""
SIGMAS = 5.0
"""Robust standard deviations beyond which a cut is odd."""
LEAST_OFF, LEAST_SWAP = np.log(1.18), np.log(1.07)
"""Of an achieved over a set feed rate: below that people round, and feeds creep; where digits exchanged would fit."""
CLOSE = 0.25
"""How near a slip must bring an odd cut to the usual, on a log scale."""


@dataclass(frozen=True)
class Judged:
    """Log of what was seen over what is usual (n,), its robust spread, and the least that counts as odd."""

    off: np.ndarray
    spread: np.ndarray
    least: np.ndarray | float

    @property
    def odd(self) -> np.ndarray:
        """Which cuts lie further from the usual than the scatter and the least to be asked of (n,)."""
        with np.errstate(invalid="ignore"):
            return np.asarray(np.abs(self.off) > np.fmax(SIGMAS * self.spread, self.least))


_OF_A_SET_FEED = {"cut_time": 1, "cut_travel": -1, "feed_rate": 1}
_OF_A_CHIP = {"cut_time": 1, "cut_travel": -1, "band_speed": 1, "diameter": -1, "feed_force": 1}
"""What a cut's rate follows from, and how: the power of it that would bring an odd rate back to the usual."""


def odd_cuts(e: Entries, asked: dict[int, str]) -> None:
    """Ask of every cut that went far from the usual, with the slip that would explain it."""
    used = (e["operation"] == "sawing") & (e["exclude"] == "") & e["complete"]
    rates = ((_against_the_set_feed(e, used), _OF_A_SET_FEED), (_against_its_run(e, used), _OF_A_CHIP),
             (_against_the_fit(e, used, "h"), _OF_A_CHIP))  # fmt: skip
    for judged, columns in rates:
        for n in _first_of_each_run(e, judged, used):
            if n not in asked and not e.is_said(n, columns):
                asked[n], words = _pace_words(e, n, float(judged.off[n]), columns)
                e.ask(asked[n], n, words)
    for column in ("motor_power", "deviation", "roughness"):
        judged = _against_the_fit(e, used, column)
        for n in _first_of_each_run(e, judged, used):
            if n not in asked and not e.is_said(n, ("cut_time", "cut_travel", "band_speed", "feed_rate")):
                e.ask(column, n, _reading_words(e, n, float(judged.off[n]), column))


def _first_of_each_run(e: Entries, judged: Judged, used: np.ndarray) -> list[int]:
    """Odd cuts; of those in a row of one band that are odd alike, the first."""
    odd = np.flatnonzero(judged.odd & used)
    before = np.r_[-2, odd[:-1]] if len(odd) else odd
    alike = (before == odd - 1) & (e["band"][before] == e["band"][odd])
    alike &= np.abs(judged.off[before] - judged.off[odd]) < CLOSE
    return [int(n) for n in odd[~alike]]


def _against_the_set_feed(e: Entries, used: np.ndarray) -> Judged:
    """Achieved over set feed rate: a machine with a set feed holds it."""
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.log(e["F"] / e["feed_rate"])
    return _where_digits_fit(e, _judged(e, off, used, LEAST_OFF), _OF_A_SET_FEED, LEAST_SWAP)


def _where_digits_fit(e: Entries, judged: Judged, columns: dict[str, int], least: float) -> Judged:
    """The same, asking from `least` on where two digits exchanged make a cut usual."""
    asks = np.full(len(e), judged.least)
    with np.errstate(invalid="ignore"):
        near = np.flatnonzero((np.abs(judged.off) > least) & (np.abs(judged.off) <= judged.least))
    for n in near.tolist():
        if any(_swap_fits(e, name, n, e[name][n], e[name][n] * float(np.exp(sign * judged.off[n])), 0.15)
               for name, sign in columns.items() if np.isfinite(e[name][n])):  # fmt: skip
            asks[n] = least
    return replace(judged, least=asks)


def _against_its_run(e: Entries, used: np.ndarray) -> Judged:
    """Rate over that of the nearest cuts of the same band with the same sizes and settings."""
    settings = [e["band"], e["material"], *(e[name] for name in ("L", "D", "V", "feed_rate", "feed_force"))]
    keys = pd.factorize(pd.MultiIndex.from_arrays(settings))[0]
    off = np.full(len(e), np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        y = np.log(e["Z"])
    cuts, apart = np.flatnonzero(used & np.isfinite(y)), np.full(len(e), np.nan)
    for at in pd.Series(cuts).groupby(keys[cuts]).indices.values():
        if len(at) >= 3:
            around = _neighbors(y[cuts[at]])
            off[cuts[at]] = y[cuts[at]] - np.nanmedian(around, axis=1)
            apart[cuts[at]] = np.nanmax(around, axis=1) - np.nanmin(around, axis=1)
    spread = pd.Series(np.abs(off)).groupby(e["machine"]).transform("median").to_numpy(float) * 1.4826
    with np.errstate(invalid="ignore"):
        least = np.where(apart < np.abs(off), np.log(2.3), np.inf)
    for n in np.flatnonzero((np.abs(off) > np.log(1.15)) & (apart < 0.3 * np.abs(off))).tolist():
        t = float(e["cut_time"][n])
        if _swap_fits(e, "cut_time", n, t, t * float(np.exp(off[n]))):
            least[n] = np.log(1.15)
    return Judged(off, spread, least)


def _neighbors(y: np.ndarray) -> np.ndarray:
    """For each of y (n,), n at least 3, the up to four nearest others (n, 4), NaN where there are fewer."""
    padded = np.concatenate([[np.nan] * 2, y, [np.nan] * 2])
    return np.column_stack([padded[k : k + len(y)] for k in (0, 1, 3, 4)])


def _judged(e: Entries, off: np.ndarray, used: np.ndarray, least: float) -> Judged:
    """Logs about the median of their machine, with its robust spread."""
    centered, spread = np.full(len(e), np.nan), np.full(len(e), np.nan)
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero((e["machine"] == machine) & used & np.isfinite(off))
        if len(at) >= FEWEST:
            centered[at] = off[at] - np.median(off[at])
            spread[at] = 1.4826 * np.median(np.abs(centered[at]))
    return Judged(centered, spread, least)


_MODELS = {  # slopes of the log of each on the logs of these, and how firmly they are believed (cuts' worth)
    "h": ({"force_per_tooth": 1.2, "V": 0.0}, np.log(2.8)),
    "motor_power": ({"V": 1.0, "h": 0.8, "L": 1.0}, np.log(4.2)),
    "deviation": ({"h": 0.5, "L": 0.5}, np.log(8.0)),
    "roughness": ({"h": 0.5}, np.log(6.0)),
}
_BELIEF = 3.0


def _against_the_fit(e: Entries, used: np.ndarray, what: str) -> Judged:
    """What was seen over a robust regression on the settings, machine by machine; material and stock have levels."""
    off, spread = np.full(len(e), np.nan), np.full(len(e), np.nan)
    slopes, least = _MODELS[what]
    seen = e[what].copy()
    if what == "h":
        seen[e["feed"] == "rate"] = np.where(np.isfinite(e["feed_rate"]), np.nan, seen)[e["feed"] == "rate"]
    with np.errstate(divide="ignore", invalid="ignore"):
        y = np.log(np.where(seen > 0, seen, np.nan))
        logs = {"V": np.log(e["V"]), "h": np.log(e["h"]), "L": np.log(e["L"]),
                "force_per_tooth": np.log(e["feed_force"] * e["p"] / e["L"])}  # fmt: skip
    kinds = pd.factorize(pd.MultiIndex.from_arrays([e["machine"], e["material"], e["stock"]]))[0]
    kinds = np.where(np.bincount(kinds)[kinds] >= FEWEST, kinds, -1)
    for machine in pd.unique(e["machine"]):
        here = (e["machine"] == machine) & used & np.isfinite(y)
        known = [name for name in slopes if np.isfinite(logs[name][here]).mean() > 0.8] if here.any() else []
        at = np.flatnonzero(here & np.logical_and.reduce([np.isfinite(logs[name]) for name in known] or [here]))
        if len(at) >= FEWEST:
            X = np.column_stack([logs[name][at] - np.median(logs[name][at]) for name in known] or [np.zeros(len(at))])
            prior = np.array([slopes[name] for name in known] or [0.0])
            off[at] = _residuals(y[at], X, prior, kinds[at])
            spread[at] = 1.4826 * np.median(np.abs(off[at]))
    return Judged(off, spread, float(least))


def _residuals(y: np.ndarray, X: np.ndarray, prior: np.ndarray, kind: np.ndarray) -> np.ndarray:
    """Residuals (n,) of y (n,) on X (n, k) by least absolute deviations; slopes drawn to `prior`, a level per kind."""
    beta = prior.copy()
    for _ in range(20):
        rest = y - X @ beta
        level = pd.Series(rest).groupby(kind).transform("median").to_numpy()
        r = rest - level
        scale = max(1.4826 * float(np.median(np.abs(r))), 0.02)
        w = 1.0 / np.fmax(np.abs(r) / scale, 1.0)
        A = (X * w[:, None]).T @ X + _BELIEF * scale**2 / 0.25 * np.eye(len(prior)) + 1e-9 * np.eye(len(prior))
        b = (X * w[:, None]).T @ (y - level) + _BELIEF * scale**2 / 0.25 * prior
        new = np.linalg.solve(A, b)
        if np.abs(new - beta).max() < 1e-4:
            break
        beta = new
    rest = y - X @ beta
    return np.asarray(rest - pd.Series(rest).groupby(kind).transform("median").to_numpy())


def _pace_words(e: Entries, n: int, off: float, columns: dict[str, int]) -> tuple[str, str]:
    """The column to look at and what to ask, of a cut that went exp(off) times as fast as usual."""
    pace = f"{np.exp(abs(off)):.3g} times as {'fast' if off > 0 else 'slow'} as the cuts like it"
    if abs(off) < np.log(1.2):
        pace = f"{100 * (np.exp(abs(off)) - 1):.0f} % {'faster' if off > 0 else 'slower'} than the cuts like it"
    for column, sign in columns.items():
        value = e[column][n]
        if not np.isfinite(value):
            continue
        should = value * np.exp(sign * off)
        why = _explained(e, column, n, value, should)
        if why:
            would = e.in_its_unit(column, should)
            return column, f"{e.typed(column, n)}: at that the cut went {pace}; {why}? About {would} would fit"
    return "cut_time", f"{e.typed('cut_time', n)}: at that the cut went {pace}; is that so?"


def _explained(e: Entries, column: str, n: int, value: float, should: float) -> str:
    kind = KINDS[column]
    ratio = value / should
    if why := factor_between(ratio, kind, CLOSE, point=False):
        return why
    if any(abs(abs(np.log(ratio)) - np.log(factor)) < CLOSE for factor in POINT):
        return "a slipped decimal point"
    return "digits in the wrong order" if _swap_fits(e, column, n, value, should) else ""


def _swap_fits(e: Entries, column: str, n: int, value: float, should: float, near: float = 0.3) -> bool:
    """Whether two neighboring digits exchanged bring a typed value to what it should be, or `near` times as far off."""
    typed = e.typed(column, n)
    for other in swaps(typed):
        try:
            ratio = number(other) / number(typed.split()[0])
        except UnitError:
            continue
        if ratio > 0 and abs(np.log(value * ratio / should)) < near * abs(np.log(value / should)):
            return True
    return False


def _reading_words(e: Entries, n: int, off: float, column: str) -> str:
    times = f"{np.exp(abs(off)):.3g} times {'what' if off > 0 else 'less than'} such cuts took before"
    value = e[column][n]
    why = factor_between(np.exp(off), KINDS[column], CLOSE)
    hint = f"; {why}? About {e.in_its_unit(column, value / np.exp(off))} would fit" if why else "; is that so?"
    return f"{e.typed(column, n)} is {times}{hint}"
