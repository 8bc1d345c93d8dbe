"""An estimate with its 80 % interval, from draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .gate import widened


@dataclass(frozen=True)
class Value:
    """An estimate with its 80 % interval."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Value:
        """The same of so many times as much; factor above 0."""
        return Value(self.value * factor, self.low * factor, self.high * factor)

    def turned(self) -> Value:
        """The same in the other direction: what is lost for what is gained."""
        return Value(-self.value, -self.high, -self.low)


def of_draws(draws, rough: bool = False) -> Value:
    """Mean of the draws (S,), median where they are rough, in the 0.1 to 0.9 quantiles."""
    low, middle, high = (float(x) for x in np.quantile(draws, [0.1, 0.5, 0.9]))
    return Value(middle if rough else float(np.clip(np.mean(draws), low, high)), low, high)


def as_value(draws, trust, rough: bool = False) -> Value:
    """`of_draws` of positive draws (S,), as wide as their trust asks."""
    return of_draws(widened(np.asarray(draws, float), trust), rough)


def of_differences(draws, trust, rough: bool = False) -> Value:
    """`of_draws` of differences (S,), widened about their median by the trust's factor."""
    middle = np.median(draws)
    return of_draws(middle + (np.asarray(draws, float) - middle) * max(trust.widen, 1.0), rough)
