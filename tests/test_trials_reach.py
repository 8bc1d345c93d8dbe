"""How far beyond what was tried a trial may go."""

import known_shop as shop
import numpy as np
import pytest
from bandtrial import recommend, trials
from known_trials import JOB, fit_with_bands


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


def test_where_life_is_hardly_known_a_run_at_a_set_force_stays_near_what_would_be_set():
    """Light chips thin most and would tell most of the life in the middle of what was tried, again and again; asked for
    is the cost of the best setting near."""
    fit = fit_with_bands("force", sure=1.6)
    study = shop.study("force", ends=("in_service",) * 3)
    bites = fit.data["feed_force"]
    assert trials.plan(fit, study, *JOB, minutes=30).runs[-1].feed > bites.median()


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
