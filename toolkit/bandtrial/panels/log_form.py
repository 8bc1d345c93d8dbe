"""A form at the machine: each cut is checked while it is typed, saved at once, and can be taken back."""

from pathlib import Path

import ipywidgets as widgets

from bandtrial import sawing, study
from bandtrial.panels import base
from bandtrial.panels.cut_fields import CutFields
from bandtrial.panels.picture import Picture
from bandtrial.plots import evidence
from bandtrial.study import draft

NOT_KNOWN = float("nan")


class LogCuts(base.Panel):
    """Form, what is wrong with the entry, the band's cuts so far. `folder` is the study written to."""

    def __init__(self, folder: str | Path) -> None:
        self.folder, self.saved = Path(folder), list[str]()
        self.says, self.done = base.Says(), base.Says()
        self.picture = Picture("Cutting rate of this band's cuts so far, and of the cut typed now", 7.6, 2.6)
        self.so_far = widgets.HTML()
        self.save = base.button("Save cut", "save this cut into the log", main=True)
        self.undo = base.button("Take back last save", "take the last saved cut out of the log")
        super().__init__()
        base.guarded(self.says, self.begin)()

    def begin(self) -> None:
        """Read the study and show the form; a study that can't be read shows its problems instead."""
        self.reload()
        self.fields = CutFields(self.study)
        self.save.on_click(base.guarded(self.done, self.save_cut))
        self.undo.on_click(base.guarded(self.done, self.take_back))
        self.fields.on_change(base.guarded(self.says, self.check))
        self.fields.band.observe(base.guarded(self.says, self.show_band), "value")
        entry = (self.fields, self.says, widgets.HBox([self.save, self.undo]), self.done)
        self.children = (base.cautions(), *entry, self.picture, self.so_far)
        self.show_band()

    def reload(self) -> None:
        """Read the study again; StudyError where it has errors."""
        self.study = study.open_study(self.folder)
        self.table = study.cut_table(self.study)
        self.desk = draft.Desk(self.folder, self.study)

    def check(self) -> None:
        """Say what is wrong with the entry as it stands; what is not typed yet is not wrong."""
        cells = self.fields.cells()
        rate, found = self.desk.check_cut(cells)
        found = [p for p in found if not p.column or cells.get(p.column)]
        self.says.problems(
            [self.fields.words(p) for p in found if p.severity == "error"],
            [self.fields.words(p) for p in found if p.severity != "error"],
        )
        if rate == rate or self.drawn == self.drawn:  # nothing new to draw while neither was known
            self.draw(rate)

    def save_cut(self) -> None:
        """Save the cut typed, unless something is wrong with it; then nothing is saved."""
        cells = {"cut": draft.next_number(self.study.cuts["cut"])} | self.fields.cells()
        wrong = [self.fields.words(p) for p in self.desk.check_cut(cells)[1] if p.severity == "error"]
        if wrong:
            self.done.problems(["Nothing was saved.", *wrong])
            return
        said = {name: cell for name, cell in cells.items() if not draft.says_nothing(name, cell)}
        self.saved.append(study.append_cut(self.folder, draft.with_units(said, self.study.units)).cut)
        self.done.note(f"Saved as cut {self.saved[-1]} of band {cells['band']}.")
        base.guarded(self.says, self.next_cut)()

    def next_cut(self) -> None:
        """Read the log again and make the form ready; it is saved, whatever goes wrong here."""
        self.reload()
        self.fields.saved()
        self.show_band()

    def take_back(self) -> None:
        """Take the last cut that this form saved out of the log again."""
        if not self.saved:
            self.done.note("Nothing to take back: this form has saved no cut that is still in the log.")
            return
        study.undo_cut(self.folder, self.saved[-1])
        cut = self.saved.pop()
        self.reload()
        self.show_band()
        self.done.note(f"Cut {cut} is out of the log again.")

    def show_band(self) -> None:
        """The cuts so far of the band chosen, as a table and a drawing."""
        self.mine = self.table[self.table["band"] == self.fields.band.value]
        self.so_far.value = self.fields.table(self.mine)
        self.draw(NOT_KNOWN)

    def draw(self, typed: float) -> None:
        """The band's cuts so far and the cutting rate typed now [cm2/min], which may not be known yet."""
        self.drawn, mine = typed, self.mine
        rate = sawing.cutting_rate(mine["feed_rate"], mine["work_thickness"])
        self.picture.draw(lambda ax: evidence.band_so_far(ax, rate, mine["material"], self.study.units, typed))


def log_cuts(folder: str | Path) -> LogCuts:
    """The panel on a study folder. Saved cuts are in its log, on disk, as soon as the panel says so."""
    return LogCuts(folder)
