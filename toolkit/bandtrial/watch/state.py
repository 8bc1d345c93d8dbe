"""The watch over a study: what each band in service has left, and what has gone out of the expected."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial.published.tables import CAUTIONS
from bandtrial.recommend.job import NotYet, must_carry, said, trust_of, widened
from bandtrial.recommend.wording import table_html
from bandtrial.watch import charts, forecast
from bandtrial.watch.charts import FALSE_ALARM_EVERY, Alarm, alarms, readings
from bandtrial.watch.countdown import Change, Countdown
from bandtrial.watch.record import Score, score
from bandtrial.wear import summary

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


SEED = 1
MOST_EARLIER = 20  # alarms that ring no more, named one by one; --json has them all
HEAD = f"{'band':<12}{'wear used':>22}{'pieces left':>22}{'cuts left':>18}{'next finishes':>15}"


@dataclass(frozen=True)
class BandState:
    """A band in service: what it has used and what it has left at the setting of its last cut.

    wear_used [-] with its 80 % interval; pieces and cuts left with 80 % prediction intervals (a cut is a row
    of the log: `pieces_per_cut` pieces); next_finishes: the chance that the next piece is finished before the
    band ends.
    """

    band: str
    machine: str
    stock: str
    material: str
    work_thickness: float  # mm, of the last cut
    area: float  # cm2 sawn so far
    pieces_per_cut: int
    wear_used: float
    wear_used_low: float
    wear_used_high: float
    pieces_left: int
    pieces_left_low: int
    pieces_left_high: int
    cuts_left: int
    cuts_left_low: int
    cuts_left_high: int
    next_finishes: float
    alarms: tuple[Alarm, ...] = ()
    change: Change | None = None
    last_cut: str = ""
    pieces_done: int = 0
    piece_area: float = 0.0  # cm2, of the last cut


@dataclass(frozen=True)
class Watch:
    """Bands in service, the most worn first; bands without a cut yet; alarms that ring now or rang before."""

    bands: tuple[BandState, ...]
    without_cuts: tuple[str, ...]
    alarms: tuple[Alarm, ...]
    charts_kept: int
    false_alarm_every: float
    rule: str = field(default=charts.RULE)
    by_chance: float = 0.0  # charts that would have rung by now though nothing had changed
    warnings: tuple[str, ...] = ()  # what to read with it
    not_yet: str = ""  # why there is no watch, as a sentence; "" where there is
    score: Score | None = None  # how past forecasts did

    @property
    def limit(self) -> float:
        """Decision interval h of the charts [sd]."""
        return charts.decision_interval(self.false_alarm_every)

    def rule_in_words(self) -> str:
        """The rule, its numbers and what they mean."""
        return (
            f"Alarm rule: {self.rule} on the fit's residuals as normal scores, k = {charts.REFERENCE:g}, "
            f"h = {self.limit:.2f}: a steady chart rings falsely about once in "
            f"{self.false_alarm_every:,.0f} readings, and a lasting shift of one standard deviation is "
            f"found after {charts.run_length(1.0, self.limit):.0f} readings on average, one of two after "
            f"{charts.run_length(2.0, self.limit):.0f}."
        )

    def earlier(self, most: int = MOST_EARLIER) -> list[str]:
        """The alarms that do not ring now; of many the last ones, and how many would ring by chance alone."""
        gone = sorted((alarm for alarm in self.alarms if not alarm.now), key=lambda alarm: alarm.at)
        if len(gone) <= most:
            return [str(alarm) for alarm in self.alarms if not alarm.now]
        rang = f"{len(gone):,} of {self.charts_kept:,} charts rang, about {self.by_chance:,.0f} would by chance alone"
        return [f"{rang}; the last {most}:", *(str(alarm) for alarm in gone[-most:])]

    def past(self) -> list[str]:
        """How past forecasts did, as a sentence, where any were written down."""
        said = self.score.say() if self.score else ""
        return [said] if said else []

    def to_json(self) -> dict[str, Any]:
        """The answer in plain types, for `bandtrial watch --json`."""
        return {
            "cautions": list(CAUTIONS),
            "rule": self.rule,
            "reference_k": charts.REFERENCE,
            "decision_interval_h": self.limit,
            "false_alarm_every_readings": self.false_alarm_every,
            "charts": self.charts_kept,
            "bands": [asdict(band) for band in self.bands],
            "bands_without_cuts": list(self.without_cuts),
            "alarms": [asdict(alarm) for alarm in self.alarms],
            "warnings": list(self.warnings),
            "not_yet": self.not_yet,
            "score": self.score.to_json() if self.score else None,
        }

    def fields(self) -> list[tuple[str, str, str]]:
        """(label, value, note) of every line: bands in service, alarms, the rule."""
        ringing = [alarm for alarm in self.alarms if alarm.now]
        if self.not_yet:
            return [("status", self.not_yet, "")]
        rows = [("status", f"ALARM: {len(ringing)}" if ringing else "no alarm rings", "")]
        rows += [("warning", text, "") for text in self.warnings]
        for b in self.bands:
            left = f"{b.pieces_left} pieces left ({b.pieces_left_low} to {b.pieces_left_high})"
            used = f"wear used {b.wear_used:.2f} ({b.wear_used_low:.2f} to {b.wear_used_high:.2f})"
            rows.append((b.band, f"{used}, {left}", f"the next is finished: {finishes(b.next_finishes)}"))
            rows += [(b.band, b.change.said, "")] if b.change else []
        rows += [(band, "in service, no cut logged yet", "") for band in self.without_cuts]
        rows += [("alarm", str(alarm), "") for alarm in ringing]
        rows += [("earlier", text, "") for text in self.earlier()]
        rows += [("past forecasts", text, "") for text in self.past()]
        return [*rows, ("rule", self.rule_in_words().removeprefix("Alarm rule: "), "")]

    def _repr_html_(self) -> str:
        return table_html(self.fields(), "Bands in service and alarms (80 % intervals)")

    def __str__(self) -> str:
        ringing = [alarm for alarm in self.alarms if alarm.now]
        if self.not_yet:
            return self.not_yet
        lines = [_line(band) for band in self.bands] or ["No band is in service."]
        if self.bands:
            lines.insert(0, HEAD)
        lines += [f"{band.band}: {band.change.said}" for band in self.bands if band.change]
        lines += [f"{band}: in service, no cut logged yet" for band in self.without_cuts]
        lines += ["", *self.warnings, *(f"ALARM {alarm}" for alarm in ringing)]
        lines += [] if ringing else ["No alarm rings now."]
        lines += [f"earlier: {text}" for text in self.earlier()]
        return "\n".join([*lines, *self.past(), self.rule_in_words()])


def watch(
    fit: Fit,
    study: Study,
    false_alarm_every: float = FALSE_ALARM_EVERY,
    seed: int = SEED,
    cuts: pd.DataFrame | None = None,
) -> Watch:
    """The watch over a study's bands and machines. Intervals are 80 %; `seed` fixes their draws.

    cuts : study.cut_table of the study, where it is at hand
    """
    from bandtrial.study import band_table, cut_table

    cuts, bands = cut_table(study) if cuts is None else cuts, band_table(study)
    in_service = dict.fromkeys(bands.loc[bands["end"] == "in_service", "band"])
    try:
        trust = must_carry(fit)
    except NotYet as no:
        return Watch((), tuple(in_service), (), 0, float(false_alarm_every), not_yet=str(no))
    sawing = cuts[cuts["operation"] == "sawing"]
    rows = readings(fit, sawing)
    rang = tuple(alarms(rows, in_service, false_alarm_every))
    running = [at for at, band in enumerate(fit.rows.bands) if band in in_service]
    used, rates = summary.wear_used_draws(fit, running), summary.band_rate_draws(fit, running)
    own = sawing[sawing["band"].isin(in_service)].groupby("band", sort=False)
    countdown = Countdown(fit, study)
    states = [
        _state(fit, own.get_group(fit.rows.bands[at]), used[:, i], rates[:, i], rang, (countdown, at, seed))
        for i, at in most_worn_first(used, running)
    ]
    lengths = np.concatenate([rows.groupby([kind, "signal"]).size() for kind in ("band", "machine")])
    return Watch(
        tuple(states), tuple(band for band in in_service if band not in fit.rows.bands), rang, len(lengths),
        float(false_alarm_every), by_chance=float(-np.expm1(-lengths / false_alarm_every).sum()), warnings=said(trust),
        score=score(study, sawing, bands, fit),
    )  # fmt: skip


def most_worn_first(used: np.ndarray, running: list[int]) -> list[tuple[int, int]]:
    """(place, number) of the bands in service, whose wear used is `used` (n_draws, bands)."""
    order = np.argsort(-np.median(used, axis=0), kind="stable") if len(running) else ()
    return [(int(i), running[i]) for i in order]


def _state(
    fit: Fit,
    cuts: pd.DataFrame,
    used: np.ndarray,
    rate: np.ndarray,
    rang: tuple[Any, ...],
    counted: tuple[Countdown, int, int],
) -> BandState:
    (countdown, number, seed), last = counted, cuts.iloc[-1]
    names = {name: last[name] for name in ("material", "machine", "stock", "coolant")}
    at = last["band_speed"], last["chip_load"], last["work_thickness"]
    log_tau = fit.log_tau(*at, **names, missed=False)[:, 0]  # what the law misses, the wear used has missed as well
    bends = float(cuts["bend_cycles"][cuts["weld"] == last["weld"]].sum())  # a weld made anew begins anew
    per_piece = last["contact_minutes"] / last["pieces"] * np.exp(rate - log_tau)
    breaks = bends, float(last["bend_cycles"] / last["pieces"]), fit.break_scale, fit.break_shape
    band = forecast.Remaining(used, per_piece, fit.weibull_shape, *breaks)
    rng, area = np.random.default_rng(seed), float((cuts["cut_area"] * cuts["pieces"]).sum())
    left = band.pieces_left(rng)
    left, change = countdown.of(number, last, (used, per_piece, left), area, rng)
    per_cut = max(int(last["pieces"]), 1)
    middle, low, high = countdown.counted(left)
    wear = np.quantile(widened(used, trust_of(fit)), [0.5, 0.1, 0.9])
    return BandState(
        str(last["band"]), str(last["machine"]), str(last["stock"]), str(last["material"]),
        float(last["work_thickness"]), area, per_cut, float(wear[0]), float(wear[1]), float(wear[2]), middle, low, high,
        middle // per_cut, low // per_cut, high // per_cut, band.next_finishes(),
        tuple(a for a in rang if a.kind == "band" and a.name == last["band"]), change, str(last["cut"]),
        int(cuts["pieces"].sum()), float(last["cut_area"]),
    )  # fmt: skip


def _line(band: BandState) -> str:
    wear = f"{band.wear_used:.2f} ({band.wear_used_low:.2f}-{band.wear_used_high:.2f})"
    pieces = f"{band.pieces_left} ({band.pieces_left_low}-{band.pieces_left_high})"
    cuts = f"{band.cuts_left} ({band.cuts_left_low}-{band.cuts_left_high})"
    return f"{band.band:<12}{wear:>22}{pieces:>22}{cuts:>18}{finishes(band.next_finishes):>15}"


def finishes(chance: float) -> str:
    """A chance in words that never say certain.

    >>> finishes(0.9996), finishes(0.957), finishes(0.0003)
    ('over 99.9 %', '96 %', 'under 0.1 %')
    """
    if chance > 0.999:
        return "over 99.9 %"
    if chance < 0.001:
        return "under 0.1 %"
    digits = 1 if chance > 0.99 or chance < 0.01 else 0
    return f"{100 * chance:.{digits}f} %"
