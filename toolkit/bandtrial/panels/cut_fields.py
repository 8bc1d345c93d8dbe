"""The fields of one cut: those that the chosen machine and section use, each with its unit; the rest one click away."""

from collections.abc import Callable
from datetime import datetime

import ipywidgets as widgets
import pandas as pd

from bandtrial.panels import base
from bandtrial.sawing import COOLANTS, OPERATIONS
from bandtrial.study import draft
from bandtrial.study.columns import COLUMNS, REWELDS, SECTIONS, SIGNALS
from bandtrial.study.model import Study
from bandtrial.study.problems import Problem
from bandtrial.study.sections import DIAMETER, WALLED
from bandtrial.words import count

FLAT, CURVED = ("work_thickness", "cut_travel"), ("diameter",)
ALWAYS = ("band", "material", "started", *FLAT, "diameter", "wall", "band_speed", "feed_rate", "feed_force", "cut_time",
          "note")  # fmt: skip
"""Of the fields that a cut can have, those shown whatever the machine's cuts so far say."""
CLEARED = ("cut_time", *SIGNALS, "rewelded", "exclude", "note")
"""What is new with every cut; everything else usually stays."""
PLAIN = {"operation": "sawing", "section": "rectangular", "coolant": "flood", "complete": "yes", "pieces": "1",
         "stacked": "1"}  # fmt: skip
"""What a field says that is left as it was."""
HINTS = {"cut_time": "2:35, or seconds", "started": "2026-03-02 14:30", "exclude": "empty: the cut is used"}
SHOWN = ("cut", "material", "work_thickness", "cut_travel", "indicated_band_speed", "cut_time", "pieces",
         *SIGNALS, "note")  # fmt: skip


class CutFields(widgets.VBox):
    """Controls by column name in `controls`; `cells()` is what they say, as text."""

    def __init__(self, study: Study) -> None:
        self.study, self.dated, self.welded = study, True, dict[str, str]()
        self.band = base.choice("band", self._bands())
        self.machine = base.choice("machine", list(study.machines))
        self.controls: dict[str, widgets.Widget] = {
            "band": self.band,
            "machine": self.machine,
            "material": base.choice("material", base.named(study.materials)),
            "started": self._text("started"),
            **{name: self._text(name) for name in (*FLAT, *CURVED, "wall", "band_speed", "feed_rate", "feed_force",
                                                   "cut_time")},
            "operation": base.choice("operation", OPERATIONS),
            "section": base.choice("section", SECTIONS),
            **{name: self._text(name) for name in ("cut_area", "pieces", "stacked")},
            "coolant": base.choice("coolant", COOLANTS),
            **{name: self._text(name) for name in SIGNALS},
            "complete": base.choice("cut finished", ("yes", "no")),
            "rewelded": base.choice("welded anew before", [("no", ""), *((one.replace("_", " "), one)
                                                                         for one in REWELDS)]),
            "exclude": base.text("leave out because", hint=HINTS["exclude"]),
            "note": self._text("note"),
        }  # fmt: skip
        for name in ("pieces", "stacked"):
            self.controls[name].value = PLAIN[name]
        self.more = base.button("More fields", "the fields that this machine's cuts have not used so far")
        self.more.on_click(lambda _: self._toggle())
        self.all_shown = False
        self.box = widgets.Box(list(self.controls.values()), layout=widgets.Layout(flex_flow="row wrap"))
        super().__init__([self.box])
        self.band.observe(lambda _: self._follow_band(), "value")
        for name in ("machine", "section"):
            self.controls[name].observe(lambda _: self.show_needed(), "value")
        self._follow_band()
        self.date()

    def on_change(self, call: Callable[..., None]) -> None:
        """Have `call` called whenever an entry changes."""
        for control in self.controls.values():
            control.observe(call, "value")

    def refresh(self, study: Study) -> None:
        """Follow a study that has changed: new bands, machines, materials can be chosen."""
        self.study = study
        for name, options in (("band", self._bands()), ("machine", [(one, one) for one in study.machines]),
                              ("material", base.named(study.materials))):  # fmt: skip
            box = self.controls[name]
            if list(box.options) != options:
                before, box.options = box.value, options
                box.value = before if before in [one for _, one in options] else options[0][1] if options else None
        self._follow_band()

    def cells(self) -> dict[str, str]:
        """What the fields of such a cut say, by column; "" where nothing is typed."""
        return {name: str(one.value or "").strip() for name, one in self.controls.items() if self._has(name)}

    def saved(self) -> None:
        """Clear what is new with every cut."""
        self.dated = self.dated and bool(self.controls["started"].value or not self._over())
        if self.controls["rewelded"].value:
            self.welded.pop(str(self.band.value), None)
        for name in CLEARED:
            self.controls[name].value = ""
        self.date()

    def date(self) -> None:
        """Fill in when the next cut begins: now, unless the machine's last cut still runs, or nobody wants it."""
        self.controls["started"].value = now() if self.dated and self._over() else ""

    def fill(self, row: pd.Series) -> None:
        """Show a cut of the log, to be changed."""
        bands = [value for _, value in self.band.options]
        if row["band"] not in bands:
            self.band.options = [*self.band.options, (row["band"], row["band"])]
        for name, control in self.controls.items():
            value = draft.as_entry(name, row[name], self.study.units)
            control.value = value or (PLAIN.get(name, "") if isinstance(control, widgets.Dropdown) else "")
        self.show_needed()

    def label(self, name: str) -> str:
        """The name of a column as people read it, with the unit that a bare number has."""
        unit = COLUMNS[name].unit(self.study.units)
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
        used = [n for n in range(len(SHOWN)) if any(row[n] for row in rows)]
        heads = [SHOWN[n].replace("indicated_", "").replace("_", " ") for n in used]
        caption = f"band {self.band.value}: {count(len(cuts), 'row')} so far, the newest first"
        return base.table(heads, [[row[n] for n in used] for row in rows], caption)

    def show_needed(self) -> None:
        """Show the fields that the machine and section use, and all others where they are asked for or filled in."""
        mine = self.study.cuts[self.study.cuts["machine"] == self.machine.value]
        used = {*ALWAYS, *draft.used_columns(mine.tail(200))}
        used -= set() if len(self.study.machines) > 1 else {"machine"}
        for name, control in self.controls.items():
            filled = name != "machine" and str(control.value or "") not in ("", PLAIN.get(name, ""))
            base.show(control, self._has(name) and (self.all_shown or filled or name in used))

    def _text(self, name: str) -> widgets.Text:
        return base.text(self.label(name), hint=HINTS.get(name, ""))

    def _bands(self) -> list[tuple[str, str]]:
        running = self.study.bands[self.study.bands["end"] == "in_service"]
        names = (running[name].astype(str).tolist() for name in ("band", "stock", "machine"))
        return [(" · ".join(one for one in row if one), row[0]) for row in zip(*names, strict=True)]

    def _over(self) -> bool:
        return draft.over_by(self.study.cuts, str(self.machine.value), datetime.now())

    def _toggle(self) -> None:
        self.all_shown = not self.all_shown
        self.more.description = "Fewer fields" if self.all_shown else "More fields"
        self.show_needed()

    def _follow_band(self) -> None:
        bands = self.study.bands.set_index("band")
        if self.band.value in bands.index and bands.at[self.band.value, "machine"] in self.study.machines:
            self.machine.value = bands.at[self.band.value, "machine"]
        self.controls["rewelded"].value = self.welded.get(str(self.band.value), "")
        self.show_needed()

    def _has(self, name: str) -> bool:
        """Whether a cut on this machine, of this section, can have a field at all."""
        section, machine = self.controls["section"].value, self.study.machines.get(self.machine.value)
        needed = {
            **dict.fromkeys(FLAT, section not in DIAMETER),
            **dict.fromkeys(CURVED, section in (*DIAMETER, "hole")),
            "wall": section in WALLED,
            "cut_area": section not in ("rectangular", "hole", *DIAMETER),
            "feed_force": machine is not None and machine.feed == "force",
            "feed_rate": machine is not None and machine.feed == "rate",
            "band_speed": machine is None or machine.only_speed != machine.only_speed,
        }
        return needed.get(name, True)


def now() -> str:
    """The time of day, as a cut's beginning is written."""
    return f"{datetime.now():%Y-%m-%d %H:%M:%S}"
