"""What it takes to make the report again: the data's hash, the versions, the command."""

from __future__ import annotations

import hashlib
import platform
from importlib import metadata
from pathlib import Path

STUDY_FILES = ("study.toml", "bands.csv", "cuts.csv", "cuts.xlsx")
PACKAGES = ("bandtrial", "numpy", "scipy", "pandas", "matplotlib", "pint", "jinja2", "openpyxl")


def file_hashes(folder: str | Path) -> dict[str, str]:
    """SHA-256 of each file of the study that is there, by its name."""
    folder = Path(folder)
    return {
        name: hashlib.sha256((folder / name).read_bytes()).hexdigest()
        for name in STUDY_FILES
        if (folder / name).is_file()
    }


def data_hash(folder: str | Path) -> str:
    """One SHA-256 for the whole study: of its files' names and hashes, a line each."""
    lines = "".join(f"{digest}  {name}\n" for name, digest in file_hashes(folder).items())
    return hashlib.sha256(lines.encode()).hexdigest()


def versions() -> dict[str, str]:
    """Versions of Python and of every package that numbers and pictures come from."""
    found = {"Python": platform.python_version()}
    for package in PACKAGES:
        try:
            found[package] = metadata.version(package)
        except metadata.PackageNotFoundError:
            found[package] = "not installed as a package"
    return found


def command(folder: str | Path, out: str | Path, pdf: bool) -> str:
    """The command that makes the report again, from the folder that holds the study."""
    name = Path(folder).resolve().name
    return f"bandtrial report {_quoted(name)} -o {_quoted(Path(out).name)}{' --pdf' if pdf else ''}"


def _quoted(name: str) -> str:
    return f'"{name}"' if not name.replace("_", "").replace("-", "").replace(".", "").isalnum() else name
