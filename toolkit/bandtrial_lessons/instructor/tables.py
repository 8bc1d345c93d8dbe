"""Graded hand-ins as tables: for people, for a learning platform, and of what a class got wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from bandtrial_lessons.begin import LESSONS, begin
from bandtrial_lessons.instructor import rivals
from bandtrial_lessons.instructor.classes import Class
from bandtrial_lessons.instructor.grading import Handed
from bandtrial_lessons.instructor.reveal import percent

if TYPE_CHECKING:
    import pandas as pd

REGRETS = {
    "yours": rivals.OWN, "toolkit": rivals.TOOLKIT, "textbook": rivals.TEXTBOOK, "published": rivals.PUBLISHED,
}  # fmt: skip
"""Column -> setting."""


def class_table(handed: Iterable[Handed], a_class: Class | None = None) -> pd.DataFrame:
    """For people, one row for each student and lesson; students of the roster without a hand-in at the end.

    Columns: student, id, lesson, points, of, right ("7 of 8"), at first (right at the first try), tries, open (ids not
    right), predicted, safety (wrong answers to the safety questions), worked [min], handed in; bill of lessons 4 and 5;
    of lesson 4 cutting [min] and how much dearer than the best there is: yours, toolkit, textbook,
    published; remarks.
    """
    import pandas as pd

    rows = [row(one) for one in handed]
    seen = {one["id"] for one in rows}
    for id, student in (a_class.students if a_class else {}).items():
        if id not in seen:
            rows.append(row(Handed("", student.name, key=id, code=f"{id}-", remarks=["nothing handed in"])))
    return pd.DataFrame(rows)


def row(h: Handed) -> dict[str, Any]:
    """A graded file as a row for people."""
    right = sum(one.right for one in h.asked.values())
    regrets = {head: percent(h.regrets[name]) if name in h.regrets else "" for head, name in REGRETS.items()}
    return {
        "student": h.name,
        "id": h.code.partition("-")[0],
        "lesson": h.lesson or "",
        "points": f"{h.points:.1f}",
        "of": f"{h.most:.1f}",
        "right": f"{right} of {len(h.asked)}",
        "at first": sum(one.first for one in h.asked.values()),
        "tries": sum(one.tries for one in h.asked.values()),
        "open": " ".join(id for id, one in h.asked.items() if not one.right),
        "predicted": f"{len(h.predictions)} of {h.of_predictions}",
        "safety": h.safety_wrong,
        "worked": whole(h.minutes),
        "handed in": h.handed_in,
        "cutting": whole(h.cutting),
        "bill": whole(h.bill),
        **regrets,
        "remarks": "; ".join(h.remarks),
    }


def whole(number: float) -> str:
    """A number without decimals, "" where there is none."""
    return "" if number != number else f"{number:.0f}"


def points_table(handed: Iterable[Handed], lesson: int, a_class: Class | None = None) -> pd.DataFrame:
    """Of one lesson, numbers only where a number stands: heads as in nbgrader's gradebook, then one for each question.

    Students of the roster without a hand-in have 0 everywhere.
    """
    import pandas as pd

    students = a_class.students if a_class else {}
    rows, seen = [], set()
    for one in (h for h in handed if h.lesson == lesson):
        id = one.code.partition("-")[0] or one.key
        seen.add(id)
        who = students.get(id)
        last, first = (who.last_name, who.first_name) if who else ("", one.name)
        points = {f"q_{asked}": found.points for asked, found in one.asked.items()}
        late = one.remarks.count("late")
        rows.append(_points_row(lesson, a_class, one.handed_in, (id, last, first, who.email if who else ""),
                                (one.points, one.most), late) | points)  # fmt: skip
    questions = list(begin(lesson, "Ada Example", folder=None).questions)
    most = rows[0]["max_score"] if rows else 0.0
    for id, who in students.items():
        if id not in seen:
            who_is = (id, who.last_name, who.first_name, who.email)
            none = {f"q_{one}": 0.0 for one in questions}
            rows.append(_points_row(lesson, a_class, "", who_is, (0.0, most), 0) | none)
    return pd.DataFrame(rows)


def _points_row(lesson: int, a_class: Class | None, when: str, who: tuple[str, str, str, str],
                points: tuple[float, float], late: int) -> dict[str, Any]:  # fmt: skip
    id, last, first, email = who
    return {
        "assignment": f"lesson_{lesson}", "duedate": (a_class.due.get(str(lesson), "") if a_class else ""),
        "timestamp": when, "student_id": id, "last_name": last, "first_name": first, "email": email,
        "raw_score": round(points[0], 2), "late_submission_penalty": 0.0, "score": round(points[0], 2),
        "max_score": points[1], "late": late,
    }  # fmt: skip


def sentences_table(handed: Iterable[Handed]) -> pd.DataFrame:
    """What was said of predictions, to read and to talk about.

    Columns: lesson, prediction, student, expected, came, because.
    """
    import pandas as pd

    rows = []
    for one in handed:
        asked = lesson_of(one).predictions if one.predictions else {}
        rows += [{"lesson": one.lesson, "prediction": id, "student": one.name, "expected": given,
                  "came": asked[id].came, "because": one.explanations.get(id, "")}
                 for id, given in one.predictions.items()]  # fmt: skip
    table = pd.DataFrame(rows, columns=["lesson", "prediction", "student", "expected", "came", "because"])
    return table.sort_values(["lesson", "prediction"], kind="stable")


def lesson_of(one: Handed) -> Any:
    """The lesson of a graded file, with its student's numbers."""
    lesson = LESSONS[one.lesson](one.name, "metric", None, one.code)
    lesson.drawn = one.code or one.key
    return lesson


def slips_table(handed: Iterable[Handed]) -> pd.DataFrame:
    """What a class got wrong: each question, how many had it right first and at all, each slip and how often.

    Columns: lesson, question, students, right first, right, slip, times.
    """
    import pandas as pd

    by: dict[tuple[int, str], list[Any]] = {}
    for one in handed:
        for id, asked in one.asked.items():
            if asked.tries:
                by.setdefault((one.lesson, id), []).append((one, asked))
    rows: list[dict[str, Any]] = []
    for (lesson, id), found in sorted(by.items()):
        counts = Counter(words for one, asked in found for words in slips_of(one, id, asked.matched))
        about = {"lesson": lesson, "question": id, "students": len(found),
                 "right first": sum(asked.first for _, asked in found),
                 "right": sum(asked.right for _, asked in found)}  # fmt: skip
        rows += [about | {"slip": words, "times": times} for words, times in counts.most_common() or [("", 0)]]
    return pd.DataFrame(rows)


def slips_of(one: Handed, id: str, matched: list[int | None]) -> list[str]:
    """Hints of the slips that a student's wrong answers matched."""
    slips = lesson_of(one).question(id).slips
    said = {None: "no slip that is known", -1: "units mixed up", -2: "sign"}
    return [slips[n].hint if n is not None and 0 <= n < len(slips) else said.get(n, f"bench sign {n}") for n in matched]
