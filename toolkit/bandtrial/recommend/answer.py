"""`recommend`: the setting for a job, what it gives, how sure, under which limits, and what it is compared with."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, NamedTuple, TypedDict, Unpack

import numpy as np

from bandtrial import units
from bandtrial.published.tables import CAUTIONS
from bandtrial.recommend.card import card_of
from bandtrial.recommend.chosen import Chosen, Decision, decide
from bandtrial.recommend.condition import sign_to_look_for
from bandtrial.recommend.job import Job, NotYet, Value, as_value, must_carry
from bandtrial.recommend.limits import chip_loads
from bandtrial.recommend.optimise import DRAWS, Wish, speed_interval, trade_off
from bandtrial.recommend.others import PUBLISHED_CHIP, job_asked, stay, stops
from bandtrial.recommend.remarks import check_signals, grade, next_step, nothing_cut, telling_cut, warnings
from bandtrial.recommend.rounding import all_limits
from bandtrial.recommend.tried import rows_of
from bandtrial.recommend.wording import NEAREST

from . import wording
from .card_words import lines
from .limits import Limit

if TYPE_CHECKING:
    from bandtrial.study.model import Study
    from bandtrial.trials.plan import Plan
    from bandtrial.wear.fit import Fit
    from bandtrial.wear.trust import Trust

LIKELY = 0.5
"""Probability that a limit holds below which its setting is not to be used."""


@dataclass(frozen=True)
class Setting:
    """One setting and what it gives in the long run.

    band_speed true, indicated [m/min]; feed: rate [mm/min] or force [N]; chip_load of a new band [um];
    change_after [cm2] or None: run to the end; cost [currency/cm2], life [cm2 per band], rate [cm2/min];
    beaten_by: probability that the recommendation costs less (or gives more) than this
    """

    name: str
    band_speed: float
    indicated: float
    feed: float
    chip_load: float
    change_after: float | None
    cost: Value
    life: Value
    rate: Value
    beaten_by: float | None = None
    note: str = ""


@dataclass(frozen=True)
class Recommendation:
    """A setting for a job, with its limits, its evidence and what it is compared with.

    grade : "good" or "rough"; stops : what speaks against the next faster and heavier setting and the published start
    (`stops.Stop`); telling_cut : the run that would tell most, where the answer is rough; sign : the reading at which
    to change the band (`sign.Sign`), None where none is read; card : `card.Card`
    """

    job: Any = field(repr=False)
    goal: str
    setting: Setting
    speed: Value
    published_band_speed: float
    limits: tuple[Limit, ...]
    evidence: dict[str, Any]
    warnings: tuple[str, ...]
    table: tuple[Setting, ...]
    curve: tuple[dict[str, Any], ...]
    rounding_cost: float
    continuous: tuple[float, float]
    next_step: str = ""
    grade: str = "good"
    stops: dict[str, Any] = field(default_factory=dict[str, Any])
    telling_cut: Any = None
    sign: Any = None
    card: Any = field(default=None, repr=False)

    @property
    def status(self) -> str:
        """First line of every display: may it be used, and how far can it be relied on."""
        broken = [limit for limit in self.limits if not limit.ok]
        if any(limit.probability < LIKELY for limit in broken):
            return "DO NOT USE: " + ", ".join(limit.name for limit in broken) + " broken"
        if self.grade == "rough":
            return "USE WITH CARE: the best of what was tried, known only roughly; read the warnings"
        return "USE WITH CARE: read the warnings" if self.warnings else "READY: every limit holds"

    @property
    def head(self) -> str:
        """The status, and that it speaks of no squareness where that was logged and no limit was given."""
        square = [sign for sign in self.card.signs if sign.signal == "deviation"] if self.card else []
        missing = square and self.card.deviation_limit is None and self.status.startswith("READY")
        return "READY but for squareness, which has no limit set; every other limit holds" if missing else self.status

    def to_json(self) -> dict[str, Any]:
        """The keys of `bandtrial recommend --json`, in inside units."""
        s, feed = self.setting, "feed_force_n" if self.job.feed == "force" else "feed_rate_mm_min"
        out = {
            "band_speed_m_min": s.band_speed,
            "indicated_band_speed_m_min": s.indicated,
            feed: s.feed,
            "chip_load_um": s.chip_load,
            "teeth_in_cut": self.job.teeth,
            "change_band_after_cm2": s.change_after,
        }
        triples = {"cutting_rate_cm2_min": s.rate, "band_life_cm2": s.life, "cost_per_cm2": s.cost}
        out |= {name: v.value for name, v in triples.items()}
        for name, v in {"band_speed_m_min": self.speed, **triples}.items():
            out |= {f"{name}_low": v.low, f"{name}_high": v.high}
        lines = {line.key: line.text for line in self.card_lines()}
        lines |= {"more_speed": lines["faster"], "more_feed": lines["heavier"]}  # as they were called
        return out | {
            "published_band_speed_m_min": self.published_band_speed,
            "limits": [limit.to_json() for limit in self.limits],
            "evidence": dict(self.evidence),
            "warnings": list(self.warnings),
            "grade": self.grade,
            "stops": {name: stop.to_json() for name, stop in self.stops.items()},
            "cautions": list(CAUTIONS),
            "card": self.card.to_json() | {"lines": lines},
            "telling_cut": self.telling_cut.to_json(feed) if self.telling_cut else None,
            "sign_to_look_for": self.sign.to_json() if self.sign else None,
        }

    def fields(self) -> list[tuple[str, str, str]]:
        """(label, value, note) of every line behind the fold; the one list behind text and HTML."""
        return wording.fields(self)

    def card_lines(self, plan: Plan | None = None) -> list[Any]:
        """What is read first (`card_words.Line`), with the next trial where a `plan` is given."""
        return lines(self, plan)

    def __str__(self) -> str:
        return wording.as_text(self)

    def _repr_html_(self) -> str:
        return wording.as_html(self)


class Wishes(TypedDict, total=False):
    """What may be asked of a setting beside its job."""

    goal: str
    """lowest-cost (if not given) or highest-output"""
    deviation: float | None
    """Greatest deviation of a cut [mm]; by default `deviation_at_most` of the material, as far as settings tried can
    hold it"""
    life_at_least: float | None
    """Least mean area per band [cm2]"""
    coolant: str | None
    """flood, mist, air or dry; what the shop used most by default"""
    per_month: tuple[str, float | None] | None
    """How much of this work there is, ("pieces", number) or ("area", cm2); the material's `pieces_per_month` by default
    """


class Case(NamedTuple):
    """A job with what was decided for it, and how far the fit it rests on is trusted."""

    fit: Fit
    job: Job
    decision: Decision
    trust: Trust


def recommend(
    fit: Any, study: Any, machine: str, stock: str, material: str, thickness_mm: float, **wishes: Unpack[Wishes]
) -> Recommendation:
    """The setting (speed, feed, change-out) of least expected long-run cost or greatest output, in limits.

    The expectation runs over posterior draws and over the scatter from band to band; see `longrun`. Where little is
    known the answer is rough and says so; it is refused only where nothing of the job was cut, where what was cut broke
    a limit, or where a wish can't be met.

    fit : posterior draws of `wear.fit` on the study, None where it has no cut
    thickness_mm : work thickness [mm]; wishes : `Wishes`, each by its name

    Raises ValueError for a name that is not in the study, NotYet where the study can't support an answer.
    """
    goal, per_month = wishes.get("goal", "lowest-cost"), wishes.get("per_month")
    wish = Wish(goal, wishes.get("deviation"), wishes.get("life_at_least"))
    job = _asked(fit, study, (machine, stock, material), thickness_mm, wishes.get("coolant"))
    trust = must_carry(fit, stay=f"{stay(fit.data, job)}.")
    check_signals(fit, job, wish)
    decision, wish, lost = decide_square(fit, study, job, wish)
    few, region, chosen = fit.thinned(DRAWS), decision.region, decision.chosen
    limits = tuple(all_limits(few, job, wish, chosen))
    known = grade(trust, decision, limits)
    case = Case(few, job, decision, trust)
    setting = as_setting(case, "recommended", chosen.at, chosen.age)
    low, high = speed_interval(decision.coarse)
    speed = _about(chosen.V, low, high, trust.widen)
    square = (wish.deviation or job.material.deviation_at_most, not lost)
    month = per_month if per_month and per_month[1] else ("pieces", job.material.pieces_per_month)
    return Recommendation(
        job=job, goal=goal, setting=setting, speed=speed, published_band_speed=job.published_speed, limits=limits,
        evidence=region.evidence, warnings=(*warnings(fit, study, job, decision, trust, limits), *lost),
        table=(*compared(case), setting), curve=tuple(trade_off(decision.coarse, job, decision.wish)),
        rounding_cost=max(0.0, chosen.rounding), continuous=chosen.exact,
        next_step=next_step(job, region, chosen.V, chosen.bite), grade=known, stops=stops(job, region, chosen, goal),
        telling_cut=telling_cut(fit, study, job) if known == "rough" else None,
        sign=sign_to_look_for(fit, job, decision.wish, chosen.V, chosen.bite, _latest(chosen, decision.wish)),
        card=card_of(few, job, decision, trust, speed, square, month),
    )  # fmt: skip


def _asked(fit: Any, study: Any, names: tuple[str, str, str], thickness: float, coolant: str | None) -> Job:
    """The job by its names and thickness, if it can be sawn on the machine and something of it was cut."""
    cuts = None if fit is None else fit.data
    job = job_asked(cuts, study, names, thickness, coolant)
    if cuts is None or not len(rows_of(cuts, job)[0]["band"]):
        raise nothing_cut(fit, study, job)
    return job


def _latest(chosen: Chosen, wish: Wish) -> float:
    """Area [cm2] after which a wish for straight cuts has the band changed at the latest; inf where it has none."""
    ages = chosen.scan.run.age[chosen.at][chosen.scan.usable[chosen.at]]
    whole = not wish.deviation or chosen.scan.usable[chosen.at].all()
    return np.inf if whole else float(ages.max(initial=0.0))


def decide_square(fit: Fit, study: Study, job: Job, wish: Wish) -> tuple[Decision, Wish, tuple[str, ...]]:
    """The decision with the squareness that the material's `deviation_at_most` asks for where no other was asked for
    and deviation was logged; without it, and a warning, where nothing near what was tried holds it."""
    asked = job.material.deviation_at_most
    if wish.deviation is not None or asked is None or "deviation" not in fit.signals:
        return decide(fit, study, job, wish), wish, ()
    square = replace(wish, deviation=asked)
    try:
        return decide(fit, study, job, square), square, ()
    except NotYet:
        decision = decide(fit, study, job, wish)  # what stands in its own way is told from here
    limit = units.show(asked, "length", job.system)
    return decision, wish, (f"nothing near what was tried keeps a cut within {limit} all along, so the setting is the "
                            "best without that limit; take the band off by the reading",)  # fmt: skip


def compared(case: Case) -> Iterator[Setting]:
    """The published start and the shop's own setting, each with the probability that the choice beats it."""
    kinds = (
        (NEAREST, "published", f"{units.show(PUBLISHED_CHIP, 'chip_load', case.job.system)} chip load, run to the end"),
        ("the shop now", "now", "its most used setting, run to the end"),
    )
    chosen = case.decision.chosen
    loss, end = chosen.scan.loss, chosen.scan.loss.shape[2] - 1
    own = loss[:, chosen.at, chosen.age]
    for name, place, note in kinds:
        if place in chosen.places:
            i = chosen.places[place]
            same = (i, end) == (chosen.at, chosen.age)
            note = f"{note}; it is this one" if same else f"this one, {note}" if i == chosen.at else note
            beaten = 0.0 if same else float(np.mean(own < loss[:, i, end]))
            yield as_setting(case, name, i, end, beaten, note)


def as_setting(case: Case, name: str, i: int, j: int, beaten_by: float | None = None, note: str = "") -> Setting:
    """Setting i of those worked out, changed at age j."""
    fit, job, decision, trust = case
    chosen = decision.chosen
    run, end = chosen.scan.run, chosen.scan.loss.shape[2] - 1
    V, bite = float(chosen.scan.V[i]), float(chosen.scan.bite[i])
    fresh = chip_loads(fit, job, np.array([V]), np.array([bite]), wear_used=0.0)
    area, minutes = run.area[:, i, j], run.minutes[:, i, j]

    def value(draws: np.ndarray) -> Value:
        return as_value(draws, trust, not decision.life_known)

    return Setting(
        name=name, band_speed=V, indicated=float(job.machine.indicated_speed(V)), feed=float(job.feed_of(V, bite)),
        chip_load=float(np.median(fresh)), change_after=None if j == end else float(f"{run.age[i, j]:.1e}"),
        cost=value(run.cost(job.prices)[:, i, j]), life=value(area), rate=value(area / minutes), beaten_by=beaten_by,
        note=note,
    )  # fmt: skip


def _about(value: float, low: float, high: float, widen: float) -> Value:
    """A value in its interval, widened on the log scale about the value."""
    low, high = min(low, value), max(high, value)
    return Value(value, value * (low / value) ** widen, value * (high / value) ** widen)
