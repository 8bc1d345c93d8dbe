"""What a recommendation says: settings, what they give, how sure, under which limits."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from bandtrial.published.tables import CAUTIONS
from bandtrial.recommend.job import Value

from . import wording
from .card_words import lines
from .limits import Limit

if TYPE_CHECKING:
    from bandtrial.trials.plan import Plan

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
