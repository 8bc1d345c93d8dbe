"""A class of 30 invented students: how far their answers spread, and what their trials come to.

    python tests/benchmarks/class_of_30.py [STUDENTS] [--answers-only]

Prints three tables: the load of each lesson in steps and words; the spread of every answer over the class and what
becomes of slips; and lesson 4's regrets (true cost over the least there is, less 1) of the published start, the
textbook's two-speed trial, and the toolkit on a trial planned in three steps, all with the same 100 minutes, beside
rules that ask for no cut. Ends with 1 where a right answer is refused, or a slip is not met with its own hint.
"""

import argparse
import re
import sys
import time
from pathlib import Path

import bandtrial_lessons as lessons
import nbformat
import numpy as np
from bandtrial_lessons.begin import LESSONS
from bandtrial_lessons.budget import follow
from bandtrial_lessons.instructor import reveal_of, rivals
from bandtrial_lessons.instructor.grading import USUAL
from bandtrial_lessons.instructor.reveal import percent

STEPS = (60.0, 20.0, 20.0)
NOTEBOOKS = Path(__file__).parents[2] / "notebooks" / "lessons"
RULE = 0.72, 16.0
"""A share of the published speed and a chip load [um], which did well in every shop of an earlier class."""
READ = 200.0
"""Words read in a minute; common practice, no source."""
LONG = {4: 20.0, 5: 13.0}
"""Minutes at the saw, as the notebooks' own tables of time give them."""


def load(number: int) -> None:
    """Steps and words of a lesson, and the minutes they come to at what the instructor's guide counts on."""
    lesson = lessons.begin(number, "Ada Example", folder=None)
    notebook = nbformat.read(next(NOTEBOOKS.glob(f"lesson_{number}_*.ipynb")), as_version=4)
    asked = [q for q in lesson.questions.values() if q.kind != "setting"]
    letters, tasks = sum(q.by_letter for q in asked), len(lesson.questions) - len(asked)
    texts = [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]
    texts += [" ".join([q.text, *q.choices.values()]) for q in asked] + [*lesson.books().in_short(), lesson.job()]
    words = sum(len(re.findall(r"\w+", text)) for text in texts)
    steps = len(asked) + tasks + 2 * len(lesson.predictions) + len(lesson.gate.questions) * (number not in (1, 3)) + 2
    minutes = USUAL[False] * (len(asked) - letters) + USUAL[True] * letters + 2 * len(lesson.predictions)
    minutes += words / READ + LONG.get(number, 0.0)
    print(f"lesson {number}: {steps} steps, {words} words, about {minutes:.0f} min")


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
        right = sum(q.judge(q.shown(q.expected)).right for q in asked)
        as_it_should &= right == len(asked) and hinted == len(judged)
        answers = "by letter or setting"
        if not isinstance(question.expected, str):
            low, middle, high = np.quantile([q.expected for q in asked], [0.0, 0.5, 1.0])
            answers = " | ".join(question.shown(x) for x in (low, middle, high))
        print(f"{id}  right {right} of {len(asked)}, slips hinted {hinted} of {len(judged)}  {answers}")
    return as_it_should


def outcome(name: str) -> dict[str, float]:
    """Regrets of a student who leaves the trial to the toolkit."""
    lesson = lessons.begin(4, name, folder=None)
    for minutes in STEPS:
        follow(lesson.trial, lesson.plan(minutes))
    return reveal_of(lesson).regrets()


def blind(students: list[str]) -> None:
    """Where the best lies against the books, and what the best rule that asks for no cut loses: a share of the
    published speed and a chip load, the pair with the least median regret in this class."""
    jobs = [lessons.begin(4, name, folder=None).work for name in students]
    speeds = np.array([rivals.best_of(job).band_speed / job.published[0] for job in jobs])
    chips = np.array([rivals.best_of(job).chip_load for job in jobs])
    print(f"best speed over the published start: {np.quantile(speeds, [0, 0.25, 0.5, 0.75, 1]).round(2)}, above it in "
          f"{np.mean(speeds > 1):.0%}; best chip load {np.quantile(chips, [0, 0.5, 1]).round(1)} um, below 10 in "
          f"{np.mean(chips < rivals.PUBLISHED_CHIP):.0%}")  # fmt: skip
    lost = {(ratio, h): np.median([regret_of(job, ratio, h) for job in jobs])
            for ratio in np.geomspace(0.65, 1.5, 8) for h in (7.0, 9.0, 11.0, 13.0, 16.0)}  # fmt: skip
    ratio, h = min(lost, key=lambda rule: lost[rule])
    print(f"blind rule: {ratio:.2f} x published, {h:g} um, median {percent(float(lost[ratio, h]))}")
    once = float(np.median([regret_of(job, *RULE) for job in jobs]))
    print(f"the rule of an earlier class: {RULE[0]:.2f} x published, {RULE[1]:g} um, median {percent(once)}")


def regret_of(job, ratio: float, h: float) -> float:
    """Regret of a share of the published speed and a chip load [um]."""
    V = rivals.reachable(job.shop, ratio * job.published[0])
    return rivals.regret(job, rivals.Choice(rivals.OWN, V, rivals.feed_for(job.shop, V, h)))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("students", nargs="?", type=int, default=30, metavar="STUDENTS", help="30 unless said")
    parser.add_argument("--answers-only", action="store_true", help="without lesson 4's trials, which take longest")
    args = parser.parse_args()
    students = [f"Student {i}" for i in range(1, args.students + 1)]
    as_it_should = True
    for number in LESSONS:
        load(number)
    for number in LESSONS:
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
    blind(students)
    ways = (rivals.PUBLISHED, rivals.TEXTBOOK, rivals.TOOLKIT)
    all_ = np.array([[one.get(way, np.nan) for way in ways] for one in regrets])
    best = np.nanargmin(all_, axis=1)
    for i, way in enumerate(ways):
        shares = [*np.nanquantile(all_[:, i], [0.1, 0.5, 0.9]), np.nanmean(all_[:, i])]
        print(f"{way:22s}", " | ".join(percent(x) for x in shares), f"| {np.sum(best == i)} of {count}")


if __name__ == "__main__":
    sys.exit(main())
