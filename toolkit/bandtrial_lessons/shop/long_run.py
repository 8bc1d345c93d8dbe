"""The truth about a setting: what it costs in the long run, over all the bands a shop could fit.

Renewal reward (Ross, Stochastic Processes, from memory): cost per area is the expected cost of a band's turn
over the area it is expected to cut. Expectations are integrals over the true scatter, by quadrature.
"""

from dataclasses import dataclass

import numpy as np
from bandtrial import sawing
from bandtrial.sawing import Numbers
from numpy.typing import NDArray

from bandtrial_lessons.shop.config import Costs, Scatter
from bandtrial_lessons.shop.mechanics import Mechanics
from bandtrial_lessons.shop.wear_path import GRID, wear_path

Array = NDArray[np.float64]
NODES = 9
"""Of the Gauss-Hermite rule over the log wear rate."""
CHUNK = 500
"""Settings reckoned at once, so that memory stays small."""


@dataclass(frozen=True)
class LongRun:
    """Of each setting, the mean of a band's turn from fitting to the end or the change."""

    cost: Array
    """Per area [currency/cm2]."""
    area: Array
    """Sawn by a band [cm2]."""
    minutes: Array
    """Cut by a band [min]."""
    died: Array
    """Probability that the band ends in a cut, and takes the piece with it, before it is changed."""

    @property
    def cutting_rate(self) -> Array:
        """Area per minute of cutting [cm2/min]."""
        return self.area / self.minutes


def rate_nodes(scatter: Scatter) -> tuple[Array, Array]:
    """Wear rates of bands and their probabilities: Gauss-Hermite nodes of the lognormal of batch and band."""
    x, weight = np.polynomial.hermite_e.hermegauss(NODES)
    return np.exp(np.hypot(scatter.batch, scatter.band) * x), weight / weight.sum()


def long_run(
    mechanics: Mechanics, scatter: Scatter, costs: Costs, V: Numbers, L: Numbers, feed: Numbers,
    change_after: Numbers = None,
) -> LongRun:  # fmt: skip
    """Long-run figures of settings.

    cost = (c (t + t_change) + band price + piece x P(died)) / area, c the cost of a minute, t and area the
    expected minutes and area of a band's turn. A band of wear rate g survives to wear used E with probability
    exp(-E^k) exp(-(cycles/g/N)^n): two Weibulls, one for wear and one for breaks; its turn ends there or at
    `change_after`.

    V : true band speed [m/min]
    L : work thickness [mm]
    feed : feed rate [mm/min] or feed force [N], as the machine takes it
    change_after : area at which a sound band is changed [cm2]; None or inf: run to the end
    """
    limit = np.inf if change_after is None else change_after
    arrays = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in (V, L, feed, limit)))
    flat = [a.ravel() for a in arrays]
    turns = expected_turns(mechanics, scatter, flat[0], flat[1], flat[2], flat[3][:, None])
    return priced(mechanics, costs, *(x.reshape(arrays[0].shape) for x in turns))


def priced(mechanics: Mechanics, costs: Costs, area: Array, minutes: Array, died: Array) -> LongRun:
    """The cost of expected turns."""
    per_minute = costs.machine_and_labor_per_hour / 60.0
    turn = per_minute * (minutes + costs.band_change_minutes) + mechanics.stock.sheet.price
    return LongRun((turn + costs.scrapped_piece * died) / area, area, minutes, died)


def expected_turns(
    mechanics: Mechanics, scatter: Scatter, V: Array, L: Array, feed: Array, limits: Array
) -> tuple[Array, Array, Array]:
    """Expected area [cm2], minutes and P(died) of a turn, each (n, k).

    V, L, feed : (n,) settings as in `long_run`
    limits : (n, k) change-out points of each setting [cm2]
    """
    pieces = range(0, max(len(V), 1), CHUNK)
    parts = [_expected_turns(mechanics, scatter, *(x[i : i + CHUNK] for x in (V, L, feed, limits))) for i in pieces]
    area, minutes, died = (np.concatenate(x) for x in zip(*parts, strict=True))
    return area, minutes, died


def _expected_turns(
    mechanics: Mechanics, scatter: Scatter, V: Array, L: Array, feed: Array, limits: Array
) -> tuple[Array, Array, Array]:
    path = wear_path(mechanics, V, L, **{mechanics.feed_name: feed})
    area = path.travel * L[:, None] / 100.0
    turns = sawing.bend_cycles(V, 1.0, mechanics.machine.sheet.band_length)
    shape = mechanics.stock.bending_shape
    breaks = (turns[:, None] * path.minutes / mechanics.bending_life()) ** shape
    worn = GRID**scatter.wear_shape
    sums = np.zeros((3, *limits.shape))
    for rate, weight in zip(*rate_nodes(scatter), strict=True):
        survival = np.exp(-worn - breaks / rate**shape)
        middle = (survival[:, 1:] + survival[:, :-1]) / 2.0
        sawn = _running(middle * np.diff(area)) / rate
        cut = _running(middle * np.diff(path.minutes)) / rate
        sums += weight * np.array(at_area(area, limits * rate, sawn, cut, 1.0 - survival))
    return sums[0], sums[1], sums[2]


def _running(steps: Array) -> Array:
    return np.concatenate([np.zeros((len(steps), 1)), np.cumsum(steps, axis=1)], axis=1)


def at_area(area: Array, limits: Array, *columns: Array) -> list[Array]:
    """Each column of (n, GRID) where the area of its row reaches each limit of (n, k), on straight lines.

    At the end of the row if it never does.
    """
    right = np.stack([np.searchsorted(a, x) for a, x in zip(area, limits, strict=True)])
    right = np.clip(right, 1, area.shape[1] - 1)
    x0, x1 = (np.take_along_axis(area, i, 1) for i in (right - 1, right))
    share = np.clip((np.minimum(limits, x1) - x0) / (x1 - x0), 0.0, 1.0)
    ends = ((np.take_along_axis(c, right - 1, 1), np.take_along_axis(c, right, 1)) for c in columns)
    return [y0 + share * (y1 - y0) for y0, y1 in ends]
