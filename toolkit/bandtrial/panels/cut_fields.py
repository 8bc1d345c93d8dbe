"""The fields of one cut: only those that the chosen machine and section have, each with its unit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets as widgets
import pandas as pd

from bandtrial.panels import base
from bandtrial.study import Problem, Study, draft
from bandtrial.study.columns import COOLANTS, OPERATIONS, SECTIONS, SIGNALS
from bandtrial.study.sections import DIAMETER, WALLED

FLAT, CURVED = ("work_thickness", "cut_travel"), ("diameter",)
LEFT = 14
"""How many fields stand in the left column: what is cut, and what is set; right of it, what was seen."""
CLEARED = ("cut_time", *SIGNALS, "exclude", "note")
"""What is new with every cut; everything else usually stays."""
QUANTITIES = (
    "work_thickness", "cut_travel", "diameter", "wall", "cut_area", "band_speed", "feed_rate", "feed_force", "cut_time",
    "pieces", *SIGNALS,
)  # fmt: skip
SHOWN = ("cut", "material", "work_thickness", "cut_travel", "indicated_band_speed", "cut_time", "pieces",
         *SIGNALS, "note")  # fmt: skip


class CutFields(widgets.HBox):
    """Controls by column name in `controls`; `cells()` is what they say, as text."""

    def __init__(self, study: Study) -> None:
        self.study = study
        running = study.bands[study.bands["end"] == "in_service"]
        self.band = base.choice("band", [(self._band_name(row), row.band) for row in running.itertuples()])
        self.machine = base.choice("machine", list(study.machines))
        self.controls: dict[str, widgets.Widget] = {
            "band": self.band,
            "machine": self.machine,
            "operation": base.choice("operation", OPERATIONS),
            "material": base.choice("material", base.named(study.materials)),
            "started": base.text("started", hint="2026-03-02 14:30"),
            "section": base.choice("section", SECTIONS),
            **{name: base.text(self.label(name)) for name in QUANTITIES},
            "coolant": base.choice("coolant", COOLANTS),
            "complete": base.choice("cut finished", ("yes", "no")),
            "exclude": base.text("leave out because", hint="empty: the cut is used"),
            "note": base.text("note"),
        }
        self.controls["pieces"].value = "1"
        self.band.observe(lambda _: self._follow_band(), "value")
        for name in ("machine", "section"):
            self.controls[name].observe(lambda _: self._show_needed(), "value")
        boxes = list(self.controls.values())
        super().__init__([widgets.VBox(boxes[:LEFT]), widgets.VBox(boxes[LEFT:])])
        self._follow_band()
        self._show_needed()

    def on_change(self, call: Callable[..., None]) -> None:
        """Have `call` called whenever an entry changes."""
        for control in self.controls.values():
            control.observe(call, "value")

    def cells(self) -> dict[str, str]:
        """What the shown controls say, by column; "" where nothing is typed."""
        shown = {name: one for name, one in self.controls.items() if one.layout.display != "none"}
        return {name: str(one.value or "").strip() for name, one in shown.items()}

    def saved(self) -> None:
        """Clear what is new with every cut."""
        for name in CLEARED:
            self.controls[name].value = ""

    def label(self, name: str) -> str:
        """The name of a column as people read it, with the unit that a bare number has."""
        unit = draft.default_unit(name, self.study.units)
        return name.replace("_", " ") + (f" [{unit}]" if unit else "")

    def words(self, problem: Problem) -> str:
        """A problem in the words of the form."""
        field = f"{str(problem.column).replace('_', ' ')}: " if problem.column else ""
        return f"{field}{problem.message}"

    def table(self, cuts: pd.DataFrame, most: int = 8) -> str:
        """The last rows of a cut table, the newest first, in the reader's units."""
        if cuts.empty:
            return base.table((), (), f"band {self.band.value}: no cut so far")
        rows = [
            [draft.in_words(name.removeprefix("indicated_"), row[name], self.study.units) for name in SHOWN]
            for _, row in cuts[::-1][:most].iterrows()
        ]
        heads = [name.replace("_", " ") for name in SHOWN]
        return base.table(heads, rows, f"band {self.band.value}: {len(cuts)} rows so far, the newest first")

    def _band_name(self, row: Any) -> str:
        return " · ".join(filter(None, (row.band, row.stock, row.machine)))

    def _follow_band(self) -> None:
        bands = self.study.bands.set_index("band")
        if self.band.value in bands.index and bands.at[self.band.value, "machine"] in self.study.machines:
            self.machine.value = bands.at[self.band.value, "machine"]

    def _show_needed(self) -> None:
        section, machine = self.controls["section"].value, self.study.machines.get(self.machine.value)
        force = machine is not None and machine.feed == "force"
        needed = {
            **dict.fromkeys(FLAT, section not in DIAMETER),
            **dict.fromkeys(CURVED, section in (*DIAMETER, "hole")),
            "wall": section in WALLED,
            "cut_area": section not in ("rectangular", "hole", *DIAMETER),
            "feed_force": force,
            "feed_rate": machine is not None and machine.feed == "rate",
        }
        for name, show in needed.items():
            self.controls[name].layout.display = None if show else "none"
