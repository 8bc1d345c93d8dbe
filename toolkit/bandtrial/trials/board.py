"""The board a plan is laid on: costs of all settings within two steps, bands at hand, runs that could be made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from bandtrial import sawing
from bandtrial.recommend.limits import allowed, chip_loads
from bandtrial.recommend.longrun import evaluate, names
from bandtrial.recommend.optimise import Wish, coarse_grid
from bandtrial.recommend.tried import BROKEN_IN, Tried, life_known

from .run import TRIAL_STEP, extended, features, log_signal, reach, signals, with_first_chips

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.recommend.job import Job
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


DRAWS, AGES = 256, 16
SPACING = 0.1
"""Of the board's settings in log speed and log bite: under half a step, so that a step opens new ones."""
NEW = "new"
KNOWN = 10.0
"""Readings that a band in service has shown its level by, about."""
SOUND = 0.9
"""Probability with which a band has to outlast a run."""
LEAST_CHANCE = 1e-4
"""Added to the variance of whether a band ends: what never happens in the draws tells nothing."""
CLOSE, SOME = 1.03, 0.02
"""A setting is a rival if it costs at most 3 % more than the cheapest in 2 % of the draws."""
DISCREPANCY = 1.0
"""sd of the log life at a setting that readings a log unit away do not tell, whatever the model says; our choice."""


class OnHand(NamedTuple):
    """A band at hand: wear used (S,), log own wear rate (S,), wear used (S,) when its level of each signal was last
    known, and whether it was ever cut with when the plan was begun."""

    used: np.ndarray
    rate: np.ndarray
    known: np.ndarray
    old: bool


@dataclass(frozen=True)
class Board:
    """cost (S, n) of settings V, bite (n,) that may be tried, within two steps of what was.

    choosable (n,) : holds every limit but the step beyond what was tried; fresh (n,) : chip load of a new band [um]
    safe : the tried region and what a first plan would try unseen, for trial cuts
    mounted : the band that is on the machine, "" if none is known
    typical : life is hardly known, so that a setting is judged by the mean of the log of its cost (`optimise.Wish`);
    where a force is set
    """

    fit: Any
    job: Any
    region: Any
    V: np.ndarray
    bite: np.ndarray
    cost: np.ndarray
    life: np.ndarray
    signals: list[Any]
    bands: dict[str, Any]
    choosable: np.ndarray
    fresh: np.ndarray
    safe: Any
    mounted: str = ""
    typical: bool = False

    def open(self, tried: Sequence[Any] = (), step: float | None = None) -> np.ndarray:
        """Settings (n,) that may be chosen once the settings `tried` [(V, bite, chip load)] have been added.

        step : log of how far beyond them, if not what `recommend` allows
        """
        outside = self._outside(
            tried, self.region if step is None else replace(self.safe, step=step * reach(self.region))
        )
        if step is None:
            outside = np.where(self.choosable, outside, np.inf) if self.choosable.any() else outside
        return outside <= max(1.0, float(outside.min())) + 1e-6  # where none is near: the nearest

    def answers(self, tried: Sequence[Any] = ()) -> bool:
        """Whether some setting could be recommended once the settings `tried` have been added."""
        return bool((self.choosable & (self._outside(tried, self.region) <= 1 + 1e-6)).any())

    def _outside(self, tried: Any, region: Tried) -> np.ndarray:
        """How far out the settings (n,) are, as a share of the region's step, once `tried` have been added."""
        for V, bite, h in tried:
            region = extended(region, self.job, V, bite, h)
        outside = region.outside(self.job, self.V, self.bite)
        if self.job.feed != "force":
            return outside
        return np.asarray(np.maximum(outside, np.log(self.fresh / region.heaviest) / region.step[1]))

    @cached_property
    def mean_cost(self) -> np.ndarray:
        """Mean cost of the settings (n,)."""
        return np.asarray(self.cost.mean(axis=0))

    @property
    def best(self) -> int:
        """The setting of least expected cost that may be chosen now."""
        expected = Wish(typical=self.typical).expected(self.cost)
        return int(np.argmin(np.where(self.open(), expected, np.inf)))

    def sparse(self) -> np.ndarray:
        """Every other setting (n,), and the best: enough to choose runs from."""
        i, j = (np.unique(x, return_inverse=True)[1] for x in (self.V, self.bite))
        out = (i + j) % 2 == 0
        out[self.best] = True
        return np.asarray(out)

    def rivals(self) -> np.ndarray:
        """Settings (n,) that some draws hold to be among the cheapest, of all or of those open now."""
        ratio = [self.cost / self.cost[:, some].min(axis=1)[:, None] for some in (self.open(), slice(None))]
        near = [np.mean(r <= CLOSE, axis=0) >= SOME for r in ratio]
        return np.asarray((near[0] & self.open()) | near[1])


@dataclass(frozen=True)
class Options:
    """Runs that could be made: settings of the board at (m,), bands (m,), minutes (m,), cuts (m,), chip load
    (m,) [um], readings shown (S, m, d) and their own noise (m, d), wear used (S, m); by signal the sd of the
    band's own level (m, q); sd of the log wear that the model may be off by (m,); chance that the band ends (m,).

    The last reading of each is whether the band ends in it."""

    at: np.ndarray
    band: np.ndarray
    minutes: np.ndarray
    cuts: np.ndarray
    chip_load: np.ndarray
    shown: np.ndarray
    noise: np.ndarray
    used: np.ndarray
    level: np.ndarray
    away: np.ndarray
    ends: np.ndarray

    @classmethod
    def joined(cls, some: list[Options]) -> Options | None:
        """All of several sets of options, None of none."""
        if not some:
            return None
        axis = {"shown": 1, "used": 1}
        return cls(**{
            f.name: np.concatenate([getattr(one, f.name) for one in some], axis=axis.get(f.name, 0))
            for f in fields(cls)
        })  # fmt: skip


def lay(fit: Fit, study: Study, job: Job, region: Tried, rng: np.random.Generator) -> Board | None:
    """The board of a job; None if no setting near those tried holds the limits."""
    few = fit.thinned(DRAWS)
    safe = with_first_chips(few, job, region)
    wide = replace(safe, step=np.log(TRIAL_STEP) * reach(region) + region.step)
    (slow, fast), (least, most) = wide.window(job)
    V, bite = coarse_grid(job, wide, _points(slow, fast), _points(least, most))
    V, bite = np.repeat(V, len(bite)), np.tile(bite, len(V))
    ok = allowed(few, job, wide, V, bite, trial=True)
    if not ok.any():
        return None
    V, bite = V[ok], bite[ok]
    choosable = allowed(few, job, wide, V, bite)
    run = evaluate(few, job, V, bite, AGES)
    cost = run.cost(job.prices)
    at = np.argmin(cost.mean(axis=0), axis=1)
    pick = (slice(None), np.arange(len(V)), at)
    seen = signals(few, job, job.published_speed * np.exp(region.centre[0]), np.exp(region.centre[1]))
    life, bands = run.area[pick].mean(axis=0), _bands(few, study, job, rng)
    fresh = np.median(chip_loads(few, job, V, bite, BROKEN_IN), axis=0)
    on = mounted(study, job)
    typical = job.feed == "force" and not life_known(fit, job, region)
    return Board(few, job, region, V, bite, cost[pick], life, seen, bands, choosable, fresh, safe, on, typical)


def mounted(study: Study, job: Job) -> str:
    """The band that made the machine's last cut, if it is still in service; "" where there is none."""
    cuts = getattr(study, "cuts", None)
    if cuts is None or not len(cuts):
        return ""
    on = study.bands.loc[(study.bands["machine"] == job.machine.id) & (study.bands["end"] == "in_service"), "band"]
    last = cuts["band"][cuts["band"].isin(set(study.bands.loc[study.bands["machine"] == job.machine.id, "band"]))]
    return str(last.iloc[-1]) if len(last) and last.iloc[-1] in set(on) else ""


def _points(low: float, high: float) -> int:
    return int(np.clip(np.ceil(np.log(high / low) / SPACING), 5, 18))


def options(
    board: Board,
    minutes: float,
    travel: float,
    tried: Sequence[Any] = (),
    only: list[int] | None = None,
    to_the_end: bool = False,
) -> Options | None:
    """Every run of about `minutes` that may be made next; `only` keeps some settings of the board (indices).

    to_the_end : runs in which the band may well end too
    """
    job, fit = board.job, board.fit
    near = board.open(tried, np.log(TRIAL_STEP) + SPACING / 4)
    at = np.flatnonzero(near & board.sparse()) if only is None else np.asarray(only)
    if not len(at):
        return None
    V, bite = board.V[at], board.bite[at]
    h = np.median(chip_loads(fit, job, V, bite, 0.3), axis=0)
    each = sawing.cut_time(travel, sawing.feed_rate(V, h, job.stock.tooth_spacing))
    cuts = np.maximum(1, np.round(minutes / each))
    contact = sawing.contact_minutes(cuts * each, job.thickness, job.machine.band_length)
    per_rate = contact * np.exp(-fit.log_tau(V, h, job.thickness, coolant=job.coolant, **names(job)))
    means = [log_signal(fit, job, s.name, V, bite) for s in board.signals]
    away = DISCREPANCY * np.hypot(np.log(V / board.V[board.best]), np.log(bite / board.bite[board.best]))
    parts = [_on_band(board, band, per_rate, means, cuts) for band in board.bands.values()]
    shown, noise, used, sound = (list(x) for x in zip(*parts, strict=True))
    levels = [[s.noise / KNOWN**0.5 if band.old else s.level for s in board.signals] for band in board.bands.values()]
    survives = np.concatenate(sound)
    keep = np.flatnonzero(survives >= (0.0 if to_the_end else SOUND))
    if not len(keep):
        return None
    at, row = np.tile(at, len(parts))[keep], np.tile(np.arange(len(V)), len(parts))[keep]
    band = np.repeat(np.array(list(board.bands), object), len(V))[keep]
    return Options(
        at=at, band=band, minutes=(cuts * each)[row], cuts=cuts[row].astype(int), chip_load=h[row],
        shown=np.concatenate(shown, axis=1)[:, keep], noise=np.concatenate(noise)[keep],
        used=np.concatenate(used, axis=1)[:, keep], level=np.repeat(np.array(levels), len(V), axis=0)[keep],
        away=away[row], ends=1 - survives[keep],
    )  # fmt: skip


def _on_band(
    board: Board, band: OnHand, per_rate: np.ndarray, means: list[np.ndarray], cuts: pd.DataFrame
) -> tuple[np.ndarray, ...]:
    """Readings, noise, wear used (S, n) and chance to survive (n,) of a run on one band."""
    used = np.exp(band.rate)[:, None] * per_rate
    start, known = (np.broadcast_to(E[:, None], used.shape) for E in (band.used, band.known))
    pieces = [features(s, mean, start, start + used, cuts, known) for s, mean in zip(board.signals, means, strict=True)]
    k = board.fit.weibull_shape[:, None]
    lives = np.exp(np.minimum(start**k - (start + used) ** k, 0.0))
    survives = lives.mean(axis=0)
    pieces.append(((1 - lives)[:, :, None], (survives * (1 - survives) + LEAST_CHANCE)[:, None]))
    shown = np.concatenate([p for p, _ in pieces], axis=2)
    return shown, np.concatenate([r for _, r in pieces], axis=1), used, survives


def cut_on(board: Board, choice: Options, i: int, name: str, rng: np.random.Generator) -> Board:
    """The board once option i has been cut, its band called `name`; a new band lies ready again."""
    bands = dict(board.bands)
    band = bands[choice.band[i]]
    bands[name] = band._replace(used=band.used + choice.used[:, i])
    bands[NEW] = _new(board.fit, rng)
    return replace(board, bands=bands, mounted=name)


def _new(fit: Fit, rng: np.random.Generator) -> OnHand:
    """A new band."""
    none = np.zeros(fit.n_draws)
    return OnHand(none, fit.band_scatter * rng.standard_normal(fit.n_draws), none, False)


def _bands(fit: Fit, study: Study, job: Job, rng: np.random.Generator) -> dict[str, Any]:
    """Bands that may be used, by name; a new one first."""
    out = {NEW: _new(fit, rng)}
    here = study.bands[
        (study.bands["end"] == "in_service")
        & (study.bands["machine"] == job.machine.id)
        & (study.bands["stock"] == job.stock.id)
    ]
    order = list(fit.wear_used()["band"])
    for name in here["band"]:
        if name in order:
            i = order.index(name)
            used = fit.wear_used_draws[:, i]
            out[str(name)] = OnHand(used, fit.band_rate_draws[:, i], used, True)
    return out
