"""What anybody would do to foretell a tool's end: a ruler, a usual life, a regression, a degradation path.

Each takes the other tools whole, one tool's readings up to an age, and the end level of the fleet; gives the remaining
life with its 80 % interval (NaN where it has none).
"""

from __future__ import annotations

import warnings
from importlib.util import find_spec
from statistics import NormalDist

import numpy as np

Z80 = NormalDist().inv_cdf(0.9)
MOST = 5.0
"""Lives of the others that a ruler may foretell at most."""


def end_level(others, limit=None) -> float:
    """Level at which tools end: the limit, or the others' mean last reading."""
    return limit or float(np.mean([tool.until(tool.life)[1][-1] for tool in others]))


def mean_life(others, tool, age, level):
    """The others' lives, lognormal; what is left is cut off at nothing."""
    log = np.log([other.life for other in others])
    spread = log.std(ddof=1) * np.sqrt(1 + 1 / len(log))
    return _left(log.mean(), spread, age)


def usual_life(others, tool, age, level):
    """The middle one of the others' lives."""
    return max(float(np.median([other.life for other in others])) - age, 0.0), np.nan, np.nan


def regression(others, tool, age, level):
    """Log life on the settings by least squares, without any reading; normal interval."""
    X = np.array([(1.0, *other.factors) for other in others])
    y = np.log([other.life for other in others])
    beta, *_ = np.linalg.lstsq(X, y, rcond=None)
    freedom = len(y) - X.shape[1]
    x = np.array([1.0, *tool.factors])
    scale = np.sqrt(np.sum((y - X @ beta) ** 2) / freedom * (1 + x @ np.linalg.pinv(X.T @ X) @ x))
    return _left(float(x @ beta), float(scale), age)


def ruler(others, tool, age, level):
    """A straight line through the readings so far to the end level; the mean life where it does not rise."""
    time, seen = tool.until(age)
    usual = float(np.mean([other.life for other in others]))
    slope, start = np.polyfit(time, seen, 1) if len(time) > 1 else (0.0, 0.0)
    life = (level - start) / slope if slope > 0 else usual
    return max(min(life, MOST * usual) - age, 0.0), np.nan, np.nan


def degradation_path(others, tool, age, level):
    """surpyval's linear degradation path: the others' paths as a prior, the readings so far as data."""
    from surpyval import DegradationAnalysis

    parts = [(*other.until(other.life), name) for name, other in enumerate(others)]
    x, y = (np.concatenate([part[i] for part in parts]) for i in (0, 1))
    unit = np.concatenate([np.full(len(part[0]), part[2]) for part in parts])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = DegradationAnalysis.fit(x, y, unit, threshold=level)
        told = model.predict_rul(*tool.until(age), alpha_ci=0.2, random_state=1)
    ends = (told.failure_time, *told.failure_time_interval)
    return tuple(float(max(end - age, 0.0)) for end in ends)


def rivals() -> dict:
    """The rivals at hand, by name."""
    found = {"ruler": ruler, "mean life": mean_life, "median life": usual_life, "log-linear regression": regression}
    return found | ({"surpyval degradation path": degradation_path} if find_spec("surpyval") else {})


def _left(log_life: float, spread: float, age: float):
    """Median and 80 % interval of what is left of a lognormal life, given that the age was reached."""
    law = NormalDist(log_life, max(spread, 1e-9))
    gone = law.cdf(np.log(age))
    points = (gone + (1 - gone) * p for p in (0.5, 0.1, 0.9))
    return tuple(float(np.exp(law.inv_cdf(min(max(p, 1e-9), 1 - 1e-9))) - age) for p in points)
