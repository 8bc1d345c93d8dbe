"""Who works on a lesson, and what their numbers are drawn from: the code of a class, or else the name."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import SequenceMatcher
from pathlib import Path

from bandtrial_lessons.record import read_file

CODE = re.compile(r"^([A-Za-z0-9_.]+)-([0-9a-f]{10})$")
"""A class's code: the student's id, and ten letters that only the instructor's secret makes."""
MENDED = 0.8
"""Likeness of two names from which one is the other, mended [-]."""


@dataclass(frozen=True)
class Student:
    """name: for people; code: of the class, "" in practice; drawn: what the shop and all numbers follow from."""

    name: str
    code: str
    drawn: str

    @property
    def id(self) -> str:
        """Id in the class's roster, "" in practice."""
        return self.code.partition("-")[0]

    @property
    def key(self) -> str:
        """What names the student's files: the id, or what the numbers are drawn from."""
        return self.id or self.drawn


def student_of(name: str, code: str = "", folder: Path | None = None) -> Student:
    """A student; ValueError for a name without letters or a code that is none.

    In practice, without a code, a name mended keeps the shop that the folder of answers began with.
    """
    name, code = checked_name(name), code.strip()
    if code:
        if not CODE.match(code):
            raise ValueError(f'the code is "{code[:40]}"; write it as your instructor gave it, as "S07-0123456789".')
        return Student(name, code, code)
    return Student(name, "", begun_as(name, folder) or name)


def begun_as(name: str, folder: Path | None) -> str:
    """The name that a folder's answers were begun with, if this one is that, mended; "" if there is none."""
    if folder is None or not folder.is_dir():
        return ""
    for file in sorted(folder.glob("lesson_*.json")):
        kept = read_file(file) or {}
        drawn = str(kept.get("drawn") or kept.get("name") or "")
        if drawn and not kept.get("code") and alike(name, drawn):
            return drawn
    return ""


def alike(one: str, other: str) -> bool:
    """Whether two names are one, a slip of the keyboard apart: the words begin alike, numbers agree.

    >>> alike("Ada Exmaple", "ada example"), alike("Ada Example", "Bo Example"), alike("Student 1", "Student 2")
    (True, False, False)
    """
    words, others = (" ".join(name.casefold().split()) for name in (one, other))
    if re.findall(r"\d+", words) != re.findall(r"\d+", others):
        return False
    begins = [[word[0] for word in name.split()] for name in (words, others)]
    return begins[0] == begins[1] and SequenceMatcher(None, words, others).ratio() >= MENDED


def checked_name(name: str) -> str:
    """The name with single blanks; ValueError if it has no letter."""
    if not isinstance(name, str) or not any(c.isalpha() for c in name):
        raise ValueError(f'the name is "{name}"; write yours between the quotes, as NAME = "Ada Example".')
    return " ".join(name.split())
