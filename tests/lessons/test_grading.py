"""A class: its roster and codes, what was handed in judged again, tables for people and for a learning platform."""

import json
import tomllib
from pathlib import Path

import bandtrial_lessons as lessons
import nbformat
import pandas as pd
import pytest
from bandtrial_lessons import record
from bandtrial_lessons.__main__ import main
from bandtrial_lessons.instructor import class_key, grade
from bandtrial_lessons.instructor.__main__ import main as instructor_main
from bandtrial_lessons.instructor.classes import ClassError, new_class, read_class, read_roster
from bandtrial_lessons.instructor.grading import graded_folder, worth
from bandtrial_lessons.instructor.notebooks import instructor_version
from bandtrial_lessons.instructor.tables import class_table, points_table, sentences_table, slips_table

ROOT = Path(__file__).parents[2]
NOTEBOOKS = ROOT / "notebooks" / "lessons"
INSTRUCTORS = ROOT / "toolkit" / "bandtrial_lessons" / "instructor" / "keys"
ROSTER = "student_id,last_name,first_name,email\nS01,Example,Bo,bo@example.org\nS02,Example,Cy,\nS03,Example,Di,\n"


@pytest.fixture
def a_class(tmp_path):
    (tmp_path / "roster.csv").write_text(ROSTER, encoding="utf-8")
    return new_class("saws", tmp_path / "roster.csv", {"1": "2030-01-01T10:00+00:00"}, secret="told to nobody")


def handed_in(a_class, id, number, folder, answers=None):
    """A student's lesson, answered right but for `answers`, and handed in."""
    one = a_class.students[id]
    student = lessons.begin(number, one.name, "us", folder / id, a_class.code(id))
    for question in student.questions:
        for given in (answers or {}).get(question, []):
            student.check(question, given(student.question(question)))
        version, _, done = student.standing(question)
        if not done:
            student.check(
                question, student.question(question, version).shown(student.question(question, version).expected)
            )
    for prediction in student.predictions.values():
        record.add(student, "prediction", prediction.id, prediction.came, "right")
    record.hand_in(student)
    return student


def slip(question):
    return question.shown(question.slips[0].value)


def test_a_class_from_roster_to_points(a_class, tmp_path):
    """Points by hand: one wrong answer first costs 0.2; three and new numbers leave half; the rest are whole."""
    handed = tmp_path / "handed"
    far = [lambda q, factor=factor: q.shown(q.expected * factor) for factor in (1234.5, 2345.6, 3456.7)]
    handed_in(a_class, "S01", 1, handed, {"1c": [slip], "1d": far})
    handed_in(a_class, "S02", 1, handed)
    points = points_table(graded_folder(handed, a_class), 1, a_class).set_index("student_id")
    assert points.loc["S01", "q_1c"] == 0.8 and points.loc["S01", "q_1d"] == 0.5
    assert points.loc["S01", "score"] == pytest.approx(9 - 0.2 - 0.5 + 2 * 0.5)
    assert points.loc["S02", "score"] == points.loc["S02", "max_score"] == 10.0
    assert points.loc["S03", "score"] == 0.0 and points.loc["S01", "email"] == "bo@example.org"
    for head in points.columns.drop(["assignment", "duedate", "timestamp", "last_name", "first_name", "email"]):
        assert pd.api.types.is_numeric_dtype(points[head]), head
    table = grade(handed, a_class).set_index("student")
    assert table.loc["Di Example", "remarks"] == "nothing handed in"
    assert table.loc["Bo Example", "right"] == "9 of 9" and table.loc["Bo Example", "tries"] == 9 + 1 + 3
    slips = slips_table(graded_folder(handed, a_class)).set_index("question")
    assert slips.loc["1c", "slip"].startswith("That is 1/n") and slips.loc["1c", "times"] == 1
    assert slips.loc["1d", "right first"] == 1 and slips.loc["1d", "students"] == 2


def test_cheats_are_closed_or_seen(a_class, tmp_path):
    handed = tmp_path / "handed"
    one = handed_in(a_class, "S01", 1, handed, {"1c": [slip]})
    file = record.file_of(one)
    kept = json.loads(file.read_text(encoding="utf-8"))
    kept["attempts"] = [entry for entry in kept["attempts"] if entry["state"] == "right" or entry["kind"] != "answer"]
    file.write_text(json.dumps(kept), encoding="utf-8")  # the wrong answer taken out
    later = handed_in(a_class, "S02", 1, handed)
    copy = json.loads(record.file_of(later).read_text(encoding="utf-8"))
    copy |= {"handed_in": "2031-05-05T05:05:05+00:00"}
    (handed / "lesson_1_again.json").write_text(json.dumps(copy), encoding="utf-8")
    lent = json.loads(record.file_of(later).read_text(encoding="utf-8")) | {"code": "S03-0000000000"}
    (handed / "lesson_1_s03.json").write_text(json.dumps(lent), encoding="utf-8")
    remarks = {row["student"] + row["id"]: row["remarks"] for row in grade(handed, a_class).to_dict("records")}
    assert "changed by hand: entries do not follow one another" in remarks["Bo ExampleS01"]
    assert "2 files; counted is lesson_1_s02.json, handed in first, not lesson_1_again.json" in remarks["Cy ExampleS02"]
    assert 'the code "S03-0000000000" is not of this class' in remarks["Cy ExampleS03"]
    assert "5 right answers in " in remarks["Cy ExampleS02"]
    handed_copy = graded_folder(handed, a_class)
    lent_points = next(one for one in handed_copy if one.code == "S03-0000000000")
    assert sum(asked.right for asked in lent_points.asked.values()) < 5  # another's numbers do not fit


def test_answers_found_elsewhere_are_seen(a_class, tmp_path):
    """The way round that no file shows: a lesson tried out in another folder, then typed in; only its haste tells."""
    one = handed_in(a_class, "S01", 1, tmp_path)
    (row,) = [row for row in grade(tmp_path, a_class).to_dict("records") if row["id"] == "S01"]
    assert row["at first"] == 9 and "all right at the first try in 0 min, where 27 are usual" in row["remarks"]
    kept = json.loads(record.file_of(one).read_text(encoding="utf-8"))
    for i, entry in enumerate(kept["attempts"]):  # a student who takes two minutes each
        entry["time"] = f"2029-12-01T10:{2 * i:02d}:00+00:00"
    record.file_of(one).write_text(json.dumps(kept), encoding="utf-8")
    (row,) = [row for row in grade(tmp_path, a_class).to_dict("records") if row["id"] == "S01"]
    assert "at the first try" not in row["remarks"] and "changed by hand" in row["remarks"]


def test_safety_answers_and_sentences_reach_the_instructor(a_class, tmp_path):
    student = lessons.begin(5, "Bo Example", folder=tmp_path, code=a_class.code("S01"))
    question = student.gate.questions[0]
    student.gate.check(question, next(iter(question.wrong)))
    record.add(student, "prediction", "5P", "the same", "not_yet")
    record.add(student, "explanation", "5P", "its back rubs in the curve", "given")
    record.add(student, "bench", "5j", student.first.text(), "run")
    (handed,) = graded_folder(tmp_path, a_class)
    row = class_table([handed]).iloc[0]
    stripped = student.saw.cut(student.first)
    assert row["safety"] == 1 and float(row["bill"]) == round(student.saw.bill(stripped))
    said = sentences_table([handed]).iloc[0]
    assert list(said) == [
        5,
        "5P",
        "Bo Example",
        "the same",
        "a quarter or less",
        "its back rubs in the curve",
    ]


def test_late_practice_and_open_are_told(a_class, tmp_path):
    handed = tmp_path / "handed"
    one = handed_in(a_class, "S01", 1, handed)
    kept = record.read(one)
    kept["handed_in"] = "2030-01-02T10:00:00+00:00"
    record.write(one, kept)
    lessons.begin(2, "Jo Practice", folder=handed / "jo").check("2a", "1")
    table = grade(handed, a_class).set_index("student")
    assert "late" in table.loc["Bo Example", "remarks"]
    assert table.loc["Jo Practice", "remarks"] == "not handed in; practice: worked without a code of the class"


@pytest.mark.parametrize(
    "text",
    ["{", "[]", "{}", '{"answers": {}}', '{"lesson": 1e999, "answers": {}}',
     '{"lesson": 9, "name": "x", "answers": {}}',
     '{"lesson": 1, "name": 5, "units": "metric", "answers": {}, "attempts": [7]}',
     '{"lesson": 1, "name": "A B", "units": "metric", "answers": {}, "attempts": [{"time": "never"}]}',
     '{"lesson": 4, "name": "A B", "units": "metric", "answers": {}, "attempts": null}',
     "[" * 5000],
)  # fmt: skip
def test_one_bad_file_is_one_remark(text, a_class, tmp_path):
    handed_in(a_class, "S02", 2, tmp_path)
    (tmp_path / "lesson_2_broken.json").write_text(text, encoding="utf-8")
    rows = grade(tmp_path, a_class).to_dict("records")
    assert any("lesson_2_broken.json can't be read" in row["remarks"] for row in rows)
    assert any(row["student"] == "Cy Example" and row["right"] == "11 of 11" for row in rows)


def test_runs_made_by_hand_are_a_remark(a_class, tmp_path):
    student = handed_in(a_class, "S01", 4, tmp_path)
    kept = record.read(student) | {"runs": [{"band": "new", "dial": 1e9, "feed_rate": -1, "cuts": 10**9}],
                                   "setting": {"dial_m_min": "x"}}  # fmt: skip
    record.write(student, kept)
    (row,) = [row for row in grade(tmp_path, a_class).to_dict("records") if row["id"] == "S01"]
    assert "the runs can't be made again" in row["remarks"] and "the setting handed in can't be read" in row["remarks"]
    assert "changed by hand" in row["remarks"]


def test_worth_of_an_answer():
    """The table of the docstring."""
    student = lessons.begin(1, "Bo Example", folder=None)
    number = student.question("1c")
    assert [worth(number, 0, level) for level in range(3)] == [1.0, 0.8, 0.6]
    assert [worth(number, version, 0) for version in range(3)] == [1.0, 0.5, 0.3]
    letter = lessons.begin(3, "Bo Example", folder=None).question("3g")
    assert [worth(letter, 0, level) for level in range(2)] == [1.0, 0.5]
    setting = lessons.begin(5, "Bo Example", folder=None).question("5j")
    assert [worth(setting, 0, level) for level in (0, 5)] == [1.0, 0.5]


def test_codes_need_the_secret(a_class, tmp_path):
    other = new_class("saws", tmp_path / "roster.csv")
    assert a_class.code("S01") != other.code("S01") and a_class.knows(a_class.code("S01"))
    assert not a_class.knows(other.code("S01")) and not a_class.knows("S09-0123456789")
    with pytest.raises(ClassError, match=r'^student "S09" is not on the roster of saws\.$'):
        a_class.code("S09")


def test_every_problem_of_a_roster_is_told_at_once():
    with pytest.raises(ClassError) as told:
        read_roster("student_id,last_name,first_name\nS 1,A,B\nS2,C,D\nS2,E,F\n", "roster.csv")
    assert str(told.value).splitlines() == [
        'roster.csv, line 2: student_id "S 1" has other than letters, digits, "_" and ".".',
        'roster.csv, line 4: student_id "S2" is there twice.',
    ]
    with pytest.raises(ClassError) as told:
        read_roster("id\n1\n", "roster.csv")
    assert str(told.value) == (
        "roster.csv: no column student_id, last_name, first_name; it needs student_id, last_name, first_name, and may "
        "have email."
    )


def test_the_commands(tmp_path, capsys):
    (tmp_path / "roster.csv").write_text(ROSTER, encoding="utf-8")
    file = str(tmp_path / "class.json")
    new = ["new-class", str(tmp_path / "roster.csv"), file, "--title", "saws"]
    assert instructor_main([*new, "--due", "1=tomorrow"]) == 1
    assert capsys.readouterr().err == 'due of lesson 1 is "tomorrow"; write it as "2026-12-01T10:00+01:00".\n'
    assert instructor_main(new) == 0
    assert instructor_main(new) == 1  # another secret would be another class
    a_class = read_class(file)
    capsys.readouterr()
    assert instructor_main(["codes", file]) == 0
    assert f"S01,Bo Example,{a_class.code('S01')}" in capsys.readouterr().out
    assert instructor_main(["key", file, "3"]) == 0
    expected = class_key(3, ["Bo Example"], codes={"Bo Example": a_class.code("S01")})
    assert expected.loc["Bo Example", "3a"] in capsys.readouterr().out
    handed_in(a_class, "S01", 3, tmp_path / "handed")
    out = [str(tmp_path / "handed"), "--class", file, "--csv", str(tmp_path / "t.csv"), "--points", str(tmp_path / "p"),
           "--slips", str(tmp_path / "s.csv"), "--sentences", str(tmp_path / "said.csv")]  # fmt: skip
    assert main(out) == 0
    assert "Bo Example" in capsys.readouterr().out
    points = pd.read_csv(tmp_path / "p" / "points_lesson_3.csv")
    assert list(points["score"]) == [10.5, 0.0, 0.0]
    assert len(pd.read_csv(tmp_path / "t.csv")) == 3 and len(pd.read_csv(tmp_path / "s.csv")) == 10
    assert list(pd.read_csv(tmp_path / "said.csv")["came"]) == ["at a slower speed"]


def test_nothing_to_grade_is_told(tmp_path, capsys):
    assert main([str(tmp_path / "none")]) == 1
    assert main([str(tmp_path)]) == 1
    assert capsys.readouterr().err == (
        f'"{tmp_path / "none"}" is not a folder; give the one that the answers were collected in.\n'
        f'"{tmp_path}" holds no answers; they are files named lesson_1_some_name.json.\n'
    )


def test_the_students_wheel_has_no_keys():
    """What is built leaves out the instructor's package; its notebooks and guide lie outside all that is packed."""
    built = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]["targets"]
    assert "toolkit/bandtrial_lessons/instructor" in built["wheel"]["exclude"]
    assert not list(NOTEBOOKS.rglob("instructor")) and (INSTRUCTORS / "GUIDE.md").is_file()
    every = (ROOT / "toolkit" / "bandtrial_lessons").rglob("*.py")
    for file in (file for file in every if "instructor" not in file.parts):
        text = file.read_text(encoding="utf-8")
        assert file.name == "__main__.py" or "bandtrial_lessons.instructor" not in text, file


@pytest.mark.parametrize("file", sorted(NOTEBOOKS.glob("lesson_*.ipynb")), ids=lambda file: file.stem)
def test_instructors_notebooks_are_made_from_the_students(file):
    """Prose, cells and questions in the same order; made by `python -m bandtrial_lessons.instructor notebooks`."""
    made = instructor_version(nbformat.read(file, as_version=4))
    stored = nbformat.read(INSTRUCTORS / file.name, as_version=4)
    assert [c.source for c in stored.cells] == [c.source for c in made.cells]
    number = int(file.stem.split("_")[1])
    lesson = lessons.begin(number, "Ada Example", folder=None)
    sources = [c.source for c in stored.cells]
    assert [s for s in sources if s.startswith("lesson.ask(")] == [f'lesson.ask("{id}")' for id in lesson.questions]
    predicted = {s for s in sources if s.startswith("lesson.predict(")}
    assert predicted == {f'lesson.predict("{id}")' for id in lesson.predictions}
    cuts = [i for i, s in enumerate(sources) if s in ("lesson.bench()", 'lesson.predict("4Q")', 'lesson.predict("6P")')]
    assert not cuts or sources.index("lesson.safety()") < cuts[0]  # safety comes before the first cut
    assert sources[-1] == "lesson.hand_in_panel()" or "lesson.hand_in_panel()" in sources
