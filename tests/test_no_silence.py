"""Inside what was tried and went well there is always an answer, graded; limits move by what the shop's cuts held."""

import known_shop as shop
import numpy as np
import pandas as pd
import pytest
from bandtrial import recommend, watch
from bandtrial.recommend import NotYet, compare
from bandtrial.recommend.job import job_of, widened
from bandtrial.recommend.limits import HELD, SURE, chance
from bandtrial.recommend.others import step_words
from bandtrial.recommend.proven import FORCE_RATIO, Proven, normal_from, power_of_force, ratio_law, went_well
from bandtrial.recommend.tried import tried
from bandtrial.report.change import change
from bandtrial.trials import plan
from bandtrial.wear.trust import Trust

JOB = ("saw1", "s8", "plate", 20.0)
SOUND = Trust("good", (), ())
LOST = Trust("unusable", ("the sampler found one point only.",), ())
ROUGH = Trust("rough", ("the sampler found the answer only roughly.",), ("two signals disagree.",), 2.0)


def of(fit, **fields):
    """The frozen fit with some of its fields replaced."""
    for name, value in fields.items():
        object.__setattr__(fit, name, value)
    return fit


def limit_of(got, name):
    return next(limit for limit in got.limits if limit.name == name)


# ---- the gate


def test_draws_that_can_carry_nothing_carry_no_answer():
    fit, study = of(shop.fit(), trust=LOST), shop.study()
    for ask in (lambda: recommend.recommend(fit, study, *JOB), lambda: plan(fit, study, *JOB, minutes=30)):
        with pytest.raises(NotYet) as no:
            ask()
        lines = str(no.value).splitlines()
        assert lines[0] == "Not yet: the sampler found one point only."
        assert lines[1] == (
            "What would help: look through the log for slips (`bandtrial check`; readings that never change or jump), "
            "then fit again."
        )
        assert lines[2].startswith("What would help: stay at ") and lines[2].endswith("than it has so far.")
    (row,) = compare(fit, study).rows
    assert row.reason == "the sampler found one point only."


def test_a_watch_and_a_change_ask_the_gate_too():
    from pathlib import Path

    from bandtrial import wear
    from bandtrial.study import open_study

    study = open_study(Path(__file__).parents[1] / "trial_data/thin_shop")
    fit = wear.fit(study, draws=200)
    sound, lost, rough = watch.watch(fit, study), None, None
    fit.__dict__["trust"] = LOST
    lost = watch.watch(fit, study)
    assert str(lost).startswith("Not yet: the sampler found one point only.") and not lost.bands
    assert lost.to_json()["not_yet"] == str(lost)
    with pytest.raises(NotYet, match="the sampler found one point only"):
        change(study, study, (fit, fit))
    fit.__dict__["trust"] = ROUGH
    rough = watch.watch(fit, study)
    assert rough.to_json()["warnings"] == [*ROUGH.reasons, *ROUGH.contradictions]
    (a,), (b,) = sound.bands, rough.bands
    assert b.wear_used == pytest.approx(a.wear_used, rel=1e-3)  # a quantile between two draws
    wide = np.log(b.wear_used_high / b.wear_used_low) / np.log(a.wear_used_high / a.wear_used_low)
    assert wide == pytest.approx(2.0, rel=1e-2)
    assert change(study, study, (fit, fit)).warnings[0].endswith(": the sampler found the answer only roughly.")


def test_rough_draws_widen_and_say_so():
    study = shop.study()
    good, rough = (recommend.recommend(of(shop.fit(), trust=t), study, *JOB) for t in (SOUND, ROUGH))
    for name in ("cost", "life"):
        a, b = (getattr(r.setting, name) for r in (good, rough))
        assert np.log(b.high / b.low) > 1.6 * np.log(a.high / a.low)  # twice, at a setting that may differ a little
    assert rough.warnings[:2] == ("the sampler found the answer only roughly.", "two signals disagree.")
    assert (good.grade, rough.grade) == ("good", "rough")
    assert rough.status == "USE WITH CARE: the best of what was tried, known only roughly; read the warnings"


def test_widening_is_about_the_median_on_the_log_scale():
    draws = np.array([[1.0], [2.0], [8.0]])
    assert widened(draws, ROUGH)[:, 0] == pytest.approx([0.5, 2.0, 32.0])
    assert widened(draws, SOUND) is draws


# ---- doubt is no reason for silence


@pytest.mark.parametrize("feed", ["rate", "force", "hand"])
@pytest.mark.parametrize("sure", [1.5, 2.5])
def test_a_life_that_is_a_guess_gets_a_rough_answer_inside_what_was_tried(feed, sure):
    """80 % intervals of life of a factor 47 and 600: before, these were refused."""
    fit = shop.fit("force" if feed == "force" else "rate", sure=sure)
    if feed == "hand":
        fit.data["feed_mode"] = "hand"
    got = recommend.recommend(fit, shop.study(feed), *JOB)
    assert got.grade == "rough"
    assert got.warnings[0].startswith("band life in plate on saw1 is known to a factor of ")
    assert got.setting.life.high > 2 * got.setting.life.low  # at a set force bands come off before they are dull
    assert got.setting.cost.low <= got.setting.cost.value <= got.setting.cost.high
    V = fit.data["band_speed"]
    assert V.min() / 1.021 <= got.setting.band_speed <= V.max() * 1.021
    assert got.telling_cut.cuts >= 1 and got.telling_cut.why.startswith("shows most of how fast bands dull")


def test_a_rough_choice_is_not_that_of_its_least_likely_draws():
    """One draw in a hundred with lives 1,000 times shorter at every speed but the slowest: a mean would follow it."""
    fit = shop.fit(sure=1.5)
    with_tail = of(shop.fit(sure=1.5), a0=np.where(np.arange(1000) % 100 == 50, fit.a0 - 7.0, fit.a0))
    a, b = (recommend.recommend(f, shop.study(), *JOB).setting for f in (fit, with_tail))
    assert b.band_speed == pytest.approx(a.band_speed, rel=0.1)  # the next round number of the dial: 46 or 50 m/min
    assert b.cost.value == pytest.approx(a.cost.value, rel=0.15)


def test_one_cut_is_enough_to_say_stay_there():
    fit = shop.fit(data=shop.cuts(n=1))
    got = recommend.recommend(fit, shop.study(ranges=((10.0, 150.0),)), *JOB)
    (cut,) = fit.data.itertuples()
    assert got.grade == "rough" and "thin evidence: 1 cut" in got.warnings
    assert got.setting.band_speed == pytest.approx(cut.band_speed, rel=0.03)
    assert got.setting.chip_load == pytest.approx(cut.chip_load, rel=0.061)  # a small step, where life is known


def test_a_cut_that_ended_its_band_did_not_go_well():
    """B1 came off dull with its last cut done, B2 broke in its last, B3 lives but one of its cuts was not finished."""
    cuts = {"band": np.array(["B1", "B1", "B2", "B2", "B3", "B3"]),
            "complete": np.array([True, True, True, True, False, True])}  # fmt: skip
    ends = {"B1": "dull", "B2": "broken", "B3": "in_service"}
    assert went_well(cuts, ends).tolist() == [True, True, True, False, False, True]


def test_settings_beyond_those_that_went_well_are_not_evidence():
    """The fastest cut broke its band: what may be recommended ends below it."""
    data = shop.cuts()
    fastest = data["band_speed"].idxmax()
    data.loc[fastest, "complete"] = False
    study = shop.study()
    region = tried(shop.fit(data=data), study, job_of(study, *JOB))
    assert np.exp(region.speed[1]) * shop.STAR == pytest.approx(np.sort(data["band_speed"])[-2])


def test_no_setting_goes_beyond_what_stripped_a_band():
    """B2 was stripped in a cut at 12 um, B3 in one not finished, after three at 13 um; heavier ones went well."""
    data = shop.cuts()
    last = data.groupby("band").tail(1).index
    data.loc[last[1], "chip_load"] = 12.0
    data.loc[last[2], ["chip_load", "complete"]] = 3.0, False
    data.loc[last[2] - np.arange(1, 4), "chip_load"] = 13.0
    study = shop.study(ends=("in_service", "stripped", "stripped"))
    job = job_of(study, *JOB)
    region = tried(shop.fit(data=data), study, job)
    assert np.exp(region.stripped) == pytest.approx(12.0)
    assert region.outside(job, 40.0, 12.0) <= 1.0 and region.outside(job, 40.0, 12.1) == np.inf
    got = recommend.recommend(shop.fit(data=data), study, *JOB)
    assert got.setting.chip_load <= 12.0 * (1 + 1e-6)
    only = study.bands.assign(end=["in_service", "in_service", "stripped"])
    study.bands = only
    assert np.exp(tried(shop.fit(data=data), study, job).stripped) == pytest.approx(13.0)


def test_one_stray_cut_moves_no_limit():
    """A pace by hand that strayed to 70 um in one, three or five of 24 cuts: it takes three and a quarter of all."""
    for strays in (1, 3, 5, 6):
        data = shop.cuts()
        data.loc[: strays - 1, "chip_load"] = 70.0
        study = shop.study()
        region = tried(shop.fit(data=data), study, job_of(study, *JOB))
        assert (region.proven.heaviest == 70.0) is (strays == 6)


def test_where_nothing_went_well_there_is_a_careful_way_on():
    data = shop.cuts(n=4).assign(complete=False)
    with pytest.raises(NotYet) as no:
        recommend.recommend(shop.fit(data=data), shop.study(), *JOB)
    assert str(no.value).splitlines()[::2] == [
        "Not yet: of 4 cuts of plate on saw1 none went well: each ended its band or was not finished.",
        "What would help: a lighter and slower cut than any of these.",
    ]


def test_what_was_cut_and_breaks_a_limit_by_its_own_readings_is_refused_with_a_cut_to_make():
    """300 W and more read at every setting, half worn 1.4 times that, on a motor of 150 W."""
    with pytest.raises(NotYet) as no:
        recommend.recommend(with_power(shop.fit()), shop.study(motor_power=150.0), *JOB)
    assert str(no.value).splitlines()[0] == (
        "Not yet: what was cut of plate on saw1 breaks a limit: at the most careful of its settings, motor power holds "
        "with under 1 % probability; 90 % is asked."
    )
    last = str(no.value).splitlines()[-1]
    assert last.startswith("What would help: one cut at ")
    assert last.endswith(", a fifth less feed per tooth than anything tried; log it, then ask again.")


def with_power(fit, power=300.0):
    fit.data["motor_power"] = power
    return fit


def test_a_limit_that_is_not_sure_is_named_and_the_setting_still_given():
    """Draws of a power that is 70 % surely low enough at the most careful setting cut: no setting holds with 90 %."""
    level = np.exp(0.2 * np.random.default_rng(3).standard_normal(1000))

    class Unsure(shop.KnownFit):
        def signal(self, name, band_speed, chip_load, *_, wear_used=0.0, **names):
            per_rate = np.asarray(band_speed, float) / shop.STAR * np.asarray(chip_load, float) / 10.0
            return np.resize(level, (self.n_draws, 1)) * 400.0 * per_rate**0.1

    fit = Unsure(**vars(with_power(shop.fit())))
    got = recommend.recommend(fit, shop.study(motor_power=430.0), *JOB)
    power = limit_of(got, "motor power")
    assert 0.5 < power.probability < HELD and not power.ok
    assert got.grade == "rough"
    assert any(text.startswith("the limit that is not sure: motor power ") for text in got.warnings)


# ---- limits from evidence


def test_a_force_that_the_motor_has_carried_is_not_refused_on_an_assumed_ratio():
    """F V / (60 eta 0.35) is beyond the motor's power at all that was cut; r from 0.35 to 0.6 would refuse it."""
    fit, study = shop.fit("force"), shop.study("force", motor_power=80.0)
    push = (fit.data["feed_force"] * fit.data["band_speed"]).max()
    assert push / 60 / 0.8 / np.sqrt(0.35 * 0.6) > 80.0  # by the middle ratio the motor could not do it
    got = recommend.recommend(fit, study, *JOB)
    assert limit_of(got, "motor power").ok
    job = job_of(study, *JOB)
    beyond = power_of_force(job, Proven(push=push), 40.0, np.array([1.2 * push / 40.0 / job.teeth]))
    assert np.mean(beyond <= 80.0) < 1.0  # past it, the doubt is back


def test_power_readings_at_a_set_force_move_the_ratio():
    """log r of 20 readings on 4 bands at 0.9 with a scatter of 0.1: the normal law worked by hand."""
    middle, sd = np.log(FORCE_RATIO).mean(), np.log(FORCE_RATIO[1] / FORCE_RATIO[0]) / 2 / 1.6449
    assert ratio_law(Proven()) == pytest.approx((middle, sd))
    z = np.array([-0.1, 0.1] * 10)
    got = ratio_law(Proven(ratios=tuple(np.log(0.9) + z), ratio_bands=("a", "b", "c", "d") * 5))
    precision = 1 / sd**2 + 4 / 0.1**2
    assert got[0] == pytest.approx((middle / sd**2 + 4 / 0.1**2 * np.log(0.9)) / precision)
    assert got[1] == pytest.approx(np.sqrt(1 / precision + 0.1**2))


def test_a_normal_law_that_is_cut_off():
    """Mean of a standard normal above a: phi(a) / (1 - Phi(a)) = 1.1411 at 0.5 (any table); 33 quantiles are near."""
    assert normal_from(0.0, 1.0, -np.inf).mean() == pytest.approx(0.0, abs=1e-9)
    assert normal_from(0.0, 1.0, 0.5).mean() == pytest.approx(1.1411, rel=0.02)
    assert set(normal_from(0.0, 1.0, 40.0)) == {40.0}


def test_soft_metals_are_not_judged_by_hard_steels():
    """No power read, aluminum: 3 to 9 J/mm3 are of hard steels; kc1.1 700 for 2000 N/mm2 (kienzle_tables, unsure)."""
    from bandtrial.recommend.proven import power_of_energy

    study = shop.study()
    at = (Proven(), np.array([40.0]), np.array([10.0]))
    steel = np.median(power_of_energy(job_of(study, *JOB), *at))
    study.materials["plate"].group = "aluminum alloy"
    assert np.median(power_of_energy(job_of(study, *JOB), *at)) == pytest.approx(0.35 * steel)


def test_chips_gullets_and_teeth_that_went_well_are_not_refused():
    """Chips of 2 to 4 um, 1.6 teeth in the cut: below 5 um and 2 teeth, and yet cut on a band that lived."""
    data = shop.cuts(bites=(2.0, 4.0)).assign(teeth_in_cut=1.6)
    got = recommend.recommend(shop.fit(data=data), shop.study(), *JOB)
    assert limit_of(got, "chip load, least").ok and got.setting.chip_load < 4.5
    assert "as the shop's own cuts held" in limit_of(got, "chip load, least").note
    assert limit_of(got, "teeth in the cut, least").limit == 1.6
    study = shop.study()
    study.band_stock["s8"].gullet_area = 0.3  # full at 5 um; 7 to 16 um were cut
    full = recommend.recommend(shop.fit(), study, *JOB)
    assert full.setting.chip_load > 7.0
    fill = limit_of(full, "gullet fill")
    assert fill.ok and fill.limit > 1.0 and fill.note == "as the shop's own cuts held"


# ---- one answer


def test_a_probability_is_a_smooth_count():
    """Of 4,000 standard lognormals, P(x <= e) = Phi(1) = 0.8413; 4 standard errors, and the smoothing's own 0.2 %."""
    draws = np.exp(np.random.default_rng(4).standard_normal((4000, 1)))
    assert chance(draws, [np.e], True)[0] == pytest.approx(0.8413, abs=4 * 0.0058 + 0.002)
    assert chance(np.array([[2.0]]), [2.0], True)[0] == 1.0 and chance(np.array([[2.1]]), [2.0], True)[0] == 0.0
    steps = [chance(draws, [x], True)[0] for x in (2.70, 2.701, 2.702)]
    assert steps[0] < steps[1] < steps[2]  # a count would stand still, then jump


def test_what_is_found_at_90_percent_holds_down_to_88():
    from bandtrial.recommend.limits import Limit

    assert SURE == 0.9
    assert [Limit("motor power", 1.0, 1.0, "W", True, p).ok for p in (0.9, 0.885, 0.875)] == [True, True, False]


def test_the_setting_does_not_turn_with_the_draws():
    """20 sets of 1,000 draws of one posterior: one dial number and one feed in nearly all."""
    got = [recommend.recommend(shop.fit(seed=seed), shop.study(), *JOB).setting for seed in range(20)]
    settings = pd.Series([(round(s.indicated, 6), round(s.feed, 6)) for s in got])
    assert settings.value_counts().iloc[0] >= 17


def test_what_the_shop_runs_is_kept_where_nothing_better_is_known():
    """The setting found, run by the shop ever since: nothing else is told, though a rounder number is as near."""
    data, study = shop.cuts(speeds=(0.5, 1.6), bites=(6.0, 30.0)), shop.study(ranges=((10.0, 150.0),))

    def steep(table):
        """Life falls so fast with the chip that the best one lies inside what was tried."""
        fit = shop.fit(sure=0.05, life=2.0, data=table)
        return of(fit, a=fit.a + 4.0)

    first = recommend.recommend(steep(data), study, *JOB).setting
    assert 6.5 < first.chip_load < 28
    usual = data.iloc[[0] * 12].assign(band_speed=first.band_speed, chip_load=first.chip_load * 1.003, cut_area=500.0,
                                       set_feed_rate=first.feed, cut=range(100, 112))  # fmt: skip
    got = recommend.recommend(steep(pd.concat([data, usual], ignore_index=True)), study, *JOB)
    assert (got.setting.band_speed, got.setting.feed) == pytest.approx((first.band_speed, first.feed))
    now = next(row for row in got.table if row.name == "the shop now")
    assert now.note.startswith("this one, ") or now.note.endswith("; it is this one")


# ---- what stops the others


def test_what_stops_the_next_faster_heavier_and_the_published_start():
    got = recommend.recommend(shop.fit(), shop.study(), *JOB)
    out = got.to_json()["stops"]
    assert set(out) == {"faster", "heavier", "published_start"}
    for stop in out.values():
        assert {"limit", "costs_more", "lives_longer", "said", "band_speed", "feed"} <= set(stop)
    rows = {label: (value, note) for label, value, note in got.fields()}
    for label, stop in zip(("the next faster", "the next heavier", "why not published"), out.values(), strict=True):
        assert rows[label] == (stop["said"], stop["setting"])
    assert "the next faster" in got._repr_html_()


def test_the_limit_that_stops_is_named_with_its_figure():
    study = shop.study(feed_rate_range=(20.0, 200.0))
    heavier = recommend.recommend(shop.fit(), study, *JOB).stops["heavier"]
    assert heavier.limit.name == "feed rate, greatest"
    assert heavier.said == "ruled out: feed rate 210, at most 200 mm/min"


def test_a_published_start_that_would_cost_less_is_ruled_out_by_name():
    """Only slow cuts were made: the published start is far beyond them, and that is why it is not taken."""
    fit = shop.fit(life=2000.0, data=shop.cuts(speeds=(0.4, 0.5)))
    got = recommend.recommend(fit, shop.study(ranges=((10.0, 150.0),)), *JOB)
    published = got.table[0]
    assert published.beaten_by < 0.5
    note = next(note for label, _, note in got.fields() if label == "nearest to the published start")
    assert "; ruled out: " in note and " faster than anything tried, " in note


def test_what_is_recommended_is_never_ruled_out():
    for data in (shop.cuts(), shop.cuts(speeds=(0.4, 0.5)), shop.cuts(speeds=(1.0, 1.05))):
        (row,) = compare(shop.fit(data=data, life=2000.0), shop.study(ranges=((10.0, 150.0),))).rows
        assert row.open_low <= row.band_speed <= row.open_high
        recommended = recommend.recommend(shop.fit(data=data, life=2000.0), shop.study(ranges=((10.0, 150.0),)), *JOB)
        assert row.band_speed == pytest.approx(recommended.setting.band_speed)


def test_the_size_of_a_step_in_words():
    study = shop.study()
    job = job_of(study, *JOB)
    region = tried(shop.fit(), study, job)
    V, bite = job.published_speed * np.exp(region.speed[1]), float(np.exp(region.bite[1]))
    assert step_words(job, region, V, bite) == "inside what was tried"
    assert step_words(job, region, V, 1.25 * bite) == "a quarter more feed per tooth than anything tried"
    assert step_words(job, region, 1.07 * V, 1.5 * bite) == (
        "7 % faster and half more feed per tooth than anything tried"
    )
