"""An empty study: three files to fill in, each with comments that say what goes where."""

from contextlib import suppress
from pathlib import Path

from bandtrial.disk import create, shortened, why
from bandtrial.study import files
from bandtrial.study.columns import BANDS, CUTS, Column, head_of
from bandtrial.study.problems import Problem, SaveError, refuse

TEMPLATES = Path(__file__).with_name("templates")
_LEFT_OUT = ("operation", "section", "diameter", "wall", "cut_area", "stacked", "roughness", "rewelded")
"""Columns of cuts that few logs need; the comments in the file name them."""


def new_study(folder: str | Path, units: str = "us") -> Path:
    """Write study.toml, bands.csv and cuts.csv into `folder`, which is made if need be; returns the folder.

    units : "us" or "metric", the units of the heads of cuts.csv and of display

    Raises SaveError, with nothing written, where one of a study's files is there already.
    """
    folder = Path(folder)
    texts = {
        "study.toml": (TEMPLATES / "study.toml").read_text("utf-8").replace("UNITS", units),
        "bands.csv": (TEMPLATES / "bands.txt").read_text("utf-8") + _head(BANDS, units) + "\n",
        "cuts.csv": (TEMPLATES / "cuts.txt").read_text("utf-8") + _head(CUTS, units) + "\n",
    }
    try:
        there = [name for name in (*texts, "cuts.xlsx") if files.existing(folder, name)]
        if not there:
            _make(folder, {folder / name: text.encode() for name, text in texts.items()})
    except OSError as error:
        raise refuse(shortened(folder), f"can't hold a new study: {why(error)}; nothing was written") from None
    if there:
        raise SaveError([Problem(str(folder / name), None, None, "", "is there already, and a new study "
                                 "overwrites nothing; name another folder") for name in there])  # fmt: skip
    return folder


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
