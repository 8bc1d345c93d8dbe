"""JupyterLab on the notebooks."""

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

PACKAGE = Path(__file__).parents[1]
FIRST = "1_starting_settings.ipynb"


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--no-browser", action="store_true", help="print the address only")
    parser.add_argument("--port", type=int, default=0, metavar="N", help="any free port unless said")


def run(args: argparse.Namespace) -> int:
    root = notebooks_root(PACKAGE, Path.home())
    print(f"JupyterLab on {root / 'notebooks'}, for this machine only; Ctrl+C twice ends it", file=sys.stderr)
    command, environment = server_command(root, args.port, args.no_browser), server_environment()
    sys.stderr.flush()
    if os.name == "posix":
        os.execve(command[0], command, environment)  # in our place: signals and Ctrl+C are the server's to answer
    return 1 if subprocess.run(command, env=environment, check=False).returncode else 0


def notebooks_root(package: Path, home: Path) -> Path:
    """The folder that holds `notebooks` and `trial_data`.

    In a clone this is the clone. An installed package is not a place to work in: its notebooks are copied to
    `bandtrial` in the home folder, and a file that is there already is left as its owner wrote it.
    """
    clone = package.parents[1]
    if not (package / "notebooks").is_dir():
        return clone
    root = home / "bandtrial"
    for folder in ("notebooks", "trial_data"):
        for source in (package / folder).rglob("*"):
            target = root / folder / source.relative_to(package / folder)
            if source.is_file() and not target.exists():
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(source, target)
    return root


def server_command(root: Path, port: int, no_browser: bool) -> list[str]:
    """JupyterLab on 127.0.0.1 with its own fresh token, without news, update checks or an extension shop."""
    command = [
        sys.executable, "-m", "jupyterlab",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}",
        f"--ServerApp.root_dir={root}",
        f"--LabApp.default_url=/lab/tree/notebooks/{FIRST}",
        "--LabApp.news_url=",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
    ]  # fmt: skip
    if no_browser:
        command.append("--no-browser")
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    return command


def server_environment() -> dict[str, str]:
    """This environment, with the news question switched off beside the user's own settings."""
    own = str(PACKAGE / "lab_config")
    path = os.pathsep.join(filter(None, [own, os.environ.get("JUPYTER_CONFIG_PATH", "")]))
    return os.environ | {"JUPYTER_CONFIG_PATH": path}
