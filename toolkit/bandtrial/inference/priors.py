"""Priors as objects: a normal law on a parameter or on its logarithm, with the source of its numbers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

import numpy as np

Z90 = 1.6448536269514722  # the standard normal's 95 % point: half the width of a 90 % range, in sd


@dataclass(frozen=True)
class Prior:
    """Normal(mean, sd) on the parameter (`positive=False`) or on its natural logarithm (`positive=True`)."""

    name: str
    mean: float
    sd: float
    positive: bool = False
    unit: str = ""
    source: str = ""
    how_known: str = ""

    @classmethod
    def from_range(cls, name, low, typical, high, **kw) -> Prior:
        """Prior whose central 90 % runs over a published range [low, high] about its typical value.

        A positive parameter takes the mean of its log at `typical` and sd log(high/low) / (2 * 1.645).
        """
        if kw.get("positive"):
            return cls(name, float(np.log(typical)), float(np.log(high / low)) / (2 * Z90), **kw)
        return cls(name, float(typical), float(high - low) / (2 * Z90), **kw)

    def value(self, theta):
        """Parameter on its own scale from its working (possibly logarithmic) value."""
        return np.exp(theta) if self.positive else np.asarray(theta, float)

    def interval(self, level=0.9):
        """Central interval of the prior on the parameter's own scale: (low, median, high)."""
        z = NormalDist().inv_cdf(0.5 + level / 2)
        return tuple(self.value(self.mean + s * z * self.sd) for s in (-1, 0, 1))


def exchangeable(u, spread: Prior, nodes=15):
    """log p(u), its gradient and positive curvature for K like effects whose common spread is unknown.

    u_j ~ N(0, s^2), log s ~ N(spread.mean, spread.sd^2); s is integrated out by Gauss-Hermite quadrature,

        p(u) = sum_q omega_q prod_j N(u_j; 0, s_q^2).

    Parameters: u (..., K). Returns log p (...), d log p / du (..., K), curvature E[1/s^2 | u] (...).
    """
    u = np.asarray(u, float)
    s, log_w = _spread_nodes(spread.mean, spread.sd, nodes)
    sum_sq = np.sum(u * u, axis=-1)[..., None]
    log_p = log_w - u.shape[-1] * np.log(s) - 0.5 * sum_sq / s**2
    top = log_p.max(axis=-1, keepdims=True)
    w = np.exp(log_p - top)
    total = w.sum(axis=-1, keepdims=True)
    precision = np.sum(w / total / s**2, axis=-1)
    log_density = (top + np.log(total))[..., 0] - 0.5 * u.shape[-1] * np.log(2 * np.pi)
    return log_density, -u * precision[..., None], precision


def draw_spread(u, spread: Prior, rng, nodes=15):
    """One draw of the common spread s for each row of effects u (N, K), from p(s | u) on the same nodes."""
    s, log_w = _spread_nodes(spread.mean, spread.sd, nodes)
    log_p = log_w - u.shape[-1] * np.log(s) - 0.5 * np.sum(u * u, axis=-1)[:, None] / s**2
    p = np.exp(log_p - log_p.max(axis=1, keepdims=True))
    cdf = np.cumsum(p, axis=1)
    pick = (rng.random((len(u), 1)) * cdf[:, -1:] > cdf).sum(axis=1)
    return s[np.minimum(pick, len(s) - 1)]


@cache
def _spread_nodes(mean, sd, nodes):
    x, w = np.polynomial.hermite_e.hermegauss(nodes)
    return np.exp(mean + sd * x), np.log(w / w.sum())
