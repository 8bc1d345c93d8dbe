"""The file a student hands in: one for each lesson, read and written by people and by the grading command."""

from __future__ import annotations

import json
import re
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial.disk import make_folder, save

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson


def file_of(lesson: Lesson) -> Path:
    """Where a student's answers to a lesson are kept; ValueError where none are."""
    if lesson.folder is None:
        raise ValueError("this lesson keeps no answers; begin it with a folder.")
    return lesson.folder / f"lesson_{lesson.number}_{slug(lesson.name)}.json"


def slug(name: str) -> str:
    """A name as part of a file name.

    >>> slug("Ada  Example"), slug("Łucja Ünal")
    ('ada_example', 'lucja_unal')
    """
    plain = unicodedata.normalize("NFKD", name.replace("ł", "l").replace("Ł", "L")).casefold()
    kept = "".join(c for c in plain if not unicodedata.combining(c))
    return re.sub(r"\W+", "_", kept).strip("_") or "student"


def read_answers(lesson: Lesson) -> dict[str, Any]:
    """What is kept so far; an empty set of answers if there is none that can be read."""
    empty = {"lesson": lesson.number, "name": lesson.name, "units": lesson.system, "answers": {}}
    try:
        kept = json.loads(file_of(lesson).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return empty
    return empty | kept if isinstance(kept, dict) and isinstance(kept.get("answers"), dict) else empty


def keep_answer(lesson: Lesson, id: str, answer: str, state: str) -> None:
    """Add an answer: the last one counts, tries are counted, repeats are not."""
    kept = read_answers(lesson)
    before = kept["answers"].get(id, {"given": None, "tries": 0})
    if before["given"] != answer:
        kept["answers"][id] = {"given": answer, "state": state, "tries": before["tries"] + 1}
        write(lesson, kept)


def keep(lesson: Lesson, **entries: Any) -> None:
    """Replace other entries of the file."""
    write(lesson, read_answers(lesson) | entries)


def write(lesson: Lesson, kept: dict[str, Any]) -> None:
    if lesson.folder is None:
        return
    kept["units"] = lesson.system
    path = file_of(lesson)
    make_folder(path.parent)
    save(path, json.dumps(kept, indent=1, ensure_ascii=False) + "\n")
