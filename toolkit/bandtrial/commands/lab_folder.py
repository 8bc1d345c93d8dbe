"""The folder that `bandtrial lab` opens: notebooks and invented shops, copied from the package or the clone.

What a person has changed there is never written over. What nobody has changed follows the package: a record of what
was handed out, `.bandtrial/handed_out.json`, tells one from the other. A notebook counts as changed if its cells
do, not if it has only been run.
"""

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

from bandtrial import disk
from bandtrial.commands.errors import WrongUseError

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
