"""The setting for a job as its wishes change: speed, feed, change-out, cost, limits, the cost/output curve."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets

from bandtrial import recommend, units
from bandtrial.asked import GOALS
from bandtrial.disk import file_name, make_folder
from bandtrial.panels import base
from bandtrial.panels.picture import Picture
from bandtrial.panels.session import job_of
from bandtrial.plots import settings
from bandtrial.recommend.wording import WORKED_OUT, card_html
from bandtrial.report.sheet import write_sheet

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
        self.picture = Picture(CAPTION, height=3.6)
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
