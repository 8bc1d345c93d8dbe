"""Where a notebook finds a study, and where what it saved can be opened: places, as the person at it thinks of them."""

import os
from pathlib import Path, PureWindowsPath
from urllib.parse import quote

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
