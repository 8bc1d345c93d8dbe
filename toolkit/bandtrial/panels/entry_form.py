"""What goes into a study by form: a table of study.toml, with examples in the study's units; cuts from another table,
its columns matched, every problem seen, then all of them added or none.
"""

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from bandtrial import asked, study
from bandtrial.panels import base
from bandtrial.study import Problem, StudyError, draft, editing, files, matching, toml
from bandtrial.study.columns import COLUMNS, CUTS
from bandtrial.words import count

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


LEAVE_OUT = "(leave out)"
NAMES = [LEAVE_OUT, *(column.name for column in CUTS)]


class ImportTable(base.Panel):
    """A file, its columns, their units, a preview; `problems` is what the preview found."""

    def __init__(self, folder: str | Path, changed: Callable[[], None] = lambda: None) -> None:
        self.folder, self.changed, self.problems = Path(folder), changed, list[Problem]()
        self.says, self.preview = base.Says(), widgets.HTML()
        self.file = widgets.FileUpload(accept=".csv,.xlsx,.txt", multiple=False, description="Choose a table")
        self.block = widgets.Textarea(description="or paste", placeholder="rows copied from a spreadsheet, best with "
                                      "their heads", layout=widgets.Layout(width="44rem", height="4.5rem"))  # fmt: skip
        self.columns = widgets.Box(layout=widgets.Layout(flex_flow="row wrap"))
        self.bands = widgets.Box(layout=widgets.Layout(flex_flow="row wrap"))
        self.stock, self.machine = base.choice("of stock", ["-"]), base.choice("on machine", ["-"])
        self.fit = base.button("Fit these bands", "add them to bands.csv")
        self.add = base.button("Add these cuts", "add all rows to the log", main=True)
        self.add.layout.display = "none"
        super().__init__([widgets.HBox([self.file, self.block]), self.says, self.columns, self.bands, self.add,
                          self.preview])  # fmt: skip
        self.file.observe(base.guarded(self.says, self.begin), "value")
        self.block.observe(base.guarded(self.says, self.begin_pasted), "value")
        self.fit.on_click(base.guarded(self.says, self.fit_bands))
        self.add.on_click(base.guarded(self.says, self.add_all))

    def begin(self) -> None:
        """Read the chosen file and match its columns by name."""
        if self.file.value:
            self._open()
            chosen = self.file.value[0]
            self.table = matching.read_table(chosen["name"], bytes(chosen["content"]))
            self._match()

    def begin_pasted(self) -> None:
        """Read the pasted block and match its columns by name, or by what they hold."""
        self._open()
        if self.block.value.strip():
            self.table = matching.pasted(self.block.value, self.study)
            self._match()

    def _open(self) -> None:
        self.clear()
        self.study = study.open_study(self.folder)
        self.desk = draft.Desk(self.folder, self.study)

    def _match(self) -> None:
        heads = self.table.heads
        self.choices = [self._choice(head, column) for head, column in zip(heads, matching.match(heads), strict=True)]
        self.columns.children = [widgets.HBox(pair) for pair in self.choices]
        self.check()

    def clear(self) -> None:
        """What belongs to a table that is no longer the one to add goes."""
        self.columns.children, self.bands.children, self.preview.value = (), (), ""
        base.show(self.add, False)

    def _choice(self, head: str, column: str | None) -> tuple[widgets.Dropdown, widgets.Text]:
        which = base.choice(head or "(no head)", NAMES, column or LEAVE_OUT)
        unit = matching.unit_of(head, column, self.study.units) if column else ""
        box = widgets.Text(description="unit", value=unit, layout=widgets.Layout(width="12rem"))
        check = base.guarded(self.says, self.check)
        box.layout.display = None if unit else "none"
        which.observe(lambda change: self._follow(box, change["new"]), "value")
        which.observe(check, "value")
        box.observe(check, "value")
        return which, box

    def _follow(self, box: widgets.Text, column: str) -> None:
        """The unit of a newly chosen column; a text has none."""
        unit = COLUMNS[column].unit(self.study.units) if column != LEAVE_OUT else ""
        box.value, box.layout.display = unit, None if unit else "none"

    def check(self) -> None:
        """Read all rows as they would be added, and list every problem with the row of the chosen file."""
        self.preview.value = ""
        base.show(self.add, False)
        columns = [None if which.value == LEAVE_OUT else which.value for which, _ in self.choices]
        twice = {name for name in columns if name and columns.count(name) > 1}
        if twice:
            raise ValueError(f"Two columns are matched to {', '.join(sorted(twice))}; leave one of them out.")
        chosen = matching.matched(self.table, columns, [box.value.strip() for _, box in self.choices])
        self.draft = matching.completed(chosen, self.study)
        sheet, self.problems = self.desk.check(self.draft)
        if not any(problem.severity == "error" for problem in self.problems):
            self.problems += self.desk.questions(sheet)
        self._offer_bands()
        errors = [problem for problem in self.problems if problem.severity == "error"]
        self.preview.value = self._listed(errors) + self._first(sheet)
        self.add.layout.display = "none" if errors else None
        if not errors:
            again = f" To look at again, below: {len(self.problems)}." if self.problems else ""
            cuts = count(len(sheet.rows), "cut")
            self.says.note(f"{cuts} can be added; nothing is added until you press the button.{again}")

    def _offer_bands(self) -> None:
        """The way to fit the bands that the study does not have."""
        self.new_bands = matching.new_bands(self.draft, self.study)
        self.stock.options, self.machine.options = list(self.study.band_stock), list(self.study.machines)
        words = widgets.Label(f"Not in bands.csv: {', '.join(self.new_bands)}. If they are new:")
        self.bands.children = (words, self.stock, self.machine, self.fit) if self.new_bands else ()

    def fit_bands(self) -> None:
        """Add the bands that the table names and the study lacks."""
        for band in self.new_bands:
            editing.fit_band(self.folder, band, {"stock": self.stock.value, "machine": self.machine.value}).save()
        self.study = study.open_study(self.folder)
        self.desk = draft.Desk(self.folder, self.study)
        self.changed()
        self.check()

    def _first(self, sheet: Any, most: int = 3) -> str:
        """The first rows as they were read, in the reader's units."""
        names = [name for name in sheet.frame if name in COLUMNS and sheet.frame[name].astype(str).any()]
        rows = [[draft.in_words(name, row[name], self.study.units) for name in names]
                for _, row in sheet.frame.head(most).iterrows()]  # fmt: skip
        used = [n for n in range(len(names)) if any(row[n] for row in rows)]
        heads = [names[n].replace("_", " ") for n in used]
        return base.table(heads, [[row[n] for n in used] for row in rows], "the first rows, as they are read")

    def _listed(self, errors: Any) -> str:
        wrong = count(len(errors), "error")
        caption = f"{wrong}, {len(self.problems) - len(errors)} to look at again in {self.table.file}"
        rows = [(p.severity, p.row or "", p.column or "", p.message) for p in self.problems]
        return base.table(("", "row", "column", "what to mend"), rows, caption) if rows else ""

    def add_all(self) -> None:
        """Add every row of the draft to the log, or none and say why."""
        try:
            added = editing.log_table(self.folder, self.draft)
        except StudyError as error:
            self.says.problems(error.problems)
            return
        self.clear()
        self.block.value = ""
        self.changed()
        self.says.note(f"{count(added, 'cut')} {'is' if added == 1 else 'are'} in the log of {self.folder}.")


def import_table(folder: str | Path) -> ImportTable:
    """The panel that adds the cuts of a CSV file or workbook to the study in `folder`."""
    return ImportTable(folder)
