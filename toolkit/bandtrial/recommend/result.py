"""What a recommendation says: settings, what they give, how sure, under which limits; and the sign to look for: the
reading at which a band is taken off.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any

from bandtrial import units, words
from bandtrial.published.tables import CAUTIONS
from bandtrial.recommend.job import Value
from bandtrial.study.columns import COLUMNS
from bandtrial.wear.signals import BY_NAME, in_words

from . import wording
from .card_words import lines
from .limits import Limit

if TYPE_CHECKING:
    from bandtrial.trials.plan import Plan

CUT_TIME = "cut_time"
"""What a signal of the chip load is read as: the time of a piece."""


def kind(reading: str) -> str:
    """Kind of quantity of a reading, as `units` has it.

    >>> kind("motor_power"), unit("cut_time")
    ('power', 'min')
    """
    return COLUMNS[BY_NAME[reading].column].kind


def unit(reading: str) -> str:
    """Inside unit of a reading."""
    return "min" if reading == CUT_TIME else BY_NAME[reading].unit


@dataclass(frozen=True)
class Sign:
    """When to take a band off by what is read at the saw, and what that gives.

    reading: motor_power [W], feed_force [N], deviation [mm] or cut_time [min per piece]; limit, fresh: at which to
    change, and that of a new band; in_a_row: cuts running that are over it; after [cm2]: or when so much is sawn;
    area [cm2], minutes of cutting and pieces that a band gives until it is changed or ends; ended: share of the bands
    that end before; saves_to_end, saves_after: share of the cost saved against running bands to the end, and against
    changing after the best area (best_after [cm2], None: the end); surely: probability that it is no dearer than both;
    pays: "sign", "after" or "end"; piece [cm2], known: whether it was ever cut.
    """

    reading: str
    limit: float
    fresh: float
    in_a_row: int
    after: float | None
    area: Value
    minutes: Value
    pieces: Value
    ended: float
    saves_to_end: Value
    saves_after: Value
    best_after: float | None
    surely: float
    pays: str
    piece: float
    known: bool

    @property
    def saves(self) -> Value:
        """Against the cheaper of the other two ways."""
        return min(self.saves_to_end, self.saves_after, key=lambda value: value.value)

    def to_json(self) -> dict[str, Any]:
        """Keys of `sign_to_look_for` in `recommend --json`: `_low` and `_high` bound 80 % intervals."""
        out: dict[str, Any] = {"unit": unit(self.reading)}
        for name in (one.name for one in fields(self)):
            value = getattr(self, name)
            if isinstance(value, Value):
                out |= {name: value.value, f"{name}_low": value.low, f"{name}_high": value.high}
            else:
                out[name] = value
        return out

    def parts(self, system: str) -> tuple[str, str, str]:
        """What is read, over how much, and in how many cuts.

        >>> shown(950.0, "motor_power", "metric"), shown(1.4333, "cut_time", "us"), shown(12.3, "cut_time", "us")
        ('950 W', '86 s', '12.3 min')
        """
        running = "in one cut" if self.in_a_row == 1 else f"in {self.in_a_row} cuts running"
        if self.reading == CUT_TIME and not self.known:
            return "a piece takes over", f"{self.limit / self.fresh:.2g} times a new band's time", running
        limit, fresh = (shown(value, self.reading, system) for value in (self.limit, self.fresh))
        what = "a piece takes over" if self.reading == CUT_TIME else f"{in_words(self.reading)} is over"
        return what, limit, f"{running} (new band: {fresh})"

    def look(self, system: str) -> str:
        """The sign itself."""
        what, limit, rest = self.parts(system)
        return f"{what} {limit}, {rest}"

    def said(self, system: str) -> tuple[str, str]:
        """The sign and what it is worth; where it does not pay, that, and what was tried."""
        if self.pays != "sign":
            return "none that pays", f"{self.look(system)}: {self.worth()}"
        return self.look(system), f"{self.until()}; {self.worth()}"

    def until(self) -> str:
        """How long a band lasts until then, in pieces and minutes of cutting."""
        minutes = f"about {rough(self.minutes.value)} min of cutting"
        if not self.known:
            return minutes
        low, high = (rough(value) for value in (self.pieces.low, self.pieces.high))
        return f"about {rough(self.pieces.value)} pieces ({low} to {high}), {minutes}"

    def worth(self) -> str:
        """Which of the three ways pays, and by how much."""
        other = self.other()
        if self.pays != "sign":
            return f"changing by it saves nothing against {other}"
        low, high = 100 * self.saves.low, 100 * self.saves.high
        return f"saves {100 * self.saves.value:.1f} % (80 %: {low:.1f} to {high:.1f}) against {other}"

    def other(self) -> str:
        """The cheaper of the other two ways."""
        return "running to the end" if self.saves is self.saves_to_end else "changing after a set area"


def shown(value: float, reading: str, system: str) -> str:
    """A reading as it is read."""
    if reading != CUT_TIME:
        return units.show(value, kind(reading), system)
    return f"{60 * value:.0f} s" if value < 3 else f"{words.shown(value)} min"


def rough(value: float) -> str:
    """A count to two figures.

    >>> rough(1234.0), rough(7.4)
    ('1,200', '7')
    """
    return f"{float(f'{value:.2g}'):,.0f}"


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
        return f"{self.status}; none was given for squareness" if missing else self.status

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
