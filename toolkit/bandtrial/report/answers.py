"""What the study is asked: a recommendation for each job it can answer, a plan of cuts where it cannot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

PLAN_MINUTES = 100.0  # machine time offered to the plan where an answer is missing or thin
MOST_ASKED = 3  # jobs shown first where the question names none
MOST_JOBS = 12  # jobs answered in full; a shop with more gets the rest by name


@dataclass(frozen=True)
class Answer:
    """One job (machine, stock, material, its most used thickness [mm]): a recommendation, or why not yet."""

    machine: str
    stock: str
    material: str
    thickness: float
    cuts: int
    asked: bool = True
    recommendation: Any = None
    not_yet: str = ""
    would_help: tuple[str, ...] = ()
    plan: Any = None
    no_plan: str = ""

    @property
    def names(self) -> dict[str, str]:
        return {"machine": self.machine, "stock": self.stock, "material": self.material}


def jobs(study, cuts) -> list[tuple[str, str, str, float, int, bool]]:
    """(machine, stock, material, thickness [mm], cuts, asked) of each combination cut, the asked first.

    A job is asked for where the study's question names its machine and material as far as it names any; where
    it names none, the `MOST_ASKED` with most cuts are. The thickness is the one with most cuts.
    """
    question = str(study.info.get("question", "")).casefold()
    used = cuts[(cuts["operation"] == "sawing") & (cuts["exclude"] == "")]
    found = []
    for (machine, stock, material), group in used.groupby(["machine", "stock", "material"], sort=True):
        named = _named(question, [machine]) + _named(question, _material_words(study, material))
        thickness = float(group["work_thickness"].mode().iloc[0])
        found.append((-named, -len(group), machine, stock, material, thickness, len(group)))
    found.sort()
    top = -found[0][0] if found else 0
    return [(*job[2:], -job[0] == top if top else i < MOST_ASKED) for i, job in enumerate(found)]


def _material_words(study, material: str) -> list[str]:
    known = study.materials[material]
    return [material, known.name, *(word for word in known.name.split() if any(c.isdigit() for c in word))]


def _named(question: str, names) -> int:
    return int(any(str(name).casefold() in question for name in names))


def answers(fit, study, cuts) -> tuple[list[Answer], list[tuple]]:
    """An Answer for each of the first `MOST_JOBS` jobs, and the jobs beyond them by name."""
    every = jobs(study, cuts)
    return [_answer(fit, study, *job) for job in every[:MOST_JOBS]], every[MOST_JOBS:]


def _answer(fit, study, machine, stock, material, thickness, n, asked) -> Answer:
    from bandtrial import recommend

    job = (machine, stock, material, thickness)
    try:
        given, reason, would_help = recommend.recommend(fit, study, *job), "", ()
    except recommend.NotYet as no:
        given, reason, would_help = None, no.reason, tuple(no.would_help)
    plan, no_plan = _plan(fit, study, job)
    return Answer(*job, n, asked, given, reason, would_help, plan, no_plan)


def _plan(fit, study, job):
    from bandtrial import recommend

    try:
        from bandtrial import trials
    except ImportError:  # until the planner is there
        return None, ""
    try:
        return trials.plan(fit, study, *job, minutes=PLAN_MINUTES), ""
    except recommend.NotYet as no:
        return None, no.reason
