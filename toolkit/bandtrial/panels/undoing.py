"""Undo and do again, for all that was changed in a study from here."""

from collections.abc import Callable
from pathlib import Path

import ipywidgets as widgets

from bandtrial.panels import base
from bandtrial.study import editing


class Undoing(widgets.HBox):
    """Two buttons and a line that says what they did; changed() is called after each."""

    def __init__(self, folder: Path, changed: Callable[[], None]) -> None:
        self.folder, self.changed, self.says = folder, changed, base.Says()
        self.undo, self.redo = base.button("Undo"), base.button("Do again")
        super().__init__([self.undo, self.redo, self.says])
        self.undo.on_click(base.guarded(self.says, self.take_back))
        self.redo.on_click(base.guarded(self.says, self.do_again))
        self.look()

    def look(self) -> None:
        """Say on the buttons what they would do; what somebody else does after that is not undone by surprise."""
        self.kept = editing.history(self.folder)
        for button, steps, words in ((self.undo, self.kept.done, "undo"), (self.redo, self.kept.undone, "do again")):
            button.tooltip = f"{words}: {steps[-1].what}, {steps[-1].when[:16]}" if steps else f"nothing to {words}"
            button.disabled = not steps

    def take_back(self) -> None:
        self._go(editing.undo, self.kept.done, "Undone")

    def do_again(self) -> None:
        self._go(editing.redo, self.kept.undone, "Done again")

    def _go(self, way: Callable[..., editing.Step], steps: tuple[editing.Step, ...], words: str) -> None:
        try:
            step = way(self.folder, steps[-1].id if steps else "")
        finally:
            self.look()
        self.changed()
        self.says.note(f"{words}: {step.what}.")
