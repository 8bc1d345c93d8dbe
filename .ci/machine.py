"""What this machine has for the matrix: Pythons, kernels, loops, locales, users; and what it has not."""

import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path

from rows import Choices

KNOWN = range(11, 16)  # Python 3.n
FLAG = {
    "Prescott": "pni",
    "Nehalem": "sse4_2",
    "Haswell": "avx2",
    "SkylakeX": "avx512vl",
}  # as /proc/cpuinfo names them
ASK = "import sys, ssl, venv, ensurepip; print('3.%d' % sys.version_info[1])"
LOOPS = ("from numpy._core._multiarray_umath import __cpu_dispatch__ as all_of_them, __cpu_features__ as here; "
         "print(*(name for name in all_of_them if here.get(name)))")  # fmt: skip
PRODUCT = "import numpy; a = numpy.ones((800, 800)); a @ a"
GERMAN = "de_DE.ISO-8859-1"  # decimal commas, and an encoding that is not UTF-8


def root() -> bool:
    return hasattr(os, "geteuid") and os.geteuid() == 0


def says(*command: str | Path) -> str:
    """What it prints; nothing where it fails."""
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=60, stdin=subprocess.DEVNULL)
    except OSError:
        return ""
    return done.stdout.strip() if done.returncode == 0 else ""


def pythons(missing: list[str]) -> dict[str, Path]:
    """Version -> interpreter: those on the path first, then those that pyenv keeps."""
    found: dict[str, Path] = {}
    for version in (f"3.{n}" for n in KNOWN):
        kept = sorted(Path.home().glob(f".pyenv/versions/{version}.*/bin/python{version}"))
        places = [Path(folder, f"python{version}") for folder in os.environ["PATH"].split(":")] + kept
        working = (place for place in places if place.exists() and says(place, "-c", ASK) == version)
        if python := next(working, None):
            found[version] = Path(says(python, "-c", "import sys; print(sys.executable)"))
        else:
            missing.append(f"Python {version}: no interpreter with venv, ensurepip and ssl on the path or under pyenv")
    return found


def reachable(python: Path, user: int, folder: Path) -> Path:
    """This interpreter, or where another user can't reach it a copy that it can."""
    if says(*as_user(user), python, "-c", "print(1)"):
        return python
    copy, name = folder / prefix(python).name, python.resolve().name
    shutil.copytree(prefix(python), copy, symlinks=True, ignore=shutil.ignore_patterns("site-packages", "test"))
    (copy / "lib" / name / "site-packages").mkdir()
    return copy / "bin" / name


def prefix(python: Path) -> Path:
    return Path(says(python, "-c", "import sys; print(sys.base_prefix)"))


def as_user(user: int) -> list[str]:
    return ["setpriv", f"--reuid={user}", f"--regid={user}", "--clear-groups", "env"]


def choices(pythons: dict[str, Path], folder: Path, missing: list[str]) -> Choices:
    info = Path("/proc/cpuinfo")
    flags = set(re.findall(r"\w+", info.read_text())) if info.exists() else set()
    cores = [core for core, flag in FLAG.items() if flag in flags]
    asked = os.environ.get("OPENBLAS_CORETYPE", "")
    missing += [f"core type {core}: this processor can't play it" for core in FLAG if core not in cores]
    old = cores[: cores.index(asked) + 1] if asked in cores else ["own", *cores]
    missing += [f"core type {core} with the lowest dependencies: this machine asks for {asked}, as an old OpenBLAS "
                "fails on wider ones here" for core in cores if core not in old]  # fmt: skip
    wide = ["256 bits"] if "avx512f" in flags else []
    missing += [] if wide else ["loops of 512 bits: this processor has none"]
    users = ["root", "nobody"] if root() and shutil.which("setpriv") else ["own"]
    missing += [] if len(users) == 2 else ["another user: only root can start tests as one, with setpriv"]
    return Choices(
        python=list(pythons), dependencies=["lowest", "pinned", "newest"],
        core=cores if asked else ["own", *cores], old_core=old, loops=["baseline", *wide, "all"],
        order=["random", "written"], locale=["C", "C.UTF-8", *german(folder, missing)], user=users,
    )  # fmt: skip


def german(folder: Path, missing: list[str]) -> list[str]:
    """A locale with decimal commas, made in this folder where the machine does not have it."""
    says("localedef", "-i", "de_DE", "-f", "ISO-8859-1", folder / GERMAN)
    if not (folder / GERMAN).exists():
        missing.append(f"locale {GERMAN}: localedef or its sources (package locales) are not here")
        return []
    os.environ["LOCPATH"] = str(folder)
    return [GERMAN]


def loops(python: Path) -> list[str]:
    """NumPy's loops beyond its baseline that this processor can run, as this NumPy names them."""
    return says(python, "-c", LOOPS).split()


def playable(python: Path, core: str) -> str:
    """This core type, or the next narrower that lives through a product of two matrices; "own" where none does.

    OpenBLAS 0.3.34 overruns its stack where it plays Haswell's kernels on an AMD processor with AVX-512 (its issues
    6013 and 6021): the process ends, whatever it computes.
    """
    names = list(FLAG)
    narrower = names[: names.index(core)] if core in names else []
    for one in (core, *reversed(narrower)):
        environment = os.environ if one == "own" else {**os.environ, "OPENBLAS_CORETYPE": one}
        done = subprocess.run([python, "-c", PRODUCT], env=environment, capture_output=True, stdin=subprocess.DEVNULL)
        if done.returncode == 0:
            return one
    return "own"


def floors(pyproject: Path) -> list[str]:
    """The lowest version of each dependency that pyproject.toml allows, as pip reads it."""
    project = tomllib.loads(pyproject.read_text(encoding="utf-8"))["project"]
    needed = project["dependencies"] + project["optional-dependencies"]["test"]
    return [re.sub(r"^([\w-]+)>=([\d.]+),.*", r"\1==\2", line) for line in needed]
