"""Which bands and machines have left what the fit expects of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bandtrial.watch import charts
from bandtrial.watch.forecast import forecast_errors
from bandtrial.wear.signals import in_words
from bandtrial.wear.terms import NU

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


def alarms(readings, in_service, false_alarm_every=FALSE_ALARM_EVERY) -> list[Alarm]:
    """Every chart that rang, those that ring now before the others; `in_service` names the bands that run.

    readings : DataFrame cut, started, band, machine, signal, observed, predicted, score in the order of
    cutting, the score standard normal while all is as expected. One chart per band and signal, and one per
    machine and signal through all its bands.
    """
    h = charts.decision_interval(float(false_alarm_every))
    found = []
    score = readings["score"].to_numpy(float)
    for kind in ("band", "machine"):
        for (name, signal), at in readings.groupby([kind, "signal"], sort=True).indices.items():
            running = kind == "machine" or name in in_service
            if len(at) >= LEAST and charts.first_alarm(score[at], h)[0] is not None:
                found.append(_ring(kind, name, signal, readings.iloc[at], h, running))
    return sorted(found, key=lambda a: (not a.now, a.kind, a.name, a.signal))


def _ring(kind, name, signal, rows, h, running) -> Alarm:
    y = rows["score"].to_numpy(float)
    at, direction = charts.first_alarm(y, h)
    upper, lower = charts.cumulative_sums(y)
    now = bool(max(upper[-1], lower[-1]) > h)
    if now:  # the run that lasts until today is the one to act on
        direction = "up" if upper[-1] > h else "down"
        below = np.flatnonzero((upper if direction == "up" else lower) <= h)
        at = int(below[-1]) + 1 if len(below) else 0
    start = charts.onset(y, at, direction)
    ratio = (rows["observed"] / rows["predicted"]).to_numpy(float)[start : len(y) if now else at + 1]
    cuts, shift = rows["cut"].astype(str).to_numpy(), float(np.median(ratio)) - 1
    began = str(rows["started"].iloc[at])
    return Alarm(kind, str(name), str(signal), direction, cuts[start], cuts[at], began, shift, len(y), now and running)


def readings(fit, cuts):
    """Every reading to be charted, in the order of cutting: the fit's signals, and the feed rate kept.

    Each reading is held against its forecast (`forecast`), whose Student's t error becomes a normal score.
    """
    import pandas as pd

    own = forecast_errors(fit, NU)
    place = pd.Index(cuts["cut"]).get_indexer(own["cut"])
    own, place = own[place >= 0], place[place >= 0]
    falls = (own["signal"] == "chip_load").to_numpy()  # fitted as its inverse, which grows as a band dulls
    observed, predicted = (np.where(falls, 1 / own[name], own[name]) for name in ("observed", "predicted"))
    score = charts.normal_scores(np.where(falls, -own["z"], own["z"]), NU)
    beside = {name: cuts[name].to_numpy()[place] for name in ("started", "machine")}
    own = own.assign(observed=observed, predicted=predicted, score=score, **beside)
    kept = feed_rate_readings(cuts)
    both = pd.concat([own[COLUMNS], kept[COLUMNS]], ignore_index=True)
    place = np.concatenate([place, kept["place"]])
    return both.iloc[np.argsort(place, kind="stable")]


def feed_rate_readings(cuts):
    """Feed rate achieved over feed rate set, of each cut at a set feed rate, against the machine's earlier cuts.

    Expected is the median of what that machine kept before. The spread is the median of the moving range
    (individuals chart, NIST/SEMATECH e-Handbook 6.3.2.2) over 0.954, the median of |x - y| of standard normals,
    and never below LEAST_SPREAD: a stopwatch read to a second errs alike at each cut of one setting.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log((cuts["feed_rate"] / cuts["set_feed_rate"]).to_numpy(float))
    use = np.isfinite(ratio) & ((cuts["feed_mode"] == "rate") & (cuts["exclude"] == "")).to_numpy()
    rows = cuts[use].assign(ratio=ratio[use], signal="feed_rate", observed=cuts["feed_rate"][use],
                            place=np.flatnonzero(use))  # fmt: skip
    kept = rows.groupby("machine")["ratio"]
    expected = kept.transform(lambda r: r.expanding().median().shift().bfill())
    moved = kept.diff().abs().groupby(rows["machine"]).transform("median")  # not a number after one cut alone
    spread = (moved / 0.954).fillna(0.0).clip(lower=LEAST_SPREAD)
    score = charts.normal_scores((rows["ratio"] - expected) / spread, NU)
    return rows.assign(predicted=rows["set_feed_rate"] * np.exp(expected), score=score)
