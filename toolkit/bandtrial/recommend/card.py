"""The figures of the card: a setting in pieces, seconds and money, what it saves, and by what sign a band comes off.

Differences are taken draw by draw between settings of the same draws, so that a saving has a range of its own.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import sawing
from bandtrial.recommend import limits as lim
from bandtrial.recommend.job import Job, Value, as_value, of_differences
from bandtrial.recommend.longrun import names
from bandtrial.recommend.optimise import scan, to_the_end
from bandtrial.recommend.others import beyond, binding, ruled_out
from bandtrial.recommend.tried import Piece, piece_of
from bandtrial.study.columns import COLUMNS
from bandtrial.wear.signals import BY_FEED, SIGNALS

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.wear.fit import Fit
    from bandtrial.wear.trust import Trust


SLOWEST = 3.0  # time of a piece over a new band's beyond which no shop runs one on; common practice, no source
AS_NOW, AS_NOW_BY_HAND = 0.03, 0.06  # shares by which dial and feed may differ and be the same setting; our choice
MORE = 1.1
"""Factor of what "10 % more" says."""
AGES = 24


@dataclass(frozen=True)
class Beside:
    """A setting the choice is held against: indicated [m/min], feed [mm/min or N], pieces per band, seconds and cost of
    a piece, as in `Card`; saved : by the choice per piece; fewer : bands saved per piece; surely : chance that it saves
    at all; unlike : it is so far from all that was cut that its figures are a guess; dials_as_now : those of the choice
    are where they are there, as far as a dial, a knob or a stopwatch tell."""

    name: str
    indicated: float
    feed: float
    pieces: Value
    seconds: Value
    cost: Value
    saved: Value
    fewer: Value
    surely: float
    unlike: bool = False
    dials_as_now: bool = False


@dataclass(frozen=True)
class Step:
    """What MORE speed or feed does, the other dial left alone: factors of pieces per band and seconds per piece, extra
    cost per piece; stopped_by : the limit against it, or "", and `why` it is, in words; beyond : see `Card`."""

    name: str
    indicated: float
    feed: float
    pieces: Value
    seconds: Value
    dearer: Value
    stopped_by: str
    why: str
    beyond: str


@dataclass(frozen=True)
class Sign:
    """A reading that tells when a band is used up: with a new band, and at the change-out; inside units. kind : of the
    quantity, for its unit. `slower` has factors of a new band's time."""

    signal: str
    kind: str
    fresh: float
    end: float


@dataclass(frozen=True)
class Card:
    """Figures of the card for one recommendation; words are in `card_words`.

    seconds, cost, pieces : of a piece, and pieces per band: the inverse of the mean of bands per piece, which is what
    the cost is made of; parts : of the cost, by time, band, change and lost pieces, adding up to it; beyond : how far
    it is beyond what was tried, in words; speeds : on the dial that may be as good [m/min]; gains : money saved a piece
    against now by speed, feed and change-out; longest : most area that a band of this stock has sawn [cm2];
    deviation_limit [mm] or None; fresh_seconds : of a piece with a new band
    """

    piece: Piece
    seconds: Value
    cost: Value
    pieces: Value
    parts: dict[str, float]
    beyond: str
    speeds: tuple[float, float]
    beside: dict[str, Beside]
    gains: dict[str, float]
    more: tuple[Step, ...]
    signs: tuple[Sign, ...]
    longest: float
    deviation_limit: float | None = None
    deviation_held: bool = True
    pieces_per_month: float | None = None
    fresh_seconds: float = float("nan")

    def to_json(self) -> dict[str, Any]:
        """Plain types."""
        return asdict(self)


def card_of(fit: Fit, job: Job, decision: Any, trust: Trust, speed: Value, square: Any, per_month: Any) -> Card:
    """The card of a decision.

    fit : the draws that the decision's last scan was made with; speed : true, that may be as good [m/min]
    square : greatest deviation asked for [mm] or None, and whether it is held; per_month : ("pieces" or "area", amount)
    """
    chosen, rough = decision.chosen, not decision.life_known
    piece, value = piece_of(fit.data, job), partial(as_value, trust=trust, rough=rough)
    at, age, run = chosen.at, chosen.age, chosen.scan.run
    costs = run.cost(job.prices)

    def per_band(area: Any) -> Value:
        bands = value(piece.area / area)
        return Value(1 / bands.value, 1 / bands.high, 1 / bands.low)

    def against(name: str, i: int) -> Beside:
        end = costs.shape[2] - 1
        saved = (costs[:, i, end] - costs[:, at, age]) * piece.area
        fewer = piece.area / run.area[:, i, end] - piece.area / run.area[:, at, age]
        V, bite = float(chosen.scan.V[i]), float(chosen.scan.bite[i])
        return Beside(
            name, float(job.machine.indicated_speed(V)), float(job.feed_of(V, bite)),
            per_band(run.area[:, i, end]), value(60 * piece.area * run.minutes[:, i, end] / run.area[:, i, end]),
            value(costs[:, i, end] * piece.area),
            of_differences(saved, trust, rough), of_differences(fewer, trust, rough), float(np.mean(saved > 0)),
            decision.region.unlike(job, V, bite), alike(job, (V, bite), (chosen.V, chosen.bite)),
        )  # fmt: skip

    area, cost = run.area[:, at, age], value(costs[:, at, age] * piece.area)
    seconds = value(60 * piece.area * run.minutes[:, at, age] / area)
    more, gains = _turned(fit, job, decision, trust, piece)
    return Card(
        piece, seconds, cost, per_band(area),
        _parts(run, at, age, job, seconds, cost), beyond(job, decision.region, chosen.V, chosen.bite),
        (float(job.machine.indicated_speed(speed.low)), float(job.machine.indicated_speed(speed.high))),
        {name: against(name, i) for name, i in chosen.places.items() if (i, costs.shape[2] - 1) != (at, age)}, gains,
        more, signs_of(fit, job, chosen), longest(fit.data, job), square[0], square[1], _month(per_month, piece),
        60 * piece.travel / _fresh_feed(fit, job, chosen),
    )  # fmt: skip


def _parts(run: Any, at: int, age: int, job: Job, seconds: Value, cost: Value) -> dict[str, float]:
    """Parts of the cost of a piece: the time, and the rest in the shares that it has on average."""
    area, prices = run.area[:, at, age], job.prices
    change, lost = prices.per_minute * prices.change_minutes, prices.scrapped_piece * run.ended[:, at, age]
    shares = {name: float(np.mean(spent / area)) for name, spent in
              {"band": prices.band, "change": change, "lost": lost}.items()}  # fmt: skip
    time, every = prices.per_minute * seconds.value / 60, sum(shares.values()) or 1.0
    return {"time": time} | {name: (cost.value - time) * share / every for name, share in shares.items()}


def alike(job: Job, one: tuple[float, float], other: tuple[float, float]) -> bool:
    """Whether two settings (band speed, bite) are one to whoever sets them: by hand the pace strays more."""
    feeds = (float(job.feed_of(*setting)) for setting in (one, other))
    far = AS_NOW_BY_HAND if job.feed == "hand" else AS_NOW
    return bool(abs(one[0] / other[0] - 1) < AS_NOW and abs(next(feeds) / next(feeds) - 1) < far)


def _fresh_feed(fit: Fit, job: Job, chosen: Any) -> float:
    """Feed rate of a new band at the setting chosen [mm/min]."""
    h = np.median(lim.chip_loads(fit, job, np.array([chosen.V]), np.array([chosen.bite]), wear_used=0.0))
    return float(sawing.feed_rate(chosen.V, h, job.stock.tooth_spacing))


def _month(per_month: tuple[str, float | None], piece: Piece) -> float | None:
    kind, amount = per_month
    return amount / piece.area if amount and kind == "area" else amount


def longest(cuts: pd.DataFrame, job: Job) -> float:
    """Most area sawn by one band of the job's stock, in whatever it sawed [cm2]."""
    mine = cuts["stock"].to_numpy() == job.stock.id
    area = (cuts["cut_area"].to_numpy(float) * cuts["pieces"].to_numpy(float))[mine]
    _, band = np.unique(cuts["band"].to_numpy()[mine].astype(str), return_inverse=True)
    return float(np.nanmax(np.bincount(band, weights=np.nan_to_num(area)), initial=0.0))


def _turned(fit: Fit, job: Job, decision: Any, trust: Trust, piece: Piece) -> tuple[tuple[Step, ...], dict[str, float]]:
    """What MORE speed and MORE feed do; and the saving against now by dial: the mean over both orders in which speed
    and feed can be turned (Shapley, A value for n-person games, 1953), the rest being the change-out."""
    chosen, rough = decision.chosen, not decision.life_known
    V, feed = chosen.V, float(job.feed_of(chosen.V, chosen.bite))
    dials = [(V, feed), (V * MORE, feed), (V, feed * MORE)]
    if "now" in chosen.places:
        i = chosen.places["now"]
        was = float(chosen.scan.V[i]), float(job.feed_of(chosen.scan.V[i], chosen.scan.bite[i]))
        dials += [was, (V, was[1]), (was[0], feed)]
    speeds = np.array([v for v, _ in dials])
    feeds = np.array([float(job.bite_of(v, f)) for v, f in dials])
    found = scan(fit, job, decision.wish, speeds, feeds, AGES)
    figures = list(lim.figures(fit, job, decision.region, speeds, feeds))
    area, cost = found.run.area, found.run.cost(job.prices)
    ages = [to_the_end(found.expected[i]) for i in range(3)]

    def step(i: int, name: str) -> Step:
        a, b = (slice(None), i, ages[i]), (slice(None), 0, ages[0])
        pace = found.run.minutes[a] / area[a] * area[b] / found.run.minutes[b]
        pieces = as_value(area[a] / area[b], trust, rough)
        mean = pieces.value if rough else np.mean(1 / area[b]) / np.mean(1 / area[a])  # as `Card` reckons pieces
        limit, at = binding(found, figures, i), (float(speeds[i]), float(feeds[i]))
        return Step(
            name, float(job.machine.indicated_speed(speeds[i])), dials[i][1],
            replace(pieces, value=float(np.clip(mean, pieces.low, pieces.high))),
            as_value(pace, trust, rough), of_differences((cost[a] - cost[b]) * piece.area, trust, rough),
            limit.name if limit else "", ruled_out(job, decision.region, limit, *at) if limit else "",
            beyond(job, decision.region, *at),
        )  # fmt: skip

    more = (step(1, "speed"), step(2, "feed"))
    return more, _shared(decision.wish.expected(cost) * piece.area, ages[0]) if len(dials) > 3 else {}


def _shared(cost: Any, age: int) -> dict[str, float]:
    """Saving by speed, feed and change-out from expected costs (6, J): chosen, 2 others, now, speed and feed turned."""
    end = cost[:, -1]
    speed = 0.5 * (end[3] - end[4] + end[5] - end[0])
    feed = 0.5 * (end[3] - end[5] + end[4] - end[0])
    return {"speed": float(speed), "feed": float(feed), "change": float(end[0] - cost[0, age])}


def signs_of(fit: Fit, job: Job, chosen: Any) -> tuple[Sign, ...]:
    """What a reading is foretold to be with a new band, and at the wear at which this one comes off (at most 1): or the
    level at which the shop takes its bands off."""
    end = np.median(np.minimum(np.exp(np.minimum(chosen.scan.run.log_wear[:, chosen.at, chosen.age], 5.0)), 1.0))
    wear, V = np.array([0.0, float(end)]), np.array([chosen.V])
    h = np.median(np.concatenate([lim.chip_loads(fit, job, V, np.array([chosen.bite]), w) for w in wear], 1), axis=0)
    found, own = [], dict((*job.machine.levels, *job.stock.levels))
    for signal in SIGNALS:
        read = signal.at_the_saw or signal.name in own
        if signal.name in fit.signals and signal.name in BY_FEED[job.feed] and read and not signal.inverse:
            of = {"wear_used": wear, **names(job)}
            fresh, last = np.median(fit.signal(signal.name, chosen.V, h, job.thickness, **of), axis=0)
            last = own.get(signal.name, last)
            found.append(Sign(signal.name, COLUMNS[signal.column].kind, float(fresh), float(last)))
    if job.feed == "force":
        found.append(Sign("slower", "number", 1.0, float(own.get("cut_time", min(h[0] / h[1], SLOWEST)))))
    return tuple(found)
