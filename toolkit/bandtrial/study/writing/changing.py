"""A change of one file of a study: looked at first, with all that it would bring, then made, kept and undone as one."""

import re
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from bandtrial import disk
from bandtrial.study import files, reading, toml
from bandtrial.study.problems import Problem, Problems, SaveError, StudyError, refuse
from bandtrial.study.writing.history import Step, history, record, tell_journal
from bandtrial.study.writing.keeping import keep_version, only_writer

FILES = (toml.FILE, reading.BANDS_CSV, reading.CUTS_CSV, reading.CUTS_XLSX)


@dataclass(frozen=True)
class Change:
    """What is to be done to a file of a study folder: `edit` makes its new bytes of those it has, `what` says it."""

    folder: Path
    file: str
    what: str
    edit: Callable[[bytes], bytes] = field(repr=False)

    def problems(self) -> list[Problem]:
        """What would be wrong, or worth a look, in the study after it and is not now; StudyError where the change
        itself can't be made.
        """
        after = self.edit(content(self.folder, self.file))
        try:
            return _new_problems(self.folder, self.file, after)
        except OSError as error:
            words = f"can't be tried out in {tempfile.gettempdir()}: {disk.why(error)}; nothing was changed"
            raise refuse(self.file, words) from None

    def save(self) -> Step | None:
        """Make it; on disk when this returns, and the step that can be undone, None where nothing had to be changed.

        Raises StudyError, with nothing changed, where the study would have errors that it has not now, and SaveError
        where the file can't be written.
        """
        try:
            before = content(self.folder, self.file)
            if self.edit(before) == before:
                return None
            if wrong := [one for one in self.problems() if one.severity == "error"]:
                raise StudyError(wrong)
            with only_writer(self.folder, self.file) as keep:
                found = content(self.folder, self.file)
                after = self.edit(found)
                if found != before and any(one.severity == "error" for one in self.problems()):
                    raise refuse(self.file, "was changed by another program just now; nothing was changed, try again")
                keep_version(keep, self.folder / self.file, found)
                disk.replace((self.folder / self.file).resolve(), after)
                tell_journal(keep, self.file, found, after)
                record(keep, self.file, self.what, found, after)
        except OSError as error:
            raise refuse(self.file, f"could not be written: {disk.why(error)}; nothing was changed") from None
        return (history(self.folder).done or (None,))[-1]


def content(folder: Path, file: str) -> bytes:
    """The bytes of a file of a study; SaveError where it can't be read."""
    problems = Problems()
    data = files.read_bytes(folder, file, problems)
    if data is None:
        raise SaveError(problems.found)
    return data


def _new_problems(folder: Path, file: str, after: bytes) -> list[Problem]:
    """The study with other bytes of one file, checked whole in a place of its own, against the study as it is."""
    known = Counter(map(_kind, reading.check(folder)))
    with tempfile.TemporaryDirectory(prefix="bandtrial_") as place:
        for name in FILES:
            if name == file or files.existing(folder, name):
                (Path(place) / name).write_bytes(after if name == file else content(folder, name))
        found = reading.check(place)
    new = []
    for problem in found:
        known[_kind(problem)] -= 1
        if known[_kind(problem)] < 0:
            new.append(replace(problem, message=problem.message.replace(place, str(folder))))
    return new


def _kind(problem: Problem) -> tuple[str, ...]:
    """A problem without its row, which moves when others come and go."""
    words = re.sub(r"\b(rows?|lines?) \d+(-\d+)?((, | and )\d+(-\d+)?)*", "row", problem.message)
    return problem.severity, problem.file, problem.column or "", str(problem.value), words
