"""JupyterLab on the notebooks.

They are copied into a folder to work in, so that JupyterLab shows the notebooks, the invented shops and what stands
beside them there, and nothing else of where bandtrial is kept.
"""

import argparse
import os
import subprocess
import sys
from pathlib import Path

from bandtrial.commands.errors import WrongUseError

PACKAGE = Path(__file__).parents[1]
FIRST = "1_starting_settings.ipynb"


def arguments(parser: argparse.ArgumentParser) -> None:
    where = "folder to work in, which gets the notebooks; `bandtrial` in your home folder unless said"
    parser.add_argument("folder", nargs="?", metavar="FOLDER", help=where)
    parser.add_argument("--no-browser", action="store_true", help="print the address only")
    parser.add_argument("--port", type=int, default=0, metavar="N", help="any free port unless said")
    root = "start although you are root: for a container that holds nothing else"
    parser.add_argument("--allow-root", action="store_true", help=root)


def run(args: argparse.Namespace) -> int:
    from bandtrial.commands.lab_folder import lay_out

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
    """This environment, with where studies and saved files are found (`panels/places.py`), and `lab_config` beside
    the user's own settings: no question about news; every cell is drawn at once, and panels answer in the kernel's one
    thread, where the stop button reaches them.
    """
    own = str(PACKAGE / "lab_config")
    path = os.pathsep.join(filter(None, [own, os.environ.get("JUPYTER_CONFIG_PATH", "")]))
    where = {"BANDTRIAL_LAB_ROOT": str(root), "BANDTRIAL_CALLED_IN": str(Path.cwd())}
    return os.environ | where | {"JUPYTER_CONFIG_PATH": path}
