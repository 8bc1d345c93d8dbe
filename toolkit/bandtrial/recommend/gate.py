"""Whether a fit carries an answer, and an estimate with its interval from its draws."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial.recommend.job import NotYet

if TYPE_CHECKING:
    from bandtrial.wear.fit import Fit
    from bandtrial.wear.trust import Trust


MEND = "look through the log for slips (`bandtrial check`; readings that never change or jump), then fit again."


def trust_of(fit: Fit) -> Trust:
    """What the fit, or the one it was thinned from, says of itself: usable, grade, reasons, contradictions, widen
    (`wear.trust`)."""
    return (getattr(fit, "_whole", None) or fit).trust


def must_carry(fit: Fit, evidence: Any = None, stay: str = "") -> Trust:
    """`trust_of` the fit; NotYet where its draws can't carry an answer.

    stay : what to do meanwhile, as a sentence
    """
    trust = trust_of(fit)
    if not trust.usable:
        reason = " ".join(trust.reasons) or "the sampler did not settle on this log."
        raise NotYet(reason, [MEND, *([stay] if stay else [])], evidence)
    return trust


def widened(draws: np.ndarray, trust: Trust) -> np.ndarray:
    """Positive draws (S, ...), their log widened by the trust's factor about the median over the draws."""
    if trust.widen <= 1.0:
        return draws
    middle = np.median(draws, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        out = middle * (draws / middle) ** trust.widen
    return np.where(np.isfinite(out), out, draws)


def said(trust: Trust) -> tuple[str, ...]:
    """Warnings that an answer has to carry."""
    return (*trust.reasons, *trust.contradictions)


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


def of_draws(draws: Any, rough: bool = False) -> Value:
    """Mean of the draws (S,), median where they are rough, in the 0.1 to 0.9 quantiles."""
    low, middle, high = (float(x) for x in np.quantile(draws, [0.1, 0.5, 0.9]))
    return Value(middle if rough else float(np.clip(np.mean(draws), low, high)), low, high)


def as_value(draws: np.ndarray, trust: Trust, rough: bool = False) -> Value:
    """`of_draws` of positive draws (S,), as wide as their trust asks."""
    return of_draws(widened(np.asarray(draws, float), trust), rough)


def of_differences(draws: Any, trust: Trust, rough: bool = False) -> Value:
    """`of_draws` of differences (S,), widened about their median by the trust's factor."""
    middle = np.median(draws)
    return of_draws(middle + (np.asarray(draws, float) - middle) * max(trust.widen, 1.0), rough)
