"""The file of a lesson: every attempt with its time, kept so that a restart loses nothing and an edit shows.

One JSON file for each lesson, read and written by people and by the grading command. `attempts` is the record: one
entry for each answer, prediction, explanation and safety answer, in the order they came, each with a check sum over
itself and the one before. `answers` is the same in short, a right answer standing once it is given.
"""

from __future__ import annotations

import hashlib
import json
import re
import unicodedata
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from threading import RLock
from typing import TYPE_CHECKING, Any

from bandtrial.disk import make_folder, save

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

LOCK = RLock()
"""Held while a file is read and written: JupyterLab may hand the kernel two controls' messages on two threads."""
ENTRY = ("kind", "id", "time", "given", "state", "slip", "level", "version")
"""Of an attempt: answer, prediction or explanation; question; when; what; right or not_yet; number of the slip it
matched; hints given before it; numbers it was asked with (0 the student's first)."""


def file_of(lesson: Lesson) -> Path:
    """Where a student's answers to a lesson are kept; ValueError where none are."""
    if lesson.folder is None:
        raise ValueError("this lesson keeps no answers; begin it with a folder.")
    return lesson.folder / f"lesson_{lesson.number}_{slug(lesson.student.key)}.json"


def slug(name: str) -> str:
    """A name as part of a file name.

    >>> slug("Ada  Example"), slug("Łucja Ünal")
    ('ada_example', 'lucja_unal')
    """
    plain = unicodedata.normalize("NFKD", name.replace("ł", "l").replace("Ł", "L")).casefold()
    kept = "".join(c for c in plain if not unicodedata.combining(c))
    return re.sub(r"\W+", "_", kept).strip("_") or "student"


def empty(lesson: Lesson) -> dict[str, Any]:
    """The file of a lesson just begun."""
    student = lesson.student
    who = {"lesson": lesson.number, "name": student.name, "code": student.code, "drawn": student.drawn}
    return who | {"units": lesson.system, "drawn_units": lesson.drawn_units, "answers": {}, "attempts": []}


def read(lesson: Lesson) -> dict[str, Any]:
    """What is kept so far; the file of a lesson just begun if there is none that can be read."""
    if lesson.folder is None:
        return lesson.unkept
    kept = read_file(file_of(lesson))
    return empty(lesson) | kept if kept else empty(lesson)


def read_file(path: Path) -> dict[str, Any] | None:
    """A file of a lesson; None if it can't be read as one."""
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return kept if isinstance(kept, dict) and isinstance(kept.get("answers"), dict) else None


def add(lesson: Lesson, kind: str, id: str, given: str, state: str, **more: Any) -> bool:
    """Add an attempt; False where nothing was kept, because the lesson is handed in or the same was given last."""
    with LOCK:
        return _add(lesson, kind, id, given, state, **more)


def _add(lesson: Lesson, kind: str, id: str, given: str, state: str, **more: Any) -> bool:
    kept = read(lesson)
    before = [entry for entry in kept["attempts"] if (entry["kind"], entry["id"]) == (kind, id)]
    version = more.get("version", 0)
    if kept.get("handed_in") or (before and (before[-1]["given"], before[-1]["version"]) == (given, version)):
        return False
    entry = {"kind": kind, "id": id, "time": now(), "given": given, "state": state, "slip": None, "level": 0}
    entry |= {"version": 0} | more
    last = kept["attempts"][-1]["check"] if kept["attempts"] else lesson.student.drawn
    kept["attempts"].append(entry | {"check": check_sum(entry, last)})
    if kind == "answer":
        shorten(kept["answers"], entry)
    write(lesson, kept)
    return True


def shorten(answers: dict[str, Any], entry: Mapping[str, Any]) -> None:
    """Enter an attempt into the short form: tries are counted, a right answer stands."""
    short = answers.setdefault(entry["id"], {"given": None, "state": "", "tries": 0})
    if short["state"] != "right":
        short |= {"given": entry["given"], "state": entry["state"], "tries": short["tries"] + 1}
        answers[entry["id"]] = short


def keep(lesson: Lesson, **entries: Any) -> None:
    """Replace other entries of the file; nothing where the lesson is handed in."""
    with LOCK:
        kept = read(lesson)
        if not kept.get("handed_in"):
            write(lesson, kept | entries)


def last(lesson: Lesson, kind: str, id: str) -> dict[str, Any] | None:
    """The last attempt of a kind at a question, if there is one."""
    found = [entry for entry in read(lesson)["attempts"] if (entry["kind"], entry["id"]) == (kind, id)]
    return found[-1] if found else None


def hand_in(lesson: Lesson) -> str:
    """Close the lesson: the time it was handed in, which the first hand-in decides."""
    with LOCK:
        kept = read(lesson)
        if not kept.get("handed_in"):
            kept["handed_in"] = now()
            sums = kept["attempts"][-1]["check"] if kept["attempts"] else lesson.student.drawn
            kept["handed_in_check"] = check_sum({key: kept.get(key) for key in SEALED}, sums)
            write(lesson, kept)
        return str(kept["handed_in"])


SEALED = ("handed_in", "runs", "setting")
"""Entries that the hand-in's check sum covers, beside all attempts."""


def check_sum(entry: Mapping[str, Any], before: str) -> str:
    """Check sum of an entry and of all before it: shows an edit by hand, is no secret."""
    text = json.dumps([before, entry], sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def edited(kept: Mapping[str, Any]) -> bool:
    """Whether a file's attempts or hand-in are not as they were written."""
    last = str(kept.get("drawn", ""))
    for entry in kept.get("attempts", []):
        plain = {key: value for key, value in entry.items() if key != "check"}
        last = check_sum(plain, last)
        if entry.get("check") != last:
            return True
    if not kept.get("handed_in"):
        return False
    return kept.get("handed_in_check") != check_sum({key: kept.get(key) for key in SEALED}, last)


def now() -> str:
    """The time, to the second, with its offset."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def write(lesson: Lesson, kept: dict[str, Any]) -> None:
    """Write a lesson's file whole, or not at all."""
    kept |= {"units": lesson.system, "name": lesson.student.name}
    if lesson.folder is None:
        lesson.unkept = kept
        return
    path = file_of(lesson)
    make_folder(path.parent)
    save(path, json.dumps(kept, indent=1, ensure_ascii=False) + "\n")
