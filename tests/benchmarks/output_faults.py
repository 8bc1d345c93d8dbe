"""What stands in the way of every output: a full disk, a folder that may not be written, a folder of its name.

Part of `faults.py`, as its fault `outputs`. Each writer of the package writes an output once, then again with other
content under each obstacle, in a process of its own. Sound is: it ends well with all of the new content, or with one
sentence that names a file and all of the old content; no other file is there than before.
"""

import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from bandtrial import disk, recommend, report, study, trials, wear
from bandtrial.report import html, sheet
from bandtrial_lessons import begin, record
from bandtrial_lessons.__main__ import main as grade
from bandtrial_lessons.instructor import notebooks as instructor
from bandtrial_lessons.shop import Shop

DEMO = Path(__file__).parents[2] / "trial_data/demo_shop"
NOTEBOOKS = Path(__file__).parents[2] / "notebooks/lessons"
DAYS = ("2027-04-01", "2027-05-02")
"""Dates on the first and the second version."""
NOBODY = 65534
HEAD = instructor.HEAD
Write = Callable[[Path, str], Any]


SLOW = ("report", "class table", "instructor's notebooks", "PDF")


def writers(quick: bool = False) -> dict[str, Write]:
    """Every writer of the package, as write(folder, date); quick: without those of `SLOW`."""
    opened = study.open_study(DEMO)
    fit = wear.fit(opened, draws=500)
    job = {"machine": "upright", "stock": "b27", "material": "shaft_1045", "thickness_mm": 40.0}
    answer, plan = recommend.recommend(fit, opened, **job), trials.plan(fit, opened, **job, minutes=300)
    changed = report.change(opened, opened, (fit, fit))
    page = Path(tempfile.mkdtemp()) / "page.html"
    page.write_text("<h1>page</h1>")
    page.parent.chmod(0o755)
    made: dict[str, Write] = {
        "report": lambda out, day: report.write_report(DEMO, out / "study.html", made=day),
        "setup sheet": lambda out, day: report.write_sheet(answer, opened, out / "sheet.html", fit=fit, made=day),
        "change page": lambda out, day: report.write_change(DEMO, DEMO, out / "change.html", made=day, found=changed),
        "new study": lambda out, day: study.new_study(out / day),
        "lesson's answers": lambda out, day: _answer(out, day),
        "class table": lambda out, day: _grade(out, day),
        "instructor's notebooks": lambda out, day: _instruct(out, day),
        "invented study": lambda out, day: _invent(out, day),
    }
    if plan.runs:
        made["run sheet"] = lambda out, day: sheet.write_run_sheet(plan, opened, out / "runs.html", made=day)
    try:
        html.find_browser()
        made["PDF"] = lambda out, day: html.print_pdf(page, out / "page.pdf")
    except report.NoBrowser:
        print("outputs: no browser here, so no PDF was tried", file=sys.stderr)
    return {name: write for name, write in made.items() if not (quick and name in SLOW)}


def _answer(out: Path, day: str) -> None:
    record.keep(begin(1, "Bo Example", folder=out), note=day)


def _grade(out: Path, day: str) -> None:
    handed_in = Path(tempfile.mkdtemp())
    _answer(handed_in, day)
    if grade([str(handed_in), "--csv", str(out / "class.csv")]):
        raise disk.NotWrittenError("'class.csv' was refused in one line")
    shutil.rmtree(handed_in)


def _instruct(out: Path, day: str) -> None:
    first = sorted(NOTEBOOKS.glob("lesson_*.ipynb"))[0]
    students = Path(tempfile.mkdtemp())
    shutil.copyfile(first, students / first.name)
    instructor.HEAD = HEAD + day  # in a process of its own
    instructor.write_all(students, out / "lessons")
    shutil.rmtree(students)


def _invent(out: Path, day: str) -> None:
    Shop(1).write(out / "shop", author=day)


def content(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def attempt(write: Write, out: Path, day: str, prepare: Callable[[], None]) -> str:
    """Write in a child process after `prepare()`; what it said: "" where it was written."""
    read, into = os.pipe()
    child = os.fork()
    if not child:
        said = ""
        try:
            os.close(read)
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            prepare()
            write(out, day)
        except (disk.NotWrittenError, study.SaveError, report.NoBrowser) as error:
            said = str(error) or "no word"
        except BaseException as error:
            said = f"FAULT {type(error).__name__}: {error}"
        os.write(into, said.encode())
        os._exit(0)
    os.close(into)
    with os.fdopen(read) as pipe:
        said = pipe.read()
    os.waitpid(child, 0)
    return said


@contextmanager
def small_disk() -> Iterator[tuple[Path, bool]]:
    """A folder on a disk of 3 MB, and whether it is one: where none can be had, a limit on file size stands for it."""
    place = Path(tempfile.mkdtemp())
    place.chmod(0o777)
    own = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=3m,mode=777", "tmpfs", place], capture_output=True)
    try:
        yield place, own.returncode == 0
    finally:
        if own.returncode == 0:
            subprocess.run(["umount", place], check=True)
        shutil.rmtree(place, ignore_errors=True)


def fill(place: Path, leave: int) -> Path:
    """Fill the disk but for `leave` bytes."""
    free = os.statvfs(place).f_bavail * os.statvfs(place).f_frsize
    filler = place / "filler"
    filler.write_bytes(bytes(max(0, free - leave)))
    return filler


def limit(size: int) -> None:
    """No file may be longer, from now on."""
    import resource
    import signal

    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.RLIM_INFINITY))


def as_nobody(write: Write) -> None:
    """Root may write anywhere: be somebody else, once all that is needed is loaded."""
    warm = Path(tempfile.mkdtemp())
    write(warm, DAYS[0])
    shutil.rmtree(warm)
    if os.getuid() == 0:
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def tried(name: str, write: Write, count: int, chance: random.Random) -> Iterator[tuple[str, bool, str]]:
    """Each obstacle `count` times, and whether the outcome was sound."""
    with small_disk() as (place, own):
        for _ in range(count):
            out = place / "out"
            out.mkdir(mode=0o777)
            out.chmod(0o777)
            said = attempt(write, out, DAYS[0], lambda: None)
            before = content(out)
            size = sum(map(len, before.values()))
            yield f"{name}: first", not said and size > 0, said
            room = chance.randrange(0, max(size, 1))
            filler = fill(place, room) if own else None
            said = attempt(write, out, DAYS[1], (lambda: None) if own else lambda room=room: limit(room // 2))
            if filler:
                filler.unlink()
            yield f"{name}: full disk", sound(said, before, content(out), name), said
            shutil.rmtree(out)
            out.mkdir(mode=0o777)
            out.chmod(0o777)
            attempt(write, out, DAYS[0], lambda: None)
            before = content(out)
            closed = [out, *(path for path in out.rglob("*") if path.is_dir())]
            for path in closed:
                path.chmod(0o555)
            said = attempt(write, out, DAYS[1], lambda: as_nobody(write))
            for path in closed:
                path.chmod(0o777)
            yield f"{name}: read-only folder", sound(said, before, content(out), name, refused=True), said
            shutil.rmtree(out)


def sound(said: str, before: dict[str, bytes], after: dict[str, bytes], name: str, refused: bool = False) -> bool:
    """All of the old with one sentence, or all of the new without."""
    if said.startswith("FAULT") or "\n" in said:
        return False
    if said:
        return after == before
    return not refused and (set(after) >= set(before)) and not any(path.endswith(".new") for path in after)
