"""Priors as objects: a normal law on a parameter or on its logarithm, with the source of its numbers."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

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
    def from_range(
        cls, name: str, low: float, typical: float, high: float, positive: bool = False, **about: str
    ) -> Prior:
        """Prior whose central 90 % runs over a published range [low, high] about its typical value.

        A positive parameter takes the mean of its log at `typical` and sd log(high/low) / (2 * 1.645).
        about: unit, source, how_known.
        """
        if positive:
            return cls(name, float(np.log(typical)), float(np.log(high / low)) / (2 * Z90), positive, **about)
        return cls(name, float(typical), float(high - low) / (2 * Z90), positive, **about)

    def value(self, theta: ArrayLike) -> np.ndarray:
        """Parameter on its own scale from its working (possibly logarithmic) value, of the same shape."""
        return np.asarray(np.exp(theta) if self.positive else theta, float)

    def interval(self, level: float = 0.9) -> tuple[float, float, float]:
        """Central interval of the prior on the parameter's own scale: (low, median, high)."""
        z = NormalDist().inv_cdf(0.5 + level / 2)
        low, middle, high = (float(self.value(self.mean + s * z * self.sd)) for s in (-1, 0, 1))
        return low, middle, high
