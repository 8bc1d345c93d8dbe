"""What the study is asked: a recommendation for each job it can answer, a plan of cuts where it cannot."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING, Any

from bandtrial import recommend, trials, units
from bandtrial.report import words
from bandtrial.report.fit_words import short
from bandtrial.report.words import title

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


PLAN_MINUTES = 100.0  # machine time offered to the plan where an answer is missing or thin
MOST_ASKED = 3  # jobs shown first where the question names none
MOST_JOBS = 12  # jobs answered in full; a shop with more gets the rest by name


@dataclass(frozen=True, order=True)
class Work:
    """What may be asked: machine, stock, material, the most used thickness [mm] and coolant, cuts of it, whether the
    study asks about it."""

    machine: str
    stock: str
    material: str
    thickness: float
    coolant: str
    cuts: int
    asked: bool = True

    @property
    def names(self) -> dict[str, str]:
        """The machine, stock and material, as `Fit` takes them."""
        return {"machine": self.machine, "stock": self.stock, "material": self.material}


@dataclass(frozen=True)
class Answer(Work):
    """One job: an answer, or why not yet."""

    recommendation: Any = None
    not_yet: str = ""
    would_help: tuple[str, ...] = ()
    plan: Any = None
    no_plan: str = ""


def jobs(study: Study, cuts: Any) -> list[Work]:
    """Each combination of machine, stock and material that was cut, the asked first.

    A job is asked for where the study's question names its machine and material as far as it names any; where
    it names none, the `MOST_ASKED` with most cuts are. Thickness and coolant are those of most cuts.
    """
    question = str(study.info.get("question", "")).casefold()
    used = cuts[(cuts["operation"] == "sawing") & (cuts["exclude"] == "")]
    found = []
    for (machine, stock, material), group in used.groupby(["machine", "stock", "material"], sort=True):
        named = _named(question, [machine]) + _named(question, _material_words(study, material))
        thickness, coolant = (group[name].mode().iloc[0] for name in ("work_thickness", "coolant"))
        found.append((named, Work(machine, stock, material, float(thickness), str(coolant), len(group))))
    found.sort(key=lambda one: (-one[0], -one[1].cuts, one[1]))
    top = found[0][0] if found else 0
    return [replace(job, asked=named == top if top else i < MOST_ASKED) for i, (named, job) in enumerate(found)]


def _material_words(study: Study, material: str) -> list[str]:
    known = study.materials[material]
    return [material, known.name, *(word for word in known.name.split() if any(c.isdigit() for c in word))]


def _named(question: str, names: list[str]) -> int:
    return int(any(str(name).casefold() in question for name in names))


def answers(fit: Any, study: Study, cuts: pd.DataFrame) -> tuple[list[Answer], list[Work]]:
    """An Answer for each of the first `MOST_JOBS` jobs, and the jobs beyond them by name.

    fit : of the study, or None where it has no cut that can be fitted: the jobs are then those of study.toml
    """
    every = jobs(study, cuts) if fit is not None else jobs_to_come(study)
    return [_answer(fit, study, job) for job in every[:MOST_JOBS]], every[MOST_JOBS:]


def jobs_to_come(study: Study) -> list[Work]:
    """Jobs of a study without cuts, as `jobs`: each machine, stock and material of study.toml.

    Those that the question names, if it names any, at the thickness it names; one of 25 mm stands for it where
    the question names none.
    """
    question = str(study.info.get("question", "")).casefold()
    thickness = _thickness_in(question) or 25.0
    found = []
    for machine, stock, material in product(study.machines, study.band_stock, study.materials):
        named = _named(question, [machine]) + _named(question, _material_words(study, material))
        found.append((-named, machine, stock, material))
    found.sort()
    asked = [job for job in found if job[0] == found[0][0]][:MOST_ASKED]
    return [Work(*job[1:], thickness, "flood", 0) for job in asked]


def _thickness_in(question: str) -> float | None:
    """The first length that the question names [mm].

    >>> _thickness_in("which speed for 3/4 in 304 plate on saw1?")
    19.05
    """
    for text in re.findall(r"\d[\d/., ]*\s*(?:mm|cm|in)\b", question):
        try:
            return units.read(text, "length")
        except units.UnitError:
            continue
    return None


def _answer(fit: Any, study: Study, work: Work) -> Answer:
    job: dict[str, Any] = {**work.names, "thickness_mm": work.thickness}
    given, reason, would_help = None, "no cut of this work is logged yet", ()
    if fit is not None:
        try:
            given, reason, would_help = recommend.recommend(fit, study, **job), "", ()
        except recommend.NotYet as no:
            reason, would_help = no.reason, tuple(no.would_help)
    plan, no_plan = _plan(fit, study, job) if work.asked or given is None else (None, "")
    return Answer(**vars(work), recommendation=given, not_yet=reason, would_help=would_help, plan=plan, no_plan=no_plan)


def _plan(fit: Fit, study: Study, job: dict[str, Any]) -> tuple[Any, str]:
    try:
        return trials.plan(fit, study, **job, minutes=PLAN_MINUTES), ""
    except recommend.NotYet as no:
        return None, no.reason


def overview(rows: list[dict[str, Any]], answered: int) -> list[str]:
    """One sentence on how much of what was asked can be answered."""
    if not rows:
        return ["There is no usable cut yet, and study.toml names no job: add machines, band stock, materials."]
    if answered == len(rows):
        return [f"The pages that follow answer all {words.count(len(rows), 'job')} cut so far." if len(rows) > 1 else
                "The one job cut so far is answered."]  # fmt: skip
    if not answered:
        return ["The study is too thin to answer yet. What is missing, and the cuts that would answer it, follow."]
    rest = "the other one" if len(rows) - answered == 1 else f"the other {len(rows) - answered}"
    return [f"{answered} of {len(rows)} jobs cut so far can be answered; of {rest} section 9 says why not yet, and "
            "what would help."]  # fmt: skip


def unsaid(study: Study, answers: list[Answer], fit: Fit) -> list[str]:
    """What the data leave open: jobs without an answer and what would help them, parameters that did not move."""
    open_jobs = [a for a in answers if a.recommendation is None]
    lines = [" ".join(words.sentences([f"{title(study, a)}: {a.not_yet}", *a.would_help])) for a in open_jobs]
    if fit is None:
        return lines
    table = fit.parameters[fit.parameters["estimate"].notna()]
    still = [
        short(str(name), study.units) for name in table.index[~table["moved"].astype(bool)] if "." not in str(name)
    ]
    if still:
        lines.append(
            "On these figures the cuts say little, and the report leans on what was believed before the trial "
            f"(section 5 shows both): {words.listed(still)}."
        )
    return lines or ["Every job that was cut has an answer, and the data moved every parameter of band life."]


def plan(study: Study, answer: Answer) -> dict[str, Any] | None:
    """The next runs of a job as sentences and a table, or why there are none; None for a job without an answer that
    no run would bring nearer, of which `unsaid` says what would help."""
    if answer.plan is None or (answer.recommendation is None and not answer.plan.runs):
        return None
    plan, heads = answer.plan, ["band", "speed on the dial", "true speed", "feed", "cuts", "minutes", "why"]
    kind, rows = "force" if plan.job.feed == "force" else "feed_rate", []
    for run in plan.runs:
        speeds = (words.quantity(speed, "speed", study.units) for speed in (run.indicated, run.band_speed))
        band, feed = "a new band" if run.band == "new" else run.band, words.quantity(run.feed, kind, study.units)
        rows.append([band, *speeds, feed, f"{run.cuts}", f"{run.minutes:.0f}", run.why])
    opening = "Worth trying: " if plan.runs else "No trial cuts to make: "
    return {"say": words.sentences([opening + plan.reason]), "runs": (heads, rows)}
