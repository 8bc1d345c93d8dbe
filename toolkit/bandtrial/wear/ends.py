"""Plain maximum likelihood of the bands' ends: Weibull accelerated life on accumulated exposure, no priors.

For band b with cuts i, contact minutes c_i and log tau_i = X_i theta,

    E_b = sum_i c_i exp(-X_i theta),    log f = log K + (K-1) log E - X_last theta,    log S = -E^K,

a worn band gives log f + log S, any other log S; log-likelihood on the time scale (contact minutes). One cut
a band makes it the Weibull regression of the textbooks; mixed settings the cumulative-exposure model (Nelson,
Accelerated Testing, 1990, ch. 10).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..inference import Prior

TOP = 300.0


@dataclass
class EndSlopes:
    """Log-likelihood, gradient (p+1,) and exact curvature (p+1, p+1) in theta and log K."""

    merit: float
    gradient: np.ndarray
    precision: np.ndarray


class Ends:
    """The data of the ends, ready to be differentiated: contact (n,), X (n, p), bands as heads of their cuts."""

    def __init__(self, rows: Any, columns: Any) -> None:
        self.contact, self.heads, self.band = rows.contact, rows.heads, rows.band
        self.X = np.ascontiguousarray(rows.X.dense(columns=columns).T)
        self.worn = rows.worn.astype(float)
        self.single = len(rows.heads) == len(rows.contact)
        self.last_worn = self.X[:, rows.last] @ self.worn

    def slopes(self, theta: np.ndarray) -> EndSlopes:
        """Merit, gradient (p + 1,) and precision (p + 1, p + 1) at theta (p + 1,), the log shape last."""
        X, worn, p = self.X, self.worn, len(self.X)
        shape = np.exp(min(theta[-1], 50.0))
        step = self.contact * np.exp(np.minimum(-(theta[:-1] @ X), TOP))
        moment = X * step
        total = step if self.single else np.add.reduceat(step, self.heads)
        mean = X if self.single else np.add.reduceat(moment, self.heads, axis=1) / total
        log_E = np.log(total)
        k_log_E = shape * log_E
        power = np.exp(np.minimum(k_log_E, TOP))
        pull = worn * (shape - 1) - shape * power  # d log p / d log E;  d log E = -mean
        merit = worn @ (theta[-1] + (shape - 1) * log_E) - theta[:-1] @ self.last_worn - power.sum()
        gradient = np.empty(p + 1)
        gradient[:-1] = -(mean @ pull) - self.last_worn
        gradient[-1] = worn @ (1 + k_log_E) - k_log_E @ power
        H = np.empty((p + 1, p + 1))
        H[:-1, :-1] = (mean * (shape**2 * power)) @ mean.T
        if not self.single:  # spread of X within a band bends log E
            H[:-1, :-1] -= (moment * (pull / total)[self.band]) @ X.T - (mean * pull) @ mean.T
        H[:-1, -1] = H[-1, :-1] = mean @ (worn * shape - shape * power * (1 + k_log_E))
        H[-1, -1] = k_log_E @ (power * (1 + k_log_E) - worn)
        return EndSlopes(float(merit), gradient, H)


def start(rows: Any, columns: Any) -> np.ndarray:
    """A start for the climb: least squares of log exposure on each band's mean design, and the shape whose Gumbel law
    scatters as the worn bands do about it (log E of a Weibull law: mean -0.577 / K, sd 1.282 / K).

    Bands that did not end by wear count as lasting half as long again.
    """
    total = rows.totals(rows.contact)
    X = rows.totals(rows.X.dense(columns=columns) * rows.contact[:, None]) / total[:, None]
    y = np.log(total) + 0.4 * ~rows.worn
    theta = np.linalg.lstsq(X, y, rcond=1e-8)[0]
    rest = (y - X @ theta)[rows.worn]
    shape = min(max(1.282 / max(float(np.sqrt(rest @ rest / max(len(rest), 1))), 0.1), 0.7), 12.0)
    return np.append(theta + 0.577 / shape * (np.array(columns) == 0), np.log(shape))


GRID = 61
AT_ONCE = 1000  # bands worked on at once: 30 MB an array


def break_draws(
    cycles: np.ndarray, broken: np.ndarray, scale: Prior, shape: Prior, n: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """n draws of (S, k) from cycles (m,), broken (m,) bool and the priors (inference.Prior) of S and k."""
    a, b, log_p = break_grid(cycles, broken, scale, shape)
    p = np.exp(log_p - log_p.max()).ravel()
    at = np.searchsorted(np.cumsum(p), rng.random(n) * p.sum())
    i, j = np.divmod(np.minimum(at, GRID * GRID - 1), GRID)
    jitter = rng.random((2, n)) - 0.5
    return np.exp(a[i] + jitter[0] * (a[1] - a[0])), np.exp(b[j] + jitter[1] * (b[1] - b[0]))


def break_grid(
    cycles: np.ndarray, broken: np.ndarray, scale: Prior, shape: Prior
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """log S (GRID,), log k (GRID,) and the log posterior on them (GRID, GRID), up to a constant.

    The grid runs to 4.5 prior sd each side; S also down to where the cycles seen would be unlikely.
    """
    cycles, broken = np.maximum(np.asarray(cycles, float), 1e-9), np.asarray(broken, bool)
    a = scale.mean + scale.sd * np.linspace(-4.5, 4.5, GRID)
    b = shape.mean + shape.sd * np.linspace(-4.5, 4.5, GRID)
    k, log_p = np.exp(b)[None, :, None], np.zeros((GRID, GRID))
    for at in range(0, len(cycles), AT_ONCE):
        log_c = np.log(cycles[at : at + AT_ONCE])
        z = np.clip(k * (log_c - a[:, None, None]), -300, 300)
        log_p += (np.where(broken[at : at + AT_ONCE], np.log(k) + z - log_c, 0.0) - np.exp(z)).sum(axis=2)
    prior = -0.5 * ((a - scale.mean) / scale.sd)[:, None] ** 2 - 0.5 * ((b - shape.mean) / shape.sd) ** 2
    return a, b, log_p + prior
