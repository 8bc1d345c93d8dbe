"""Settings as a dial and a feed knob can hold them, and a change-out area a person can remember."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial.recommend import limits as lim
from bandtrial.recommend.limits import Limit, in_ranges

if TYPE_CHECKING:
    from bandtrial.recommend.chosen import Chosen
    from bandtrial.recommend.job import Job
    from bandtrial.recommend.optimise import Wish
    from bandtrial.wear.fit import Fit


COARSEST = 0.1
"""Share of a setting that a round step may be."""
STEP_UP = 1.04
"""Factor at least by which the next faster or heavier setting goes."""


def round_settings(job: Job, band_speed: float, bite: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Settings around an optimum that can be set: V (m,) true [m/min], bite (m,), how round (m,): 10 for each rank of
    the dial's number, 1 for each of the feed's.

    The indicated band speed goes to steps of 5 ft/min or 1 m/min, the feed to 0.1 in/min or 1 mm/min, a force
    to 1 lbf or 5 N, by the study's units; and to rounder numbers, steps of up to COARSEST of the setting. Speeds
    outside the machine's ranges are left out.
    """
    dial, knob = job.step()
    shown = float(job.machine.indicated_speed(band_speed))
    found: dict[tuple[float, float], int] = {}
    for rank, by in enumerate(lattices(shown, dial)):
        for v in neighbours(shown, by):
            V = float(job.machine.true_speed(v))
            feed = float(job.feed_of(V, bite))
            for other, step in enumerate(lattices(feed, knob)):
                for f in neighbours(feed, step):
                    key = (V, float(job.bite_of(V, f)))
                    found[key] = max(found.get(key, 0), 10 * rank + other)
    V, bites = np.array(list(found)).T
    ok = in_ranges(job, V)
    if not ok.any():
        return np.array([band_speed]), np.array([bite]), np.zeros(1, int)
    return V[ok], bites[ok], np.array(list(found.values()))[ok]


def dial_settings(job: Job, band_speed: float, bite: float) -> tuple[np.ndarray, np.ndarray]:
    """The settings next to one that dial and knob can hold, nearest first: V (m,) true [m/min], bite (m,)."""
    dial, knob = job.step()
    shown = neighbours(float(job.machine.indicated_speed(band_speed)), dial)
    V = np.asarray(job.machine.true_speed(shown), float)
    V = V[in_ranges(job, V)]
    pairs = [(v, f) for v in V for f in neighbours(float(job.feed_of(v, bite)), knob)]
    if not pairs:
        return np.array([band_speed]), np.array([bite])
    V, feed = np.array(pairs).T
    return V, np.asarray(job.bite_of(V, feed), float)


def lattices(value: float, step: float) -> list[float]:
    """Steps, fine to coarse, that a value is rounded to: the least there is, and rounder ones.

    >>> lattices(57.0, 1.0), lattices(230.0, 1.0), lattices(8.0, 1.0)
    ([1.0, 2.0, 5.0], [1.0, 10.0, 20.0], [1.0])
    """
    rounder = [step * k * 10**p for p in range(6) for k in (1, 2, 5) if step < step * k * 10**p <= COARSEST * value]
    return [step, *rounder[-2:]]


def neighbours(value: float, step: float) -> np.ndarray:
    """The multiples of step on either side of value, the nearer first; never 0.

    >>> neighbours(23.4, 5.0).tolist()
    [25.0, 20.0]
    >>> neighbours(0.02, 0.1).tolist()
    [0.1]
    """
    below = np.floor(value / step + 1e-9)
    near = np.array([k for k in {below, below + 1} if k > 0]) * step
    return near[np.argsort(np.abs(near - value))]


def next_up(value: float, step: float) -> float:
    """The next rounder number above a value that is a step worth naming.

    >>> next_up(57.0, 1.0), next_up(60.0, 1.0)
    (60.0, 64.0)
    """
    by = [one for one in lattices(value, step) if one <= (STEP_UP - 1) * 1.5 * value] or [step]
    return float(by[-1] * np.ceil(STEP_UP * value / by[-1] - 1e-9))


def all_limits(fit: Fit, job: Job, wish: Wish, chosen: Chosen) -> Iterator[Limit]:
    """Every limit of DESIGN section 6 at the chosen setting."""
    yield from chosen.limits(chosen.at)
    if wish.deviation:
        yield _deviation(fit, job, wish, chosen)
    if wish.life_at_least:
        life = chosen.scan.run.area[:, chosen.at, chosen.age]
        yield lim.figure("band life", life[:, None], [wish.life_at_least], "cm2", False).at(0)


def _deviation(fit: Fit, job: Job, wish: Wish, chosen: Any) -> Limit:
    V, bite = np.array([chosen.V]), np.array([chosen.bite])
    h = lim.chip_loads(fit, job, V, bite)
    used = np.minimum(np.exp(np.minimum(chosen.scan.run.log_wear[:, chosen.at, chosen.age], 5.0)), 1.0)
    rows = lim.deviations(fit, job, V, np.median(h, axis=0))[:, 0]
    at_end = np.array([np.interp(E, lim.SIGNAL_WEAR, row) for E, row in zip(used, rows, strict=True)])
    note = "when the band comes off"
    return lim.figure("deviation", at_end[:, None], [wish.deviation], "mm", True, note).at(0)
