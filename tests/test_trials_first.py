"""The first plan of a shop without cuts of the work, and the first cuts at a set force."""

import known_shop as shop
import numpy as np
import pytest
from bandtrial import trials
from known_trials import JOB, few_at_force


def test_first_plan_is_a_latin_square_on_bands():
    """Each of three bands meets each speed and each chip load once; nine settings in all, after a break-in each."""
    plan = trials.plan(None, shop.study(), *JOB, minutes=90)
    opened = [run for run in plan.runs if run.band == "new"]
    runs = [run for run in plan.runs if run.band != "new"]
    assert [run.band for run in runs] == ["B4"] * 3 + ["B5"] * 3 + ["B6"] * 3
    assert len(opened) == 3 and all(run.cuts == 1 and run.why.startswith("break-in of a new band") for run in opened)
    speeds = {round(run.band_speed, 3) for run in runs}
    assert len(speeds) == 3
    for band in ("B4", "B5", "B6"):
        mine = [run for run in runs if run.band == band]
        assert {round(run.band_speed, 3) for run in mine} == speeds
        light_to_heavy = sorted(run.chip_load for run in mine)
        assert light_to_heavy[1] > 1.2 * light_to_heavy[0] and light_to_heavy[2] > 1.2 * light_to_heavy[1]


def test_first_plan_starts_on_the_safe_side_and_is_random_after():
    """Both severity orders of later bands occur over seeds; the first band always climbs."""
    orders = set()
    for seed in range(6):
        runs = [run for run in trials.plan(None, shop.study(), *JOB, minutes=90, seed=seed).runs if run.band != "new"]
        first = [run.band_speed for run in runs[:3]]
        assert first == sorted(first)
        orders.add(tuple(run.band_speed for run in runs[3:]))
    assert len(orders) > 2
    again = [trials.plan(None, shop.study(), *JOB, minutes=90, seed=4).to_json() for _ in range(2)]
    assert str(again[0]) == str(again[1])


def test_first_plan_holds_the_limits_and_the_time():
    study = shop.study(feed_rate_range=(20.0, 150.0), motor_power=300.0)
    plan = trials.plan(None, study, *JOB, minutes=90)
    assert all(20.0 <= run.feed <= 150.0 for run in plan.runs)
    assert all(5.0 * 0.4 <= run.chip_load <= 50.0 for run in plan.runs)
    assert sum(run.minutes for run in plan.runs) == pytest.approx(90, rel=0.1)  # whole cuts of 1 to 5 min


def test_speeds_missing_on_the_machine_are_not_planned():
    """V* is 41 m/min: a gap from 20 to 60 m/min takes every level of the plan to its edges."""
    plan = trials.plan(None, shop.study(ranges=((10.0, 20.0), (60.0, 150.0))), *JOB, minutes=60)
    assert {round(run.indicated, 6) for run in plan.runs} <= {20.0, 60.0}


def test_the_first_cuts_at_a_set_force_show_one_at_a_time_what_chip_it_gives():
    """h ~ F^1.7 at most (model_priors.csv, chip_load.power[force_per_tooth]): a chip of 6 um and 8 wanted is
    (8/6)^(1/1.7) = 1.18 times the force; at 0.7 um no more than twice, at 40 um half at least; to the knob's 5 N."""
    first = trials.plan(None, shop.study("force"), *JOB, minutes=60)
    assert [(run.band, run.cuts) for run in first.runs] == [("new", 1)]
    assert first.reason == (
        "what chip a feed force gives here is not known yet: make this run, log it, then plan again"
    )
    assert first.runs[0].why == ("break-in of a new band, to be called B4, light: shows what chip a feed force gives")
    for chip, factor in ((6.0, (8 / 6) ** (1 / 1.7)), (0.7, 2.0), (40.0, 0.5)):
        fit, study = few_at_force([chip])
        (run,) = trials.plan(fit, study, *JOB, minutes=60).runs
        assert (run.band, run.cuts) == ("B1", 1)
        assert run.feed == pytest.approx(400.0 * factor, abs=2.5)
    assert run.why == "half less feed force than the last cut, whose chip was 40 µm: shows what chip a feed force gives"


def test_a_first_cut_that_stripped_its_band_is_followed_by_a_lighter_one():
    """Its chip of 6 um would have asked for more force."""
    fit, study = few_at_force([6.0])
    study.bands["end"] = "stripped"
    (run,) = trials.plan(fit, study, *JOB, minutes=60).runs
    assert run.band == "new" and run.feed == pytest.approx(0.8 * 400.0, abs=2.5)
    assert run.why == (
        "break-in of a new band, to be called B2, light: a fifth less feed force than the last cut, which ended its "
        "band: shows what chip a feed force gives"
    )


def test_first_cuts_are_made_on_a_band_of_the_stock_asked_for():
    """The band on the machine is of another stock: it comes off."""
    fit, study = few_at_force([6.0])
    study.bands["stock"] = "s6"
    (run,) = trials.plan(fit, study, *JOB, minutes=60).runs
    assert run.band == "new" and run.why.startswith("break-in of a new band, to be called B2, light: ")


def test_the_first_grid_at_a_set_force_goes_by_the_chips_that_forces_gave():
    """8, 12 and 18 um by the known law of the shop, 10 um at 5 N per tooth and power 1.2: on the band that is on, no
    break-in, and as ever slow and light first."""
    fit, study = few_at_force([6.0, 7.0, 8.0])
    made = trials.plan(fit, study, *JOB, minutes=20)
    assert {run.band for run in made.runs} == {"B1"} and len(made.runs) == 3
    wanted = np.array([8.0, 12.0, 18.0])
    teeth = 20.0 / (25.4 / shop.TPI)
    forces = teeth * shop.FORCE_REF * (wanted / shop.H_REF) ** (1 / 1.2)
    np.testing.assert_allclose([run.feed for run in made.runs], forces, atol=2.6)


def test_a_first_grid_at_a_set_force_has_the_chips_that_the_machine_s_forces_give():
    """At 6 um the force is at its end: not all nine at the greatest force there is."""
    teeth = 20.0 / (25.4 / shop.TPI)
    most = teeth * shop.FORCE_REF * (6.0 / shop.H_REF) ** (1 / 1.2)
    fit, study = few_at_force([2.0, 2.0, 2.0], feed_force_range=(5.0, most))
    made = trials.plan(fit, study, *JOB, minutes=20)
    assert made.reason == "few cuts of this work yet: spread the next ones out"
    wanted = np.geomspace(6.0 / 2.25, 6.0, 3)
    forces = teeth * shop.FORCE_REF * (wanted / shop.H_REF) ** (1 / 1.2)
    # 8 %: chips are looked for on a grid of 60 from 0.4 to 18 um
    np.testing.assert_allclose([run.feed for run in made.runs], forces, rtol=0.08, atol=2.5)


def test_a_first_plan_by_hand_uses_one_band_hard_in_steps_of_a_trial():
    """After the three settings one run a quarter heavier and one that is faster too, on the same band: most of the
    minutes, from half an hour on. The dial has no 40 to 45 m/min, and ends at 150."""
    study = shop.study("hand")
    first = trials.plan(None, study, *JOB, minutes=36)
    hard = [run for run in first.runs if run.why.startswith("hard on purpose")]
    assert len(hard) == 2 and {run.band for run in first.runs} == {"new", "B4"}
    usual = [run for run in first.runs if run not in hard]
    assert [run.chip_load / usual[-1].chip_load for run in hard] == pytest.approx([1.25, 1.25], rel=0.05)
    assert [run.band_speed / usual[-1].band_speed for run in hard] == pytest.approx([1.0, 1.25], rel=0.03)
    assert sum(run.minutes for run in hard) > sum(run.minutes for run in usual)
    assert hard[0].why == (
        "hard on purpose, a quarter heavier than the run before: towards the band's end, to show its life; "
        "stop when it is dull, crooked or loud"
    )
    short = trials.plan(None, study, *JOB, minutes=20)
    assert not any("hard" in run.why for run in short.runs)


@pytest.mark.parametrize(("usual", "words"), [
    (18.0, "half the feed"), (8.0, "62 % of the feed"), (5.2, "the same feed, as less would rub")])  # fmt: skip
def test_a_break_in_does_not_rub(usual, words):
    """Half of a light feed is below 5 um, where a tooth rubs (sarwar_2010): never below that."""
    from bandtrial.trials.first import break_in

    share, said = break_in(0.5, usual, 5.0)
    assert said == words
    assert share * usual >= 5.0
