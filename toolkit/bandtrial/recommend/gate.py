"""The one gate: every answer asks here whether the draws of its fit can carry it, and how wide it must be told."""

from __future__ import annotations

import numpy as np

from .job import NotYet

MEND = "look through the log for slips (`bandtrial check`; readings that never change or jump), then fit again."


def trust_of(fit):
    """What the fit, or the one it was thinned from, says of itself: usable, grade, reasons, contradictions, widen
    (`wear.trust`)."""
    return (getattr(fit, "_whole", None) or fit).trust


def must_carry(fit, evidence=None, stay=""):
    """`trust_of` the fit; NotYet where its draws can't carry an answer.

    stay : what to do meanwhile, as a sentence
    """
    trust = trust_of(fit)
    if not trust.usable:
        reason = " ".join(trust.reasons) or "the sampler did not settle on this log."
        raise NotYet(reason, [MEND, *([stay] if stay else [])], evidence)
    return trust


def widened(draws, trust):
    """Positive draws (S, ...), their log widened by the trust's factor about the median over the draws."""
    if trust.widen <= 1.0:
        return draws
    middle = np.median(draws, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        out = middle * (draws / middle) ** trust.widen
    return np.where(np.isfinite(out), out, draws)


def said(trust) -> tuple[str, ...]:
    """Warnings that an answer has to carry."""
    return (*trust.reasons, *trust.contradictions)
