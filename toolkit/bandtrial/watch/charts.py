"""The control chart: Page's cumulative sum, its average run length, and scores that heavy tails cannot upset.

Sources: E. S. Page, Continuous inspection schemes, Biometrika 41 (1954) 100-115; J. M. Lucas and
R. B. Crosier, Fast initial response for CUSUM quality-control schemes, Technometrics 24 (1982) 199-205;
NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3; for the run length A. L. Goel and S. M. Wu,
Technometrics 13 (1971) 221-230; for charting probability scores C. P. Quesenberry, SPC Q charts, Journal of
Quality Technology 23 (1991) 213-224.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from bandtrial.watch.forecast import forecast_errors
from bandtrial.wear.signals import in_words
from bandtrial.wear.terms import NU

if TYPE_CHECKING:
    from bandtrial.wear.fit import Fit


RULE = "two-sided cumulative sum chart (Page 1954; NIST/SEMATECH e-Handbook 6.3.2.3)"
REFERENCE = 0.5  # k: half the shift worth finding, in standard deviations; the handbook's usual choice


def normal_scores(z: np.ndarray | pd.Series[Any], tail_dof: float = np.inf) -> np.ndarray:
    """Standard normal scores y = Phi^-1(T_nu(z)) of residuals z [-] whose noise is Student's t, nu d.o.f.

    nu = inf leaves z as it is. With nu = 4 a wild reading of 20 becomes about 4: one slip cannot ring.
    """
    z = np.asarray(z, float)
    if np.isinf(tail_dof):
        return z.copy()
    from scipy.special import ndtri, stdtr

    return np.asarray(-np.sign(z) * ndtri(stdtr(tail_dof, -np.abs(z))))


def cumulative_sums(y: np.ndarray, k: float = REFERENCE) -> tuple[np.ndarray, np.ndarray]:
    """Upper and lower sums of scores y [-]; a missing score (NaN) leaves both sums as they were.

        S+_i = max(0, S+_(i-1) + y_i - k),      S-_i = max(0, S-_(i-1) - y_i - k)

    worked out for all i at once: S_i is the plain running sum less the least it has been, 0 at the start.
    Returns two arrays as long as y.
    """
    y = np.asarray(y, float)
    step = np.where(np.isfinite(y), [y - k, -y - k], 0.0)
    total = np.cumsum(step, axis=1)
    upper, lower = total - np.minimum(np.minimum.accumulate(total, axis=1), 0.0)
    return upper, lower


def first_alarm(y: np.ndarray, h: float, k: float = REFERENCE) -> Any:
    """(index of the first score at which a sum passes h, "up" or "down"), or (None, None) if none does."""
    upper, lower = cumulative_sums(y, k)
    over = np.flatnonzero((upper > h) | (lower > h))
    if len(over) == 0:
        return None, None
    i = int(over[0])
    return i, "up" if upper[i] > h else "down"


def onset(y: Any, alarm: Any, direction: Any, k: Any = REFERENCE) -> Any:
    """Index of the first score after the alarming sum was last zero: the chart's guess of the start."""
    sums = cumulative_sums(y, k)[0 if direction == "up" else 1]
    zero = np.flatnonzero(sums[: alarm + 1] == 0.0)
    return int(zero[-1]) + 1 if len(zero) else 0


def one_sided_run_length(shift: float, h: float, k: float = REFERENCE, nodes: int = 60) -> float:
    """Mean number of normal scores until the upper sum passes h, with the mean shifted by `shift` [sd].

        L(s) = 1 + L(0) Phi(k - s) + integral_0^h L(x) phi(x + k - s) dx    (scores ~ N(shift, 1), s = 0)

    solved on Gauss-Legendre nodes (Goel and Wu 1971).
    """
    from scipy.special import ndtr

    x, w = np.polynomial.legendre.leggauss(nodes)
    x, w = h * (x + 1) / 2, h * w / 2
    s = np.concatenate([[0.0], x])
    step = x[None, :] + k - shift - s[:, None]
    kernel = np.column_stack([ndtr(k - shift - s), w * np.exp(-0.5 * step**2) / np.sqrt(2 * np.pi)])
    return float(np.linalg.solve(np.eye(nodes + 1) - kernel, np.ones(nodes + 1))[0])


def run_length(shift: float, h: float, k: float = REFERENCE) -> float:
    """Average run length of the two-sided chart: 1/L = 1/L+ + 1/L- (Lucas and Crosier 1982).

    >>> round(run_length(0.0, h=5.0)), round(run_length(1.0, h=5.0), 1)
    (465, 10.4)
    """
    with np.errstate(divide="ignore"):
        return 1 / (1 / one_sided_run_length(shift, h, k) + 1 / one_sided_run_length(-shift, h, k))


@lru_cache(maxsize=64)
def decision_interval(false_alarm_every: float, k: float = REFERENCE) -> float:
    """h at which a steady process rings falsely once in `false_alarm_every` scores on average.

    >>> round(decision_interval(465.4), 2)
    5.0
    """
    low, high = 0.0, 1.0
    while run_length(0.0, high, k) < false_alarm_every:
        low, high = high, high + 1.0
    for _ in range(40):  # to rounding; scipy's own finder would take longer to load than all else here
        middle = (low + high) / 2
        low, high = (middle, high) if run_length(0.0, middle, k) < false_alarm_every else (low, middle)
    return (low + high) / 2


FALSE_ALARM_EVERY = 1000.0  # readings between false alarms of one chart of a sound band, on average
COLUMNS = ["cut", "started", "band", "machine", "signal", "observed", "predicted", "score"]
LEAST = 5  # readings a chart needs before it may ring
LEAST_SPREAD = 0.03  # of the log of the feed rate kept: one second in half a minute


@dataclass(frozen=True)
class Alarm:
    """One chart that rang: whose, which signal, since which cut, how far off it runs.

    shift : mean of observed / expected - 1 since the shift seems to have begun [-]
    now : whether the chart stands above its limit at the last reading of a machine or of a band in service
    """

    kind: str  # "band" or "machine"
    name: str
    signal: str
    direction: str  # "up" or "down"
    since_cut: str
    at_cut: str
    at: str  # when the alarming cut was started, as logged
    shift: float
    readings: int
    now: bool

    def __str__(self) -> str:
        way = "above" if self.direction == "up" else "below"
        state = "still so at its last reading" if self.now else "no longer so, or the band is off"
        signal = in_words(self.signal)
        return (
            f"{self.kind} {self.name}: {signal} runs {abs(self.shift):.0%} {way} what the fit expects "
            f"since about cut {self.since_cut} (rang at cut {self.at_cut}; {state})"
        )


def alarms(readings: Any, in_service: Any, false_alarm_every: Any = FALSE_ALARM_EVERY) -> list[Alarm]:
    """Every chart that rang, those that ring now before the others; `in_service` names the bands that run.

    readings : DataFrame cut, started, band, machine, signal, observed, predicted, score in the order of
    cutting, the score standard normal while all is as expected. One chart per band and signal, and one per
    machine and signal through all its bands.
    """
    h = decision_interval(float(false_alarm_every))
    found = []
    score = readings["score"].to_numpy(float)
    for kind in ("band", "machine"):
        for (name, signal), at in readings.groupby([kind, "signal"], sort=True).indices.items():
            running = kind == "machine" or name in in_service
            if len(at) >= LEAST and first_alarm(score[at], h)[0] is not None:
                found.append(_ring(kind, name, signal, readings.iloc[at], h, running))
    return sorted(found, key=lambda a: (not a.now, a.kind, a.name, a.signal))


def _ring(kind: Any, name: Any, signal: Any, rows: Any, h: Any, running: Any) -> Alarm:
    y = rows["score"].to_numpy(float)
    at, direction = first_alarm(y, h)
    upper, lower = cumulative_sums(y)
    now = bool(max(upper[-1], lower[-1]) > h)
    if now:  # the run that lasts until today is the one to act on
        direction = "up" if upper[-1] > h else "down"
        below = np.flatnonzero((upper if direction == "up" else lower) <= h)
        at = int(below[-1]) + 1 if len(below) else 0
    start = onset(y, at, direction)
    ratio = (rows["observed"] / rows["predicted"]).to_numpy(float)[start : len(y) if now else at + 1]
    cuts, shift = rows["cut"].astype(str).to_numpy(), float(np.median(ratio)) - 1
    began = str(rows["started"].iloc[at])
    return Alarm(kind, str(name), str(signal), direction, cuts[start], cuts[at], began, shift, len(y), now and running)


def readings(fit: Fit, cuts: pd.DataFrame) -> pd.DataFrame:
    """Every reading to be charted, in the order of cutting: the fit's signals, and the feed rate kept.

    Each reading is held against its forecast (`forecast`), whose Student's t error becomes a normal score.
    """
    own = forecast_errors(fit, NU)
    place = pd.Index(cuts["cut"]).get_indexer(own["cut"])
    own, place = own[place >= 0], place[place >= 0]
    falls = (own["signal"] == "chip_load").to_numpy()  # fitted as its inverse, which grows as a band dulls
    observed, predicted = (np.where(falls, 1 / own[name], own[name]) for name in ("observed", "predicted"))
    score = normal_scores(np.where(falls, -own["z"], own["z"]), NU)
    beside = {name: cuts[name].to_numpy()[place] for name in ("started", "machine")}
    own = own.assign(observed=observed, predicted=predicted, score=score, **beside)
    kept = feed_rate_readings(cuts)
    both: pd.DataFrame = pd.concat([own[COLUMNS], kept[COLUMNS]], ignore_index=True)
    place = np.concatenate([place, kept["place"]])
    return both.iloc[np.argsort(place, kind="stable")]


def feed_rate_readings(cuts: pd.DataFrame) -> pd.DataFrame:
    """Feed rate achieved over feed rate set, of each cut at a set feed rate, against the machine's earlier cuts.

    Expected is the median of what that machine kept before. The spread is the median of the moving range
    (individuals chart, NIST/SEMATECH e-Handbook 6.3.2.2) over 0.954, the median of |x - y| of standard normals,
    and never below LEAST_SPREAD: a stopwatch read to a second errs alike at each cut of one setting.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log((cuts["feed_rate"] / cuts["set_feed_rate"]).to_numpy(float))
    use = np.isfinite(ratio) & ((cuts["feed_mode"] == "rate") & (cuts["exclude"] == "")).to_numpy()
    rows: pd.DataFrame = cuts[use].assign(ratio=ratio[use], signal="feed_rate", observed=cuts["feed_rate"][use],
                            place=np.flatnonzero(use))  # fmt: skip
    kept = rows.groupby("machine")["ratio"]
    expected = kept.transform(lambda r: r.expanding().median().shift().bfill())
    moved = kept.diff().abs().groupby(rows["machine"]).transform("median")  # not a number after one cut alone
    spread = (moved / 0.954).fillna(0.0).clip(lower=LEAST_SPREAD)
    score = normal_scores((rows["ratio"] - expected) / spread, NU)
    return rows.assign(predicted=rows["set_feed_rate"] * np.exp(expected), score=score)
