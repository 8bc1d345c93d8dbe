"""The best setting under the limits: a grid over band speed, bite and change-out age, then a finer one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import sawing, units
from bandtrial.asked import GOALS
from bandtrial.recommend.job import Job, NotYet, Prices
from bandtrial.recommend.limits import SURE, allowed, chip_range, deviation_holds, fullest, in_ranges
from bandtrial.recommend.longrun import LongRun, evaluate

if TYPE_CHECKING:
    from bandtrial.recommend.tried import Tried
    from bandtrial.sawing import Numbers
    from bandtrial.wear.fit import Fit


SPEEDS, BITES, COARSE_AGES, AGES = 10, 8, 24, 36
COARSE_DRAWS, DRAWS = 72, 480
ZOOMS = ((0.75, 64), (0.25, 160))  # half width in coarse steps, and draws
WORTH = 0.003  # a change before the end has to save this share, or the band runs to its end


@dataclass(frozen=True)
class Wish:
    """What is wanted: goal, greatest deviation [mm] or None, least life of a band [cm2] or None.

    typical : settings are judged by the mean of the log of their loss instead of its mean. Where lives are hardly known
    the mean is that of the draws with the shortest, which a shop would notice and leave; the log weighs all alike.
    """

    goal: str = "lowest-cost"
    deviation: float | None = None
    life_at_least: float | None = None
    typical: bool = False

    def __post_init__(self) -> None:
        if self.goal not in GOALS:
            raise ValueError(f'goal "{self.goal}" is not known; give one of {", ".join(GOALS)}')

    def loss(self, run: LongRun, prices: Prices) -> np.ndarray:
        """What is made small (S, n, J): cost per area, or minutes per area."""
        return run.cost(prices) if self.goal == "lowest-cost" else 1 / run.output(prices)

    def expected(self, draws: np.ndarray) -> np.ndarray:
        """What a loss by draw (S, ...) is judged by (...)."""
        return np.asarray(np.exp(np.log(draws).mean(axis=0)) if self.typical else draws.mean(axis=0))


@dataclass(frozen=True)
class Scan:
    """A set of settings worked out: V (n,) [m/min], bite (n,), run, loss (S, n, J), its expectation (n, J), which of
    them hold the wishes (n, J), and how surely."""

    V: np.ndarray
    bite: np.ndarray
    run: LongRun
    loss: np.ndarray
    expected: np.ndarray
    usable: np.ndarray
    probability: dict[str, Any]

    def best(self) -> tuple[int, int]:
        """(setting, age) of the least expected loss among the usable."""
        mean = np.where(self.usable, self.expected, np.inf)
        i = int(np.argmin(mean.min(axis=1)))
        return i, to_the_end(mean[i])


def to_the_end(loss: np.ndarray) -> int:
    """The age of least loss (J,), or the last one where changing before the end saves less than WORTH."""
    j = int(np.argmin(loss))
    return len(loss) - 1 if loss[-1] <= loss[j] * (1 + WORTH) else j


def scan(fit: Fit, job: Job, wish: Wish, V: Numbers, bite: Numbers, size: int = AGES) -> Scan:
    """Long-run losses of settings V (n,), bite (n,), and which ages hold the limits that bind with age."""
    V, bite = np.asarray(V, float), np.asarray(bite, float)
    run = evaluate(fit, job, V, bite, size)
    usable, probability = np.ones(run.age.shape, bool), {}
    if wish.deviation:
        probability["deviation"] = deviation_holds(fit, job, V, bite, wish.deviation, run.log_wear)
    if wish.life_at_least:
        probability["band life"] = np.mean(run.area >= wish.life_at_least, axis=0)
    for p in probability.values():
        usable &= p >= SURE
    loss = wish.loss(run, job.prices)
    return Scan(V, bite, run, loss, wish.expected(loss), usable, probability)


def gated(fit: Fit, job: Job, region: Tried, wish: Wish, V: Numbers, bite: Numbers, size: int = AGES) -> Scan | None:
    """`scan` of those settings that hold the limits that do not depend on age; None if there are none."""
    ok = allowed(fit, job, region, V, bite)
    return scan(fit, job, wish, V[ok], bite[ok], size) if ok.any() else None


def gated_grid(fit: Fit, job: Job, region: Tried, wish: Wish, size: int = AGES) -> Scan | None:
    """`gated` of each speed with each bite of the `coarse_grid`."""
    return gated(fit, job, region, wish, *_crossed(*coarse_grid(job, region)), size)


def _crossed(V: np.ndarray, bite: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each speed (m,) with each bite (n,): (m n,) both."""
    return np.repeat(V, len(bite)), np.tile(bite, len(V))


def coarse_grid(job: Job, region: Tried, speeds: int = SPEEDS, bites: int = BITES) -> tuple[np.ndarray, np.ndarray]:
    """Settings over the speed ranges and the region a setting may lie in: V (m,) [m/min], bite (bites,)."""
    (low, high), (least, most) = region.window(job)
    if job.feed != "force":
        full = fullest(job, region) * float(sawing.chip_load_at_full_gullet(job.thickness, job.gullet_area))
        lightest, heaviest = chip_range(region)
        least, most = max(least, min(lightest, most)), min(most, heaviest, full)
    parts = []
    for lo, hi in job.machine.band_speed_ranges:
        a, b = max(float(job.machine.true_speed(lo)), low), min(float(job.machine.true_speed(hi)), high)
        if b >= a:
            n = max(2, round(speeds * np.log(b / a) / np.log(high / low)))
            parts.append(np.geomspace(a, b, n) if b > a * 1.001 else np.array([a]))
    if not parts:
        raise NotYet(
            f"none of the speeds within reach of what was tried ({units.show(low, 'speed', job.system)} to "
            f"{units.show(high, 'speed', job.system)}) is on "
            f"{job.machine.id}.",
            ["trial cuts at speeds that the machine has."],
            region.evidence,
        )
    return np.concatenate(parts), np.geomspace(least, max(most, least), bites)


def optimise(fit: Fit, job: Job, region: Tried, wish: Wish) -> tuple[Scan, Scan] | None:
    """Coarse and fine Scan around the best setting; None if no setting holds every limit and wish."""
    V, bite = coarse_grid(job, region)
    coarse = gated_grid(fit.thinned(COARSE_DRAWS), job, region, wish, COARSE_AGES)
    if coarse is None or not coarse.usable.any():
        return None
    best = coarse
    for width, draws in ZOOMS:
        i, _ = best.best()
        at, some = (float(best.V[i]), float(best.bite[i])), fit.thinned(draws)
        finer = gated(some, job, region, wish, *_around(job, V, bite, *at, width))
        if finer is None or not finer.usable.any():
            finer = scan(some, job, wish, np.array([at[0]]), np.array([at[1]]))
        best = finer
    return coarse, best


def _around(
    job: Job, V: Numbers, bite: Numbers, at_V: float, at_bite: float, width: float, points: int = 5
) -> tuple[np.ndarray, np.ndarray]:
    """A finer grid, `width` coarse steps to either side, inside the speed range of the middle."""
    dV = np.log(V[-1] / V[0]) / max(len(V) - 1, 1)
    db = np.log(bite[-1] / bite[0]) / (len(bite) - 1)
    offset = width * np.linspace(-1, 1, points)
    fine_V = at_V * np.exp(dV * offset)
    keep = in_ranges(job, fine_V) & (fine_V >= V[0] * (1 - 1e-9)) & (fine_V <= V[-1] * (1 + 1e-9))
    fine_V = fine_V[keep]
    fine_b = np.clip(at_bite * np.exp(db * offset), bite[0], bite[-1])
    return _crossed(fine_V, fine_b)


def speed_interval(coarse: Scan) -> Any:
    """80 % interval of the band speed that each draw by itself would choose [m/min]: (low, high).

    Per draw the least loss at each speed over bites and ages, and a parabola through the three lowest.
    """
    speeds = np.unique(coarse.V)
    loss = np.where(coarse.usable[None], coarse.loss, np.inf).min(axis=2)
    curve = np.stack([loss[:, v == coarse.V].min(axis=1) for v in speeds], axis=1)
    at = np.argmin(curve, axis=1)
    best = np.exp(_lowest(np.log(speeds), np.log(curve), at))
    return tuple(float(q) for q in np.quantile(best, [0.1, 0.9]))


def _lowest(x: np.ndarray, y: np.ndarray, k: np.ndarray) -> np.ndarray:
    """Where the parabola through the points k - 1, k and k + 1 of each row of y (S, n) over x (n,) is lowest (S,); x at
    k itself at an end, next to a point that is not finite, and on a straight line."""
    if len(x) < 3:
        return np.asarray(x[k])
    row, mid = np.arange(len(y)), np.clip(k, 1, len(x) - 2)
    (a, ya), (b, yb), (c, yc) = ((x[mid + s], y[row, mid + s]) for s in (-1, 0, 1))
    with np.errstate(invalid="ignore", divide="ignore"):
        p, q = (b - a) * (yb - yc), (b - c) * (yb - ya)
        low = np.clip(b - 0.5 * ((b - a) * p - (b - c) * q) / (p - q), a, c)
    return np.asarray(np.where((mid == k) & np.isfinite(low) & (np.abs(p - q) > 1e-15), low, x[k]))


WORTHS = (1, 1.5, 2.2, 3.3, 5, 8, 13, 25, 1e6)
"""Times what an hour costs, from which the cost/output curve is drawn."""


def trade_off(coarse: Scan, job: Job, wish: Wish) -> list[dict[str, Any]]:
    """The cost/output curve: settings that cost least if an hour were worth WORTHS times as much.

    List of dicts band_speed [m/min], feed, cost [currency/cm2] with cost_low and cost_high (80 %), output [cm2/min],
    change_after [cm2] or None.
    """
    draws = coarse.run.cost(job.prices)
    cost, time = wish.expected(draws), wish.expected(1 / coarse.run.output(job.prices))
    rows = {}
    for worth in WORTHS:
        total = np.where(coarse.usable, cost + (worth - 1) * job.prices.per_minute * time, np.inf)
        i = int(np.argmin(total.min(axis=1)))
        j = to_the_end(total[i])
        low, high = np.quantile(draws[:, i, j], [0.1, 0.9])
        rows[(i, j)] = {
            "band_speed": float(coarse.V[i]),
            "feed": float(job.feed_of(coarse.V[i], coarse.bite[i])),
            "cost": float(cost[i, j]),
            "cost_low": float(low),
            "cost_high": float(high),
            "output": float(1 / time[i, j]),
            "change_after": None if j == total.shape[1] - 1 else float(coarse.run.age[i, j]),
        }
    return list(rows.values())
