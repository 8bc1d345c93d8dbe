"""How far a fit can be trusted: what the sampler left, and what the log itself contradicts, in plain sentences."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from .signals import in_words

STRAYS = 0.55  # weight of a reading below which it is said that those of a band stray together
FAR = 3.0  # prior sd from its prior, beyond which a parameter is said to be far out
LEAST_TOLD = 4.0  # information of a signal on a band's log wear rate, below which its word is none (its sd is a half)
APART = 4.0  # standard errors between two signals' words on one band, beyond which they are said to disagree
WIDER = 1.25  # by how much intervals are widened where the draws are rough


@dataclass(frozen=True)
class Trust:
    """grade: "good", "rough" or "unusable"; usable: whether the draws can carry an answer; reasons: what is wrong with
    the draws and what would help; contradictions: what of the log the model does not follow; widen: factor of every
    interval on the log scale."""

    grade: str
    reasons: tuple[str, ...]
    contradictions: tuple[str, ...]
    widen: float = 1.0

    @property
    def usable(self):
        """Whether the draws can carry an answer."""
        return self.grade != "unusable"


def trust(fit):
    """`Trust` of a fit."""
    if not fit.pooled:
        reasons = () if fit.mode.converged else ("The fit did not settle on a best point: read every figure as rough.",)
        return Trust("rough" if reasons else "good", reasons, ())
    against, drawn = contradictions(fit), fit.drawn
    if not (drawn.usable and np.isfinite(fit.theta).all()):
        return Trust(
            "unusable",
            (
                f"The draws did not settle ({drawn.effective:.0f} effective of {fit.n_draws}), so they carry no "
                "answer. Look for a cut that contradicts the others (bandtrial check, the residuals of bandtrial "
                "report), mark it in the column exclude, and fit again.",
            ),
            against,
        )
    reasons = ()
    if not drawn.good:
        reasons = (
            f"The draws are few ({drawn.effective:.0f} effective of {fit.n_draws}): intervals are widened by a "
            "quarter. Another fit with more draws, or without the cuts named below, would narrow them.",
        )
    return Trust("rough" if reasons or against else "good", reasons, against, WIDER if reasons else 1.0)


def contradictions(fit):
    """Plain sentences on what the log holds against the model."""
    said = [
        f"The readings of {s.name} on one band stray together, more than noise does: each counts for "
        f"{s.weight:.2f} of a reading that stands alone. Something drifts that the log does not hold (coolant, "
        "tension, the sensor), or the band dulls in another way than the model's."
        for s in fit.rows.signals
        if s.weight < STRAYS
    ]
    said += disagreements(fit)
    theta = fit.theta
    off = (np.median(theta, axis=0) - fit.layout.mean) / fit.layout.sd
    grouped = {i for at, _ in fit.layout.groups for i in at}
    levels = {i for block in fit.layout.blocks for i in range(block.beta.start, block.beta.stop)}
    for i in np.flatnonzero(np.abs(off) > FAR):
        if i in grouped or i in levels:
            continue
        said.append(
            f"{fit.layout.names[i]} comes out {abs(off[i]):.1f} of its prior's standard deviations from what "
            "was expected: the log may hold a slip, or this shop is unlike others. Read what hangs on it as rough."
        )
    return tuple(said)


def disagreements(fit):
    """Plain sentences on bands of which two signals tell different wear.

    Each one's own word, at the top, on by how much the band wears faster than others: w + score_s / D_s, variance
    1 / D_s."""
    top = fit.mode
    said: list[str] = []
    if len(fit.rows.signals) < 2 or fit.drawn.method == "normal":
        return said
    c = top.curvature
    told = [ww - wg**2 / gg for ww, wg, gg in zip(c.data_ww, c.wg, c.gg, strict=True)]
    names = [in_words(s.name) for s in fit.rows.signals]
    for i, j in combinations(range(len(told)), 2):
        both = (told[i] > LEAST_TOLD) & (told[j] > LEAST_TOLD)
        first, second = (top.pull_w[k][both] / told[k][both] for k in (i, j))
        apart = (first - second) / np.sqrt(1 / told[i][both] + 1 / told[j][both])
        for band, off in zip(np.flatnonzero(both), apart, strict=True):
            if abs(off) > APART:
                faster, slower = (names[i], names[j]) if off > 0 else (names[j], names[i])
                said.append(
                    f"Band {fit.rows.bands[band]}: its {faster} says that it is more worn than its {slower} does "
                    f"({abs(off):.1f} standard errors apart). One of the two is moved by something else than wear: "
                    "look at its sensor, its unit, and what changed during the band's life."
                )
    return said
