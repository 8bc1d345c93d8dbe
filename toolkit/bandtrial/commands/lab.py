"""JupyterLab on the notebooks.

They are copied into a folder to work in, so that JupyterLab shows the notebooks, the invented shops and what stands
beside them there, and nothing else of where bandtrial is kept.
"""

import argparse
import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from bandtrial import disk
from bandtrial.commands.options import WrongUseError, command, option

PACKAGE = Path(__file__).parents[1]
FIRST = "1_starting_settings.ipynb"


@command(
    option("folder", nargs="?", metavar="FOLDER",
           help="folder to work in, which gets the notebooks; `bandtrial` in your home folder unless said"),
    option("--no-browser", action="store_true", help="print the address only"),
    option("--port", type=int, default=0, metavar="N", help="any free port unless said"),
    option("--allow-root", action="store_true",
           help="start although you are root: for a container that holds nothing else"),
)  # fmt: skip
def lab(args: argparse.Namespace) -> int:
    """JupyterLab on the notebooks."""
    check_user(args.allow_root)
    root = Path(args.folder).absolute() if args.folder else Path.home() / "bandtrial"
    for line in lay_out(root, PACKAGE):
        print(line, file=sys.stderr)
    print(f"JupyterLab on {root}, for this machine only; Ctrl+C twice ends it", file=sys.stderr)
    command = server_command(root, args.port, args.no_browser, args.allow_root)
    environment = server_environment(root)
    sys.stderr.flush()
    if os.name == "posix":
        os.execve(command[0], command, environment)  # in our place: signals and Ctrl+C are the server's to answer
    return 1 if subprocess.run(command, env=environment, check=False).returncode else 0


def check_user(allow_root: bool) -> None:
    """WrongUseError for root, unless allowed: a notebook can do whatever its user can."""
    if hasattr(os, "geteuid") and os.geteuid() == 0 and not allow_root:
        raise WrongUseError(
            "you are root, and whatever runs in a notebook could then change anything on this machine; start it as "
            "another user or, in a container that holds nothing else, with --allow-root"
        )


def server_command(root: Path, port: int, no_browser: bool, allow_root: bool = False) -> list[str]:
    """JupyterLab on 127.0.0.1 with its own fresh token, without news, update checks or an extension shop."""
    command = [
        sys.executable, "-m", "jupyterlab",
        "--ServerApp.ip=127.0.0.1",
        "--ServerApp.base_url=/",
        f"--ServerApp.port={port}",
        f"--ServerApp.root_dir={root}",
        f"--LabApp.default_url=/lab/tree/notebooks/{FIRST}",
        "--LabApp.news_url=",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
    ]  # fmt: skip
    return command + ["--no-browser"] * no_browser + ["--allow-root"] * allow_root


def server_environment(root: Path) -> dict[str, str]:
    """This environment, with where studies and saved files are found (`panels/session.py`), and `lab_config` beside
    the user's own settings: no question about news; every cell is drawn at once, and panels answer in the kernel's one
    thread, where the stop button reaches them.
    """
    own = str(PACKAGE / "lab_config")
    path = os.pathsep.join(filter(None, [own, os.environ.get("JUPYTER_CONFIG_PATH", "")]))
    where = {"BANDTRIAL_LAB_ROOT": str(root), "BANDTRIAL_CALLED_IN": str(Path.cwd())}
    return os.environ | where | {"JUPYTER_CONFIG_PATH": path}


FOLDERS = ("notebooks", "trial_data")
HANDED_OUT = (".ipynb", ".csv", ".toml", ".xlsx", ".md")
PASSED_BY = ("reports", ".ipynb_checkpoints", ".bandtrial")
"""Folders that come about by use, where the notebooks are used in the clone."""
RECORD = Path(".bandtrial", "handed_out.json")


def lay_out(root: Path, package: Path) -> list[str]:
    """Put the notebooks and the invented shops into the folder `root`; what there is to tell, in sentences.

    package : the installed package, which carries them, or `toolkit/bandtrial` of a clone, where they stand at the
        top. WrongUseError where nothing can be written.
    """
    if (root / "study.toml").exists():
        raise WrongUseError(
            f"{root} is a study; give the folder to work in, as `bandtrial lab {root.parent}`, and name the study in "
            "a notebook's line STUDY"
        )
    try:
        disk.make_folder(root)
        return _hand_out(root, shipped(package))
    except OSError as error:
        told = isinstance(error, disk.NotWrittenError)  # in a whole sentence
        words = str(error) if told else f"'{disk.shortened(error.filename)}' can't be read: {disk.why(error)}"
        raise WrongUseError(f"{words}; give another folder to work in") from None


def shipped(package: Path) -> Path:
    """The folder that holds the `notebooks` and `trial_data` to hand out."""
    return package if (package / "notebooks").is_dir() else package.parents[1]


def _hand_out(root: Path, source: Path) -> list[str]:
    known, kept = _record(root), []
    record = dict(known)
    for file in _files(source):
        name, target = file.relative_to(source).as_posix(), root / file.relative_to(source)
        new, old = mark(file), known.get(name)
        theirs = mark(target) if target.exists() else None
        if theirs != new and theirs in (None, old):
            disk.make_folder(target.parent)
            disk.save(target, file.read_bytes())
        elif theirs != new and old != new:
            kept.append(name)
            continue
        record[name] = new
    if record != known:
        disk.make_folder((root / RECORD).parent)
        disk.save(root / RECORD, json.dumps(record, indent=1, sort_keys=True))
    return [f"{root / name} is kept as you changed it; move it away to get the newer one" for name in kept]


def _files(source: Path) -> Iterator[Path]:
    for folder in FOLDERS:
        for file in sorted((source / folder).rglob("*")):
            if file.suffix in HANDED_OUT and not set(PASSED_BY) & set(file.relative_to(source).parts):
                yield file


def _record(root: Path) -> dict[str, str]:
    """Marks of the files handed out before, by name; none where the record can't be read."""
    try:
        found = json.loads((root / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def mark(file: Path) -> str:
    """What changes when a person changes a file: of a notebook its cells' text, of others every byte."""
    data = file.read_bytes()
    if file.suffix == ".ipynb":
        try:
            cells = json.loads(data)["cells"]
            data = json.dumps([(cell["cell_type"], "".join(cell["source"])) for cell in cells]).encode()
        except (ValueError, KeyError, TypeError):
            pass  # not a notebook any more: every byte counts
    return hashlib.sha256(data).hexdigest()
