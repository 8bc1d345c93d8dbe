"""Where the climb starts: the priors, moved to what the ends and the readings plainly say.

A climb from the priors alone spends half its steps on finding the level of each signal.
"""
from __future__ import annotations

import numpy as np

from .signals import risen

SCATTER = 0.7     # sd of the log of one band's wear used at its end, about 1; also by how much a sound band may pass it
MOST_WEAR = 1.5   # wear used beyond which the readings are taken to rise no further
APART = 2.0, 1.0  # by how much the logs of a signal's noise and of its band levels are moved from their priors at most
SLIGHT = 1e-3     # sd below which none is resolved


def first_guess(joint, levels):
    """Parameters (d,) near the mode of a `Joint`, from linear regressions; levels: its `Levels`."""
    theta = joint.layout.mean.copy()
    at = joint.layout.names.index("log_scale")
    theta[at] += _log_life(joint.base(theta[None]).log_T[0], joint.rows.worn, joint.layout.sd[at])
    base = joint.base(theta[None])
    for i, (s, block) in enumerate(zip(joint.rows.signals, joint.layout.blocks, strict=True)):
        y = s.y - _log_growth(base, i)
        theta[block.beta], noise, band = _regression(joint, levels, i, y)
        for place, sd, most in zip((block.noise, block.band), (noise, band), APART, strict=True):
            theta[place] += np.clip(np.log(sd + SLIGHT) - theta[place], -most, most)
    return theta


def _log_life(log_T, worn, sd):
    """Shift of the log life after which worn bands have used their wear up (by the median, shrunk to the prior of sd
    `sd`) and no band much more."""
    shift = 0.0
    if worn.any():
        shift = float(np.median(log_T[worn])) * sd**2 / (sd**2 + SCATTER**2 / worn.sum())
    return max(shift, float(log_T.max()) - SCATTER)


def _log_growth(base, i):
    """By how much (n,) the priors say that dulling has raised the log of each reading."""
    wear, d = np.minimum(base.E[i], MOST_WEAR), base.dulling[i]
    return np.ravel(risen(base.share[i] * (d.j * -np.expm1(-wear / d.length) + d.k * wear), d.bend)[0])


def _regression(joint, levels, i, y):
    """Levels beta (p,) of log readings y (n,) by ridge regression on the priors, levels of the bands eliminated; sd of
    the readings by their median size, and of the bands' levels."""
    s, block, layout = joint.rows.signals[i], joint.layout.blocks[i], joint.layout
    mean, X, B = layout.mean, joint.signal_X[i], levels.by_band[i]
    noise, band = np.exp(2 * mean[[block.noise, block.band]])
    pull = 1 / (joint.counts[i] + noise / band)
    rest = y - mean[block.beta] @ X
    A = levels.XX[i] + np.diag(noise / layout.sd[block.beta] ** 2) - (B.T * pull) @ B
    change = np.linalg.solve(A, X @ rest - (pull * joint.band_sum(s, rest[None])[0]) @ B)
    rest = rest - change @ X
    own = pull * joint.band_sum(s, rest[None])[0]
    rest = rest - own[s.bands]
    return mean[block.beta] + change, np.median(np.abs(rest)) / 0.6745, np.sqrt(np.mean(own**2))
