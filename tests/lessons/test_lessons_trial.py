"""Lesson 4's trial and its truth, what is kept of lessons, the class's table, the instructors' notebooks."""

import json
from pathlib import Path

import bandtrial_lessons as lessons
import nbformat
import numpy as np
import pytest
from bandtrial.study import open_study
from bandtrial_lessons import rivals
from bandtrial_lessons.__main__ import main
from bandtrial_lessons.budget import MINUTES, BudgetedTrial, BudgetError
from bandtrial_lessons.instructor import instructor_version

NOTEBOOKS = Path(__file__).parents[2] / "notebooks" / "lessons"


@pytest.fixture(scope="module")
def lesson():
    return lessons.begin(4, "Gil Example", folder=None)


@pytest.fixture
def trial(lesson):
    return BudgetedTrial(lesson.work)


def test_the_same_runs_give_the_same_cuts(lesson, trial):
    V, F = lesson.work.published
    dial = lesson.dial(V)
    trial.make("new", dial, F, 5)
    trial.make("new", dial, 1.3 * F, 4)
    trial.make("B01", dial, F, 3)
    again = BudgetedTrial(lesson.work, trial.settings())
    assert again.shop.cuts.equals(trial.shop.cuts)
    assert trial.take_back().cuts == 3
    assert trial.shop.cuts.equals(again.shop.cuts.iloc[:9])


def test_the_minutes_are_kept(lesson, trial):
    V, F = lesson.work.published
    each = 100.0 / F
    first = int(60 / each)
    trial.make("new", lesson.dial(V), F, first)
    with pytest.raises(BudgetError) as told:
        trial.make("new", lesson.dial(V), F, first)
    assert str(told.value) == (
        f"{first} cuts take {first * each:.1f} min, and {trial.left:.1f} min are left: "
        f"{int(trial.left / each)} cuts fit in."
    )
    assert trial.minutes + trial.left == pytest.approx(MINUTES)
    assert len(trial.runs) == 1


def test_every_problem_of_a_run_is_told_at_once(trial):
    with pytest.raises(BudgetError) as told:
        trial.make("B07", 900.0, 9000.0, 0)
    lines = str(told.value).splitlines()
    assert lines[0] == 'band "B07" was never fitted; there are new.'
    assert lines[1].startswith("band speed on the dial: 900 m/min can't be set; the machine has ")
    assert lines[2] == "feed rate: 9000 mm/min can't be set; the machine has 10 mm/min to 1500 mm/min."
    assert lines[3] == "0 cuts: make 1 to 500."
    with pytest.raises(BudgetError, match=r"^There is no run to take back\.$"):
        trial.take_back()


def test_nothing_beats_the_best_there_is(lesson):
    """Random settings inside the limits; best_setting ends on a grid, 1e-3 is its last step."""
    rng, job = np.random.default_rng(3), lesson.work
    for share, h in rng.uniform((0.4, 6.0), (1.3, 30.0), (40, 2)):
        V = share * job.published[0]
        choice = rivals.Choice(rivals.OWN, V, float(h * V / job.shop.stock.tooth_spacing))
        if not rivals.broken(job, choice):
            assert rivals.regret(job, choice) > -1e-3
    assert rivals.regret(job, rivals.best_choice(job)) == pytest.approx(0.0, abs=1e-6)


def test_the_curve_of_the_truth_has_its_least_at_the_best_there_is(lesson):
    """Drawn beside the choices: at the best speed the curve is the least cost, and no lower anywhere else."""
    found = lesson.reveal()
    V, cost = found.curve(40)
    at_best = np.interp(lesson.work.best.band_speed, V, cost)
    assert at_best == pytest.approx(lesson.work.best.cost, rel=0.005)  # between points of the curve
    assert cost.min() >= lesson.work.best.cost * 0.995  # the best is the best of a grid
    assert cost[0] > at_best < cost[-1]
    marks = {name: at for name, _, at in found.marks()}
    assert marks[rivals.BEST] == pytest.approx(lesson.work.best.cost, rel=1e-9)


def test_a_choice_costs_what_the_shop_says_it_does(lesson):
    job = lesson.work
    V, F = job.published
    true = float(job.shop.true_speed(job.shop.machine.indicated_speed(V)))
    expected = float(job.shop.true_cost(true, F, work_thickness=job.thickness))
    assert rivals.true_cost(job, rivals.published_choice(job)) == pytest.approx(expected)


def test_handed_in_is_kept_as_a_study_and_graded_again(tmp_path):
    student = lessons.begin(4, "Hal Example", folder=tmp_path)
    V, F = student.work.published
    dial = student.dial(V)
    for band, share in (("new", 0.9), ("B01", 1.3), ("new", 1.3), ("B02", 0.9)):
        student.trial.make(band, dial, share * F, 8)
    for id, question in student.questions.items():
        student.check(id, question.shown())
    student.keep_runs()
    told = student.hand_in(student.show(dial, "speed"), student.show(1.2 * F, "feed_rate")).regrets()
    study = open_study(tmp_path / "lesson_4_hal_example")
    assert (study.info["author"], len(study.cuts), len(study.bands)) == ("Hal Example", 32, 2)

    kept = tmp_path / "lesson_4_hal_example.json"
    lied = json.loads(kept.read_text(encoding="utf-8"))
    lied["answers"]["4a"] = {"given": "1 m/min", "state": "right", "tries": 1}
    kept.write_text(json.dumps(lied), encoding="utf-8")
    (row,) = lessons.grade(tmp_path).to_dict("records")
    assert (row["right"], row["open"], row["remarks"]) == ("2 of 3", "4a", "")
    assert row["minutes"] == f"{student.trial.minutes:.0f}"
    for head, name in (("yours", rivals.OWN), ("published", rivals.PUBLISHED), ("textbook", rivals.TEXTBOOK)):
        assert float(row[head].rstrip(" %")) == pytest.approx(100 * told[name], abs=1.0), head  # whole percents


def test_another_day_goes_on_where_it_was_left(tmp_path):
    student = lessons.begin(4, "Ida Example", folder=tmp_path)
    student.trial.make("new", student.dial(student.work.published[0]), student.work.published[1], 3)
    student.keep_runs()
    later = lessons.begin(4, " ida  EXAMPLE", folder=tmp_path)
    assert len(later.trial.shop.cuts) == 3
    assert later.trial.shop.cuts.equals(student.trial.shop.cuts)


def test_a_class_makes_one_table(tmp_path, capsys):
    for name, number in (("Bo Example", 1), ("Cy Example", 3)):
        student = lessons.begin(number, name, "us", tmp_path / name)
        first, *rest = student.questions.values()
        assert str(student.check(first.id, first.shown(first.slips[0].value))) == (
            f"Not yet: {first.slips[0].hint}\nHow: {first.how}"
        )
        for question in rest:
            assert student.check(question.id, question.shown()).right
    (tmp_path / "lesson_2_broken.json").write_text("{", encoding="utf-8")
    assert main([str(tmp_path), "--csv", str(tmp_path / "class.csv")]) == 0
    out = capsys.readouterr().out
    assert "Bo Example" in out and "7 of 8" in out and "lesson_2_broken.json can't be read" in out
    assert len((tmp_path / "class.csv").read_text(encoding="utf-8").splitlines()) == 4


def test_nothing_to_grade_is_told(tmp_path, capsys):
    assert main([str(tmp_path / "none")]) == 1
    assert main([str(tmp_path)]) == 1
    assert capsys.readouterr().err == (
        f'"{tmp_path / "none"}" is not a folder; give the one that the answers were collected in.\n'
        f'"{tmp_path}" holds no answers; they are files named lesson_1_some_name.json.\n'
    )


@pytest.mark.parametrize("file", sorted(NOTEBOOKS.glob("lesson_*.ipynb")), ids=lambda file: file.stem)
def test_instructors_notebooks_are_made_from_the_students(file):
    """Prose, cells and questions in the same order; make them again with `python -m bandtrial_lessons.instructor`."""
    made = instructor_version(nbformat.read(file, as_version=4))
    stored = nbformat.read(NOTEBOOKS / "instructor" / file.name, as_version=4)
    assert [c.source for c in stored.cells] == [c.source for c in made.cells]
    number = int(file.stem.split("_")[1])
    asked = [c.source for c in stored.cells if c.source.startswith("lesson.ask(")]
    expected = lessons.begin(number, "Ada Example", folder=None).questions
    assert asked == [f'lesson.ask("{id}")' for id in expected]
    first = next(i for i, c in enumerate(stored.cells) if c.source == "lesson.safety()")
    assert first < next(i for i, c in enumerate(stored.cells) if c.source == asked[0])  # safety comes first
