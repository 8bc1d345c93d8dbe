"""What a notebook needs before its panels: plain errors, work to watch and to stop, a copy to try things on."""

import os
import shutil
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PureWindowsPath
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from bandtrial import units
from bandtrial.disk import NotWrittenError, shortened, why

if TYPE_CHECKING:
    from bandtrial.panels.base import Says

STOP = "the stop button (a square) above the notebook ends it"


def plain_errors() -> None:
    """From now on an error in a cell is told in sentences, without a traceback; `%tb` still shows one.

    Does nothing outside a notebook.
    """
    from IPython import get_ipython

    shell = get_ipython()
    if shell is not None:
        shell.set_custom_exc((Exception, KeyboardInterrupt), _in_words)


def _in_words(shell: Any, kind: type, error: BaseException, trace: Any, tb_offset: Any = None) -> list[str]:
    """The lines shown for an error; called by the notebook's kernel."""
    lines = error_lines(error)
    shell._showtraceback(kind, error, lines)
    return lines


def error_lines(error: BaseException) -> list[str]:
    """An error as lines for the person at the notebook.

    >>> error_lines(ValueError("5/8 has no unit; write 5/8 in"))
    ['5/8 has no unit; write 5/8 in']
    """
    if isinstance(error, KeyboardInterrupt):
        return ["Stopped. Nothing was changed; run the cell again to start anew."]
    problems = getattr(error, "problems", None)
    if problems:
        return ["The study has problems to mend first:", *(f"- {problem}" for problem in problems)]
    if isinstance(error, NameError) and error.name:
        return [f"{error.name} is not there yet: run the cells above first (Run > Run All Cells)."]
    if isinstance(error, ValueError) or type(error).__module__.startswith("bandtrial"):
        return str(error).splitlines()
    what = f"{type(error).__name__}: {error}"
    return [what, "If your own code is not the cause, please report this with what %tb shows."]


@contextmanager
def working(what: str) -> Iterator[None]:
    """While the block runs, show that it does, for how long, and how to stop it; then how long it took."""
    from IPython.display import display

    from bandtrial.panels.base import Says

    line = Says()
    display(line)
    with ticking(line, what):
        yield


@contextmanager
def ticking(line: "Says", what: str) -> Iterator[None]:
    """`working`, on a line that is there already."""
    began, over = time.monotonic(), threading.Event()

    def tick() -> None:
        while not over.wait(0.5):
            line.note(f"{what}: {time.monotonic() - began:.0f} s so far; {STOP}")

    ticker = threading.Thread(target=tick, daemon=True)
    said = "not finished"
    try:
        line.note(f"{what} ... {STOP}")  # from here on somebody may press it
        ticker.start()
        yield
        said = f"done in {time.monotonic() - began:.1f} s"
    finally:
        over.set()
        if ticker.ident is not None:
            ticker.join()
        line.note(f"{what}: {said}")


def main_job(study: Any) -> dict[str, Any]:
    """The job that a study's question asks about, as `recommend` and `plan` take it; the one cut most where it asks
    about none. ValueError for a study that names no job yet.
    """
    from bandtrial.report import answers
    from bandtrial.study import cut_table

    jobs = answers.jobs(study, cut_table(study)) or answers.jobs_to_come(study)
    if not jobs:
        raise ValueError(f"{study.path} names no job yet: add a machine, a band stock and a material to study.toml.")
    return {**jobs[0].names, "thickness_mm": jobs[0].thickness}


def job_of(study: Any, **given: str | None) -> dict[str, str]:
    """The job a panel opens on: what is given, and what is not from the study's main job; the thickness as text."""
    if None in given.values():
        main = main_job(study)
        main["thickness"] = units.show(main.pop("thickness_mm"), "length", study.units)
        given = {name: main[name] if value is None else value for name, value in given.items()}
    return {name: str(value) for name, value in given.items()}


def practice_copy(folder: str | Path) -> str:
    """A copy of a study in a temporary folder, to try things on; the study itself stays as it is."""
    copy = Path(tempfile.mkdtemp(prefix="bandtrial_")) / Path(folder).name
    try:
        shutil.copytree(folder, copy)
    except (OSError, shutil.Error) as error:
        shutil.rmtree(copy.parent, ignore_errors=True)
        words = why(error) if isinstance(error, OSError) and error.strerror else "not every file could be copied"
        raise NotWrittenError(f"'{shortened(folder)}' can't be copied to try things on: {words}") from None
    return str(copy)


ROOT, CALLED_IN = "BANDTRIAL_LAB_ROOT", "BANDTRIAL_CALLED_IN"
"""Variables that `bandtrial lab` sets: the folder it opened, and the folder it was called in."""


def study_folder(named: str) -> str:
    """The folder of a study as named in a notebook: from the notebook's own folder, the one that `bandtrial lab`
    opened, the one it was called in, or the home folder, the first that there is.

    ValueError, with every place looked at and the studies that stand there, where there is none.
    """
    text = named.strip()
    if not text:
        raise ValueError("STUDY: empty; put the folder of a study between the quotes.")
    for place in _places():
        for path in dict.fromkeys((text, PureWindowsPath(text).as_posix())):
            found = Path(place, path).expanduser()
            if found.is_dir():
                return str(found)
    raise ValueError(_not_found(text))


def _places() -> list[str]:
    """Folders to start from, each once; "" is the notebook's own, in which its kernel runs."""
    others = [os.environ.get(ROOT), os.environ.get(CALLED_IN), str(Path.home())]
    return ["", *dict.fromkeys(place for place in others if place and Path(place) != Path.cwd())]


def _not_found(text: str) -> str:
    there = [str(study) for place in _places() for study in _studies(Path(place).absolute())]
    lines = [f'STUDY: there is no folder "{text}".']
    if not Path(text).is_absolute() and not PureWindowsPath(text).drive:
        lines[0] += " It was looked for in " + ", ".join(str(Path(place).absolute()) for place in _places()) + "."
    lines.append(f"Studies found there: {', '.join(dict.fromkeys(there))}." if there else "No study was found there.")
    lines.append("Give the whole path, or make one with `bandtrial new FOLDER`.")
    return "\n".join(lines)


def _studies(place: Path) -> list[Path]:
    try:
        return sorted(toml.parent for toml in place.glob("*/study.toml"))[:10]
    except OSError:
        return []


def address(file: str | Path) -> str | None:
    """Where the server of `bandtrial lab` gives a file out; None where it does not, or no such server runs."""
    root, path = os.environ.get(ROOT), Path(file).resolve()
    if not root or not path.is_relative_to(Path(root).resolve()):
        return None
    return "/files/" + quote(path.relative_to(Path(root).resolve()).as_posix())
