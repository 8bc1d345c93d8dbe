"""The cuts of a log to look through: sorted, narrowed down by words, one chosen to be changed or deleted."""

import html
from collections.abc import Callable
from pathlib import Path

import ipywidgets as widgets

from bandtrial import study
from bandtrial.panels import base
from bandtrial.study import draft, editing

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
        cut = self._chosen()
        editing.delete_cut(self.folder, cut).save()
        self.reload()
        self.changed()
        self.says.note(f"Cut {cut} is out of the log; Undo brings it back.")

    def _chosen(self) -> str:
        if self.list.value is None:
            raise ValueError("Choose a cut in the list first.")
        return str(self.list.value)
