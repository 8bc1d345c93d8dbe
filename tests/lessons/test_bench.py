"""The bench: every choice has its consequence, the right way round, and a control is followed at once."""

import time
from dataclasses import replace
from itertools import product

import bandtrial_lessons as lessons
import numpy as np
import pytest
from bandtrial import sawing
from bandtrial_lessons.bench import BenchSaw, BenchSetting, BenchWork, picture
from bandtrial_lessons.bench.panel import Bench
from bandtrial_lessons.bench.setting import GEARS, read_setting
from bandtrial_lessons.bench_task import SIGNS, best_on_grid
from bandtrial_lessons.gate import POOL

WORK = BenchWork(25.0, 80.0)


@pytest.fixture(scope="module")
def saw():
    return BenchSaw("Ada Example", WORK)


@pytest.fixture(scope="module")
def sound(saw):
    return replace(best_on_grid(saw), edge="bimetal")


def signs(saw, setting, wear=0.2):
    return [sign.id for sign in saw.cut(setting, wear).signs]


def test_a_sound_setting_runs_well(saw, sound):
    assert signs(saw, sound, 0.5) == []


@pytest.mark.parametrize(
    ("change", "sign"),
    [
        ({"feed_rate": 2.0}, "rub"),
        ({"pitch": 24.0, "feed_rate": 390.0}, "packed"),
        ({"pitch": 2.0}, "strip"),  # 25 mm is less than 2 teeth of 2 tpi
        ({"width": 25.4}, "binds"),  # 1 in follows 7 1/4 in (184 mm), the curve has 80 mm
        ({"guide": 100.0}, "wander"),
        ({"tension": 95.0}, "slip"),
        ({"tension": 70.0}, "off"),
        ({"tension": 320.0}, "crack"),
        ({"set": "straight"}, "scrape"),
        ({"gear": "high", "speed": 20.0}, "range"),
        ({"gear": "high", "speed": 210.0}, "blue"),
    ],
)
def test_each_choice_has_its_consequence(saw, sound, change, sign):
    """Signs are our saw's own; teeth and radius are the published rules named beside the change."""
    assert sign in signs(saw, replace(sound, **change))


def test_a_motor_and_a_range_stall():
    heavy = BenchSetting(pitch=4.0, gear="high", speed=50.0, feed_rate=150.0)
    cut = BenchSaw("Ada Example", BenchWork(70.0)).cut(heavy)
    assert "stall" in [sign.id for sign in cut.signs] and cut.stopped and cut.area == 0.0
    assert cut.power * 0.8 * 60.0 / heavy.speed == pytest.approx(cut.force)  # power is force x speed; 0.8 of the drive


def test_numbers_are_those_of_the_tool_itself(saw, sound):
    cut, p = saw.cut(sound), 25.4 / sound.pitch
    assert cut.teeth == pytest.approx(WORK.thickness / p)
    assert cut.chip_load == pytest.approx(1000.0 * sound.feed_rate * p / (1000.0 * sound.speed))
    assert cut.cutting_rate == pytest.approx(sound.feed_rate * WORK.thickness / 100.0)
    area = sawing.gullet_area_estimate(p, sound.form)
    assert cut.gullet_fill == pytest.approx(3.0 * cut.chip_load / 1000.0 * WORK.thickness / area)


def test_a_weight_thins_the_chip_as_the_edge_dulls_and_a_set_feed_does_not(saw, sound):
    weight = replace(sound, feed="weight", weight=300.0)
    assert saw.cut(weight, 0.9).chip_load < 0.9 * saw.cut(weight, 0.0).chip_load
    assert saw.cut(sound, 0.9).chip_load == pytest.approx(saw.cut(sound, 0.0).chip_load)
    assert saw.cut(sound, 0.9).force > 1.2 * saw.cut(sound, 0.0).force
    assert saw.cut(replace(sound, feed="hand")).heaviest > saw.cut(sound).heaviest


def test_breaking_in_pays_and_a_carbon_edge_wants_half_the_speed(saw, sound):
    """Half the speed: handbook_31. A band not broken in lives shorter: our saw's own setting."""
    raw = saw.cut(replace(sound, broken_in=False))
    assert raw.life < saw.cut(sound).life
    assert saw.published_speed("carbon") == pytest.approx(0.5 * saw.published_speed("bimetal"), rel=0.01)


@pytest.mark.parametrize("name", [f"Student {i}" for i in range(8)])
def test_the_task_can_be_done_and_is_not_done_at_first(name):
    lesson = lessons.begin(5, name, folder=None)
    task = lesson.question("5j")
    assert task.judge(best_on_grid(lesson.saw).text()).right
    verdict = task.judge(lesson.first.text())
    assert verdict.state == "not_yet" and verdict.how == task.nudge and SIGNS[verdict.slip] == "strip"
    assert task.judge("{}").text == "Can't read that: that is no setting of the bench; press the button below it."


@pytest.mark.parametrize("name", [f"Student {i}" for i in range(1, 13)])
def test_what_the_questions_teach_is_right_on_the_bench(name):
    """Width of 5a, pitch of 5c, regular teeth and raker set, bimetal: speed and feed alone remain to be found."""
    lesson = lessons.begin(5, name, folder=None)
    saw, asked = lesson.saw, lesson.questions
    taught = BenchSetting(width=asked["5a"].expected, pitch=asked["5c"].expected, tension=170.0)
    costs = []
    for gear, ends in GEARS.items():
        for V, h in product(np.geomspace(*ends, 15), (6.0, 8.0, 10.0, 13.0, 17.0, 22.0)):
            feed = float(np.clip(sawing.feed_rate(V, h, 25.4 / taught.pitch), 2.0, 400.0))
            setting = replace(taught, gear=gear, speed=float(V), feed_rate=feed)
            cut = saw.cut(setting, 0.5)
            costs += [(cut.cost, setting)] if cut.sound else []
    best = min(costs, key=lambda one: one[0])[1]
    assert asked["5j"].judge(best.text()).right
    heavy = replace(best, form="hook", feed_rate=min(3.0 * best.feed_rate, 400.0))
    assert "grab" in signs(saw, heavy, 0.5) or saw.cut(heavy, 0.5).stopped


def test_a_setting_that_cannot_be_set_is_told():
    text = replace(BenchSetting(), pitch=5.0, tension=1e6).text()
    with pytest.raises(ValueError) as told:
        read_setting(text)
    assert str(told.value) == "pitch, tension: the bench can't be set so."
    assert read_setting(BenchSetting().text()) == BenchSetting()


def test_the_bench_is_locked_until_the_gate_is_open_then_follows_at_once():
    """From a control to the new picture: 0.1 s is asked, on a machine that is shared; measured 0.003 s alone."""
    lesson = lessons.begin(5, "Ada Example", "us", folder=None)
    bench = lesson.bench()
    bench.start.click()
    assert "The saw is locked: answer the safety questions" in bench.says.value
    for question in lesson.gate.questions:
        lesson.gate.check(question, question.right)
    bench.start.click()
    before = bench.tooth.value, bench.graph.value, bench.numbers.value
    took = []
    for pitch in (6.0, 10.0, 14.0):
        began = time.perf_counter()
        bench.controls["pitch"].value = pitch
        took.append(time.perf_counter() - began)
    assert min(took) < 0.1
    after = bench.tooth.value, bench.graph.value, bench.numbers.value
    assert all(a != b for a, b in zip(before, after, strict=True))
    assert "in/min" in bench.numbers.value
    bench.run.click()
    assert "Bands, changes and time so far" in bench.says.value


def test_bands_run_are_kept_over_a_restart_and_stay_paid(tmp_path):
    lesson = lessons.begin(5, "Ada Example", folder=tmp_path)
    for question in lesson.gate.questions:
        lesson.gate.check(question, question.right)
    bench = lesson.bench()
    bench.start.click()
    bench.run.click()  # as the last shift left it: stripped, and a band is paid for
    bench.run.click()
    assert bench.says.value.count("Nothing new is charged") == 1 and len(bench.runs) == 1
    bench.controls["pitch"].value = 10.0
    bench.run.click()
    again = lessons.begin(5, "Ada Example", folder=tmp_path).bench()
    again.start.click()
    assert [cut.setting for cut in again.runs] == [cut.setting for cut in bench.runs] and len(again.runs) == 2
    assert again.controls["pitch"].value == 10.0 and again.kept.value == bench.kept.value
    assert sum(map(again.saw.bill, again.runs)) > 2 * again.saw.prices.band * 0.4  # carbon bands at 0.4 of the price


def test_a_band_breaks_or_wears_by_what_comes_first(saw, sound):
    """A break from bending comes of turns, so of speed and tension: our saw's own setting."""
    taut = replace(sound, tension=255.0, speed=60.0, gear="high", feed_rate=20.0)
    assert saw.ending(saw.cut(sound, 0.5)) == "until it was worn"
    cut = replace(saw.cut(taut, 0.5), life=1e5)
    assert saw.ending(cut) == "until it broke from bending round the wheels"


def test_a_still_picture_does_not_move(saw, sound):
    cut = saw.cut(sound)
    assert "animate" not in picture.tooth_picture(cut, 0.2, moving=False)
    assert "animate" in picture.tooth_picture(cut, 0.2, moving=True)
    assert picture.tooth_picture(cut, 0.9, False) != picture.tooth_picture(cut, 0.1, False)  # blunter


def test_every_control_changes_what_is_shown():
    lesson = lessons.begin(5, "Ada Example", folder=None)
    bench = Bench(lesson, lesson.saw, replace(best_on_grid(lesson.saw), gear="low", speed=30.0))
    for question in lesson.gate.questions:
        lesson.gate.check(question, question.right)
    bench.unlock()
    for name, control in bench.controls.items():
        if name in ("weight", "moving"):
            continue
        before, was = bench.numbers.value + bench.signs.value + bench.tooth.value, control.value
        options = getattr(control, "options", None)
        if options:
            values = [one[1] if isinstance(one, tuple) else one for one in options]
            control.value = next(value for value in values if value != control.value)
        elif isinstance(control.value, bool):
            control.value = not control.value
        else:
            control.value = control.min + 0.37 * (control.max - control.min)
        assert bench.numbers.value + bench.signs.value + bench.tooth.value != before, name
        control.value = was


def test_each_safety_question_has_one_right_answer_and_reasons():
    assert len({question.id for question in POOL}) == len(POOL) >= 10
    for question in POOL:
        assert question.right not in question.wrong and len(question.wrong) >= 2
        assert all(why.endswith(".") for why in question.wrong.values())


def test_the_gate_opens_once_for_every_lesson(tmp_path):
    first = lessons.begin(6, "Vi Example", folder=tmp_path)
    question = first.gate.questions[0]
    worse = next(iter(question.wrong))
    assert first.gate.check(question, worse) == question.wrong[worse]
    assert not first.gate.open
    for question in first.gate.questions:
        first.gate.check(question, question.right)
    assert first.gate.open and lessons.begin(4, "Vi Example", folder=tmp_path).gate.open
    assert not lessons.begin(4, "Wes Example", folder=tmp_path).gate.open
