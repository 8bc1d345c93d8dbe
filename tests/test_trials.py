"""`plan`: the first plan, the value of a run, the greedy choice, the stop, the words."""

import re
from statistics import NormalDist
from types import SimpleNamespace

import known_shop as shop
import numpy as np
import pandas as pd
import pytest
from bandtrial import published, recommend, trials
from bandtrial.recommend import NotYet
from bandtrial.trials.choice import SHRINK, least_after, told
from bandtrial.trials.observe import Seen

JOB = ("saw1", "s8", "plate", 20.0)


def fit_with_bands(feed="rate", **kw):
    """A known fit with what a plan asks beside the recommendation: residuals, wear used and rates of bands."""
    fit = shop.fit(feed, **kw)
    rng = np.random.default_rng(8)
    n = fit.n_draws
    object.__setattr__(fit, "rates", 0.1 * rng.standard_normal((n, 3)))
    object.__setattr__(fit, "used", np.abs([1.0, 0.4, 0.1] + 0.05 * rng.standard_normal((n, 3))))
    signal = "chip_load" if feed == "force" else "motor_power"
    noise = np.exp(0.05 * rng.standard_normal(len(fit.data)))
    residuals = pd.DataFrame({"signal": signal, "observed": noise, "predicted": 1.0})
    object.__setattr__(fit, "residuals", residuals)
    object.__setattr__(fit, "signals", (signal,))
    fit.data["motor_power"] = 300.0
    return fit


def test_json_has_the_keys_of_the_design():
    """DESIGN section 7, plan --json."""
    out = trials.plan(None, shop.study(), *JOB, minutes=60).to_json()
    assert set(out) == {"runs", "expected_saving_per_cm2", "stop", "reason", "warnings", "cautions"} | {
        "work_ahead_cm2", "work_ahead_from"}  # fmt: skip
    keys = {"band", "band_speed_m_min", "indicated_band_speed_m_min", "feed_rate_mm_min", "cuts", "minutes", "why"}
    assert all(set(run) == keys for run in out["runs"])
    forced = trials.plan(None, shop.study("force"), *JOB, minutes=60).to_json()
    assert forced["runs"]
    assert all(set(run) == keys - {"feed_rate_mm_min"} | {"feed_force_n"} for run in forced["runs"])


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


def test_value_of_readings_against_the_lognormal_theory():
    """Two settings, costs 1 and exp(z - s^2/2), z ~ N(0, s^2), one reading of z with noise t.

    The posterior mean M of the second is lognormal about 1 with log variance v^2 = s^4 / (s^2 + t^2), and
    E min(1, M) = 2 Phi(-v/2): 1 less the price of a call at the money (Black, Scholes 1973; Raiffa, Schlaifer 1961
    for the value of a reading). 4 standard errors of 20 000 draws, and what SHRINK takes of v.
    """
    rng = np.random.default_rng(1)
    s, t, S = 0.6, 0.4, 20_000
    z = s * rng.standard_normal(S)
    z = (z - z.mean()) / z.std() * s
    cost = np.stack([np.ones(S), np.exp(z - s**2 / 2) / np.exp(z - s**2 / 2).mean()], axis=1)
    got = least_after(cost, z[:, None], np.array([[t**2]]), np.ones(2, bool), rng)
    v = s**2 / np.hypot(s, t)
    assert got == pytest.approx(2 * NormalDist().cdf(-v / 2), abs=4 * 0.6 * v / np.sqrt(S) + 0.02 * v)
    assert least_after(cost, np.zeros((S, 0)), np.zeros((0, 0)), np.ones(2, bool), rng) == pytest.approx(1.0)


def test_readings_that_show_nothing_are_worth_nothing():
    """Of skew costs, whose mean must not fall by chance: a factor of e^2.6 either way at 99 in 100."""
    rng = np.random.default_rng(2)
    cost = np.exp(rng.standard_normal((4000, 5)))
    blind = least_after(cost, rng.standard_normal((4000, 1)), np.array([[1.0]]), np.ones(5, bool), rng)
    assert blind == pytest.approx(cost.mean(axis=0).min(), rel=0.03)


def test_errors_of_readings_hang_together_as_simulated():
    """Two runs on a new band and one on another, one signal: errors drawn cause by cause against the covariance.

    A band's level moves its middles; a run's own wear moves half its rise in its middle, all in its rise and in every
    later middle of that band. 200 000 draws: standard errors of a covariance stay below 0.3 % of the largest.
    """
    level, away, noise = np.array([[0.3], [0.1], [0.2]]), np.array([0.5, 0.4, 0.2]), np.full((3, 2), 0.01)
    rise = np.array([0.6, 0.8, 1.0])
    shown = np.zeros((4, 3, 2))
    shown[:, :, 1] = rise
    choice, seen = SimpleNamespace(level=level, away=away, noise=noise, shown=shown), Seen.nothing(4)
    for i, name in ((0, "B1"), (1, "B1"), (2, "B2")):
        seen = seen.and_then(choice, i, name)
    z = np.random.default_rng(4).standard_normal((11, 200_000))
    own = (away * rise)[:, None] * z[:3]
    first, other = 0.3 * z[3], 0.2 * z[4]
    told = [first + own[0] / 2, own[0], first + own[0] + own[1] / 2, own[1], other + own[2] / 2, own[2]]
    drawn = np.array(told) + 0.1 * z[5:]
    np.testing.assert_allclose(seen.errors, np.cov(drawn), atol=0.01 * seen.errors.max())
    assert seen.shown.shape == (4, 6)


@pytest.mark.parametrize("feed", ["rate", "force"])
def test_next_runs_are_on_known_bands_within_the_limits(feed):
    fit = fit_with_bands(feed, sure=0.4)
    study = shop.study(feed, ends=("dull", "in_service", "in_service"))
    plan = trials.plan(fit, study, *JOB, minutes=40, horizon_cm2=1e8)
    assert plan.runs and not plan.stop and plan.saving > 0
    named = {"B2", "B3", "new", "B4", "B5", "B6", "B7"}
    assert {run.band for run in plan.runs} <= named
    assert sum(run.minutes for run in plan.runs) < 40 + 15
    speeds = [run.band_speed / shop.STAR for run in plan.runs]
    assert min(speeds) >= 0.8 / 1.3 and max(speeds) <= 1.25 * 1.25 * 1.25
    speed, bite, known = "(faster|slower)", "with (more|less) feed (per tooth|force)", "the best setting known"
    ways = f"{speed} than|{bite} than|{speed} and {bite} than"
    told = (
        f"(at about {known}: shows its band life and its readings more surely|"
        f"({ways}) {known}: shows whether it cuts well so, and how fast it wears); (.+ than anything tried; )?"
        r"(uses about \d+ % of a band's wear life; )?what it shows should save [\d,.]+ EUR over the work ahead, on "
        "average and before its own cost"
    )
    for run in plan.runs:
        assert re.fullmatch(told, run.why) or run.why.startswith(("break-in", "on the way")), run.why
    chips = [9.0 if feed == "force" else 16.0, *(run.chip_load for run in plan.runs if run.band != "new")]
    assert feed == "force" or max(np.diff(np.log(np.maximum.accumulate(chips)))) < np.log(1.28)  # none a greater step


def test_a_sure_shop_is_told_to_stop():
    fit = fit_with_bands(sure=0.01)
    lazy = trials.plan(fit, shop.study(), *JOB, minutes=30, horizon_cm2=100.0)
    assert lazy.stop and not lazy.runs
    assert lazy.reason == (
        "no run of these minutes is expected to save more than it costs: over 100 cm² of this work the best saves "
        "less than its machine time (36 EUR for 30 minutes)"
    )
    assert str(lazy).startswith("status      STOP: more trial cuts do not pay")
    assert "work ahead  100 cm²  [as asked]" in str(lazy)


def test_more_work_ahead_is_worth_more_trying():
    fit = fit_with_bands(sure=0.4)
    study = shop.study(ends=("dull", "in_service", "in_service"))
    minutes = [
        sum(run.minutes for run in trials.plan(fit, study, *JOB, minutes=60, horizon_cm2=area).runs)
        for area in (1e3, 1e5, 1e8)
    ]
    assert minutes == sorted(minutes) and minutes[0] < minutes[2]


def test_text_and_html_have_the_cautions():
    plan = trials.plan(None, shop.study(), *JOB, minutes=60)
    for caution in published.CAUTIONS:
        assert caution in " ".join(str(plan).split())
    assert plan._repr_html_().count("<li>") == len(published.CAUTIONS)


def test_refusals():
    with pytest.raises(NotYet, match=r"^Not yet: a cost can't be worked out without price under \[band_stock.s8\]"):
        study = shop.study()
        study.band_stock["s8"].price = None
        trials.plan(None, study, *JOB, minutes=60)
    with pytest.raises(ValueError, match=r"^minutes nan are no number of minutes; give the minutes free, such as 60$"):
        trials.plan(None, shop.study(), *JOB, minutes=float("nan"))


@pytest.mark.parametrize("minutes", [0.0, -12.5])
def test_minutes_used_up_are_a_stop(minutes):
    """A campaign that counts its minutes down to none asks once more."""
    done = trials.plan(None, shop.study(), *JOB, minutes=minutes)
    assert (done.stop, done.runs, done.reason) == (True, (), "no minutes are left for trial cuts")


def test_a_first_force_that_was_far_too_light_does_not_hold_trials_back():
    """Chips of 9 um at the heaviest force tried: trials may go on to the heaviest chips of a first plan, and one more
    step of a quarter, not beyond."""
    from bandtrial.recommend.job import job_of
    from bandtrial.recommend.limits import BROKEN_IN, chip_loads
    from bandtrial.recommend.tried import tried
    from bandtrial.trials.board import lay
    from bandtrial.trials.first import chip_levels

    fit = fit_with_bands("force", sure=0.4)
    force = shop.FORCE_REF * 0.9 ** (1 / 1.2)  # what gives 9 um
    fit.data["feed_force"] *= force / (fit.data["feed_force"] / fit.data["teeth_in_cut"]).max()
    fit.data["chip_load"] *= 9.0 / fit.data["chip_load"].max()
    study = shop.study("force", ends=("dull", "in_service", "in_service"))
    job = job_of(study, *JOB)
    board = lay(fit, study, job, tried(fit, study, job), np.random.default_rng(1))
    may = board.open((), np.log(1.25))
    fresh = np.median(chip_loads(fit, job, board.V[may], board.bite[may], BROKEN_IN), axis=0)
    most = chip_levels(job)[-1]
    assert 0.8 * most < fresh.max() <= 1.25 * most * (1 + 1e-6)
    assert board.fresh[board.open()].max() <= 9.0 * 1.12 * (1 + 1e-6)  # what may be chosen stays near what was cut


def few_at_force(chips, force=(400.0, 500.0, 600.0), **kw):
    """A shop at a set force after as many first cuts as `chips` [um], all at one speed on one band that is still on."""
    data = shop.cuts(n=max(len(chips), 1), feed="force", speeds=(0.6, 0.6)).iloc[: len(chips)]
    data["band"], data["chip_load"], data["motor_power"] = "B1", chips, 300.0
    data["feed_force"] = np.array(force[: len(chips)])
    data["cut_time"] = 150.0 / (np.array(chips) * data["band_speed"] / (25.4 / shop.TPI))
    study = shop.study("force", ends=("in_service",), **kw)
    study.cuts = data
    return fit_with_bands("force", data=data), study


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


def test_where_life_is_hardly_known_a_run_at_a_set_force_stays_near_what_would_be_set():
    """Light chips thin most and would tell most of the life in the middle of what was tried, again and again; asked for
    is the cost of the best setting near."""
    fit = fit_with_bands("force", sure=1.6)
    study = shop.study("force", ends=("in_service",) * 3)
    bites = fit.data["feed_force"]
    assert trials.plan(fit, study, *JOB, minutes=30).runs[-1].feed > bites.median()


def test_where_life_is_hardly_known_the_plan_is_the_run_that_tells_most_of_it():
    """Hardly any work ahead, so that no run pays by what it saves; the band on the machine tells soonest."""
    fit = fit_with_bands(sure=1.6)
    study = shop.study(ends=("dull", "in_service", "in_service"))
    study.cuts = pd.DataFrame({"band": ["B2"]})
    assert recommend.recommend(fit, study, *JOB).grade == "rough"
    made = trials.plan(fit, study, *JOB, minutes=30, horizon_cm2=1.0)
    assert not made.stop
    assert made.reason == (
        "band life is too little known yet for more than a rough recommendation: make this run, log it, then plan again"
    )
    assert made.runs[-1].why.startswith("shows most of how fast bands dull, which is hardly known yet")
    assert made.runs[-1].band == "B2"  # another would have to be fitted first


def test_where_no_reading_shows_dulling_one_band_is_used_hard():
    """No signal at all, no band ended: only an end tells of life, so the run is long and may end its band."""
    fit = fit_with_bands(sure=1.6, life=2.0)
    object.__setattr__(fit, "signals", ())
    study = shop.study(ends=("in_service",) * 3)
    run = trials.plan(fit, study, *JOB, minutes=60).runs[-1]
    assert run.why.endswith(
        "; the band may well end: no reading tells its life sooner. Stop when it is dull, crooked or loud"
    )
    assert run.minutes > 16


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


def test_a_small_motor_leaves_heavier_chips_at_slow_speeds_and_a_spread_of_them():
    """Speed and chip load share what a motor gives: chips at 0.6 of a speed may be 1 / 0.6 as heavy, up to 18 um."""
    from bandtrial.recommend.job import job_of
    from bandtrial.trials.first import chip_levels

    study = shop.study()
    study.machines["saw1"].motor_power = 500.0
    job = job_of(study, *JOB)
    slow, fast = (chip_levels(job, V) for V in (0.6 * shop.STAR, shop.STAR))
    assert slow[-1] == pytest.approx(min(fast[-1] / 0.6, 18.0))
    assert all(5.0 <= levels[0] <= levels[-1] / 1.5 for levels in (slow, fast) if levels[-1] > 7.5)


def test_chips_held_back_by_a_guessed_motor_are_caught_up_with_by_single_cuts():
    """Chips of 7 um at the heaviest: a run may go on to the 14.4 that a first plan makes with no motor in its way, and
    two steps further; one that does begins with cuts of which none is more than a quarter heavier."""
    from bandtrial.recommend.job import job_of
    from bandtrial.recommend.tried import tried
    from bandtrial.trials.board import lay
    from bandtrial.trials.choice import climb

    fit, study = fit_with_bands(sure=0.4), shop.study(ends=("dull", "in_service", "in_service"))
    fit.data["chip_load"] *= 7.0 / fit.data["chip_load"].max()
    job = job_of(study, *JOB)
    board = lay(fit, study, job, tried(fit, study, job), np.random.default_rng(1))
    heaviest = board.bite[board.open((), np.log(1.25))].max()
    assert 1.3 * 14.4 < heaviest <= 1.25**2 * 14.4 * (1 + 1e-6)
    chips = [run.chip_load for run in climb(board, board.region, "B3", shop.STAR, heaviest, heaviest, 100.0)]
    assert max(np.diff(np.log([7.0, *chips, heaviest]))) < np.log(1.3)  # a quarter, and a knob's step


def test_the_break_in_cut_of_a_new_band_is_part_of_what_a_run_costs():
    from bandtrial.recommend.job import job_of
    from bandtrial.recommend.tried import tried
    from bandtrial.trials.board import lay, options
    from bandtrial.trials.choice import beside

    fit, study = fit_with_bands(sure=0.4), shop.study(ends=("dull", "in_service", "in_service"))
    job = job_of(study, *JOB)
    board = lay(fit, study, job, tried(fit, study, job), np.random.default_rng(1))
    choice = options(board, 16.0, 100.0)
    new = choice.band == "new"
    used = np.minimum(choice.used, 1.0).mean(axis=0) * job.prices.band / job.prices.per_minute
    lost = choice.ends * job.prices.scrapped_piece / job.prices.per_minute
    left = beside(board, choice) - used - lost - job.prices.change_minutes * (choice.band != board.mounted)
    assert left[new] == pytest.approx((choice.minutes / choice.cuts)[new] / 0.5)  # half the feed of a usual cut
    assert left[~new] == pytest.approx(0.0, abs=1e-9)


def test_the_share_of_a_variance_that_readings_tell():
    """Two readings t + e1, t + e2 of t ~ N(0, 2), errors of variance 1 and 3: they tell 4 (1 + 1/3) / (1 + 2 (1 + 1/3))
    of it (normal regression, worked by hand), less what SHRINK takes of a reading's own variance of 2."""
    t = np.sqrt(2) * np.random.default_rng(1).standard_normal(4000)
    t = (t - t.mean()) / t.std() * np.sqrt(2)
    weight = 1 / (1 + 2 * SHRINK) + 1 / (3 + 2 * SHRINK)
    assert told(t, np.stack([t, t], axis=1), np.diag([1.0, 3.0])) == pytest.approx(4 * weight / (1 + 2 * weight))
    assert told(t, np.zeros((4000, 0)), np.zeros((0, 0))) == 0.0


def test_where_what_was_cut_breaks_a_limit_the_plan_is_one_careful_cut():
    """The motor's own readings say 300 W and more at every setting cut, and it gives 150 W."""
    fit, study = fit_with_bands(), shop.study(motor_power=150.0)
    made = trials.plan(fit, study, *JOB, minutes=60)
    (run,) = made.runs
    assert not made.stop
    assert made.reason == "what was cut so far breaks a limit: make this run, log it, then plan again"
    assert run.cuts == 1 and run.band == "new"
    assert run.why == (
        "lighter than what was cut so far, which breaks a limit: a fifth less feed per tooth than anything tried; "
        "a new band, to be called B4"
    )
    assert run.chip_load == pytest.approx(0.8 * fit.data["chip_load"].min(), rel=0.03)  # to the knob's step


def test_chips_that_bands_lived_with_are_no_dead_end():
    """Chips of 0.6 to 4 um at the forces tried, as a light weight feed makes: the setting of least cost is among them,
    `plan` goes on from there, and no step is greater than a quarter more force."""
    fit = fit_with_bands("force")
    force = shop.FORCE_REF * 0.4 ** (1 / 1.2)  # what gives 4 um
    fit.data["feed_force"] *= force / (fit.data["feed_force"] / fit.data["teeth_in_cut"]).max()
    fit.data["chip_load"] = 10 * (fit.data["feed_force"] / fit.data["teeth_in_cut"] / shop.FORCE_REF) ** 1.2
    study = shop.study("force", ends=("dull", "in_service", "in_service"))
    got = recommend.recommend(fit, study, *JOB)
    least = next(limit for limit in got.limits if limit.name == "chip load, least")
    assert least.ok and least.limit < 5.0 and least.note.endswith("as the shop's own cuts held")
    made = trials.plan(fit, study, *JOB, minutes=60, horizon_cm2=1e8)
    heaviest = fit.data["feed_force"].max()
    for run in made.runs:
        assert run.feed <= 1.28 * heaviest + 5.0  # a quarter, the board's spacing, and the knob's step of 5 N
        heaviest = max(heaviest, run.feed)
    beyond = [run.why for run in made.runs if run.feed > 1.1 * fit.data["feed_force"].max() + 5.0]
    assert "more feed force than anything tried" in beyond[0]


@pytest.mark.parametrize(("usual", "words"), [
    (18.0, "half the feed"), (8.0, "62 % of the feed"), (5.2, "the same feed, as less would rub")])  # fmt: skip
def test_a_break_in_does_not_rub(usual, words):
    """Half of a light feed is below 5 um, where a tooth rubs (sarwar_2010): never below that."""
    from bandtrial.trials.first import break_in

    share, said = break_in(0.5, usual, 5.0)
    assert said == words
    assert share * usual >= 5.0


def test_the_band_on_the_machine_is_not_changed_without_need():
    """Two bands alike but for which is mounted: the change of 12 minutes is counted, so the mounted one goes on."""
    fit = fit_with_bands(sure=0.4)
    object.__setattr__(fit, "used", np.repeat(fit.used[:, 1:2], 3, axis=1))
    object.__setattr__(fit, "rates", np.repeat(fit.rates[:, 1:2], 3, axis=1))
    study = shop.study(ends=("in_service",) * 3)
    for name in ("B1", "B2", "B3"):
        study.cuts = pd.DataFrame({"band": [name]})
        made = trials.plan(fit, study, *JOB, minutes=60, horizon_cm2=1e6)
        assert made.runs and {run.band for run in made.runs} == {name}


def test_the_work_ahead_is_asked_for_and_shown():
    fit = fit_with_bands(sure=0.4)
    study = shop.study(ends=("dull", "in_service", "in_service"))
    guessed = trials.plan(fit, study, *JOB, minutes=20)
    assert guessed.horizon > 0 and guessed.horizon_from == (
        "20 bands' worth; --work-ahead AREA, or work_ahead in study.toml, says how much it is"
    )
    study.costs["work_ahead"] = 5e5
    written = trials.plan(fit, study, *JOB, minutes=20).to_json()
    assert (written["work_ahead_cm2"], written["work_ahead_from"]) == (5e5, "work_ahead in study.toml")
    asked = trials.plan(fit, study, *JOB, minutes=20, horizon_cm2=1e3).to_json()
    assert (asked["work_ahead_cm2"], asked["work_ahead_from"]) == (1e3, "as asked")
