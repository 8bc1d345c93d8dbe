"""What a run would show, draw by draw: the mean and the growth of every signal over it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from bandtrial.recommend.longrun import names
from bandtrial.wear.signals import BY_FEED

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.recommend.job import Job
    from bandtrial.sawing import Numbers
    from bandtrial.trials.board import Options
    from bandtrial.wear.fit import Fit


E_KNOTS = np.concatenate([[0.0], np.geomspace(0.01, 4.0, 22)])
BAND_LEVEL = 0.05
"""sd of a band's own log level of a signal, where the fit names none."""
LEAST_NOISE = 0.01


@dataclass(frozen=True)
class Signal:
    """One signal: sd of its log noise, sd of a band's own log level, log growth (S, K) at E_KNOTS."""

    name: str
    noise: float
    level: float
    growth: np.ndarray


def signals(fit: Fit, job: Job, V: float, bite: float) -> list[Signal]:
    """The signals this machine logs, with what the fit says of their noise and growth."""
    out = []
    rows = fit.data[fit.data["machine"] == job.machine.id]
    residuals = fit.residuals
    for name in BY_FEED[job.feed]:
        if name not in fit.signals or name not in rows or not np.isfinite(rows[name].to_numpy(float)).sum() > 2:
            continue
        mine = residuals[residuals["signal"] == name]
        noise = float(np.std(np.log(mine["observed"] / mine["predicted"]))) if len(mine) > 2 else 0.1
        E = E_KNOTS
        log = log_signal(fit, job, name, np.full(len(E), V), np.full(len(E), bite), E)
        out.append(Signal(name, max(noise, LEAST_NOISE), _level(fit, name), log - log[:, :1]))
    return out


def log_signal(fit: Fit, job: Job, name: str, V: Numbers, bite: Numbers, E: Numbers = 0.0) -> np.ndarray:
    """Log of a signal's median (S, n) at settings (n,) and wear used."""
    if job.feed == "force":
        h = fit.chip_load_at_force(job.feed_of(V, bite), V, job.thickness, wear_used=E, **names(job))
        if name == "chip_load":
            return np.asarray(np.log(h))
        bite = np.median(h, axis=0)
    return np.asarray(np.log(fit.signal(name, V, bite, job.thickness, wear_used=E, **names(job))))


def at_wear(growth: np.ndarray, E: np.ndarray) -> np.ndarray:
    """Log growth (S, n) at wear used E (S, n), straight between E_KNOTS."""
    k = np.clip(np.searchsorted(E_KNOTS, E) - 1, 0, len(E_KNOTS) - 2)
    share = np.clip((E - E_KNOTS[k]) / (E_KNOTS[k + 1] - E_KNOTS[k]), 0.0, 1.0)
    low = np.take_along_axis(growth, k, axis=1)
    return np.asarray(low + share * (np.take_along_axis(growth, k + 1, axis=1) - low))


def features(
    signal: Signal, mean: np.ndarray, E0: np.ndarray, E1: np.ndarray, cuts: pd.DataFrame, known: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """What the readings of a run come to: (S, n, 2) mean level and growth from start to end, and noise (n, 2).

    A straight line through `cuts` even readings of noise s has variance s^2/cuts in its middle and 12 s^2/cuts in
    its rise. The level is counted from what the band showed when its wear used was `known`; the error that all its
    readings share is left to `seen`.
    """
    start, end = at_wear(signal.growth, E0), at_wear(signal.growth, E1)
    middle = mean + at_wear(signal.growth, 0.5 * (E0 + E1)) - at_wear(signal.growth, known)
    variance = signal.noise**2 / np.maximum(cuts, 1)
    rise = 12 * variance * np.where(cuts < 2, 1e3, 1.0)
    return np.stack([middle, end - start], axis=2), np.stack([variance, rise], axis=1)


def _level(fit: Fit, name: str) -> float:
    table = getattr(fit, "parameters", None)
    key = f"{name}.band"
    return float(table.loc[key, "estimate"]) if table is not None and key in table.index else BAND_LEVEL


@dataclass(frozen=True)
class Cause:
    """What moves several readings together: a band's own level of one signal, or a run's own wear.

    size : by signal (q,), the sd by which it moves the mean level read from then on
    """

    band: str
    size: np.ndarray


@dataclass(frozen=True)
class Seen:
    """Readings so far: shown (S, d) draw by draw, noise (d,) their own variances, H (d, k), causes of its columns."""

    shown: np.ndarray
    noise: np.ndarray
    H: np.ndarray
    causes: tuple[Cause, ...]

    @classmethod
    def nothing(cls, draws: int) -> Seen:
        """Before any run."""
        return cls(np.zeros((draws, 0)), np.zeros(0), np.zeros((0, 0)), ())

    def and_then(self, choice: Options, i: int, name: str) -> Seen:
        """With the readings of option i added, its band called `name`."""
        q = choice.level.shape[1]
        d = choice.shown.shape[2]
        rise = choice.away[i] * choice.shown[:, i, 1 : 2 * q : 2].mean(axis=0)
        known = any(cause.band == name for cause in self.causes)
        new = [] if known else [Cause(name, level) for level in np.diag(choice.level[i])]
        H = np.zeros((d, len(self.causes) + len(new) + 1))
        for column, cause in enumerate([*self.causes, *new]):
            if cause.band == name:
                H[0 : 2 * q : 2, column] = cause.size
        H[0 : 2 * q : 2, -1], H[1 : 2 * q : 2, -1] = rise / 2, rise
        before = np.pad(self.H, ((0, 0), (0, len(new) + 1)))
        return Seen(
            np.concatenate([self.shown, choice.shown[:, i]], axis=1),
            np.concatenate([self.noise, choice.noise[i]]),
            np.concatenate([before, H]),
            (*self.causes, *new, Cause(name, rise)),
        )

    @property
    def errors(self) -> np.ndarray:
        """Covariance of the readings' errors (d, d)."""
        return np.asarray(np.diag(self.noise) + self.H @ self.H.T)
