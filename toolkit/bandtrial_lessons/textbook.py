"""Textbook ways to read a tool-life trial, kept for the lessons: each is compared there with the model's fit.

They ask for one life per setting, read off or worn out, and know nothing of censoring or of mixed work.
"""

from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray


class LogLifeFit(NamedTuple):
    """Least squares of ln life on ln settings: intercept, exponents by name, residual s, R^2."""

    intercept: float
    exponents: dict[str, float]
    s: float
    r2: float


def straight_line_crossing(minutes: ArrayLike, wear: ArrayLike, limit: float) -> float:
    """Minutes [min] at which wear first reaches the limit, straight lines between readings.

    minutes : of the readings, growing [min]
    wear : read then, in any unit; limit in the same

    Raises ValueError if the readings never reach the limit: the life is longer than the trial.

    >>> straight_line_crossing([15.0, 20.0, 25.0], [0.58, 0.73, 0.97], 0.75)
    20.4167
    """
    t, w = np.asarray(minutes, dtype=float), np.asarray(wear, dtype=float)
    beyond = np.flatnonzero(w >= limit)
    if not len(beyond) or w[0] > limit:
        side = "below" if not len(beyond) else "above"
        raise ValueError(
            f"wear readings from {w.min():g} to {w.max():g} start or stay {side} the limit {limit:g}: "
            "no crossing to read; take readings on both sides of it"
        )
    after = max(int(beyond[0]), 1)
    share = (limit - w[after - 1]) / (w[after] - w[after - 1])
    return float(t[after - 1] + share * (t[after] - t[after - 1]))


def life_by_line_through_origin(minutes: ArrayLike, wear: ArrayLike, limit: float) -> float:
    """Life [as minutes] of one unit whose wear grows in proportion to time: limit / slope.

    The slope is the least-squares line through the origin, sum(t w) / sum(t^2); wear and limit in any one unit.
    Raises ValueError where the readings do not grow.

    >>> life_by_line_through_origin([24.0, 96.0, 168.0], [1.0, 6.0, 11.1], 30.0)
    462.7
    """
    t, w = np.asarray(minutes, dtype=float), np.asarray(wear, dtype=float)
    slope = float(t @ w / (t @ t))
    if not slope > 0:
        raise ValueError(f"wear readings {w.tolist()} do not grow with time: no life to read; take later readings")
    return limit / slope


def fit_log_life(life: ArrayLike, **settings: ArrayLike) -> LogLifeFit:
    """Fit ln T = b0 + sum_j b_j ln x_j + s e by least squares: the extended tool-life law of the textbooks.

    life : T, one per trial [any time unit]
    settings : x_j by name, one array each [any unit]; -1/b of the speed is Taylor's n

    s uses rows - coefficients degrees of freedom (0 where none is left). Raises ValueError when the settings
    were not varied enough to tell the exponents apart.

    >>> fit = fit_log_life([30.0, 15.0, 9.0], speed=[300.0, 400.0, 400.0], feed=[0.2, 0.2, 0.3])
    >>> fit.exponents["speed"], fit.exponents["feed"]
    (-2.4094, -1.2599)
    """
    y = np.log(np.asarray(life, dtype=float))
    columns = [np.log(np.asarray(x, dtype=float)) for x in settings.values()]
    X = np.column_stack([np.ones_like(y), *columns])
    if np.linalg.matrix_rank(X) < X.shape[1]:
        raise ValueError(
            f"{len(y)} trials can't tell the exponents of {', '.join(settings)} apart; "
            "vary each setting on its own in at least one trial more than there are settings"
        )
    b, *_ = np.linalg.lstsq(X, y, rcond=None)
    residual = float(np.sum((y - X @ b) ** 2))
    spare = len(y) - X.shape[1]
    s = float(np.sqrt(residual / spare)) if spare else 0.0
    total = float(np.sum((y - y.mean()) ** 2))
    exponents = dict(zip(settings, map(float, b[1:]), strict=True))
    return LogLifeFit(float(b[0]), exponents, s, 1.0 - residual / total)


def two_level_effects(response: ArrayLike, **codes: ArrayLike) -> dict[str, float]:
    """Effect of every factor and interaction of a two-level trial: mean at +1 less mean at -1 of the product.

    response : y, one per run [any unit; effects are in the same]
    codes : each factor's -1 and +1 by name, in a full factorial with equal replicates

    >>> two_level_effects([20.0, 24.0, 30.0, 36.0], speed=[-1, 1, -1, 1], feed=[-1, -1, 1, 1])
    {'speed': 5.0, 'feed': 11.0, 'speed x feed': 1.0}
    """
    y = np.asarray(response, dtype=float)
    return {name: float(2.0 * np.mean(product * y)) for name, product in _products(codes).items()}


def two_level_sums_of_squares(response: ArrayLike, **codes: ArrayLike) -> dict[str, float]:
    """Sum of squares N effect^2 / 4 of each effect of `two_level_effects`, and "error" within the settings.

    Source: Montgomery, Design and Analysis of Experiments, two-level factorials.

    >>> two_level_sums_of_squares([20.0, 24.0, 30.0, 36.0], speed=[-1, 1, -1, 1], feed=[-1, -1, 1, 1])
    {'speed': 25.0, 'feed': 121.0, 'speed x feed': 1.0, 'error': 0.0}
    """
    y = np.asarray(response, dtype=float)
    squares = {name: len(y) * effect**2 / 4.0 for name, effect in two_level_effects(y, **codes).items()}
    total = float(np.sum((y - y.mean()) ** 2))
    return squares | {"error": total - sum(squares.values())}


def _products(codes: dict[str, ArrayLike]) -> dict[str, NDArray[np.float64]]:
    """Product column of every subset of the factors, by name; ValueError if not a full factorial."""
    columns = {name: np.asarray(code, dtype=float) for name, code in codes.items()}
    runs = np.column_stack(list(columns.values()))
    cells, replicates = np.unique(runs, axis=0, return_counts=True)
    if not np.isin(runs, (-1.0, 1.0)).all() or len(cells) != 2 ** len(codes) or np.ptp(replicates):
        raise ValueError(
            f"{len(runs)} runs in {len(cells)} settings are not a full two-level trial of "
            f"{', '.join(codes)}; code each -1 or +1 and run all {2 ** len(codes)} settings equally often"
        )
    subsets = [names for size in range(1, len(codes) + 1) for names in combinations(columns, size)]
    return {" x ".join(names): np.prod([columns[name] for name in names], axis=0) for names in subsets}
