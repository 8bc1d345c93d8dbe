"""From standard normal numbers to constants: every world is a point u ~ N(0, 1)^d, so that any sampler can walk them.

A law gives the constant at probability p = Phi(u); `choice` gives the number of a form.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Law = Callable[[Array], Array]


def phi(u: Array) -> Array:
    """Standard normal distribution function."""
    from scipy.special import ndtr

    return np.asarray(ndtr(u))


def even(low: float, high: float) -> Law:
    """Uniform on (low, high)."""
    return lambda u: low + (high - low) * phi(u)


def even_log(low: float, high: float) -> Law:
    """Uniform in the logarithm on (low, high)."""
    return lambda u: low * (high / low) ** phi(u)


def normal(mean: float, sd: float) -> Law:
    """Normal."""
    return lambda u: mean + sd * u


def choice(*weights: float) -> Law:
    """The number of a form, 0, 1, ..., by weights."""
    edges = np.cumsum(weights)[:-1] / np.sum(weights)
    return lambda u: np.searchsorted(edges, phi(u)).astype(float)


def sometimes(share: float, law: Law) -> Law:
    """0 but in a share of the worlds, there `law`."""
    from scipy.special import ndtri

    def value(u: Array) -> Array:
        p = phi(u)
        inside = ndtri(np.clip((p - (1 - share)) / share, 1e-12, 1 - 1e-12))
        return np.where(p > 1 - share, law(inside), 0.0)

    return value


@dataclass(frozen=True)
class Table:
    """Laws by name, and where each stands in the point u."""

    laws: dict[str, Law]

    def __len__(self) -> int:
        return len(self.laws)

    def values(self, u: Array) -> dict[str, Array]:
        """Constants (N,) by name, of points u (N, len)."""
        return {name: law(u[:, i]) for i, (name, law) in enumerate(self.laws.items())}
