"""What the study is asked: a recommendation for each job it can answer, a plan of cuts where it cannot."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import product
from typing import Any

PLAN_MINUTES = 100.0  # machine time offered to the plan where an answer is missing or thin
MOST_ASKED = 3  # jobs shown first where the question names none
MOST_JOBS = 12  # jobs answered in full; a shop with more gets the rest by name


@dataclass(frozen=True)
class Answer:
    """One job (machine, stock, material, most used thickness [mm] and coolant): an answer, or why not yet."""

    machine: str
    stock: str
    material: str
    thickness: float
    coolant: str
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


def jobs(study, cuts) -> list[tuple[str, str, str, float, str, int, bool]]:
    """(machine, stock, material, thickness [mm], coolant, cuts, asked) of each combination cut, the asked first.

    A job is asked for where the study's question names its machine and material as far as it names any; where
    it names none, the `MOST_ASKED` with most cuts are. Thickness and coolant are those of most cuts.
    """
    question = str(study.info.get("question", "")).casefold()
    used = cuts[(cuts["operation"] == "sawing") & (cuts["exclude"] == "")]
    found = []
    for (machine, stock, material), group in used.groupby(["machine", "stock", "material"], sort=True):
        named = _named(question, [machine]) + _named(question, _material_words(study, material))
        thickness, coolant = (group[name].mode().iloc[0] for name in ("work_thickness", "coolant"))
        job = (machine, stock, material, float(thickness), str(coolant))
        found.append((-named, -len(group), *job, len(group)))
    found.sort()
    top = -found[0][0] if found else 0
    return [(*job[2:], -job[0] == top if top else i < MOST_ASKED) for i, job in enumerate(found)]


def _material_words(study, material: str) -> list[str]:
    known = study.materials[material]
    return [material, known.name, *(word for word in known.name.split() if any(c.isdigit() for c in word))]


def _named(question: str, names) -> int:
    return int(any(str(name).casefold() in question for name in names))


def answers(fit, study, cuts) -> tuple[list[Answer], list[tuple]]:
    """An Answer for each of the first `MOST_JOBS` jobs, and the jobs beyond them by name.

    fit : of the study, or None where it has no cut that can be fitted: the jobs are then those of study.toml
    """
    every = jobs(study, cuts) if fit is not None else jobs_to_come(study)
    return [_answer(fit, study, *job) for job in every[:MOST_JOBS]], every[MOST_JOBS:]


def jobs_to_come(study) -> list[tuple[str, str, str, float, str, int, bool]]:
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
    return [(*job[1:], thickness, "flood", 0, True) for job in asked]


def _thickness_in(question: str) -> float | None:
    """The first length that the question names [mm].

    >>> _thickness_in("which speed for 3/4 in 304 plate on saw1?")
    19.05
    """
    from bandtrial import units

    for text in re.findall(r"\d[\d/., ]*\s*(?:mm|cm|in)\b", question):
        try:
            return units.read(text, "length")
        except units.UnitError:
            continue
    return None


def _answer(fit, study, machine, stock, material, thickness, coolant, n, asked) -> Answer:
    from bandtrial import recommend

    job = {"machine": machine, "stock": stock, "material": material, "thickness_mm": thickness}
    given, reason, would_help = None, "no cut of this work is logged yet", ()
    if fit is not None:
        try:
            given, reason, would_help = recommend.recommend(fit, study, **job), "", ()
        except recommend.NotYet as no:
            reason, would_help = no.reason, tuple(no.would_help)
    plan, no_plan = _plan(fit, study, job) if asked or given is None else (None, "")
    known = (machine, stock, material, thickness, coolant, n, asked)
    return Answer(*known, given, reason, would_help, plan, no_plan)


def _plan(fit, study, job):
    from bandtrial import recommend, trials

    try:
        return trials.plan(fit, study, **job, minutes=PLAN_MINUTES), ""
    except recommend.NotYet as no:
        return None, no.reason
