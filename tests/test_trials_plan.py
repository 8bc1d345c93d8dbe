"""The greedy choice of runs, its stop, its words and its JSON."""

import re

import known_shop as shop
import numpy as np
import pandas as pd
import pytest
from bandtrial import published, trials
from bandtrial.recommend import NotYet
from known_trials import JOB, fit_with_bands


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
        "average, its own cost aside: (it seldom finds a setting that saves more|"
        r"(it all but surely|(\d+ times in 100|once in 100 times or less) it) "
        r"finds a setting that saves about [\d,.]+ \([\d,.]+ to [\d,.]+\)(, else none)?)"
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
        "our assumption, 20 bands of the mean life, which few long ones lift; --work-ahead AREA, or work_ahead in "
        "study.toml, says how much it is"
    )
    study.costs["work_ahead"] = 5e5
    written = trials.plan(fit, study, *JOB, minutes=20).to_json()
    assert (written["work_ahead_cm2"], written["work_ahead_from"]) == (5e5, "work_ahead in study.toml")
    asked = trials.plan(fit, study, *JOB, minutes=20, horizon_cm2=1e3).to_json()
    assert (asked["work_ahead_cm2"], asked["work_ahead_from"]) == (1e3, "as asked")
