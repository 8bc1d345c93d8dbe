"""What has to be said beside a recommendation: its grade, warnings, and the cuts that lead on."""

from __future__ import annotations

from collections.abc import Iterator

from bandtrial import units

from . import gate
from .limits import MOST_TEETH
from .steps import step_words
from .tried import FEW, LEAST_CUTS, ROUGH_LIFE, how_little
from .wording import limit_words, percent


def grade(trust, job, decision, limits) -> str:
    """ "good" or "rough": whether the fit, its evidence and the limits bear a figure to be relied on."""
    e = decision.region.evidence
    few = e["cuts"] < LEAST_CUTS or decision.region.borrowed
    broken = any(not limit.ok for limit in limits)
    known = trust.grade == "good" and decision.life_spread <= ROUGH_LIFE
    return "good" if known and not few and not broken else "rough"


def warnings(fit, study, job, decision, trust, limits) -> Iterator[str]:
    """Sentences a person has to read before using the setting."""
    region = decision.region
    yield from gate.said(trust)
    if not decision.life_known:
        yield (
            f"{how_little(fit, job, region)}. So this is the setting that is usually cheapest inside what was tried. "
            "Cost and life are the middle of what is possible"
        )
    elif decision.life_spread > ROUGH_LIFE:
        yield how_little(fit, job, region)
    for limit in limits:
        if not limit.ok:
            yield _not_sure(job, limit)
    e = region.evidence
    if region.borrowed:
        yield (
            f"hardly a cut of {job.material.id} on {job.machine.id} yet: judged by other machines; "
            "make the first cuts with care and log them"
        )
    if not e["failed"] and decision.life_known:
        yield ("no band has ended in this work yet: its life rests on how the signals grow and on priors")
    if e["cuts"] < FEW:
        yield f"thin evidence: {e['cuts']} cut{'s' * (e['cuts'] != 1)}"
    lo, hi = region.thickness
    if not lo / 1.5 <= job.thickness <= hi * 1.5:
        asked, least, most = (units.show(x, "length", job.system) for x in (job.thickness, lo, hi))
        yield f"{asked} is outside the thicknesses tried ({least} to {most})"
    for key in ("band_change_minutes", "scrapped_piece"):
        if study.costs.get(key) is None:
            yield f"{key} is not in study.toml: counted as nothing"
    if 2 <= job.teeth < 3:
        yield f"{job.teeth:.1f} teeth in the cut: sources ask for 2 or 3 at least; a finer pitch is safer"
    if job.teeth > MOST_TEETH:
        yield f"{job.teeth:.0f} teeth in the cut: over {MOST_TEETH:g}; a coarser pitch needs less feed force"


def _not_sure(job, limit) -> str:
    value, bound, unit = limit_words(limit, job.system)
    side = "at most" if limit.at_most else "at least"
    return (
        f"the limit that is not sure: {limit.name} {value}, {side} {bound} {unit}".rstrip()
        + f", {percent(limit.probability)} sure to hold; watch it at the machine"
    )


def next_step(job, region, V: float, bite: float) -> str:
    """How to go on where the setting leans on the edge of what was tried."""
    if region.outside(job, V, bite) < 0.7:
        return ""
    return (
        f"this setting is at the edge of what the cuts can defend, {step_words(job, region, V, bite)}, and the best "
        "one may lie further on. Go there in two steps with three cuts each; stop if deviation, noise or power jump; "
        "log the cuts and ask again: the limit moves with them."
    )


def telling_cut(fit, study, job):
    """The run (`trials.Run`) that tells most of what a rough answer lacks per minute; None where none can be made."""
    from bandtrial.trials.telling import telling_run  # trials stand on recommendations: only asked for when needed

    return telling_run(fit, study, job)
