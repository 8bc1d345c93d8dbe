"""What was changed in a study from here, so that it can be undone and done again.

`.bandtrial/changes` has a line of JSON per event: a change, with the bytes that it took out of a file and those that it
put in their place, or that one was undone or done again. Only a file that is as the change left it is changed back.
"""

import base64
import hashlib
import json
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from bandtrial.disk import replace, why
from bandtrial.study import files
from bandtrial.study.files import CUTS_CSV, CUTS_XLSX
from bandtrial.study.problems import refuse
from bandtrial.study.writing.keeping import WAIT, append_lines, keep_version, note, only_writer
from bandtrial.study.writing.tablerows import rows_of

LARGEST = 40_000_000
"""Of the changes that are kept, those that fit into half of it when they have grown to it [bytes]."""
FILE = "changes"
_NOT_KEPT = 8_000_000
"""A change of more bytes than this is not kept, and can't be undone [bytes]."""


@dataclass(frozen=True)
class Step:
    """One change that is kept: the words for it, its file, and what stood and now stands `at` a byte of it."""

    id: str
    what: str
    when: str
    file: str
    at: int
    old: bytes
    new: bytes
    before: str
    after: str

    def line(self) -> bytes:
        """The line of the journal that keeps it."""
        return _line({**vars(self), "old": _packed(self.old), "new": _packed(self.new)})


@dataclass(frozen=True)
class History:
    """The changes that can be undone, and those that can be done again, the next one last."""

    done: tuple[Step, ...] = ()
    undone: tuple[Step, ...] = ()


def history(folder: str | Path) -> History:
    """What can be undone in a study folder and done again; damaged or unfinished lines say nothing."""
    done, undone = list[Step](), list[Step]()
    for line in files.whole_lines(Path(folder), Path(folder) / files.FOLDER / FILE, 2 * LARGEST):
        try:
            event = json.loads(line)
            if "undone" in event or "redone" in event:
                take, give = (done, undone) if "undone" in event else (undone, done)
                if take and take[-1].id in event.values():
                    give.append(take.pop())
                continue
            step = Step(**{**event, "old": _unpacked(event["old"]), "new": _unpacked(event["new"])})
        except (ValueError, TypeError, KeyError, zlib.error, RecursionError):
            continue
        done.append(step)
        undone.clear()
    return History(tuple(done), tuple(undone))


@contextmanager
def recorded(folder: Path, keep: Path, file: str, what: str) -> Iterator[None]:
    """Keep what the block changes in `file`, whose one writer is who calls this; `what` in words, "" to keep none."""
    before = (folder / file).read_bytes() if what else b""
    yield
    if what:
        record(keep, file, what, before, (folder / file).read_bytes())


def record(keep: Path, file: str, what: str, before: bytes, after: bytes) -> None:
    """Keep a change of a file. Never fails: the change is on disk, and where it can't be kept it can't be undone."""
    if before == after:
        return
    at = _alike(before, after)
    same = _alike(before[at:][::-1], after[at:][::-1])
    old, new = before[at : len(before) - same], after[at : len(after) - same]
    if len(old) + len(new) > _NOT_KEPT:
        return
    now = datetime.now().isoformat(timespec="seconds")
    id = hashlib.blake2b(before + after + now.encode(), digest_size=6).hexdigest()
    _keep(keep, Step(id, what, now, file, at, old, new, _digest(before), _digest(after)).line())


def undo(folder: str | Path, expected: str = "") -> Step:
    """Take back the last change of a study that is kept, and return it.

    expected : the id of the step that is meant; SaveError where another was made since, as where its file was changed
        by another program, or there is nothing to undo
    """
    return _back(Path(folder), expected, "undone")


def redo(folder: str | Path, expected: str = "") -> Step:
    """Do the change again that was undone last, and return it; as `undo`."""
    return _back(Path(folder), expected, "redone")


def _back(folder: Path, expected: str, way: str) -> Step:
    words = "undo" if way == "undone" else "do again"
    kept = history(folder)
    steps = kept.done if way == "undone" else kept.undone
    if not steps:
        raise refuse("study", f"has nothing to {words}")
    step = steps[-1]
    if expected and expected != step.id:
        raise refuse("study", f"was changed since, last: {step.what}; nothing was changed, press again to {words} that")
    try:
        with only_writer(folder, step.file) as keep:
            if history(folder) != kept:
                raise refuse("study", f"was changed just now; nothing was changed, press again to {words}")
            now = (folder / step.file).read_bytes()
            old, new = (step.new, step.old) if way == "undone" else (step.old, step.new)
            if _digest(now) != (step.after if way == "undone" else step.before):
                raise refuse(step.file, f"was changed by another program since ({step.what}); nothing was changed, "
                             "change it by hand")  # fmt: skip
            then = now[: step.at] + new + now[step.at + len(old) :]
            keep_version(keep, folder / step.file, now)
            replace((folder / step.file).resolve(), then)
            tell_journal(keep, step.file, now, then)
            _keep(keep, _line({way: step.id}))
    except OSError as error:
        raise refuse(step.file, f"could not be written: {why(error)}; nothing was changed") from None
    return step


def tell_journal(keep: Path, file: str, before: bytes, after: bytes) -> None:
    """Tell the journal of saved cuts which came, changed or went."""
    if file not in (CUTS_CSV, CUTS_XLSX):
        return
    was, now = (dict(rows_of(file, data, "cuts").by_name("cut")) for data in (before, after))
    gone = [("taken out", cut, dict[str, str]()) for cut in was if cut not in now]
    note(keep, file, gone + [("saved", cut, row) for cut, row in now.items() if was.get(cut) != row])


def _alike(one: bytes, other: bytes) -> int:
    """How many bytes two begin with alike."""
    n = min(len(one), len(other))
    if not n:
        return 0
    differ = np.frombuffer(one, np.uint8, n) != np.frombuffer(other, np.uint8, n)
    return int(differ.argmax()) if differ.any() else n


def _keep(keep: Path, line: bytes) -> None:
    import filelock

    path = keep / FILE
    try:
        with filelock.FileLock(keep / f"{FILE}.lock", timeout=WAIT):  # other files of the study have other writers
            append_lines(path, line, LARGEST)
    except Exception:  # the change stands, only it can't be undone
        return


def _line(event: dict[str, object]) -> bytes:
    return (json.dumps(event, ensure_ascii=False) + "\n").encode()


def _digest(data: bytes) -> str:
    return hashlib.blake2b(data, digest_size=16).hexdigest()


def _packed(data: bytes) -> str:
    return base64.b64encode(zlib.compress(data)).decode()


def _unpacked(text: str) -> bytes:
    return zlib.decompress(base64.b64decode(text))
