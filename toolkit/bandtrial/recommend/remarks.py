"""What is said beside an answer: warnings, and what would make it surer."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import units
from bandtrial.recommend.job import Job, NotYet, said
from bandtrial.recommend.limits import MOST_TEETH, SURE, Figure, chip_loads, figures
from bandtrial.recommend.optimise import Wish, gated_grid, scan
from bandtrial.recommend.others import nearest_speed, stay, step_words
from bandtrial.recommend.rounding import dial_settings
from bandtrial.recommend.tried import FEW, LEAST_CUTS, ROUGH_LIFE, Tried, how_little, rows_of
from bandtrial.recommend.wording import limit_words, run_words, setting_words
from bandtrial.sawing import ROUND
from bandtrial.words import percent

if TYPE_CHECKING:
    from bandtrial.recommend.chosen import Decision
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit
    from bandtrial.wear.trust import Trust


def grade(trust: Trust, decision: Decision, limits: tuple[Any, ...]) -> str:
    """ "good" or "rough": whether the fit, its evidence and the limits bear a figure to be relied on."""
    e = decision.region.evidence
    few = e["cuts"] < LEAST_CUTS or decision.region.borrowed
    broken = any(not limit.ok for limit in limits)
    known = trust.grade == "good" and decision.life_spread <= ROUGH_LIFE
    return "good" if known and not few and not broken else "rough"


def warnings(
    fit: Fit, study: Study, job: Job, decision: Decision, trust: Trust, limits: tuple[Any, ...]
) -> Iterator[str]:
    """Sentences a person has to read before using the setting."""
    region = decision.region
    yield from said(trust)
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
        yield f"{asked} is outside the thicknesses tried ({least if least == most else f'{least} to {most}'})"
    cut = rows_of(fit.data, job)[0]["work_thickness"]
    mean = ROUND * job.thickness
    if np.isclose(cut, mean, rtol=0.01).any() and not np.isclose(cut, job.thickness, rtol=0.02).any():
        asked, half = (units.show(x, "length", job.system) for x in (job.thickness, mean))
        yield f"no cut was {asked} thick; if it is a round bar, ask for {asked} round, which is {half} thick on average"
    for key in ("band_change_minutes", "scrapped_piece"):
        if study.costs.get(key) is None:
            yield f"{key} is not in study.toml: counted as nothing"
    if 2 <= job.teeth < 3:
        yield f"{job.teeth:.1f} teeth in the cut: sources ask for 2 or 3 at least; a finer pitch is safer"
    if job.teeth > MOST_TEETH:
        yield f"{job.teeth:.0f} teeth in the cut: over {MOST_TEETH:g}; a coarser pitch needs less feed force"


def _not_sure(job: Job, limit: Any) -> str:
    value, bound, unit = limit_words(limit, job.system)
    side = "at most" if limit.at_most else "at least"
    return (
        f"the limit that is not sure: {limit.name} {value}, {side} {bound} {unit}".rstrip()
        + f", {percent(limit.probability)} sure to hold; watch it at the machine"
    )


def next_step(job: Job, region: Tried, V: float, bite: float) -> str:
    """How to go on where the setting leans on the edge of what was tried."""
    if region.outside(job, V, bite) < 0.7:
        return ""
    return (
        f"this setting is at the edge of what the cuts can defend, {step_words(job, region, V, bite)}, and the best "
        "one may lie further on. Go there in two steps with three cuts each; stop if deviation, noise or power jump; "
        "log the cuts and ask again: the limit moves with them."
    )


def telling_cut(fit: Fit, study: Study, job: Job) -> Any:
    """The run (`trials.Run`) that tells most of what a rough answer lacks per minute; None where none can be made."""
    from bandtrial.trials.choice import telling_run  # trials stand on recommendations: only asked for when needed

    return telling_run(fit, study, job)


def check_signals(fit: Fit, job: Job, wish: Wish) -> None:
    """NotYet where what is asked can't be told from the signals that the fit has."""
    cuts, _ = rows_of(fit.data, job)
    evidence = {"cuts": len(cuts["band"])}
    if job.feed == "force" and len(cuts["band"]):
        try:
            chip_loads(fit.thinned(2), job, np.array([job.published_speed]), np.array([1.0]))
        except ValueError:
            raise NotYet(
                f"too few timed cuts at a set feed force to know the chip that a force gives: {len(cuts['band'])}.",
                [f"{stay(fit.data, job)}; time and log three cuts there."],
                evidence,
            ) from None
    if wish.deviation is not None and "deviation" not in fit.signals:
        raise NotYet(
            "a deviation was asked for, and the study has no deviation of enough cuts.",
            [f"measure and log the deviation of every trial cut; until then {stay(fit.data, job)}."],
            evidence,
        )


def nothing_cut(fit: Any, study: Study, job: Job) -> NotYet:
    """That nothing of the job was cut yet, and the cut to begin with."""
    from bandtrial.trials import plan  # as above

    run = plan(fit, study, job.machine.id, job.stock.id, job.material.id, job.thickness, minutes=60.0).runs[0]
    return NotYet(f"no usable cut of {job.material.id} on {job.machine.id} is logged yet.",
                  [f"{run_words(job, run)}; `bandtrial plan` lays out those after it."])  # fmt: skip


LIKELY = 0.5
"""Probability below which a limit counts as broken by what was cut."""
LIGHTER = 0.8
"""Feed per tooth of the cut that is asked for then, as a share of the lightest tried."""
WISHES = {"deviation": ("a deviation of {}", "length"), "band life": ("a life of {}", "area")}


def least_unsure(fit: Fit, data: Any, job: Job, region: Tried, wish: Wish) -> Any:
    """((band speed [m/min], bite), age) of the setting whose least sure limit is the surest; of those as sure, the one
    of least expected loss. NotYet where a limit is more likely broken than not at every one of them.

    Looked for among the settings that hold every limit but a wish, if there are any, else among those cut so far.
    """
    found: Any = gated_grid(fit, job, region, wish)
    limits: list[Figure] = []
    if found is None:
        V, bite = region.settings.T
        can = np.all([f.holds for f in figures(fit, job, region, V, bite) if f.kind == "machine"], axis=0)
        if can.any():
            V, bite = V[can], bite[can]
        found, limits = scan(fit, job, wish, V, bite), list(figures(fit, job, region, V, bite))
    p, names = _least_sure(found, limits)
    i, j = np.unravel_index(np.argmax(np.round(p, 2) - 1e-3 * _rank(found.expected)), p.shape)
    if p[i, j] < LIKELY:
        at = float(found.V[i]), float(found.bite[i])
        raise _refusal(data, job, region, wish, str(names[i, j]), float(p[i, j]), at)
    return (float(found.V[i]), float(found.bite[i])), int(j)


def _least_sure(found: Any, limits: Any) -> Any:
    """Probability (n, J) of the least sure limit, and its name (n, J)."""
    rows = [(name, p) for name, p in found.probability.items()]
    for one in limits:
        if one.kind != "shown":
            rows.append((one.name, np.repeat(one.probability[:, None], found.expected.shape[1], axis=1)))
    p = np.stack([row for _, row in rows])
    worst = np.argmin(p, axis=0)
    return p.min(axis=0), np.array([name for name, _ in rows], object)[worst]


def _rank(expected: Any) -> Any:
    """Expected loss (n, J) as a share of 1, least 0."""
    flat = np.argsort(np.argsort(expected, axis=None)).reshape(expected.shape)
    return flat / max(expected.size, 1)


def _refusal(data: Any, job: Job, region: Tried, wish: Wish, name: str, p: float, at: Any) -> NotYet:
    """Why nothing is said, and what to do instead: a runnable cut, or stay."""
    where = f"{job.material.id} on {job.machine.id}"
    sure = f"{percent(p)} probability; {100 * SURE:.0f} % is asked"
    if name in WISHES:
        asked = _asked(job, wish)
        reason = f"no setting near those tried in {where} holds {asked}: the nearest holds it with {sure}."
        return NotYet(reason, [f"ask for less than {asked}, or {stay(data, job)}."], region.evidence)
    reason = f"what was cut of {where} breaks a limit: at the most careful of its settings, {name} holds with {sure}."
    V, bite = nearest_speed(job, at[0]), LIGHTER * float(np.exp(region.bite[0]))
    round_V, round_bite = dial_settings(job, V, bite)
    cut = f"one cut at {setting_words(job, float(round_V[0]), float(round_bite[0]))}, "
    return NotYet(reason, [cut + step_words(job, region, V, bite) + "; log it, then ask again."], region.evidence)


def _asked(job: Job, wish: Wish) -> str:
    """What is wished for, in the study's units."""
    asked = {"deviation": wish.deviation, "band life": wish.life_at_least}
    said = [WISHES[name][0].format(units.show(x, WISHES[name][1], job.system)) for name, x in asked.items() if x]
    return " and ".join(said)
