"""What is kept of a lesson: restarts, names mended, units switched, retries, hand-in, edits."""

import json

import bandtrial_lessons as lessons
import pytest
from bandtrial_lessons import record
from bandtrial_lessons.student import student_of


@pytest.fixture
def student(tmp_path):
    return lessons.begin(1, "Kim Example", folder=tmp_path)


def wrong(lesson, id, factor=1234.5):
    """An answer that matches no slip."""
    version, _, _ = lesson.standing(id)
    question = lesson.question(id, version)
    return question.shown(question.expected * factor)


def test_a_restart_finds_everything_as_it_was(student, tmp_path):
    from bandtrial_lessons.ask_panel import Ask
    from bandtrial_lessons.predict_panel import Predict

    student.check("1c", wrong(student, "1c"))
    prediction = student.predictions["1P"]
    record.add(student, "prediction", "1P", prediction.choices[0], "not_yet")
    later = lessons.begin(1, "Kim Example", folder=tmp_path)
    panel = Ask(later, "1c")
    assert panel.box.value == wrong(student, "1c")
    assert student.question("1c").nudge in panel.says.value
    assert later.standing("1c") == (0, 1, False)
    assert f"You expected: {prediction.choices[0]}." in Predict(later, prediction).says.value


def test_a_right_answer_stands(student):
    right = student.question("1c").shown(student.question("1c").expected)
    assert student.check("1c", right).right
    assert not student.check("1c", wrong(student, "1c")).right
    kept = record.read(student)["answers"]["1c"]
    assert (kept["given"], kept["state"], kept["tries"]) == (right, "right", 1)


def test_after_three_wrong_answers_new_numbers_are_asked(student):
    for factor in (1234.5, 2345.6, 3456.7):
        verdict = student.check("1c", wrong(student, "1c", factor))
    assert verdict.told and student.standing("1c") == (1, 0, False)
    old, new = student.question("1c"), student.question("1c", 1)
    assert new.expected != old.expected and new.given != old.given
    assert not student.check("1c", old.shown(old.expected)).right
    assert student.check("1c", new.shown(new.expected)).right
    assert student.standing("1c") == (1, 1, True)


def test_the_same_answer_again_is_no_attempt(student):
    for _ in range(3):
        student.check("1c", wrong(student, "1c"))
    assert student.standing("1c") == (0, 1, False)


def test_what_cannot_be_read_is_no_attempt(student):
    student.check("1c", "fast")
    assert record.read(student)["attempts"] == []


def test_a_mended_name_keeps_the_shop_another_name_has_its_own(student, tmp_path):
    student.check("1c", wrong(student, "1c"))
    mended = lessons.begin(1, "Kimm  Example", folder=tmp_path)
    assert mended.question("1c").expected == student.question("1c").expected
    assert mended.standing("1c") == (0, 1, False)
    other = lessons.begin(1, "Lou Sample", folder=tmp_path)
    assert other.standing("1c") == (0, 0, False) and other.drawn == "Lou Sample"


def test_units_switched_change_no_work(student, tmp_path):
    """Begun in metric, the thickness stays round there; only how it is shown changes."""
    student.check("1c", wrong(student, "1c"))
    us = lessons.begin(1, "Kim Example", "us", folder=tmp_path)
    assert us.thickness == student.thickness and us.speeds == student.speeds
    assert us.question("1c").expected == student.question("1c").expected
    assert "ft/min" in us.job()


def test_a_code_decides_and_the_name_does_not():
    one, other = (lessons.begin(1, name, folder=None, code="S07-0123456789") for name in ("Kim Example", "Lou Sample"))
    assert one.question("1d").expected == other.question("1d").expected
    assert one.student.id == "S07"
    with pytest.raises(ValueError) as told:
        student_of("Kim Example", "S07")
    assert str(told.value) == 'the code is "S07"; write it as your instructor gave it, as "S07-0123456789".'


def test_the_hand_in_is_final_and_an_edit_shows(student):
    student.check("1c", wrong(student, "1c"))
    when = record.hand_in(student)
    student.check("1c", student.question("1c").shown(student.question("1c").expected))
    kept = record.read(student)
    assert kept["handed_in"] == when and len(kept["attempts"]) == 1
    assert not record.edited(kept)
    for change in ({"handed_in": "2020-01-01T00:00:00+00:00"}, {"attempts": []}, {"setting": {"dial_m_min": 1.0}}):
        assert record.edited(kept | change)
    better = json.loads(json.dumps(kept))
    better["attempts"][0]["given"] = student.question("1c").shown(student.question("1c").expected)
    assert record.edited(better)


def test_a_file_that_is_none_is_begun_anew(student, tmp_path):
    record.file_of(student).write_text("[", encoding="utf-8")
    again = lessons.begin(1, "Kim Example", folder=tmp_path)
    assert again.check("1c", wrong(again, "1c")).state == "not_yet"
    assert len(record.read(again)["attempts"]) == 1
