"""What a band does on its way from new to worn at one setting: the sums behind every cut and every cost.

All of it is counted along the wear used E, because chip load and feed depend on the setting and on E alone.
A band that wears g times as fast as a typical one covers 1/g of the minutes and of the travel.
"""

from dataclasses import dataclass

import numpy as np
from bandtrial import sawing
from bandtrial.sawing import Numbers
from numpy.typing import NDArray

from bandtrial_lessons.shop.mechanics import Mechanics

Array = NDArray[np.float64]
END = 3.0
"""Wear used at which every band is worn. A Weibull of shape 2.2 leaves exp(-11) beyond it."""
GRID: Array = END * np.linspace(0.0, 1.0, 121) ** 2
"""Wear used at which the path is reckoned, close together in the break-in; sums are good to 5e-4."""


@dataclass(frozen=True)
class WearPath:
    """Paths of n settings: each array is (n, len(GRID)); minutes and travel are sums from E = 0."""

    chip_load: Array
    minutes: Array
    """Cut time [min]."""
    travel: Array
    """Feed travel [mm]."""
    chipped: Array
    """The part of the wear used that is chipped edges [-]."""


def wear_path(
    mechanics: Mechanics, V: Numbers, L: Numbers, feed_rate: Numbers = None, feed_force: Numbers = None
) -> WearPath:
    """Path of each setting: dt/dE = B / (L R(V, h, L)), dD/dE = F dt/dE with F = h V / p, trapezoids on GRID.

    V : true band speed [m/min]
    L : work thickness [mm]
    feed_rate or feed_force : one of them, [mm/min] or [N]; 1-D, broadcast with V and L
    """
    feed = feed_force if feed_rate is None else feed_rate
    V, L, feed = (x[:, None] for x in np.broadcast_arrays(*(np.atleast_1d(a).astype(float) for a in (V, L, feed))))
    if feed_rate is None:
        h = mechanics.chip_load_at_force(feed, L, GRID)
    else:
        h = sawing.chip_load(V, feed, mechanics.spacing) + 0.0 * GRID
    pace = mechanics.machine.sheet.band_length / L / mechanics.wear_rate(V, h, L)
    minutes = running_sum(pace)
    travel = running_sum(pace * sawing.feed_rate(V, h, mechanics.spacing))
    return WearPath(h, minutes, travel, running_sum(mechanics.chipped_share(h, L)))


def running_sum(y: Array) -> Array:
    """Integral of y over GRID from its start, by trapezoids; last axis."""
    steps = (y[..., 1:] + y[..., :-1]) / 2.0 * np.diff(GRID)
    return np.concatenate([np.zeros((*y.shape[:-1], 1)), np.cumsum(steps, axis=-1)], axis=-1)
