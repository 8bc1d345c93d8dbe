"""The journal of saved cuts, in the folder `.bandtrial` beside a log: the last cuts that were acknowledged.

A cut that another program took out again (a spreadsheet that saved an older copy) is noticed by it, and can be
put back. One line per event: what, when, number, the row as JSON.
"""

import json
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from bandtrial.disk import plain_file
from bandtrial.study.files import inside

FOLDER = ".bandtrial"
LARGEST = 20_000_000


class Saved(NamedTuple):
    """A cut the journal holds to be in the log: when it was saved, and its cells by head."""

    when: str
    row: dict[str, str]


def place(folder: Path, file: str) -> Path:
    """The journal of the log `file`."""
    return folder / FOLDER / f"{file}.journal"


def entry(what: str, cut: str, row: dict[str, str]) -> bytes:
    """A line of the journal; `what` is saved or taken out."""
    when = datetime.now().isoformat(timespec="seconds")
    return (json.dumps([what, when, cut, row], ensure_ascii=False) + "\n").encode()


def remembered(folder: Path, file: str) -> dict[str, Saved]:
    """The cuts that should be in the log, by number; damaged or unfinished lines say nothing."""
    path = place(folder, file)
    try:
        if not plain_file(path) or not inside(folder, path) or path.stat().st_size > LARGEST:
            return {}
        lines = path.read_bytes().split(b"\n")[:-1]  # what follows the last line end was never finished
    except OSError:
        return {}
    cuts: dict[str, Saved] = {}
    for line in lines:
        try:
            what, when, cut, row = json.loads(line)
        except (ValueError, TypeError, RecursionError):
            continue
        cuts.pop(str(cut), None)
        if what == "saved" and isinstance(row, dict):
            cuts[str(cut)] = Saved(str(when)[:19], {str(head): str(cell) for head, cell in row.items()})
    return cuts
