"""A job's two panels: the setting for it as its wishes change, with cost, limits and the cost/output curve, and which
cuts to make next, planned at the press of a button; and the sheets of both for the machine.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from bandtrial import recommend, trials, units
from bandtrial.asked import GOALS
from bandtrial.disk import file_name, make_folder
from bandtrial.panels import base
from bandtrial.panels.session import job_of, ticking
from bandtrial.plots import settings
from bandtrial.recommend.wording import WORKED_OUT, card_html
from bandtrial.report.sheet import write_run_sheet, write_sheet
from bandtrial.study import cut_table
from bandtrial.study.model import Study
from bandtrial.wear.fit import Fit

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit

CAPTION = "What more output costs: no setting inside the limits is both cheaper and faster than a point of this line."


class ChooseSetting(base.Panel):
    """`recommendation` is the answer shown now, None while there is none. `folder` takes the setup sheets."""

    def __init__(self, fit: Fit, study: Study, job: dict[str, str], folder: str | Path) -> None:
        self.fit, self.study, self.folder = fit, study, Path(folder)
        self.recommendation: recommend.Recommendation | None = None
        hourly = study.costs["machine_and_labor_per_hour"]
        deviation, area = (base.EXAMPLES[name][study.units] for name in ("deviation", "area"))
        self.controls = {
            **base.job_controls(study, job),
            "goal": base.choice("goal", [(goal.replace("-", " "), goal) for goal in GOALS]),
            "deviation": base.text("deviation at most", hint=f'as "{deviation}", or empty'),
            "life": base.text("band life at least", hint=f'as "{area}", or empty'),
            "month": base.text("pieces per month", hint="as 400, or empty"),
            "hourly": base.slider(f"an hour costs [{study.currency}]", 0, 4 * hourly, hourly / 20, hourly),
        }
        self.says, self.saved = base.Says(), base.Says()
        self.picture = base.Picture(CAPTION, height=3.6)
        self.answer = widgets.HTML()
        self.save = base.button("Save setup sheet", "write the setup sheet of this setting", main=True)
        self.summary = widgets.HTML(layout=widgets.Layout(margin="0 0 0 2rem", flex="1 1 24rem", min_width="18rem"))
        top = widgets.HBox([widgets.VBox(list(self.controls.values())), self.summary])
        top.layout.flex_flow = "row wrap"
        save = widgets.HBox([self.save, self.saved])
        super().__init__([base.cautions(), top, self.says, save, self.picture, self.answer])
        update = base.guarded(self.says, self.update)
        for control in self.controls.values():
            control.observe(update, "value")
        self.save.on_click(base.guarded(self.saved, self.save_sheet))
        update()

    def update(self) -> None:
        """Show the new answer in one go; where there is none, no old one stays, and nothing can be saved."""
        self.saved.note()
        try:
            found = self.find()
        except recommend.NotYet as no:
            self.clear()
            self.says.not_yet(no.reason, no.would_help)
            return
        except Exception:
            self.clear()
            raise
        self.recommendation = found
        worked = base.table(("", "value", "note"), found.fields(), "Recommendation, limits and evidence")
        self.answer.value = f"<details><summary style='cursor:pointer'><b>{WORKED_OUT}</b></summary>{worked}</details>"
        self.summary.value = card_html(found.card_lines(), found.head)
        self.picture.draw(lambda ax: draw_curve(ax, found))
        base.show(self.picture, True)
        base.show(self.save, True)

    def clear(self) -> None:
        """Take the last answer away, so that none stands under an entry it is not for."""
        self.recommendation = None
        self.answer.value = self.summary.value = ""
        base.show(self.picture, False)
        base.show(self.save, False)

    def find(self) -> recommend.Recommendation:
        """The recommendation for what the controls say; NotYet or ValueError where there is none."""
        c = {name: control.value for name, control in self.controls.items()}
        machine = self.study.machines[c["machine"]]
        thickness = base.thickness_of(self.controls["thickness"], machine, self.study.units)
        costs = self.study.costs | {"machine_and_labor_per_hour": c["hourly"]}
        return recommend.recommend(
            self.fit, replace(self.study, costs=costs), c["machine"], c["stock"], c["material"], thickness,
            goal=c["goal"], deviation=base.read(self.controls["deviation"], "length"),
            life_at_least=base.read(self.controls["life"], "area"),
            per_month=("pieces", base.read(self.controls["month"], "number")),
        )  # fmt: skip

    def save_sheet(self) -> None:
        """Save the setup sheet of the setting shown, and say where."""
        if self.recommendation is None:
            self.saved.problem("There is no setting to save a sheet of; mend the entry above first.")
            return
        job = self.recommendation.job
        thickness = units.show(job.thickness, "length", self.study.units).replace(" ", "").replace("/", "-")
        name = file_name(f"setup_{job.machine.id}_{job.material.id}_{thickness}", ".html")
        make_folder(self.folder)
        out = write_sheet(self.recommendation, self.study, self.folder / name, fit=self.fit)
        self.saved.saved(out, "print it for the machine.")


def draw_curve(ax: Axes, found: recommend.Recommendation) -> Any:
    """The cost/output curve of a recommendation, its ends named, the chosen one first; returns ax."""
    points = sorted(found.curve, key=lambda row: row["output"])
    ends = [("lowest cost", points[0]), ("highest output", points[-1])]
    chosen = GOALS.index(found.goal)
    others = [ends[1 - chosen]] if len(points) > 1 else []
    ends = [(f"{ends[chosen][0]}: the setting shown", ends[chosen][1]), *others]
    return settings.cost_and_output(ax, points, found.job.system, found.job.currency, ends)


def choose_setting(
    fit: Fit,
    study: Study,
    machine: str | None = None,
    stock: str | None = None,
    material: str | None = None,
    thickness: str | None = None,
    sheets: str | Path = ".",
) -> ChooseSetting:
    """The panel, opened on a job, the one the study asks about unless said; thickness with its unit.

    Setup sheets go into the folder `sheets`.
    """
    job = job_of(study, machine=machine, stock=stock, material=material, thickness=thickness)
    return ChooseSetting(fit, study, job, sheets)


RUNS_CAPTION = "Settings of this work: made so far, and the runs planned. The published start is the dashed line."


class TrialPlan(base.Panel):
    """`plan` is the plan shown now, None while there is none. `folder` takes the run sheets."""

    def __init__(self, fit: Fit, study: Study, job: dict[str, str], folder: str | Path) -> None:
        self.fit, self.study, self.folder = fit, study, Path(folder)
        self.plan: trials.Plan | None = None
        self.controls = {**base.job_controls(study, job), "minutes": base.slider("minutes free", 10, 240, 10, 100)}
        self.says, self.saved = base.Says(), base.Says()
        self.picture = base.Picture(RUNS_CAPTION, height=3.8, words=study.lines.of)
        self.answer, self.cautions = widgets.HTML(), base.cautions()
        self.go = base.button("Plan the cuts", "work out which cuts are worth making", main=True)
        self.save = base.button("Save run sheet", "write the run sheet of this plan")
        buttons = widgets.HBox([self.go, self.save])
        plan = (self.cautions, self.answer, self.picture)
        super().__init__([*self.controls.values(), buttons, self.says, self.saved, *plan])
        self.shown(False)
        for control in self.controls.values():
            control.observe(base.guarded(self.says, self.changed), "value")
        self.go.on_click(base.guarded(self.says, self.make))
        self.save.on_click(base.guarded(self.saved, self.save_sheet))

    def changed(self) -> None:
        """A plan is for one job: with another one it goes, until it is planned again."""
        if self.plan is not None:
            self.clear()
            self.says.note("The job has changed: plan the cuts again.")

    def clear(self) -> None:
        """Take the last plan away."""
        self.plan, self.answer.value = None, ""
        self.saved.note()
        self.shown(False)

    def shown(self, there: bool) -> None:
        """Show what belongs to a plan, or take it away: its cautions, its picture, the button that saves it."""
        for part in (self.cautions, self.picture, self.save):
            base.show(part, there)

    def make(self) -> None:
        """Plan cuts for what the controls say; a fit is made on the way, where there are cuts."""
        self.clear()
        machine, stock, material = (self.controls[name].value for name in ("machine", "stock", "material"))
        one = self.study.machines[machine]
        thickness = base.thickness_of(self.controls["thickness"], one, self.study.units)
        minutes = self.controls["minutes"].value
        try:
            with ticking(self.says, "Planning the cuts"):
                plan = trials.plan(self.fit, self.study, machine, stock, material, thickness, minutes=minutes)
        except recommend.NotYet as no:
            self.says.not_yet(no.reason, no.would_help)
            return
        self.plan = plan
        self.answer.value = base.table(("", "what to set", "why"), plan.fields(), "Trial cuts to make next")
        cuts = cut_table(self.study) if self.fit is None else self.fit.data
        self.picture.draw(lambda ax: settings.runs(ax, cuts, plan, self.study.units))
        self.shown(True)

    def save_sheet(self) -> None:
        """Save the run sheet of the plan shown, and say where."""
        if self.plan is None:
            self.saved.problem("There is no plan to save a run sheet of; plan the cuts first.")
            return
        make_folder(self.folder)
        name = file_name(f"runs_{self.plan.job.machine.id}_{self.plan.job.material.id}", ".html")
        out = write_run_sheet(self.plan, self.study, self.folder / name)
        self.saved.saved(out, "print it for the machine.")


def plan_trials(
    fit: Fit,
    study: Study,
    machine: str | None = None,
    stock: str | None = None,
    material: str | None = None,
    thickness: str | None = None,
    sheets: str | Path = ".",
) -> TrialPlan:
    """The panel, opened on a job, the one the study asks about unless said; thickness with its unit.

    fit : of the study, None while it has no cut. Run sheets go into the folder `sheets`.
    """
    job = job_of(study, machine=machine, stock=stock, material=material, thickness=thickness)
    return TrialPlan(fit, study, job, sheets)
