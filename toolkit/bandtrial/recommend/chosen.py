"""The optimum brought to what can be set, worked out together with the settings it is compared with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from bandtrial.recommend.remarks import least_unsure

from .limits import Figure, Limit, allowed, figures
from .optimise import COARSE_AGES, COARSE_DRAWS, DRAWS, Scan, Wish, gated_grid, optimise, scan, to_the_end
from .others import published_setting, shop_now
from .rounding import next_up, round_settings
from .tried import UNSURE_LIFE, Tried, down_to_new_bands, life_spread, tried

if TYPE_CHECKING:
    from bandtrial.recommend.job import Job
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


EQUAL, MOST_EQUAL = 0.003, 0.02
"""Settings whose expected losses differ by less than this share count as equal: what the draws leave open, twice the
standard error of the difference, but between these two; the greater where life is hardly known."""

BESIDE_AGES = 24
MOST_NEAR = 12
"""Round settings worked out with all draws."""


@dataclass(frozen=True)
class Chosen:
    """`scan` of the round settings, the optimum, the published start and the shop's own; `figures` their limits.

    at, age : setting and change-out chosen; rounding : what it costs against the optimum, as a share
    places : where the others stand, by name: published, now; exact : the optimum (band speed [m/min], feed)
    beside : scan and limits of the next faster and the next heavier setting
    """

    scan: Scan
    figures: tuple[Figure, ...]
    at: int
    age: int
    rounding: float
    places: dict[str, int]
    exact: tuple[float, float]
    beside: tuple[Scan, tuple[Figure, ...]]

    @property
    def V(self) -> float:  # noqa: N802
        """True band speed [m/min]."""
        return float(self.scan.V[self.at])

    @property
    def bite(self) -> float:
        """Chip load [um] or force per tooth [N]."""
        return float(self.scan.bite[self.at])

    def limits(self, i: int) -> list[Limit]:
        """The limits of setting i that do not depend on when the band is changed."""
        return [figure.at(i) for figure in self.figures]


@dataclass(frozen=True)
class Decision:
    """What was decided for a job: from which region, over which grid, which setting.

    life_known : well enough to go beyond what was tried; life_spread : sd of its log
    sure : every limit holds with the probability asked
    """

    region: Tried
    wish: Wish
    coarse: Scan
    chosen: Chosen
    life_known: bool
    life_spread: float
    sure: bool


def decide(fit: Fit, study: Study, job: Job, wish: Wish) -> Decision:
    """The setting for a job; NotYet where nothing of it was cut, or what was cut breaks a limit.

    Where life is hardly known the choice stays inside what was tried and weighs all draws alike; where no setting holds
    every limit surely, it is the one of those tried that breaks none as surely as can be.
    """
    region = down_to_new_bands(fit.thinned(DRAWS), job, tried(fit, study, job))
    spread = life_spread(fit, job, region)
    known = spread <= UNSURE_LIFE
    if not known:
        region, wish = region.kept_inside(), replace(wish, typical=True)
    found = optimise(fit, job, region, wish)
    if found is not None:
        coarse, fine = found
        i, _ = fine.best()
        chosen = choose(fit.thinned(DRAWS), job, region, wish, (float(fine.V[i]), float(fine.bite[i])))
        return Decision(region, wish, coarse, chosen, known, spread, True)
    best, age = least_unsure(fit.thinned(DRAWS), fit.data, job, region, wish)
    chosen = choose(fit.thinned(DRAWS), job, region, wish, best, as_is=age)
    free = replace(wish, deviation=None, life_at_least=None)
    coarse = gated_grid(fit.thinned(DRAWS), job, region, free) or chosen.scan
    return Decision(region, wish, coarse, chosen, known, spread, False)


def choose(
    fit: Fit, job: Job, region: Tried, wish: Wish, best: tuple[float, float], as_is: int | None = None
) -> Chosen:
    """The best setting that a dial and a knob can hold near `best` (band speed [m/min], bite).

    Of those that cost the same within what the draws leave open, what the shop runs now, else one inside what was tried
    rather than just beyond it, the roundest, then the nearest to what it runs: so the answer does not turn with the
    draws. as_is : keep `best` itself, changed at this age
    """
    now = shop_now(fit.data, job)
    near = [_near(fit, job, region, wish, at) for at in dict.fromkeys([best, region.brought_back(job, *best)])]
    round_V, round_bite, how_round = (np.concatenate(parts) for parts in zip(*near, strict=True))
    n = len(round_V) if as_is is None else 0
    others = {"published": published_setting(fit, job)} | ({"now": now} if now else {})
    listed = [*zip(round_V[:n], round_bite[:n], strict=True), best, *others.values()]
    V, bite = np.array(listed).T
    s = scan(fit, job, wish, V, bite)
    limits = tuple(figures(fit, job, region, V, bite))
    holds = np.all([f.holds for f in limits if f.kind != "shown"], axis=0)
    loss = np.where(s.usable & holds[:, None], s.expected, np.inf)
    places = {name: n + 1 + k for k, name in enumerate(others)}
    usual = places.get("now") if job.feed != "hand" else None  # a pace by hand strays
    least = MOST_EQUAL if wish.typical else EQUAL
    order = -how_round, region.dials_beyond(job, V, bite)[: len(how_round)]
    at = n if as_is is not None else _roundest(s, loss, n, order, now or (job.published_speed, None), usual, least)
    age = to_the_end(loss[at]) if as_is is None else as_is
    exact = s.expected[n].min() if as_is is None else s.expected[at, age]
    rounding = float(s.expected[at, age] / exact - 1)
    beside = _beside(fit, job, region, wish, float(V[at]), float(bite[at]))
    return Chosen(s, limits, at, age, rounding, places, (best[0], float(job.feed_of(*best))), beside)


def _near(
    fit: Fit, job: Job, region: Tried, wish: Wish, best: tuple[float, float]
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The round settings about `best` that few draws do not show to cost more: band speeds, bites, how round (m,)."""
    V, bite, how_round = round_settings(job, *best)
    few = fit.thinned(COARSE_DRAWS)
    ok = np.flatnonzero(allowed(few, job, region, V, bite))
    if len(ok) <= MOST_NEAR:
        return V[ok], bite[ok], how_round[ok]
    s = scan(few, job, wish, V[ok], bite[ok], COARSE_AGES)
    loss = np.where(s.usable, s.expected, np.inf).min(axis=1)
    near = ok[np.argsort(loss)[:MOST_NEAR]]
    return V[near], bite[near], how_round[near]


def _beside(fit: Fit, job: Job, region: Tried, wish: Wish, V: float, bite: float) -> tuple[Scan, tuple[Figure, ...]]:
    """The next faster setting, at the same feed per tooth, and the next heavier one at the same speed."""
    dial, knob = job.step()
    faster = float(job.machine.true_speed(next_up(float(job.machine.indicated_speed(V)), dial)))
    heavier = float(job.bite_of(V, next_up(float(job.feed_of(V, bite)), knob)))
    at = np.array([faster, V]), np.array([bite, heavier])
    return scan(fit, job, wish, *at, BESIDE_AGES), tuple(figures(fit, job, region, *at))


def _roundest(
    s: Scan,
    loss: np.ndarray,
    n: int,
    order: tuple[np.ndarray, np.ndarray],
    near: tuple[float, float | None],
    usual: int | None,
    tolerance: float,
) -> int:
    """Which of the first n settings, or the `usual` one, to take: see `choose`; n, the optimum itself, where none of
    them is usable; order : keys (n,) of which to take first, the last one before all others; near : band speed [m/min]
    and bite that it should be near."""
    least = loss[: n + 1].min(axis=1)
    if not np.isfinite(least[:n]).any():
        return n
    first, age = (int(k) for k in np.unravel_index(np.argmin(loss[:n]), loss[:n].shape))
    if usual is not None and _as_good(s, loss, usual, first, age, tolerance):
        return usual
    equal = np.array([_as_good(s, loss, i, first, age, tolerance) for i in range(n)])
    away = np.hypot(np.log(s.V[:n] / near[0]), np.log(s.bite[:n] / (near[1] or float(s.bite[first]))))
    return int(next(i for i in np.lexsort((s.V[:n], np.round(away, 6), *order)) if equal[i]))


def _as_good(s: Scan, loss: np.ndarray, i: int, first: int, age: int, tolerance: float) -> bool:
    """Whether setting i costs the same as the first, changed at `age`, within what the draws leave open."""
    j = int(np.argmin(loss[i]))
    if not np.isfinite(loss[i, j]):
        return False
    best = s.loss[:, first, age]
    error = float(np.std(s.loss[:, i, j] / s.expected[i, j] - best / s.expected[first, age])) / np.sqrt(len(best))
    return bool(loss[i, j] / loss[first, age] - 1 <= np.clip(2 * error, tolerance, MOST_EQUAL))
