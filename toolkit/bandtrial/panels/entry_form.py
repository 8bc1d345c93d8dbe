"""A form for one table of study.toml: what is asked, with examples in the study's units; saved into the file."""

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from bandtrial import asked
from bandtrial.panels import base
from bandtrial.study import editing, files, toml
from bandtrial.study.problems import Problem

TABLES = [("machines", "machines"), ("band stock", "band_stock"), ("materials", "materials"), ("costs", "costs"),
          ("the study", "study")]  # fmt: skip
NEW = "(a new one)"


class Shop(widgets.VBox):
    """What the shop has: a table is chosen, one of its entries or a new one, and its form is filled in."""

    def __init__(self, folder: Path, changed: Callable[[], None]) -> None:
        self.folder, self.changed, self.says = folder, changed, base.Says()
        self.which = base.choice("what", TABLES)
        self.one = base.choice("which", [NEW])
        self.name = base.text("its name", hint="a name of your own")
        self.box = widgets.Box(layout=widgets.Layout(flex_flow="row wrap"))
        self.save = base.button("Save", "save into study.toml", main=True)
        self.controls: dict[str, widgets.Widget] = {}
        head = widgets.Box([self.which, self.one, self.name], layout=widgets.Layout(flex_flow="row wrap"))
        super().__init__([head, self.box, widgets.HBox([self.save]), self.says])
        self.which.observe(base.guarded(self.says, self.choose), "value")
        self.one.observe(base.guarded(self.says, self.show), "value")
        self.save.on_click(base.guarded(self.says, self.save_entry))
        self.choose()

    @property
    def table(self) -> str:
        """The table of study.toml chosen."""
        return str(self.which.value)

    @property
    def named(self) -> bool:
        """Whether entries of the table have names."""
        return self.table in ("machines", "band_stock", "materials")

    @property
    def system(self) -> str:
        """The units that the study is written in."""
        return "metric" if self._written("study").get("units") == "metric" else "us"

    def choose(self) -> None:
        """Another table: its entries, the form of the first new one."""
        names = list(self._written(self.table)) if self.named else []
        with self.hold_trait_notifications():
            self.one.options = [NEW, *names]
            self.one.value = NEW
        for box in (self.one, self.name):
            base.show(box, self.named)
        self.show()

    def show(self) -> None:
        """The form of the chosen entry, with what study.toml has for it."""
        new = self.one.value == NEW
        self.before = {} if self.named and new else self._typed()
        self.name.value = "" if new else str(self.one.value)
        self.name.disabled = not new
        self.controls = {one.name: self._control(one) for one in asked.FORMS[self.table]}
        if "feed" in self.controls:
            self.controls["feed"].observe(lambda _: self._follow_feed(), "value")
            self._follow_feed()
        self.box.children = tuple(self.controls.values())

    def save_entry(self) -> None:
        """Save what was typed, if it makes no error of the study."""
        name = self.name.value.strip() if self.named else ""
        if self.named and not name:
            raise ValueError(f"{self.which.label}: give it a name of your own, as people here call it.")
        if self.named and self.one.value == NEW and name in self._written(self.table):
            raise ValueError(f'There is "{name}" already: choose it under "which" to change it.')
        typed = {key: str(box.value) for key, box in self.controls.items() if box.layout.display != "none"}
        changed = {key: text for key, text in typed.items() if text.strip() != self.before.get(key, "")}
        if not changed:
            self.says.note("Nothing was changed.")
            return
        lacking = [one.words for one in asked.FORMS[self.table] if one.needed and not typed.get(one.name, "").strip()]
        if lacking:
            raise ValueError(f"Still needed: {', '.join(lacking)}.")
        change = editing.entry(self.folder, self.table, name, asked.answers(self.table, changed, self.system))
        found = [one for one in change.problems() if self._mine(one, name)]
        if wrong := [self._words(one) for one in found if one.severity == "error"]:
            self.says.problems(["Nothing was saved.", *wrong])
            return
        change.save()
        self.changed()
        self.choose()
        self.says.done(f"Saved: {change.what}.", map(self._words, found))

    def _control(self, one: asked.Asked) -> widgets.Widget:
        value = self.before.get(one.name, "")
        words = one.words + (" *" if one.needed else "")
        if one.choices:
            options = [("not said", ""), *((word, word) for word in one.choices)]
            return base.choice(words, options, value if value in one.choices else "")
        return base.text(words, value, one.example(self.system))

    def _follow_feed(self) -> None:
        for one in asked.FORMS[self.table]:
            base.show(self.controls[one.name], not one.feeds or self.controls["feed"].value in one.feeds)

    def _written(self, table: str) -> dict[str, Any]:
        """A table of study.toml as it stands there."""
        data = (self.folder / toml.FILE).read_bytes()
        found = tomllib.loads(files.decode(data)[0].replace("\r\n", "\n")).get(table, {})
        return found if isinstance(found, dict) else {}

    def _typed(self) -> dict[str, str]:
        values = self._written(self.table)
        return asked.as_typed(self.table, values.get(self.one.value, {}) if self.named else values)

    def _mine(self, problem: Problem, name: str) -> bool:
        return problem.file != toml.FILE or ".".join(filter(None, (self.table, name))) in str(problem.column)

    def _words(self, problem: Problem) -> str:
        """A problem in the words of the form."""
        key = str(problem.column).rpartition(".")[2].replace("band_speed_ranges", "band_speeds")
        words = next((one.words for one in asked.FORMS[self.table] if one.name == key), "")
        return f"{words}: {problem.message}" if words else str(problem)
