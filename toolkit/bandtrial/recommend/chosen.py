"""The optimum brought to what can be set, worked out together with the settings it is compared with."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .limits import allowed
from .optimise import Scan, Wish, scan, to_the_end
from .others import published_setting, shop_now
from .rounding import round_settings


@dataclass(frozen=True)
class Chosen:
    """`scan` of the round settings, the exact optimum, the published start and the shop's own, in this order.

    at, age : setting and change-out chosen; rounding : what it costs against the optimum, as a share;
    published, now : where those two stand; exact : the optimum (band speed [m/min], feed)
    """

    scan: Scan
    at: int
    age: int
    rounding: float
    published: int
    now: int | None
    exact: tuple[float, float]

    @property
    def V(self) -> float:  # noqa: N802
        """True band speed [m/min]."""
        return float(self.scan.V[self.at])

    @property
    def bite(self) -> float:
        """Chip load [um] or force per tooth [N]."""
        return float(self.scan.bite[self.at])


def choose(fit, job, region, wish: Wish, fine: Scan) -> Chosen:
    """The best setting that a dial and a knob can hold near the best of the fine grid."""
    i, _ = fine.best()
    best = float(fine.V[i]), float(fine.bite[i])
    now = shop_now(fit.data, job)
    round_V, round_bite = round_settings(job, *best)
    V, bite = np.array(
        [*zip(round_V, round_bite, strict=True), best, published_setting(fit, job)] + [now] * bool(now)
    ).T
    n = len(round_V)
    s = scan(fit, job, wish, V, bite)
    usable = s.usable & allowed(fit, job, region, V, bite)[:, None]
    loss = np.where(usable, s.loss.mean(axis=0), np.inf)
    exact = loss[n].min()
    some = np.isfinite(loss[:n]).any()  # else no round setting holds the limits: keep the exact one
    at = int(np.argmin(loss[:n].min(axis=1))) if some else n
    age = to_the_end(loss[at])
    rounding = float(loss[at, age] / exact - 1) if some and np.isfinite(exact) else 0.0
    feed = float(job.feed_of(*best))
    return Chosen(s, at, age, rounding, n + 1, n + 2 if now else None, (best[0], feed))
