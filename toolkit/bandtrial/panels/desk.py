"""The desk of a study: what the shop has, its bands (fitted, ended, welded anew), its cuts to look through, change or
delete; typed, pasted or imported; all of it can be undone.
"""

import html
from collections.abc import Callable
from datetime import date
from pathlib import Path

import ipywidgets as widgets

from bandtrial import study
from bandtrial.panels import base
from bandtrial.panels.entry_form import ImportTable, Shop
from bandtrial.panels.log_form import LogCuts, Undoing
from bandtrial.sawing import ENDS
from bandtrial.study import draft, editing, files, toml
from bandtrial.study.columns import REWELDS

SHOWN = ("band", "stock", "machine", "fitted", "removed", "end", "note")


class Bands(widgets.VBox):
    """A form for a new band, one for the end of a band, and the bands that there are.

    welded : filled with the bands welded anew here, and why, for the form that logs their next cut
    """

    def __init__(self, folder: Path, changed: Callable[[], None], welded: dict[str, str]) -> None:
        self.folder, self.changed, self.welded, self.says = folder, changed, welded, base.Says()
        self.shop = study.open_study(folder)
        today = date.today().isoformat()
        self.name = base.text("new band", hint="the name written on it")
        self.stock = base.choice("of stock", list(self.shop.band_stock))
        self.machine = base.choice("on machine", list(self.shop.machines))
        self.fitted = base.text("fitted", today)
        self.fit = base.button("Fit this band", "add it to bands.csv", main=True)
        self.band = base.choice("band", ["-"])
        self.end = base.choice("how it ended", [(end.replace("_", " "), end) for end in ENDS[1:]])
        self.removed = base.text("taken off", today)
        self.note = base.text("note on it")
        self.off = base.button("It came off", "enter its end in bands.csv")
        self.weld = base.button("Welded anew", "it goes on; its next cut is the first of a new weld")
        self.there = widgets.HTML()
        wrap = widgets.Layout(flex_flow="row wrap")
        super().__init__([
            widgets.Box([self.name, self.stock, self.machine, self.fitted, self.fit], layout=wrap),
            widgets.Box([self.band, self.end, self.removed, self.note, self.off, self.weld], layout=wrap),
            self.says, self.there,
        ])  # fmt: skip
        for button, action in ((self.fit, self.fit_band), (self.off, self.end_band), (self.weld, self.weld_band)):
            button.on_click(base.guarded(self.says, action))
        self.show()

    def show(self) -> None:
        """The bands as they stand, those in service first."""
        self.shop = study.open_study(self.folder)
        bands = study.band_table(self.shop)
        order = (bands["end"] != "in_service").argsort(kind="stable")
        names = bands["band"].iloc[order].tolist()
        self.band.options = names or ["-"]
        rows = [[str(one[name])[:10] if name in ("fitted", "removed") and one[name] == one[name]
                 else "" if one[name] != one[name] else str(one[name]).replace("_", " ") for name in SHOWN]
                for _, one in bands.iloc[order].iterrows()]  # fmt: skip
        self.there.value = base.table(SHOWN, rows, f"{len(rows)} bands" if len(rows) != 1 else "1 band")

    def fit_band(self) -> None:
        """Add the band typed, as fitted then."""
        values = {"stock": self.stock.value, "machine": self.machine.value, "fitted": self.fitted.value.strip()}
        self._make(editing.fit_band(self.folder, self.name.value.strip(), values))
        self.name.value = ""

    def end_band(self) -> None:
        """Say how the band chosen ended, and when."""
        self._make(editing.end_band(self.folder, self._chosen(), self.end.value, self.removed.value.strip(),
                                    self.note.value.strip()))  # fmt: skip
        self.note.value = ""

    def weld_band(self) -> None:
        """Have the band chosen welded anew: its next cut says so."""
        band = self._chosen()
        end = self.shop.bands.set_index("band").at[band, "end"]
        self.welded[band] = str(end) if end in REWELDS else REWELDS[0]
        self._make(editing.reweld_band(self.folder, band))
        self.says.note(f'{band} is in service. At its next cut say why it was welded, under "welded anew before".')

    def _chosen(self) -> str:
        if self.band.value == "-":
            raise ValueError("There is no band yet: fit one first.")
        return str(self.band.value)

    def _make(self, change: editing.Change) -> None:
        found = change.problems()
        if wrong := [one.message for one in found if one.severity == "error"]:
            self.says.problems(["Nothing was saved.", *wrong])
            return
        step = change.save()
        self.show()
        self.changed()
        words = f"Saved: {change.what}." if step else "Nothing was changed."
        self.says.done(words, [one.message for one in found])


NEWEST = "newest first"
SORTED = ("cut", "started", "machine", "band", "material", "work_thickness", "band_speed", "cut_time", "note")
MOST = 500
"""Lines shown at once; a browser grows slow with thousands."""


class CutList(widgets.VBox):
    """A list of lines; `change(number)` is called to change a cut, `changed()` after one was deleted."""

    def __init__(self, folder: Path, change: Callable[[str], None], changed: Callable[[], None]) -> None:
        self.folder, self.change, self.changed, self.says = folder, change, changed, base.Says()
        self.words = base.text("with the words", hint="as B3 A36, or empty: all")
        self.by = base.choice("sorted by", [(NEWEST, "-"), *((name.replace("_", " "), name) for name in SORTED)])
        self.heads = widgets.HTML()
        self.list = widgets.Select(rows=14, layout=widgets.Layout(width="100%"))
        self.list.add_class("bandtrial-cuts")
        self.edit = base.button("Change this cut", "show it in the form", main=True)
        self.delete = base.button("Delete this cut", "take it out of the log; Undo brings it back")
        style = "<style>.bandtrial-cuts select{font-family:monospace;white-space:pre}</style>"
        super().__init__([
            widgets.Box([self.words, self.by, self.edit, self.delete], layout=widgets.Layout(flex_flow="row wrap")),
            widgets.HTML(style), self.heads, self.list, self.says,
        ])  # fmt: skip
        for box in (self.words, self.by):
            box.observe(base.guarded(self.says, self.show), "value")
        self.edit.on_click(base.guarded(self.says, lambda: self.change(self._chosen())))
        self.delete.on_click(base.guarded(self.says, self.delete_cut))
        self.reload()

    def reload(self) -> None:
        """Read the log again."""
        self.shop = study.open_study(self.folder)
        self.show()

    def show(self) -> None:
        """The cuts that hold the words looked for."""
        by = "" if self.by.value == "-" else self.by.value
        heads, *lines = draft.listed(self.shop.cuts, self.words.value, by, self.shop.units)
        style = "margin:0 .4rem;font-weight:bold;white-space:pre;overflow:hidden"
        self.heads.value = f"<pre style='{style}'>{html.escape(heads[0])}</pre>"
        before = self.list.value
        self.list.options = lines[:MOST]
        self.list.value = before if before in [number for _, number in lines[:MOST]] else None
        count = f"{len(lines)} of {len(self.shop.cuts)} cuts"
        self.says.note(count + (f", the first {MOST} of them shown" if len(lines) > MOST else ""))

    def delete_cut(self) -> None:
        """Take the cut chosen out of the log."""
        cut = self._chosen()
        editing.delete_cut(self.folder, cut).save()
        self.reload()
        self.changed()
        self.says.note(f"Cut {cut} is out of the log; Undo brings it back.")

    def _chosen(self) -> str:
        if self.list.value is None:
            raise ValueError("Choose a cut in the list first.")
        return str(self.list.value)


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
