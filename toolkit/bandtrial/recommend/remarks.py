"""What has to be said beside a recommendation: warnings, and the next step beyond what was tried."""

from __future__ import annotations

from collections.abc import Iterator

from .limits import MOST_TEETH
from .tried import FEW, STEP

WORST_K = 0.7
"""Pareto k-hat above which averages over draws can't be trusted (Vehtari et al., JMLR 25 (2024), 1-58)."""


def warnings(fit, study, job, region) -> Iterator[str]:
    """Sentences a person has to read before using the setting."""
    e = region.evidence
    if region.borrowed:
        yield (
            f"no cuts of {job.material.id} on {job.machine.id} yet: judged by other machines; "
            "make the first cuts with care and log them"
        )
    if not e["failed"]:
        yield ("no band has ended in this work yet: its life rests on how the signals grow and on priors")
    if e["cuts"] < FEW:
        yield f"thin evidence: {e['cuts']} cuts"
    lo, hi = region.thickness
    if not lo / 1.5 <= job.thickness <= hi * 1.5:
        yield f"{job.thickness:g} mm is outside the thicknesses tried ({lo:g} to {hi:g} mm)"
    for key in ("band_change_minutes", "scrapped_piece"):
        if study.costs.get(key) is None:
            yield f"{key} is not in study.toml: counted as nothing"
    if 2 <= job.teeth < 3:
        yield f"{job.teeth:.1f} teeth in the cut: sources ask for 2 or 3 at least; a finer pitch is safer"
    if job.teeth > MOST_TEETH:
        yield f"{job.teeth:.0f} teeth in the cut: over {MOST_TEETH:g}; a coarser pitch needs less feed force"
    if fit.diagnostics.get("pareto_k", 0.0) > WORST_K:
        yield (
            f"the posterior is only roughly known (Pareto k-hat {fit.diagnostics['pareto_k']:.2f}): take the "
            "intervals as too narrow"
        )


def next_step(job, region, V: float, bite: float) -> str:
    """How to go on where the setting leans on the edge of what was tried."""
    if region.outside(job, V, bite) < 0.7:
        return ""
    return (
        f"this setting is at the edge of what the cuts can defend, up to {STEP - 1:.0%} beyond what was "
        "tried, and the best one may lie further on. Go there in two steps with three cuts each; stop if "
        "deviation, noise or power jump; log the cuts and ask again: the limit moves with them."
    )
