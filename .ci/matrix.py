"""The tests on other Pythons, dependencies, processors, in other orders, locales and as another user.

    .ci/matrix            every pair of choices meets in some row
    .ci/matrix --slice    what runs on each change: every Python and every set of dependencies once
    .ci/matrix --rows     only say which rows there would be

Dependencies: the lowest that pyproject.toml allows, those of toolkit/constraints.txt, the newest that it allows.
Processors: the kernels of OpenBLAS (OPENBLAS_CORETYPE) and the loops of NumPy (NPY_DISABLE_CPU_FEATURES) that this one
can play.
Each environment is a copy of this tree, without what git ignores, with a .venv of its own. What could not be had is
listed below the table. Ends with 1 where a test failed or a row did not run.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
import counts
import machine
import rows
from rows import Row

ROOT = Path(__file__).parents[1]
LIMIT = 3600  # s for a row, or for an environment; on a quiet machine the tests take 100 to 250
USER = 65534  # nobody


class Place:
    """The folder that all of it happens in: trees with their .venv, results, homes."""

    def __init__(self, results: Path | None) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="matrix-"))
        self.folder.chmod(0o755)
        self.results = results or self.folder
        self.results.mkdir(parents=True, exist_ok=True)
        self.faults: dict[tuple[str, str], str] = {}
        self.played: dict[int, Row] = {}  # rows as they ran, with a core type that their OpenBLAS lives through

    def tree(self, row: Row) -> Path:
        return self.folder / f"{row.python}-{row.dependencies}"

    def build(self, row: Row, python: Path) -> None:
        """A .venv in the copy of the tree; what went wrong is kept in `faults`."""
        tree = self.tree(row)
        pip = [tree / ".venv/bin/python", "-m", "pip", "install", "-q", "--no-compile", "-e", ".[test]"]
        for command in ([python, "-m", "venv", ".venv"], pip + chosen(tree, row.dependencies)):
            done = run(command, tree, os.environ, tree / "install.txt")
            if done:
                self.faults[row.python, row.dependencies] = f"{python}: its environment ended with {done}"
                return

    def test(self, number: int, row: Row) -> dict[str, int] | None:
        """Counts of the tests in this row; None where they did not run to their end."""
        tree, home = self.tree(row), self.folder / f"home{number}"
        home.mkdir()
        found = self.results / f"matrix-{number:02}.xml"
        python, as_user = tree / ".venv/bin/python", []
        row = self.played[number] = replace(row, core=machine.playable(python, row.core))
        environment = {**os.environ, **row.environment(machine.loops(python)), "HOME": str(home), "TMPDIR": str(home)}
        if row.user == "nobody":
            as_user = machine.as_user(USER)
            environment["LD_LIBRARY_PATH"] = str(machine.prefix(python) / "lib")  # of a copied Python
            for path in (tree, home):
                subprocess.run(["chown", "-R", "--no-dereference", f"{USER}:{USER}", path], check=True)
        command = [*as_user, python, "-m", "pytest", "-p", "no:cacheprovider", f"--junitxml={home}/tests.xml"]
        run(command, tree, environment, self.results / f"matrix-{number:02}.txt")
        if (home / "tests.xml").exists():
            shutil.move(home / "tests.xml", found)
        shutil.rmtree(home, ignore_errors=True)
        return counts.counts(found) if found.exists() else None


def run(command: list, folder: Path, environment: dict, output: Path) -> int:
    """Its exit code; what it printed is added to `output`."""
    with output.open("ab") as file:
        words = ["timeout", str(LIMIT), *map(str, command)]
        return subprocess.run(words, cwd=folder, env=environment, stdin=subprocess.DEVNULL,
                              stdout=file, stderr=file).returncode  # fmt: skip


def copy_tree(tree: Path) -> None:
    if (ROOT / ".git").exists():
        listed = subprocess.run(["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"], cwd=ROOT,
                                capture_output=True, check=True).stdout.decode().split("\0")  # fmt: skip
        for name in filter(None, listed):
            if (ROOT / name).exists():
                (tree / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy2(ROOT / name, tree / name)
    else:
        shutil.copytree(ROOT, tree, ignore=shutil.ignore_patterns(".venv*", ".*_cache", "__pycache__"))


def chosen(tree: Path, dependencies: str) -> list[str]:
    """Arguments of pip that choose the versions."""
    if dependencies == "pinned":
        return ["-c", "toolkit/constraints.txt"]
    if dependencies == "lowest":
        (tree / "lowest.txt").write_text("\n".join(machine.floors(tree / "pyproject.toml")) + "\n")
        return ["-c", "lowest.txt"]
    return ["--upgrade", "--upgrade-strategy", "eager"]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--slice", action="store_true", help="one row for each Python and each set of dependencies")
    parser.add_argument("--rows", action="store_true", help="only say which rows there would be")
    parser.add_argument("--results", type=Path, help="folder for each row's JUnit XML and output")
    given = parser.parse_args()
    place = Place(given.results)
    missing: list[str] = []
    pythons = machine.pythons(missing)
    if machine.root():
        pythons = {name: machine.reachable(python, USER, place.folder) for name, python in pythons.items()}
    design = (rows.some if given.slice else rows.all_pairs)(machine.choices(pythons, place.folder, missing))
    if given.rows:
        print(rows.HEAD, *design, "could not be had:", *missing, sep="\n")
        shutil.rmtree(place.folder)
        return 0
    return report(design, *run_all(place, pythons, design), missing, place)


def run_all(place: Place, pythons: dict[str, Path], design: list[Row]) -> tuple[list, dict]:
    """Counts of each row (None: did not run), and what went wrong with environments."""
    environments = {(row.python, row.dependencies): row for row in design}.values()
    for row in environments:  # all at once: others may work in the tree by the time that the last is built
        copy_tree(place.tree(row))
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda row: place.build(row, pythons[row.python]), environments))
        numbered = [(n, row) for n, row in enumerate(design, 1) if (row.python, row.dependencies) not in place.faults]
        found = dict(pool.map(lambda one: (one[0], place.test(*one)), numbered))
    return [found.get(n) for n in range(1, len(design) + 1)], place.faults


def report(
    design: list[Row], found: list[dict[str, int] | None], faults: dict, missing: list[str], place: Place
) -> int:
    """Print the table; 1 where something failed or did not run, else 0 and the folder is removed."""
    print(f"row  {rows.HEAD}  passed failed skipped")
    for n, (asked, got) in enumerate(zip(design, found, strict=True), 1):
        row = place.played.get(n, asked)
        if row.core != asked.core:
            missing.append(f"core type {asked.core} in row {n}: a product of two matrices ends its OpenBLAS here")
        print(f"{n:3}  {row}  " + ("{passed:6} {failed:6} {skipped:7}".format(**got) if got else "did not run"))
    print("could not be had:", *(missing or ["nothing"]), sep="\n  ")
    print(*faults.values(), sep="\n", end="\n" if faults else "")
    total = {word: sum(got[word] for got in found if got) for word in ("passed", "failed", "skipped")}
    wrong = any(got is None or got["failed"] or not got["passed"] for got in found)
    if wrong:
        print(f"each row's output: {place.results}/matrix-*.txt; each environment's: {place.folder}/*/install.txt")
        for n, got in enumerate(found, 1):
            output = place.results / f"matrix-{n:02}.txt"
            if output.exists() and (got is None or got["failed"]):
                print(f"--- row {n}", *output.read_text(errors="replace").splitlines()[-40:], sep="\n")
    else:
        shutil.rmtree(place.folder)
    print("{passed} passed, {failed} failed, {skipped} skipped".format(**total))
    return int(wrong)


if __name__ == "__main__":
    sys.exit(main())
