"""`compare`: where the published start fits this shop and where not, per machine and material."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import units, words
from bandtrial.published.tables import CAUTIONS
from bandtrial.recommend import limits as lim
from bandtrial.recommend.chosen import decide
from bandtrial.recommend.job import Job, NotYet, job_of, must_carry, of_draws, said, widened
from bandtrial.recommend.optimise import COARSE_AGES, DRAWS, Scan, Wish, coarse_grid, scan, speed_interval
from bandtrial.recommend.others import PUBLISHED_CHIP, nearest_speed, stops, usual_coolant
from bandtrial.recommend.remarks import check_signals
from bandtrial.recommend.tried import ROUGH_LIFE, Tried, how_little
from bandtrial.recommend.wording import interval, table_html, told
from bandtrial.words import percent

if TYPE_CHECKING:
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


EXTRA = (0.50, 0.30, 0.20, 0.10, 0.05, 0.02, 0.0)
NAN = float("nan")
NEAR = 0.05  # a speed is ruled out if it costs this share more than the best speed


@dataclass(frozen=True)
class Row:
    """Published start against the shop's optimum for one machine and material, at its most common thickness.

    Speeds are true [m/min], chip loads [um], costs [currency/cm2]; low and high are 80 % intervals.
    published_costs_more : expected extra cost of the published start over the optimum, as a share
    at_least_more : share by which it costs more with 90 % probability, nan if not even 0
    dearer_by_5_percent : probability that it costs over 5 % more
    open_low, open_high : speeds that the data can't rule out (all others cost 5 % more with 90 % probability)
    reason : why there is no answer, else empty; grade : "good" or "rough"; warnings : what to read with it
    published_ruled_out : what speaks against the published start; published_unlike : it is so far from all that was
    cut that its cost is a guess
    """

    machine: str
    material: str
    stock: str
    work_thickness: float
    cuts: int
    published_band_speed: float = NAN
    published_reachable: float = NAN
    published_chip_load: float = PUBLISHED_CHIP
    band_speed: float = NAN
    band_speed_low: float = NAN
    band_speed_high: float = NAN
    chip_load: float = NAN
    chip_load_low: float = NAN
    chip_load_high: float = NAN
    cost_per_cm2: float = NAN
    published_cost_per_cm2: float = NAN
    published_costs_more: float = NAN
    published_costs_more_low: float = NAN
    published_costs_more_high: float = NAN
    at_least_more: float = NAN
    dearer_by_5_percent: float = NAN
    open_low: float = NAN
    open_high: float = NAN
    reason: str = ""
    grade: str = "good"
    warnings: tuple[str, ...] = ()
    published_ruled_out: str = ""
    published_unlike: bool = False


@dataclass(frozen=True)
class Comparison:
    """One `Row` per machine and material of the study."""

    rows: tuple[Row, ...]
    system: str
    currency: str

    @property
    def status(self) -> str:
        """How many of the jobs could be judged."""
        judged = sum(not row.reason for row in self.rows)
        return f"{judged} of {len(self.rows)} pairs of machine and material can be judged"

    def to_json(self) -> dict[str, Any]:
        """{"cautions": [...], "comparisons": [one dict per Row]}, in inside units."""
        return {
            "cautions": list(CAUTIONS),
            "comparisons": [words.plain(asdict(row)) for row in self.rows],
        }

    def fields(self) -> list[tuple[str, str, str]]:
        """(label, value, note) of every line."""
        out = [("status", self.status, "")]
        for row in self.rows:
            out += _row_fields(row, self.system)
        return out

    def __str__(self) -> str:
        return told(self.fields())

    def _repr_html_(self) -> str:
        return table_html(self.fields(), "Published start against the shop's own cuts")


def compare(fit: Fit, study: Study) -> Comparison:
    """Published band speed and chip load against the shop's optimum, and what the data can exclude."""
    cuts = fit.data
    use = (cuts["operation"] == "sawing") & (cuts["exclude"] == "")
    pairs = cuts[use].groupby(["machine", "material"], sort=False)
    rows = [_row(fit, study, machine, material, group) for (machine, material), group in pairs]
    return Comparison(tuple(rows), study.units, study.currency)


def _row(fit: Any, study: Any, machine: Any, material: Any, cuts: Any) -> Row:
    stock = str(cuts["stock"].mode().iloc[0])
    thickness = float(cuts["work_thickness"].mode().iloc[0])
    row = Row(machine, material, stock, thickness, len(cuts))
    try:
        job = job_of(study, machine, stock, material, thickness, usual_coolant(cuts, machine, material))
        reachable = nearest_speed(job, job.published_speed)
        row = replace(row, published_band_speed=job.published_speed, published_reachable=reachable)
        return replace(row, **judge(fit, study, job))
    except NotYet as no:
        return replace(row, reason=no.reason)


def judge(fit: Fit, study: Study, job: Job) -> dict[str, Any]:
    """The judged part of a Row: the setting recommended, what the published start costs, which speeds are open."""
    trust = must_carry(fit)
    check_signals(fit, job, Wish())
    decision, few = decide(fit, study, job, Wish()), fit.thinned(DRAWS)
    chosen, region = decision.chosen, decision.region
    V, bite, s = chosen.V, chosen.bite, chosen.scan
    start = chosen.places["published"]
    own, published = s.loss[:, chosen.at].min(axis=1), s.loss[:, start, -1]
    ratio = widened(published / own, trust) - 1
    low, high = speed_interval(decision.coarse)
    fresh = lim.chip_loads(few, job, np.array([V]), np.array([bite]), wear_used=0.0)
    ends = _chip_interval(few, job, decision.coarse)
    sure = [x for x in EXTRA if np.mean(ratio > x) >= lim.SURE]
    open_speeds = _open(few, job, region, decision.wish, V, bite)
    unknown = decision.life_spread > ROUGH_LIFE
    middle = np.median if decision.wish.typical else np.mean
    more = of_draws(ratio, decision.wish.typical)
    return {
        "band_speed": V,
        "band_speed_low": min(low, V),
        "band_speed_high": max(high, V),
        "chip_load": float(np.median(fresh)),
        "chip_load_low": min(ends[0], float(np.median(fresh))),
        "chip_load_high": max(ends[1], float(np.median(fresh))),
        "cost_per_cm2": float(middle(own)),
        "published_cost_per_cm2": float(middle(published)),
        "published_costs_more": more.value,
        "published_costs_more_low": more.low,
        "published_costs_more_high": more.high,
        "published_unlike": region.unlike(job, float(s.V[start]), float(s.bite[start])),
        "at_least_more": sure[0] if sure else NAN,
        "dearer_by_5_percent": float(np.mean(ratio > 0.05)),
        "open_low": open_speeds[0],
        "open_high": open_speeds[1],
        "grade": "rough" if trust.grade != "good" or unknown or not decision.sure else "good",
        "warnings": (*said(trust), *([how_little(fit, job, region)] if unknown else [])),
        "published_ruled_out": stops(job, region, chosen, "lowest-cost")["published_start"].said,
    }


def _chip_interval(fit: Fit, job: Job, coarse: Scan) -> Any:
    """80 % interval of the chip load each draw by itself would choose [um]."""
    loss = np.where(coarse.usable[None], coarse.loss, np.inf).min(axis=2)
    at = np.argmin(loss, axis=1)
    chosen, back = np.unique(at, return_inverse=True)
    h = np.median(lim.chip_loads(fit, job, coarse.V[chosen], coarse.bite[chosen], 0.0), axis=0)
    return tuple(float(q) for q in np.quantile(h[back], [0.1, 0.9]))


def _open(fit: Fit, job: Job, region: Tried, wish: Wish, V: float, bite: float) -> tuple[float, float]:
    """Least and greatest speed at which it is not 90 % sure that it costs 5 % more than the best speed.

    Of the speeds near those tried that hold every limit, and the one recommended, all at its bite, each with its own
    best change-out.
    """
    speeds, _ = coarse_grid(job, region, speeds=17)
    limits = lim.figures(fit, job, region, speeds, np.full(len(speeds), bite))
    holds = [f.holds for f in limits if f.kind in ("machine", "chance")]
    speeds = np.append(speeds[np.all(holds, axis=0)], V)
    s = scan(fit, job, wish, speeds, np.full(len(speeds), bite), COARSE_AGES)
    loss = s.loss.min(axis=2)
    dear = np.mean(loss > (1 + NEAR) * loss.min(axis=1, keepdims=True), axis=0)
    left = np.append(speeds[dear < lim.SURE], V)
    return float(left.min()), float(left.max())


def _row_fields(row: Row, system: str) -> list[tuple[str, str, str]]:
    name = f"{row.material} on {row.machine}"
    start = units.show(row.published_band_speed, "speed", system)
    start += f", chip load {units.show(row.published_chip_load, 'chip_load', system)}"
    if row.reason:
        return [(name, f"published start {start}", f"not yet: {row.reason}")]
    speed = interval(row.band_speed, row.band_speed_low, row.band_speed_high, "speed", system)
    chip = interval(row.chip_load, row.chip_load_low, row.chip_load_high, "chip_load", system)
    more, sure = _costs_more(row)
    ruled = (
        f"speeds not ruled out: {units.show(row.open_low, 'speed', system)} to "
        f"{units.show(row.open_high, 'speed', system)}"
    )
    return [
        (
            name,
            f"published start {start}; the shop's best speed {speed}, chip load {chip}",
            words.count(row.cuts, "cut"),
        ),
        ("", more, sure),
        ("", ruled, f"the published start: {row.published_ruled_out}"),
        *(("", f"rough: {text}", "") for text in row.warnings),
    ]


def _costs_more(row: Row) -> tuple[str, str]:
    """What the published start costs beside the shop's best, and how sure that is."""
    if row.published_unlike:
        return "what the published start would cost no cut tells", "it is far from all that was cut"
    shares = row.published_costs_more, row.published_costs_more_low, row.published_costs_more_high
    if row.at_least_more == row.at_least_more:
        sure = f"at least {100 * row.at_least_more:.0f} % more with 90 % probability"
    else:
        sure = "not surely dearer"
    sure += f"; over 5 % more with {percent(row.dearer_by_5_percent)} probability"
    return f"published costs {more_or_less(*shares)}", sure


def more_or_less(value: float, low: float, high: float) -> str:
    """A share more or less, in its interval.

    >>> more_or_less(0.3, 0.15, 0.41), more_or_less(-0.1, -0.2, -0.05), more_or_less(0.18, -0.28, 0.88)
    ('30 % more (80 %: 15 to 41)', '10 % less (80 %: 5 to 20)', '18 % more (80 %: 28 % less to 88 % more)')
    """
    said = [f"{abs(100 * x):.0f} % {'more' if x >= 0 else 'less'}" for x in (value, low, high)]
    if low < 0 < high:
        return f"{said[0]} (80 %: {said[1]} to {said[2]})"
    least, most = sorted(abs(100 * x) for x in (low, high))
    return f"{said[0]} (80 %: {least:.0f} to {most:.0f})"
