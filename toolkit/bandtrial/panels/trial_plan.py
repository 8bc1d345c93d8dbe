"""Which cuts to make next for a job, planned at the press of a button, and the run sheet for the machine."""

from __future__ import annotations

from pathlib import Path

import ipywidgets as widgets

from bandtrial import recommend, trials
from bandtrial.disk import file_name, make_folder
from bandtrial.panels import base
from bandtrial.panels.picture import Picture
from bandtrial.panels.session import job_of, ticking
from bandtrial.plots import settings
from bandtrial.report.sheet import write_run_sheet
from bandtrial.study import cut_table
from bandtrial.study.model import Study
from bandtrial.wear.fit import Fit

CAPTION = "Settings of this work: made so far, and the runs planned. The published start is the dashed line."


class TrialPlan(base.Panel):
    """`plan` is the plan shown now, None while there is none. `folder` takes the run sheets."""

    def __init__(self, fit: Fit, study: Study, job: dict[str, str], folder: str | Path) -> None:
        self.fit, self.study, self.folder = fit, study, Path(folder)
        self.plan: trials.Plan | None = None
        self.controls = {**base.job_controls(study, job), "minutes": base.slider("minutes free", 10, 240, 10, 100)}
        self.says, self.saved = base.Says(), base.Says()
        self.picture = Picture(CAPTION, height=3.8, words=study.lines.of)
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
