"""An empty study: three files to fill in, each with comments that say what goes where."""

import tempfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from bandtrial.disk import create, shortened, why
from bandtrial.study import files, reading
from bandtrial.study.columns import BANDS, CUTS, Column, head_of
from bandtrial.study.files import BANDS_CSV, CUTS_CSV
from bandtrial.study.problems import Problem, SaveError, StudyError, refuse
from bandtrial.study.toml import FILE
from bandtrial.study.writing.tablerows import CsvRows
from bandtrial.study.writing.tomltext import with_table

Tables = Mapping[tuple[str, ...], Mapping[str, Any]]
TEMPLATES = Path(__file__).with_name("templates")
_LEFT_OUT = ("operation", "section", "diameter", "wall", "cut_area", "stacked", "roughness", "rewelded")
"""Columns of cuts that few logs need; the comments in the file name them."""


def new_study(
    folder: str | Path, units: str = "us", tables: Tables | None = None, bands: Sequence[Mapping[str, str]] = ()
) -> Path:
    """Write study.toml, bands.csv and cuts.csv into `folder`, which is made if need be; returns the folder.

    units : "us" or "metric", the units of the heads of cuts.csv and of display
    tables : what goes into study.toml, (table, name) -> values as `asked.answers` gives them; a table without name
        as ("costs",)
    bands : bands that are fitted, by column

    Raises SaveError, with nothing written, where one of a study's files is there already, and StudyError where what is
    given for a table or a band can't be right or lacks something.
    """
    folder = Path(folder)
    texts = _texts(units, tables or {}, bands)
    try:
        if (tables or bands) and (wrong := wrong_in(tables or {}, bands)):
            raise StudyError(wrong)
        there = [name for name in (*texts, "cuts.xlsx") if files.existing(folder, name)]
        if not there:
            _make(folder, {folder / name: text.encode() for name, text in texts.items()})
    except OSError as error:
        raise refuse(shortened(folder), f"can't hold a new study: {why(error)}; nothing was written") from None
    if there:
        raise SaveError([Problem(str(folder / name), None, None, "", "is there already, and a new study "
                                 "overwrites nothing; name another folder") for name in there])  # fmt: skip
    return folder


def _texts(units: str, tables: Tables, bands: Sequence[Mapping[str, str]]) -> dict[str, str]:
    """The files of a new study, filled in as far as is known."""
    settings = (TEMPLATES / "study.toml").read_text("utf-8").replace("UNITS", units)
    for path, values in tables.items():
        settings = with_table(settings, path, {name: one for name, one in values.items() if one is not None})
    rows = (TEMPLATES / "bands.txt").read_text("utf-8") + _head(BANDS, units) + "\n"
    for band in bands:
        table = CsvRows(BANDS_CSV, rows.encode())
        rows = table.add(table.with_cells([], {"end": "in_service", **band})).decode()
    cuts = (TEMPLATES / "cuts.txt").read_text("utf-8") + _head(CUTS, units) + "\n"
    return {FILE: settings, BANDS_CSV: rows, CUTS_CSV: cuts}


def wrong_in(tables: Tables, bands: Sequence[Mapping[str, str]] = ()) -> list[Problem]:
    """The errors in what is to go into a new study; what was not given is no error yet."""
    with tempfile.TemporaryDirectory(prefix="bandtrial_") as place:
        for name, text in _texts("us", tables, bands).items():
            (Path(place) / name).write_text(text, encoding="utf-8", newline="")
        found = [one for one in reading.check(place) if one.severity == "error"]
    return [one for one in found if not one.message.startswith("missing")]


def _make(folder: Path, contents: dict[Path, bytes]) -> None:
    """Make the folder and its files; where one can't be made, none stays."""
    made_folders = [one for one in (folder, *folder.parents) if not one.exists()]
    made: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, content in contents.items():
            create(path, content)
            made.append(path)
    except BaseException:
        for path in made:
            path.unlink(missing_ok=True)
        for one in made_folders:
            with suppress(OSError):
                one.rmdir()
        raise


def _head(columns: tuple[Column, ...], system: str) -> str:
    """The head of a table, quantities with the unit of a system."""
    return ",".join(head_of(column, system) for column in columns if column.name not in _LEFT_OUT)
