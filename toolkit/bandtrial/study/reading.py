"""Open and check a study; and the lines of its log as they were typed, for a mark in a drawing that is asked what it
is.

Materials without a group, a hardness or a speed start where the shop's own cuts of them were.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np

from bandtrial import units, words
from bandtrial.disk import shortened
from bandtrial.published.materials import find
from bandtrial.published.own_starts import own_name
from bandtrial.study import csvfile, files, plausible, shop_checks, toml, workbook
from bandtrial.study.cells import with_unit
from bandtrial.study.columns import BANDS, CUTS, cut_columns
from bandtrial.study.cut_checks import check_cuts
from bandtrial.study.files import BANDS_CSV, CUTS_CSV, CUTS_XLSX, RawTable
from bandtrial.study.model import Material, Study
from bandtrial.study.problems import Problem, Problems, StudyError
from bandtrial.study.settings import Settings, settings
from bandtrial.study.toml import FILE
from bandtrial.study.typed import Sheet, typed
from bandtrial.words import count

_HOW = 'give hardness = "240 HB" or start_speed = "120 ft/min" to begin elsewhere'


def own_starts(known: Settings, cuts: Sheet, problems: Problems) -> dict[str, Material]:
    """The materials, those of which nothing is known with the median speed of their own cuts as their start."""
    materials = dict(known.materials)
    system = str(known.info["units"])
    speeds = _true_speeds(known, cuts)
    for name, line in known.undecided.items():
        V = speeds.get(name, np.empty(0))
        if len(V):
            figure = units.show(float(np.median(V)), "speed", system)
            why = f"the median of its own {words.count(len(V), 'cut')}"
            materials[name] = replace(materials[name], group=own_name("none", "start", figure, why))
        if not problems.room("warning", FILE):
            continue
        problems.add("warning", FILE, f"{find(materials[name].group).note.rstrip('.')}; {_HOW}", row=line,
                     column=f"materials.{name}")  # fmt: skip
    return materials


def _true_speeds(known: Settings, cuts: Sheet) -> dict[str, np.ndarray]:
    """True band speeds [m/min] of the cuts in each undecided material that was cut."""
    indicated = cuts.frame["band_speed"].to_numpy(float)
    found: dict[str, np.ndarray] = {}
    together: Any = cuts.frame.groupby(["material", "machine"], sort=False).indices
    for (material, machine), at in together.items():
        if material in known.undecided and machine in known.machines:
            V = known.machines[machine].true_speed(indicated[at])
            found[material] = np.append(found.get(material, np.empty(0)), V[np.isfinite(V)])
    return found


def open_study(path: str | Path) -> Study:
    """The study in folder `path`, checked, in inside units; StudyError with every problem on errors."""
    study, problems = read(path)
    if study is None:
        raise StudyError(problems)
    return study


def check(path: str | Path) -> list[Problem]:
    """Everything wrong or worth a look in the study of folder `path`, errors and warnings, in file order."""
    return read(path)[1]


def read(path: str | Path) -> tuple[Study | None, list[Problem]]:
    """The study of a folder, or None where a problem is an error; and all problems."""
    folder, problems = Path(path), Problems()
    if no_folder := files.no_folder(folder):
        problems.add("error", shortened(folder), f"{no_folder}; give the folder that holds study.toml")
        return None, problems.found
    known = _settings(folder, problems)
    tables = raw_tables(folder, problems)
    system = str(known.info.get("units", "metric")) if known else "metric"
    bands = typed(tables["bands"], BANDS, system, problems) if "bands" in tables else None
    columns = cut_columns(known.all_machines, known.one_speed) if known else CUTS
    cuts = typed(tables["cuts"], columns, system, problems) if "cuts" in tables else None
    if bands is not None and known is not None:
        shop_checks.check_bands(bands, known, problems)
    machines, materials = (known.machines, known.materials) if known is not None else ({}, {})
    if cuts is not None and known is not None:
        check_cuts(cuts, bands, known, problems)
        machines = shop_checks.fed_by_hand(cuts, known, problems)
        materials = own_starts(known, cuts, problems)
        _still_there(folder, cuts, problems)
        plausible.judge(cuts, bands, known, problems)
    found = problems.in_order()
    if problems.errors or known is None or bands is None or cuts is None:
        return None, found
    return Study(
        folder, known.info, known.costs, machines, known.band_stock, materials, bands.frame, cuts.frame,
        tuple(found),
    ), found  # fmt: skip


def _still_there(folder: Path, cuts: Sheet, problems: Problems) -> None:
    """Cuts saved from here that the log has no more: another program may have saved an older copy over it."""
    file = cuts.file.partition(" ")[0]
    saved = files.remembered(folder, file)
    for cut in sorted(set(saved) - set(cuts.frame["cut"])):
        problems.add(
            "warning",
            cuts.file,
            f"cut {cut}, saved {saved[cut].when}, is no longer in the file; another program may have saved an "
            "older copy. study.restore_cuts(folder) puts it back, study.forget_cuts(folder) lets it go",
            column="cut",
            value=cut,
        )


def _settings(folder: Path, problems: Problems) -> Settings | None:
    data = files.read_bytes(folder, toml.FILE, problems)
    text = None if data is None else files.decoded(data, toml.FILE, problems)
    document = None if text is None else toml.parse(text, problems)
    return None if document is None or text is None else settings(document, text, problems)


def raw_tables(folder: Path, problems: Problems, wanted: tuple[str, ...] = ("cuts", "bands")) -> dict[str, RawTable]:
    """The raw tables of cuts and bands, from the workbook where there is one, else from CSV."""
    tables: dict[str, RawTable] = {}
    if files.existing(folder, CUTS_XLSX):
        if files.existing(folder, CUTS_CSV):
            problems.add("error", CUTS_XLSX, "stands beside cuts.csv; keep the one that is right")
            return tables
        before = len(problems.errors)
        data = files.read_bytes(folder, CUTS_XLSX, problems)
        tables = {} if data is None else workbook.parse(CUTS_XLSX, data, wanted, problems)
        if "bands" in tables or len(problems.errors) > before:  # a workbook with faults says enough
            return tables
    for name, file in (("bands", BANDS_CSV), ("cuts", CUTS_CSV)):
        if name in wanted and name not in tables and not (name == "cuts" and files.existing(folder, CUTS_XLSX)):
            table = csvfile.read(folder, file, problems)
            if table is not None:
                tables[name] = table
    return tables


def shop(folder: Path) -> tuple[Settings | None, Sheet | None]:
    """What a single cut is checked against: the settings and the bands, as far as they can be read."""
    problems = Problems()
    known = _settings(folder, problems)
    system = str(known.info["units"]) if known else "metric"
    tables = raw_tables(folder, problems, wanted=("bands",))
    return known, typed(tables["bands"], BANDS, system, problems) if "bands" in tables else None


MOST = 100_000
"""Cuts of a log whose file is read once more; of a longer one only the numbers of cuts are said."""


class Lines:
    """What stands in the log of a study for some cuts or bands; its file is read once more when it is first asked."""

    def __init__(self, study: Study) -> None:
        self.study = study

    @cached_property
    def raw(self) -> RawTable | None:
        """The log as it lies in its file; None where it is long, or has changed since the study was opened."""
        if len(self.study.cuts) > MOST:
            return None
        found = raw_tables(self.study.path, Problems(), ("cuts",)).get("cuts")
        return found if found is not None and len(found.rows) == len(self.study.cuts) else None

    @cached_property
    def places(self) -> dict[str, int]:
        """Place of each cut in the log."""
        return {str(cut): at for at, cut in enumerate(self.study.cuts["cut"])}

    def of(self, cuts: Iterable[object]) -> list[str]:
        """For each cut its number, its row as a spreadsheet counts it, and every cell of it as typed."""
        asked, raw = [str(cut) for cut in cuts], self.raw
        if raw is None:
            return [f"cut {cut}" for cut in asked]
        at = np.array([self.places[cut] for cut in asked], dtype=np.intp)
        cells: list[list[str]] = [[] for _ in asked]
        for n, (name, unit) in enumerate(map(units.head, raw.heads)):
            if name in ("", "cut"):
                continue
            for mine, cell in zip(cells, raw.cells[n].to_numpy(object)[at], strict=True):
                if cell is not None and (typed := with_unit(cell, unit)):
                    mine.append(f"{name.replace('_', ' ')} {typed}")
        rows = zip(asked, raw.rows[at], cells, strict=True)
        return [f"cut {cut}, row {row} of {raw.file}: {'; '.join(mine)}" for cut, row, mine in rows]

    def of_bands(self, bands: Iterable[object]) -> list[str]:
        """For each band how it ended, which cuts of the log it made, and the note on it."""
        made = self.study.cuts.groupby("band", sort=False)["cut"]
        known = {row["band"]: row for row in self.study.bands.to_dict("records")}
        said = []
        for band in bands:
            cuts, row = made.get_group(band).tolist(), known[band]
            many = f"{count(len(cuts), 'row')} of cuts, from {cuts[0]} to {cuts[-1]}"
            note = f"; {row['note']}" if row["note"] else ""
            said.append(f"band {band}, {row['end'].replace('_', ' ')}: {many}{note}")
        return said
