"""A form at the machine: each cut is checked while it is typed, saved at once, and can be taken back."""

import threading
import time
from collections.abc import Callable
from pathlib import Path

import ipywidgets as widgets

from bandtrial import sawing, study
from bandtrial.panels import base
from bandtrial.panels.cut_fields import CutFields, now
from bandtrial.plots import evidence
from bandtrial.study import draft, editing

NOT_KNOWN = float("nan")
START = "Start stopwatch"


class Stopwatch:
    """`button`, pressed, runs and shows its time; pressed again it hands the time on. began() is called at the start,
    ended(minutes) at the stop."""

    def __init__(self, began: Callable[[], None], ended: Callable[[float], None]) -> None:
        self.began, self.ended = began, ended
        self.since: float | None = None
        self.button = base.button(START, "start as the band meets the work, stop as it is through")

    def press(self) -> None:
        """Start, or stop and hand the time on."""
        if self.since is None:
            self.since, self.over = time.monotonic(), threading.Event()
            self.began()
            self._show()
            threading.Thread(target=self._tick, args=(self.over,), daemon=True).start()
            return
        minutes, self.since = (time.monotonic() - self.since) / 60, None
        self.over.set()
        self.button.description = START
        self.ended(minutes)

    def _tick(self, over: threading.Event) -> None:
        while not over.wait(1.0):
            self._show()

    def _show(self) -> None:
        since = self.since
        if since is not None:
            self.button.description = f"Stop at {draft.clock(int(time.monotonic() - since) / 60)}"


class Undoing(widgets.HBox):
    """Two buttons and a line that says what they did; changed() is called after each."""

    def __init__(self, folder: Path, changed: Callable[[], None]) -> None:
        self.folder, self.changed, self.says = folder, changed, base.Says()
        self.undo, self.redo = base.button("Undo"), base.button("Do again")
        super().__init__([self.undo, self.redo, self.says])
        self.undo.on_click(base.guarded(self.says, lambda: self._go(editing.undo, self.kept.done, "Undone")))
        self.redo.on_click(base.guarded(self.says, lambda: self._go(editing.redo, self.kept.undone, "Done again")))
        self.look()

    def look(self) -> None:
        """Say on the buttons what they would do; what somebody else does after that is not undone by surprise."""
        self.kept = editing.history(self.folder)
        for button, steps, words in ((self.undo, self.kept.done, "undo"), (self.redo, self.kept.undone, "do again")):
            button.tooltip = f"{words}: {steps[-1].what}, {steps[-1].when[:16]}" if steps else f"nothing to {words}"
            button.disabled = not steps

    def _go(self, way: Callable[..., editing.Step], steps: tuple[editing.Step, ...], words: str) -> None:
        try:
            step = way(self.folder, steps[-1].id if steps else "")
        finally:
            self.look()
        self.changed()
        self.says.note(f"{words}: {step.what}.")


class LogCuts(base.Panel):
    """Form, what is wrong with the entry, the band's cuts so far. `folder` is the study written to.

    changed : called when something was saved or taken back
    """

    def __init__(self, folder: str | Path, changed: Callable[[], None] = lambda: None) -> None:
        self.folder, self.changed = Path(folder), changed
        self.says, self.done = base.Says(), base.Says()
        self.picture = base.Picture("Cutting rate of this band's cuts so far, and of the cut typed now", height=2.4)
        self.so_far = widgets.HTML()
        self.save = base.button("Save cut", "save this cut into the log", main=True)
        self.leave = base.button("Leave it as it was", "end changing this cut")
        self.watch = Stopwatch(self.began, self.ended)
        self.undoing = Undoing(self.folder, self.refresh)
        self.editing, self.asked = "", dict[str, str]()
        super().__init__()
        base.guarded(self.says, self.begin)()

    def begin(self) -> None:
        """Read the study and show the form; a study that can't be read shows its problems instead."""
        self.reload()
        self.fields = CutFields(self.study)
        self.save.on_click(base.guarded(self.done, self.save_cut))
        self.leave.on_click(base.guarded(self.done, self.end_editing))
        self.watch.button.on_click(base.guarded(self.done, self.watch.press))
        self.fields.on_change(base.guarded(self.says, self.check))
        self.fields.band.observe(base.guarded(self.says, self.show_band), "value")
        base.show(self.leave, False)
        buttons = widgets.HBox([self.save, self.leave, self.watch.button, self.fields.more, self.undoing])
        entry = (self.fields, self.says, buttons, self.done)
        self.children = (base.cautions(columns=3), *entry, self.picture, self.so_far)
        self.show_band()

    def reload(self) -> None:
        """Read the study again; StudyError where it has errors."""
        self.study = study.open_study(self.folder)
        self.table = study.cut_table(self.study)
        self.desk = draft.Desk(self.folder, self.study)
        self.picture.say = self.study.lines.of

    def refresh(self) -> None:
        """Read the study again; what is typed stays."""
        if not self.children:
            self.begin()
            return
        self.reload()
        self.fields.refresh(self.study)
        self.undoing.look()
        self.show_band()
        self.changed()

    def began(self) -> None:
        """The stopwatch runs: the cut starts now."""
        self.fields.controls["started"].value = now()
        self.fields.controls["cut_time"].value = ""

    def ended(self, minutes: float) -> None:
        """The stopwatch stopped: fill in its time."""
        self.fields.controls["cut_time"].value = draft.clock(minutes)

    def check(self) -> None:
        """Say what is wrong with the entry as it stands; what is not typed yet is not wrong."""
        cells = self.fields.cells()
        rate, found = self._desk().check_cut(cells)
        found = [p for p in found if not p.column or cells.get(p.column)]
        self.says.problems(
            [self.fields.words(p) for p in found if p.severity == "error"],
            [self.fields.words(p) for p in found if p.severity != "error"],
        )
        if rate == rate or self.drawn == self.drawn:  # nothing new to draw while neither was known
            self.draw(rate)

    def save_cut(self) -> None:
        """Save the cut typed, unless something is wrong with it or has to be asked first; then nothing is saved."""
        if not self.fields.band.value:
            raise ValueError("No band is in service: fit one first, and log what it cuts.")
        number = self.editing or draft.next_number(self.study.cuts["cut"])
        cells = {"cut": number} | self.fields.cells()
        found = self._desk().check_cut(cells, asking=True)[1]
        wrong = [self.fields.words(p) for p in found if p.severity == "error"]
        if wrong:
            self.done.problems(["Nothing was saved.", *wrong])
            return
        if found and cells != self.asked:
            self.asked = cells
            again = f"Is that so? Then press {self.save.description} once more; nothing was saved yet."
            self.done.problems((), [*map(self.fields.words, found), again])
            return
        self.done.note(self._saved(number, cells))
        base.guarded(self.says, self.next_cut)()

    def _saved(self, number: str, cells: dict[str, str]) -> str:
        """Put the cut into the log, or what was changed of it; what was done."""
        if not self.editing:
            said = {name: cell for name, cell in cells.items() if not draft.says_nothing(name, cell)}
            what = f"cut {number} of {cells['band']} logged"
            editing.log_cuts(self.folder, [draft.with_units(said, self.study.units)], what)
            return f"Saved as cut {number} of band {cells['band']}."
        new = {name: cell for name, cell in cells.items() if cell != self.before.get(name, "")}
        if new:
            editing.change_cut(self.folder, number, draft.with_units(new, self.study.units)).save()
        return f"Cut {number} is changed." if new else f"Cut {number} is as it was."

    def next_cut(self) -> None:
        """Read the log again and make the form ready; it is saved, whatever goes wrong here."""
        if self.editing:
            self.end_editing()
        self.asked = {}
        self.refresh()
        self.fields.saved()

    def edit(self, cut: str) -> None:
        """Show a cut of the log in the form, to be changed."""
        self.fields.fill(self.study.cuts[self.study.cuts["cut"] == cut].iloc[0])
        self.editing, self.before = cut, {"cut": cut} | self.fields.cells()
        self.save.description = f"Save changes to cut {cut}"
        base.show(self.leave, True)
        self.done.note(f"This is cut {cut} as it stands in the log.")

    def end_editing(self) -> None:
        """Back to logging a new cut."""
        self.editing, self.save.description = "", "Save cut"
        base.show(self.leave, False)
        self.fields.saved()
        self.fields.refresh(self.study)

    def show_band(self) -> None:
        """The cuts so far of the band chosen, as a table and a drawing."""
        self.mine = self.table[self.table["band"] == self.fields.band.value]
        self.so_far.value = self.fields.table(self.mine)
        self.draw(NOT_KNOWN)

    def draw(self, typed: float) -> None:
        """The band's cuts so far and the cutting rate typed now [cm2/min], which may not be known yet."""
        self.drawn, mine = typed, self.mine
        if len(mine) == 1:
            self.picture.margins = {}  # measured anew: with the first cut comes a legend
        rate = sawing.cutting_rate(mine["feed_rate"], mine["work_thickness"])
        self.picture.draw(
            lambda ax: evidence.band_so_far(ax, rate, mine["material"], self.study.units, typed, mine["cut"])
        )

    def _desk(self) -> draft.Desk:
        return self.desk.without(self.editing) if self.editing else self.desk


def log_cuts(folder: str | Path) -> LogCuts:
    """The panel on a study folder. Saved cuts are in its log, on disk, as soon as the panel says so."""
    return LogCuts(folder)
