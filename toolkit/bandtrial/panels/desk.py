"""The desk of a study: what the shop has, its bands, its cuts, typed, pasted or imported; all of it can be undone."""

from pathlib import Path

import ipywidgets as widgets

from bandtrial import study
from bandtrial.panels import base
from bandtrial.panels.entry_form import Shop
from bandtrial.panels.lists import Bands, CutList
from bandtrial.panels.log_form import LogCuts, Undoing
from bandtrial.panels.table_import import ImportTable
from bandtrial.study import files, toml

LOG, LIST, TABLE, BANDS, SHOP = "Log a cut", "All cuts", "From a spreadsheet", "Bands", "The shop"
EMPTY = "This folder holds no study yet. Choose its units and make one; then say what the shop has."


class StudyDesk(base.Panel):
    """A row of views, undo for them all, and the view that is chosen."""

    def __init__(self, folder: str | Path) -> None:
        self.folder, self.says = Path(folder), base.Says()
        self.form: LogCuts | None = None
        self.welded: dict[str, str] = {}
        self.view = widgets.ToggleButtons(options=[LOG, LIST, TABLE, BANDS, SHOP], style={"button_width": "auto"})
        self.undoing = Undoing(self.folder, self.show)
        self.body = widgets.VBox()
        self.units = base.choice("units", [("inches, ft/min, lbf", "us"), ("mm, m/min, N", "metric")])
        self.make = base.button("Make a study here", "write its three files", main=True)
        super().__init__()
        self.view.observe(base.guarded(self.says, self.show), "value")
        self.make.on_click(base.guarded(self.says, self.make_study))
        base.guarded(self.says, self.begin)()

    def begin(self) -> None:
        """The views of a study; of an empty folder, the way to one."""
        if self.folder.is_dir() and not any(files.existing(self.folder, name) for name in
                                            (toml.FILE, "cuts.csv", "bands.csv", "cuts.xlsx")):  # fmt: skip
            self.children = [widgets.Label(EMPTY), widgets.HBox([self.units, self.make]), self.says]
            return
        self.children = [widgets.HBox([self.view, self.undoing]), self.says, self.body]
        if not _opens(self.folder):
            self.view.value = SHOP
        self.show()

    def make_study(self) -> None:
        """Make the folder a study in the units chosen, and open it."""
        study.new_study(self.folder, self.units.value)
        self.begin()
        self.says.note("Made. Now the machine, the band stock, the material and the costs; then fit a band.")

    def show(self) -> None:
        """The chosen view as the study is now."""
        self.undoing.look()
        if self.view.value == SHOP:
            self.body.children = (Shop(self.folder, self.changed),)
            return
        study.open_study(self.folder)  # its problems, where it can't be opened
        if self.view.value == LOG:
            if self.form is None:
                self.form = LogCuts(self.folder, self.changed)
                self.form.fields.welded = self.welded
                self.form.undoing.layout.display = "none"
            else:
                self.form.refresh()
            self.body.children = (self.form,)
        elif self.view.value == LIST:
            self.body.children = (CutList(self.folder, self.edit, self.changed),)
        elif self.view.value == TABLE:
            self.body.children = (ImportTable(self.folder, self.changed),)
        else:
            self.body.children = (Bands(self.folder, self.changed, self.welded),)

    def edit(self, cut: str) -> None:
        """Show a cut in the form."""
        self.view.value = LOG
        assert self.form is not None
        self.form.edit(cut)

    def changed(self) -> None:
        """Something was changed in the view that is shown."""
        self.undoing.look()
        self.undoing.says.note()


def _opens(folder: Path) -> bool:
    try:
        study.open_study(folder)
    except study.StudyError:
        return False
    return True


def study_desk(folder: str | Path) -> StudyDesk:
    """The desk of the study in `folder`, or of an empty folder in which one is to be made."""
    return StudyDesk(folder)
