"""A change of one file of a study: looked at first, with all that it would bring, then made, kept and undone as one."""

import re
import tempfile
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from bandtrial import disk, units
from bandtrial.study import files, reading, toml
from bandtrial.study.columns import BANDS, CUTS, NAMES, head_of, key
from bandtrial.study.files import BANDS_CSV, CUTS_CSV, CUTS_XLSX
from bandtrial.study.problems import Problem, Problems, SaveError, StudyError, folded, refuse, unfit_name
from bandtrial.study.writing import row, tomltext
from bandtrial.study.writing.appending import append_cuts
from bandtrial.study.writing.csvlog import form_of
from bandtrial.study.writing.history import History, Step, history, record, redo, tell_journal, undo
from bandtrial.study.writing.keeping import keep_version, only_writer
from bandtrial.study.writing.row import SavedCut
from bandtrial.study.writing.tablerows import CsvRows, SheetRows, rows_of
from bandtrial.words import count, defused

FILES = (toml.FILE, BANDS_CSV, CUTS_CSV, CUTS_XLSX)
MOST = 5000
"""Rows of a table added at once."""


@dataclass(frozen=True)
class Change:
    """What is to be done to a file of a study folder: `edit` makes its new bytes of those it has, `what` says it."""

    folder: Path
    file: str
    what: str
    edit: Callable[[bytes], bytes] = field(repr=False)

    def problems(self) -> list[Problem]:
        """What would be wrong, or worth a look, in the study after it and is not now; StudyError where the change
        itself can't be made.
        """
        after = self.edit(content(self.folder, self.file))
        try:
            return _new_problems(self.folder, self.file, after)
        except OSError as error:
            words = f"can't be tried out in {tempfile.gettempdir()}: {disk.why(error)}; nothing was changed"
            raise refuse(self.file, words) from None

    def save(self) -> Step | None:
        """Make it; on disk when this returns, and the step that can be undone, None where nothing had to be changed.

        Raises StudyError, with nothing changed, where the study would have errors that it has not now, and SaveError
        where the file can't be written.
        """
        try:
            before = content(self.folder, self.file)
            if self.edit(before) == before:
                return None
            if wrong := [one for one in self.problems() if one.severity == "error"]:
                raise StudyError(wrong)
            with only_writer(self.folder, self.file) as keep:
                found = content(self.folder, self.file)
                after = self.edit(found)
                if found != before and any(one.severity == "error" for one in self.problems()):
                    raise refuse(self.file, "was changed by another program just now; nothing was changed, try again")
                keep_version(keep, self.folder / self.file, found)
                disk.replace((self.folder / self.file).resolve(), after)
                tell_journal(keep, self.file, found, after)
                record(keep, self.file, self.what, found, after)
        except OSError as error:
            raise refuse(self.file, f"could not be written: {disk.why(error)}; nothing was changed") from None
        return (history(self.folder).done or (None,))[-1]


def content(folder: Path, file: str) -> bytes:
    """The bytes of a file of a study; SaveError where it can't be read."""
    problems = Problems()
    data = files.read_bytes(folder, file, problems)
    if data is None:
        raise SaveError(problems.found)
    return data


def _new_problems(folder: Path, file: str, after: bytes) -> list[Problem]:
    """The study with other bytes of one file, checked whole in a place of its own, against the study as it is."""
    known = Counter(map(_kind, reading.check(folder)))
    with tempfile.TemporaryDirectory(prefix="bandtrial_") as place:
        for name in FILES:
            if name == file or files.existing(folder, name):
                (Path(place) / name).write_bytes(after if name == file else content(folder, name))
        found = reading.check(place)
    new = []
    for problem in found:
        known[_kind(problem)] -= 1
        if known[_kind(problem)] < 0:
            new.append(replace(problem, message=problem.message.replace(place, str(folder))))
    return new


def _kind(problem: Problem) -> Problem:
    """A problem without its rows, which move when others come and go."""
    words = re.sub(r"\b(rows?|lines?) \d+(-\d+)?((, | and )\d+(-\d+)?)*", "row", problem.message)
    return replace(problem, row=None, rows=(), message=words)


__all__ = [
    "Change", "History", "Step", "add_columns", "change_cut", "delete_cut", "end_band", "entry", "fit_band", "history",
    "log_cuts", "redo", "reweld_band", "undo",
]  # fmt: skip
CALLED = {"machines": "machine", "band_stock": "band stock", "materials": "material", "costs": "the costs",
          "study": "what the study is about"}  # fmt: skip
"""Tables of study.toml in words; of the first three each has a name of its own."""


def entry(folder: str | Path, table: str, name: str, values: Mapping[str, Any]) -> Change:
    """A machine, band stock or material that is new or changed; with no `name` the costs or the study's own words.

    values : as study.toml has them, `{"throat": "14 in"}`; None takes one out
    """
    if unfit := unfit_name(name):
        raise refuse(toml.FILE, unfit)
    path = (table, name) if name else (table,)

    def edit(data: bytes) -> bytes:
        form = form_of(data)
        return form.mark + tomltext.with_table(form.text, path, values).encode(form.codec)

    return Change(Path(folder), toml.FILE, f"{CALLED[table]} {name}".strip(), edit)


def fit_band(folder: str | Path, band: str, values: Mapping[str, str]) -> Change:
    """A band that is fitted: a new row of bands. values : stock, machine, fitted, note"""
    there = {**values, "band": band, "end": values.get("end", "in_service")}
    return _of_table(folder, "bands", f"band {band} fitted", lambda rows: _added(rows, there), list(there))


def end_band(folder: str | Path, band: str, end: str, removed: str = "", note: str = "") -> Change:
    """A band taken off, or one that came to its end: how, and on which day."""
    changes = {"end": end, "removed": removed, **({"note": note} if note else {})}
    return _of_band(folder, band, f"band {band}: {end.replace('_', ' ')}", changes)


def reweld_band(folder: str | Path, band: str) -> Change:
    """A band back in service after it was welded anew; its first cut after that is logged with `rewelded`."""
    return _of_band(folder, band, f"band {band} welded anew", {"end": "in_service", "removed": ""})


def change_cut(folder: str | Path, cut: str, values: Mapping[str, Any]) -> Change:
    """Other values of a cut that is in the log, as `append_cut` takes them; "" empties a cell, the rest stays."""
    columns = [units.head(name)[0] for name in values]

    def edit(rows: CsvRows | SheetRows) -> bytes:
        place, cells = rows.named("cut", cut)
        made = row.cells(values, rows.heads, rows.file, rows.decimal)
        return rows.set(place, rows.with_cells(cells, {name: made[rows.at(name)] for name in columns}))

    words = ", ".join(name.replace("_", " ") for name in columns)
    return _of_table(folder, "cuts", f"cut {cut} changed ({words})", edit, columns)


def delete_cut(folder: str | Path, cut: str) -> Change:
    """A cut out of the log."""
    return _of_table(folder, "cuts", f"cut {cut} deleted", lambda rows: rows.set(rows.named("cut", cut)[0], None))


def add_columns(folder: str | Path, columns: Sequence[str]) -> Change:
    """Columns that the log does not have yet, in the study's units; nothing where it has them all."""
    words = ", ".join(name.replace("_", " ") for name in columns)
    return _of_table(folder, "cuts", f"columns for {words}", _data, columns)


def log_cuts(folder: str | Path, cuts: Sequence[Mapping[str, Any]], called: str = "") -> list[SavedCut]:
    """Save cuts as `append_cuts` does, kept so that it can be undone; a column that the log lacks is added first."""
    folder = Path(folder)
    wanted = list(dict.fromkeys(units.head(name)[0] for cut in cuts for name, cell in cut.items() if str(cell).strip()))
    file = _file_of(folder, "cuts")
    lacking = rows_of(file, content(folder, file), "cuts").lacking([name for name in wanted if key(name) in NAMES])
    if lacking:
        add_columns(folder, lacking).save()
    bands = list(dict.fromkeys(str(cut.get("band", "")) for cut in cuts))
    words = f"{len(cuts)} cuts" if len(cuts) > 1 else "a cut"
    return append_cuts(folder, cuts, called or f"{words} of {', '.join(bands)} logged")


def log_table(folder: str | Path, table: files.RawTable) -> int:
    """Append every row of a matched table to the study's log, or none, as one step that can be undone; how many.

    Raises StudyError, with the log as it was, where a row is refused; ValueError for more than `MOST` rows.
    """
    if len(table.rows) > MOST:
        raise ValueError(f"{table.file} has {len(table.rows)} rows; at most {MOST} are added at once. "
                         "Put the table into the study folder as cuts.csv instead.")  # fmt: skip
    rows = [{head: cell for head, cell in zip(table.heads, row, strict=True) if str(cell).strip()}
            for row in table.cells.itertuples(index=False)]  # fmt: skip
    return len(log_cuts(folder, rows, f"{count(len(rows), 'cut')} from {table.file}"))


def _of_band(folder: str | Path, band: str, what: str, changes: Mapping[str, str]) -> Change:
    def edit(rows: CsvRows | SheetRows) -> bytes:
        place, cells = rows.named("band", band)
        return rows.set(place, rows.with_cells(cells, {name: _plain(cell) for name, cell in changes.items()}))

    return _of_table(folder, "bands", what, edit, list(changes))


def _of_table(folder: str | Path, sheet: str, what: str, edit: Any, columns: Sequence[str] = ()) -> Change:
    """A change of the rows of a table, which gets those of the columns that it lacks."""
    folder = Path(folder)
    file, system = _file_of(folder, sheet), _system(folder)

    def whole(data: bytes) -> bytes:
        rows = rows_of(file, data, sheet)
        if lacking := rows.lacking(columns):
            rows = rows_of(file, rows.add_columns([_head(name, sheet, system) for name in lacking]), sheet)
        made: bytes = edit(rows)
        return made

    return Change(folder, file, what, whole)


def _added(rows: CsvRows | SheetRows, values: Mapping[str, str]) -> bytes:
    names = [folded(rows.cell(cells, "band")) for _, cells in rows.rows]
    band = values["band"].strip()
    if not band or folded(band) in names:
        words = "has that band already" if band else "needs a name for the band"
        raise SaveError([Problem(rows.file, None, "band", band, f"{words}; give each band a name of its own")])
    return rows.add(rows.with_cells([], {name: _plain(cell) for name, cell in values.items()}))


def _data(rows: CsvRows | SheetRows) -> bytes:
    return rows.form.mark + rows.form.text.encode(rows.form.codec) if isinstance(rows, CsvRows) else rows.data


def _plain(cell: str) -> str:
    return defused(" ".join(str(cell).split()))


def _file_of(folder: Path, sheet: str) -> str:
    """The file that has a table: bands stand in the workbook where it has a sheet for them."""
    if not files.existing(folder, CUTS_XLSX) or files.existing(folder, CUTS_CSV):
        return CUTS_CSV if sheet == "cuts" else BANDS_CSV
    return CUTS_XLSX if sheet == "cuts" or not files.existing(folder, BANDS_CSV) else BANDS_CSV


def _system(folder: Path) -> str:
    known, _ = reading.shop(folder)
    return str(known.info["units"]) if known else "metric"


def _head(name: str, sheet: str, system: str) -> str:
    """The head of a new column, a quantity with the unit of the study."""
    column = next((one for one in (CUTS if sheet == "cuts" else BANDS) if key(one.name) == key(name)), None)
    if column is None:
        raise StudyError([Problem(sheet, None, name, "", "is no column of a study")])
    return head_of(column, system)
