"""Arguments that several commands share, and how their values are read."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from bandtrial import disk
from bandtrial.commands.errors import StudyProblemsError, WrongUseError, known_name

if TYPE_CHECKING:
    from bandtrial.study import Study
    from bandtrial.wear import Fit


def study_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("study", metavar="STUDY", help="a study folder")


def json_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="the answer as JSON")


def job_arguments(parser: argparse.ArgumentParser) -> None:
    """The machine, stock, material and thickness that a recommendation or a plan is for."""
    parser.add_argument("--machine", required=True, metavar="M", help="a machine of the study")
    parser.add_argument("--stock", required=True, metavar="S", help="a band stock of the study")
    parser.add_argument("--material", required=True, metavar="K", help="a material of the study")
    parser.add_argument("--thickness", required=True, metavar="LENGTH",
                        help='as "50 mm" or "3/4 in"; a bare number is in the unit of the study')  # fmt: skip


def quantity(text: str, kind: str, option: str, system: str | None = None) -> float:
    """A positive quantity in the inside unit of its kind, a bare number in the unit of the system; WrongUseError names
    the option.
    """
    from bandtrial import units

    return _positive(option, text, lambda: units.read(text, kind, units.display_unit(kind, system) if system else None))


def work(text: str, option: str, study: "Study", ask: dict) -> float:
    """An amount of the work that is asked about [cm2]: an area, cuts, hours of sawing."""
    from bandtrial.study import cut_table
    from bandtrial.study.wishes import work_area

    job = ask["material"], ask["thickness_mm"], study.units
    return _positive(option, text, lambda: work_area(text, cut_table(study), *job))


def _positive(option: str, text: str, read: Callable[[], float]) -> float:
    from bandtrial import units

    try:
        value = read()
    except units.UnitError as error:
        raise WrongUseError(f"{option}: {error}") from None
    if not value > 0:
        raise WrongUseError(f"{option}: '{text}' must be more than nothing")
    return value


def page_file(name: str) -> Path:
    """Where a page is to be written, tried before the long work begins; WrongUseError for a name that none can have,
    StudyProblemsError where it can't be written."""
    out = Path(name)
    try:
        with disk.whole(out, in_place=False):
            return out
    except disk.WrongNameError as error:
        raise WrongUseError(f"-o: {error}") from None
    except disk.NotWrittenError as error:
        raise StudyProblemsError(str(error)) from None


def existing_folder(folder: str) -> Path:
    """The folder as a path, or WrongUseError where there is none."""
    path, what = Path(folder), ""
    try:
        if not path.is_dir():
            what = "is a file; name its folder" if path.exists() else "does not exist"
    except OSError as error:
        what = f"can't be opened: {disk.why(error)}"
    if what:
        name = disk.shortened(folder)
        raise WrongUseError(f"the study folder '{name}' {what}; `bandtrial new FOLDER` makes an empty one")
    return path


def open_study(folder: str) -> "Study":
    """The study, or StudyProblemsError with every problem on a line of its own."""
    path = existing_folder(folder)
    from bandtrial import study

    try:
        return study.open_study(path)
    except study.StudyError as error:
        lines = [str(problem) for problem in error.problems] or [str(error)]
        raise StudyProblemsError("\n".join(lines)) from None


def fitted(study: "Study", priors: bool = True) -> "Fit":
    """The fit of a study, or StudyProblemsError with what is missing for one."""
    from bandtrial import wear

    try:
        return wear.fit(study, priors=priors)
    except wear.FitError as error:
        raise StudyProblemsError(str(error)) from None


def job(args: argparse.Namespace, study: "Study") -> dict:
    """The job's names checked against the study, its thickness in mm."""
    where = str(Path(args.study) / "study.toml")
    return {
        "machine": known_name("machine", args.machine, study.machines, where),
        "stock": known_name("band stock", args.stock, study.band_stock, where),
        "material": known_name("material", args.material, study.materials, where),
        "thickness_mm": quantity(args.thickness, "length", "--thickness", study.units),
    }
