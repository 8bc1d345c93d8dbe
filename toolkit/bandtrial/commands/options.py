"""What the commands share: how one is declared, its arguments, how their values are read, and how it answers."""

import argparse
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial import disk
from bandtrial.sawing import ROUND
from bandtrial.words import json_text, nearest

if TYPE_CHECKING:
    from bandtrial.study import Study
    from bandtrial.wear import Fit

Run = Callable[[argparse.Namespace], int]
Option = Callable[[argparse.ArgumentParser], object]


class WrongUseError(Exception):
    """The command was asked something it can't be asked; exit 2."""


class StudyProblemsError(Exception):
    """The study can't be used until its problems are mended; exit 1."""


@dataclass(frozen=True)
class Command:
    """A word of the command line: its help in one line, its options, and what it does, which gives the exit code."""

    name: str
    help: str
    options: tuple[Option, ...]
    run: Run

    def arguments(self, parser: argparse.ArgumentParser) -> None:
        """Declare the options to a parser."""
        for option in self.options:
            option(parser)


def command(*options: Option) -> Callable[[Run], Command]:
    """A function as a command: its name is the word, the first line of its docstring the help."""
    return lambda run: Command(run.__name__, (run.__doc__ or "").strip().splitlines()[0].rstrip("."), options, run)


def option(*names: str, **settings: Any) -> Option:
    """An option, or an argument, as `add_argument` takes it."""
    return lambda parser: parser.add_argument(*names, **settings)


def one_of(*options: Option) -> Option:
    """Options of which only one may be given."""

    def declare(parser: argparse.ArgumentParser) -> None:
        group: Any = parser.add_mutually_exclusive_group()
        for each in options:
            each(group)

    return declare


STUDY = option("study", metavar="STUDY", help="a study folder")
JSON = option("--json", action="store_true", help="the answer as JSON")
JOB = (
    option("--machine", required=True, metavar="M", help="a machine of the study"),
    option("--stock", required=True, metavar="S", help="a band stock of the study"),
    option("--material", required=True, metavar="K", help="a material of the study"),
    option(
        "--thickness",
        required=True,
        metavar="LENGTH",
        help='as "50 mm", "3/4 in" or "2 in round"; a bare number: the study\'s unit',
    ),
)
"""The machine, stock, material and thickness that a recommendation or a plan is for."""


def known_name(kind: str, given: str, known: Iterable[str], where: str) -> str:
    """`given` if it is one of `known`, else WrongUseError naming the nearest and all that there are.

    >>> known_name("machine", "saw1", ["saw1", "saw2"], "study.toml")
    'saw1'
    >>> known_name("machine", "swa1", ["saw1", "saw2"], "toml")
    Traceback (most recent call last):
    bandtrial.commands.options.WrongUseError: no machine 'swa1' in toml; did you mean 'saw1'? Known: saw1, saw2
    """
    names = sorted(known)
    if given in names:
        return given
    near = nearest(given, names)
    hint = f"; did you mean '{near}'?" if near else "."
    raise WrongUseError(f"no {kind} '{given}' in {where}{hint} Known: {', '.join(names) or 'none'}")


def quantity(text: str, kind: str, option: str, system: str | None = None) -> float:
    """A positive quantity in the inside unit of its kind, a bare number in the unit of the system; WrongUseError names
    the option.
    """
    from bandtrial import units

    return _positive(option, text, lambda: units.read(text, kind, units.display_unit(kind, system) if system else None))


def thickness(text: str, system: str | None) -> float:
    """The --thickness of the work [mm]; of a round bar, "60 mm round", the mean over its cut: pi/4 of the diameter."""
    found = re.fullmatch(r"\s*(?:round|dia|ø)?\.?\s*(.*?)\s*(?:round|dia\.?|diameter|ø)?\s*", text, re.I | re.S)
    inner = found[1] if found else text
    return quantity(inner, "length", "--thickness", system) * (ROUND if inner != text.strip() else 1.0)


def work(text: str, option: str, study: "Study", ask: dict[str, Any]) -> float:
    """An amount of the work that is asked about [cm2]: an area, cuts, hours of sawing."""
    from bandtrial.asked import work_area
    from bandtrial.study import cut_table

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


def amount_of_work(text: str) -> tuple[str, float]:
    """Pieces, or an area [cm2].

    >>> amount_of_work("400 pieces"), amount_of_work("2 m**2")
    (('pieces', 400.0), ('area', 20000.0))
    """
    from bandtrial import units

    number, kind, amount = text.strip().casefold().removesuffix("s").removesuffix("piece").strip(), "pieces", 0.0
    try:
        amount = units.number(number)
    except units.UnitError:
        try:
            kind, amount = "area", units.read(text, "area")
        except units.UnitError:
            asked = 'give pieces or an area, as "400 pieces" or "9000 in2"'
            raise WrongUseError(f"--per-month: '{text}' is no amount of work; {asked}") from None
    if not 0 < amount < float("inf"):
        raise WrongUseError(f"--per-month: '{text}' must be more than nothing")
    return kind, amount


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
        found: Fit = wear.fit(study, priors=priors)
        return found
    except wear.FitError as error:
        raise StudyProblemsError(str(error)) from None


def fit_of_any(study: "Study") -> "Fit | None":
    """`fitted`; None for a study without a cut, which a first plan does not need."""
    return fitted(study) if len(study.cuts) else None


def refused(no: Exception) -> StudyProblemsError:
    """A refusal (`recommend.NotYet`); as it ends in a cut to make, with the cautions."""
    from bandtrial.recommend.wording import cautions_text

    return StudyProblemsError(f"{no}\n\n{cautions_text()}")


def job(args: argparse.Namespace, study: "Study") -> dict[str, Any]:
    """The job's names checked against the study, its thickness in mm."""
    where = str(Path(args.study) / "study.toml")
    return {
        "machine": known_name("machine", args.machine, study.machines, where),
        "stock": known_name("band stock", args.stock, study.band_stock, where),
        "material": known_name("material", args.material, study.materials, where),
        "thickness_mm": thickness(args.thickness, study.units),
    }


def seen(text: str) -> str:
    """`text` for a terminal: what would steer it, from a name or a note in a study, as a mark.

    >>> seen("B1\\x1b[31m") == "B1\\ufffd[31m"
    True
    """
    return re.sub("[\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f\\u2028-\\u202e\\u2066-\\u2069]", "\ufffd", text)


def answer(result: Any, as_json: bool) -> None:
    """Print a result object: its `to_json()` as strict JSON, or its own words."""
    if as_json:
        result = json_text(result.to_json(), indent=2)
    print(seen(str(result)))
