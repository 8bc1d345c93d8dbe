"""Settings as a dial and a feed knob can hold them, and a change-out area a person can remember."""

from __future__ import annotations

import numpy as np

from .limits import in_ranges


def round_settings(job, band_speed: float, bite: float):
    """Settings around an optimum that can be set: V (m,) true [m/min], bite (m,), nearest first.

    The indicated band speed goes to steps of 5 ft/min or 1 m/min, the feed to 0.1 in/min or 1 mm/min, a force
    to 1 lbf or 5 N, by the study's units. Speeds outside the machine's ranges are left out.
    """
    dial, knob = job.step()
    shown = neighbours(float(job.machine.indicated_speed(band_speed)), dial)
    V = np.asarray(job.machine.true_speed(shown), float)
    V = V[in_ranges(job, V)]
    pairs = [(v, f) for v in V for f in neighbours(float(job.feed_of(v, bite)), knob)]
    if not pairs:
        return np.array([band_speed]), np.array([bite])
    V, feed = np.array(pairs).T
    return V, np.asarray(job.bite_of(V, feed), float)


def neighbours(value: float, step: float):
    """The multiples of step on either side of value, the nearer first; never 0.

    >>> neighbours(23.4, 5.0).tolist()
    [25.0, 20.0]
    >>> neighbours(0.02, 0.1).tolist()
    [0.1]
    """
    below = np.floor(value / step + 1e-9)
    near = np.array([k for k in {below, below + 1} if k > 0]) * step
    return near[np.argsort(np.abs(near - value))]


def two_figures(value: float) -> float:
    """Value rounded to two figures.

    >>> two_figures(48213.0)
    48000.0
    """
    return float(f"{value:.1e}")
