"""A class of 30 invented students: how far their answers spread, and what their trials come to.

    python tests/benchmarks/class_of_30.py [STUDENTS] [--answers-only]

Prints two tables: the spread of every answer over the class and what becomes of slips; and lesson 4's regrets (true
cost over the least there is, less 1) of the published start, the textbook's two-speed trial, and the toolkit on a
trial planned in three steps, all with the same 100 minutes. Ends with 1 where a right answer is refused, or a slip is
not met with its own hint.
"""

import argparse
import sys
import time

import bandtrial_lessons as lessons
import numpy as np
from bandtrial_lessons import rivals
from bandtrial_lessons.reveal import percent

STEPS = (60.0, 20.0, 20.0)


def spread(number: int, students: list[str]) -> bool:
    """Each question's answers over the class, and how many slips of how many are refused with their own hint.

    True where all are judged as they should be.
    """
    as_it_should = True
    classroom = [lessons.begin(number, name, folder=None) for name in students]
    for id, question in classroom[0].questions.items():
        asked = [lesson.questions[id] for lesson in classroom]
        judged = [(q.judge(q.shown(slip.value)), slip) for q in asked for slip in q.slips]
        hinted = sum(verdict.text == slip.hint for verdict, slip in judged)
        right = sum(q.judge(q.shown()).right for q in asked)
        as_it_should &= right == len(asked) and hinted == len(judged)
        answers = "one letter for all"
        if not isinstance(question.expected, str):
            low, middle, high = np.quantile([q.expected for q in asked], [0.0, 0.5, 1.0])
            answers = " | ".join(question.shown(x) for x in (low, middle, high))
        print(f"{id}  right {right} of {len(asked)}, slips hinted {hinted} of {len(judged)}  {answers}")
    return as_it_should


def outcome(name: str) -> dict[str, float]:
    """Regrets of a student who leaves the trial to the toolkit."""
    lesson = lessons.begin(4, name, folder=None)
    for minutes in STEPS:
        lesson.follow(lesson.plan(minutes))
    return lesson.reveal().regrets()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("students", nargs="?", type=int, default=30, metavar="STUDENTS", help="30 unless said")
    parser.add_argument("--answers-only", action="store_true", help="without lesson 4's trials, which take longest")
    args = parser.parse_args()
    students = [f"Student {i}" for i in range(1, args.students + 1)]
    as_it_should = True
    for number in (1, 2, 3, 4):
        print(f"lesson {number}: least | median | greatest of {len(students)} students")
        as_it_should &= spread(number, students)
    if not args.answers_only:
        trials(students)
    return int(not as_it_should)


def trials(students: list[str]) -> None:
    """Lesson 4's regrets, student by student, then over the class."""
    count = len(students)
    began, regrets = time.perf_counter(), []
    for name in students:
        regrets.append(outcome(name))
        print(name, ", ".join(f"{way} {percent(x)}" for way, x in regrets[-1].items() if np.isfinite(x)), flush=True)
    print(
        f"lesson 4, {(time.perf_counter() - began) / count:.1f} s each: 10 % | median | 90 % | mean, and best of three"
    )
    ways = (rivals.PUBLISHED, rivals.TEXTBOOK, rivals.TOOLKIT)
    all_ = np.array([[one.get(way, np.nan) for way in ways] for one in regrets])
    best = np.nanargmin(all_, axis=1)
    for i, way in enumerate(ways):
        shares = [*np.nanquantile(all_[:, i], [0.1, 0.5, 0.9]), np.nanmean(all_[:, i])]
        print(f"{way:22s}", " | ".join(percent(x) for x in shares), f"| {np.sum(best == i)} of {count}")


if __name__ == "__main__":
    sys.exit(main())
