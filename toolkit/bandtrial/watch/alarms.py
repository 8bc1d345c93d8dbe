"""Which bands and machines have left what the fit expects of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from bandtrial.watch import charts

FALSE_ALARM_EVERY = 1000.0  # readings between false alarms of one chart of a sound band, on average
LEAST = 5  # readings a chart needs before it may ring
TAIL_DOF = 5.0  # the fit's noise is Student's t with this many degrees of freedom
WORDS = {
    "motor_power": "motor power",
    "feed_force": "feed force",
    "chip_load": "chip load",
    "deviation": "deviation",
    "roughness": "roughness",
    "feed_rate": "feed rate",
}


@dataclass(frozen=True)
class Alarm:
    """One chart that rang: whose, which signal, since which cut, how far off it runs.

    shift : mean of observed / expected - 1 since the shift seems to have begun [-]
    now : whether the chart still stands above its limit at the last reading
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
        state = "is still so at its last reading" if self.now else "has come back since"
        signal = WORDS.get(self.signal, self.signal)
        return (
            f"{self.kind} {self.name}: {signal} runs {abs(self.shift):.0%} {way} what the fit expects "
            f"since about cut {self.since_cut} (rang at cut {self.at_cut}; {state})"
        )


def alarms(residuals, false_alarm_every=FALSE_ALARM_EVERY) -> list[Alarm]:
    """Every chart that rang, bands first, those that ring now before those that have come back.

    residuals : DataFrame cut, started, band, machine, signal, observed, predicted, z in the order of cutting;
    z is (log observed - log predicted) / scale with Student's t noise. One chart per band and signal, and one
    per machine and signal through all its bands.
    """
    h = charts.decision_interval(float(false_alarm_every))
    found = []
    for kind in ("band", "machine"):
        for (name, signal), rows in residuals.groupby([kind, "signal"], sort=True):
            if len(rows) >= LEAST and (alarm := _ring(kind, name, signal, rows, h)):
                found.append(alarm)
    return sorted(found, key=lambda a: (not a.now, a.kind, a.name, a.signal))


def _ring(kind, name, signal, rows, h) -> Alarm | None:
    y = charts.normal_scores(rows["z"].to_numpy(), TAIL_DOF)
    at, direction = charts.first_alarm(y, h)
    if at is None:
        return None
    upper, lower = charts.cumulative_sums(y)
    now = max(upper[-1], lower[-1]) > h
    if now:  # the run that lasts until today is the one to act on
        direction = "up" if upper[-1] > h else "down"
        at = int(np.flatnonzero((upper if direction == "up" else lower) <= h)[-1]) + 1
    start = charts.onset(y, at, direction)
    stop = len(y) if now else at + 1
    ratio = (rows["observed"] / rows["predicted"]).to_numpy(float)[start:stop]
    cuts = rows["cut"].astype(str).to_numpy()
    return Alarm(
        kind,
        str(name),
        str(signal),
        direction,
        cuts[start],
        cuts[at],
        str(rows["started"].iloc[at]),
        float(np.median(ratio)) - 1,
        len(y),
        bool(now),
    )


def with_feed_rate(residuals, cuts):
    """The fit's residuals and, for machines with a set feed rate, those of the feed rate kept.

    A machine should feed what is set. Its log ratio achieved / set is compared with that machine's own
    middle, in units of its spread about it (1.4826 x the median absolute deviation, never below 1 %).
    """
    import pandas as pd

    ratio = np.log((cuts["feed_rate"] / cuts["set_feed_rate"]).to_numpy(float))
    use = np.isfinite(ratio) & ((cuts["feed_mode"] == "rate") & (cuts["exclude"] == "")).to_numpy()
    rows = cuts[use].assign(ratio=ratio[use])
    middle = rows.groupby("machine")["ratio"].transform("median")
    spread = 1.4826 * (rows["ratio"] - middle).abs().groupby(rows["machine"]).transform("median")
    kept = rows.assign(
        signal="feed_rate",
        observed=rows["feed_rate"],
        predicted=rows["set_feed_rate"] * np.exp(middle),
        z=(rows["ratio"] - middle) / spread.clip(lower=0.01),
    )
    columns = ["cut", "started", "band", "machine", "signal", "observed", "predicted", "z"]
    place = pd.Series(np.arange(len(cuts)), index=cuts["cut"].to_numpy())
    placed = residuals.merge(cuts[["cut", "started", "machine"]], on="cut", how="inner")
    both = pd.concat([placed[columns], kept[columns]], ignore_index=True)
    return both.assign(place=both["cut"].map(place)).sort_values("place", kind="stable").drop(columns="place")
