"""A class: the instructor's secret, the roster, and the code that each student's numbers follow from.

The class file stays with the instructor. A code is the student's id and ten letters of a keyed hash of it: nobody
without the secret makes another student's, and grading knows a code that is not of this class.
"""

from __future__ import annotations

import csv
import hashlib
import hmac
import io
import json
import secrets
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import datetime
from pathlib import Path

from bandtrial.disk import save

NEEDED = ("student_id", "last_name", "first_name")
"""Columns of a roster; `email` may follow. Names as nbgrader's gradebook has them."""


class ClassError(ValueError):
    """A class or roster that can't be used; the message says why, one line a problem."""


@dataclass(frozen=True)
class Enrolled:
    """A student of the roster."""

    student_id: str
    last_name: str
    first_name: str
    email: str = ""

    @property
    def name(self) -> str:
        return f"{self.first_name} {self.last_name}".strip()


@dataclass(frozen=True)
class Class:
    """title; secret; students by id; due: lesson -> time with offset, after which a hand-in is late."""

    title: str
    secret: str
    students: Mapping[str, Enrolled]
    due: Mapping[str, str] = field(default_factory=dict)

    def code(self, student_id: str) -> str:
        """The code of a student; ClassError if there is none of that id."""
        if student_id not in self.students:
            raise ClassError(f'student "{student_id}" is not on the roster of {self.title}.')
        keyed = hmac.new(self.secret.encode(), student_id.encode(), hashlib.sha256).hexdigest()
        return f"{student_id}-{keyed[:10]}"

    def knows(self, code: str) -> bool:
        """Whether a code is one of this class."""
        id = code.partition("-")[0]
        return id in self.students and hmac.compare_digest(code, self.code(id))

    def late(self, lesson: int, handed_in: str) -> bool:
        """Whether a hand-in came after the lesson was due."""
        due = self.due.get(str(lesson))
        return bool(due) and datetime.fromisoformat(handed_in) > datetime.fromisoformat(str(due))


def new_class(title: str, roster: str | Path, due: Mapping[str, str] | None = None, secret: str = "") -> Class:
    """A class of a roster (CSV), with a secret of its own unless one is given; ClassError with all problems."""
    try:
        text = Path(roster).read_text(encoding="utf-8-sig")
    except OSError as error:
        raise ClassError(f"{roster}: can't be read: {error.strerror}.") from None
    students = read_roster(text, str(roster))
    problems = [f'due of lesson {lesson} is "{when}"; write it as "2026-12-01T10:00+01:00".'
                for lesson, when in (due or {}).items() if not is_time(when)]  # fmt: skip
    if problems:
        raise ClassError("\n".join(problems))
    return Class(title, secret or secrets.token_hex(16), students, dict(due or {}))


def read_roster(text: str, name: str = "roster") -> dict[str, Enrolled]:
    """Students of a roster by id; ClassError with every problem, by line."""
    rows = list(csv.DictReader(io.StringIO(text)))
    missing = [head for head in NEEDED if not rows or head not in rows[0]]
    if missing:
        raise ClassError(f"{name}: no column {', '.join(missing)}; it needs {', '.join(NEEDED)}, and may have email.")
    students: dict[str, Enrolled] = {}
    problems = []
    for line, row in enumerate(rows, 2):
        id = (row["student_id"] or "").strip()
        if not id.replace("_", "").replace(".", "").isalnum() or not id.isascii():
            problems.append(f'{name}, line {line}: student_id "{id}" has other than letters, digits, "_" and ".".')
        elif id in students:
            problems.append(f'{name}, line {line}: student_id "{id}" is there twice.')
        else:
            names = ((row.get(head) or "").strip() for head in ("last_name", "first_name", "email"))
            students[id] = Enrolled(id, *names)
    if problems:
        raise ClassError("\n".join(problems))
    return students


def is_time(text: str) -> bool:
    """Whether a text is a time with its offset."""
    try:
        return datetime.fromisoformat(text).tzinfo is not None
    except ValueError:
        return False


def write_class(a_class: Class, path: str | Path) -> None:
    """Write the class file; it holds the secret and stays with the instructor."""
    kept = {"title": a_class.title, "secret": a_class.secret, "due": dict(a_class.due),
            "students": [asdict(one) for one in a_class.students.values()]}  # fmt: skip
    save(Path(path), json.dumps(kept, indent=1, ensure_ascii=False) + "\n")


def read_class(path: str | Path) -> Class:
    """A class from its file; ClassError if it is none."""
    try:
        kept = json.loads(Path(path).read_text(encoding="utf-8"))
        students = {one["student_id"]: Enrolled(**one) for one in kept["students"]}
        return Class(str(kept["title"]), str(kept["secret"]), students, dict(kept["due"]))
    except OSError as error:
        raise ClassError(f"{path}: can't be read: {error.strerror}.") from None
    except (ValueError, KeyError, TypeError):
        raise ClassError(f"{path} is no class file; new-class makes one.") from None


def codes_csv(a_class: Class) -> str:
    """What to hand out: id, name, code."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["student_id", "name", "code"])
    for id, one in a_class.students.items():
        writer.writerow([id, one.name, a_class.code(id)])
    return out.getvalue()
