"""Worlds: the long run against closed forms and bands sawn one by one; the logs against the study's checks."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from bandtrial import study
from bandtrial_lessons.worlds import FORMS, KINDS, World, logs
from bandtrial_lessons.worlds.best import best_setting
from bandtrial_lessons.worlds.laws import CONSTANTS
from bandtrial_lessons.worlds.likelihood import log_likelihood
from bandtrial_lessons.worlds.longrun import long_run
from bandtrial_lessons.worlds.observer import decide, observe
from bandtrial_lessons.worlds.path import read_log
from bandtrial_lessons.worlds.physics import Physics
from bandtrial_lessons.worlds.sheet import draw_sheet

PLAIN = {
    "speed_form": 0.0, "chip_form": 0.0, "end_form": 0.0, "end_shape": 2.5, "band_scatter": 1e-9, "batch": 0.0,
    "break_cycles": 1e15, "dial": 0.0, "life": 10.0, "speed_power": 4.0, "chip_power": 1.0,
}  # fmt: skip
"""A Taylor world: power laws, a Weibull end, bands that are all alike and never break."""


def taylor(kind="rate", **changes):
    sheet = draw_sheet(4, kind)
    physics = Physics.of(np.zeros((1, len(CONSTANTS))), sheet)
    return Physics({**physics.constants, **{k: np.array([v]) for k, v in (PLAIN | changes).items()}}, sheet)


def at_start(physics, share=1.0, h=10.0):
    """Indicated speed and feed at a share of the published speed and a chip load."""
    V = share * physics.sheet.job.speed
    return V, h * V / physics.sheet.spacing


def test_run_to_the_end_is_the_weibull_mean():
    # mean of a Weibull life is scale x Gamma(1 + 1/k) (Abernethy, The New Weibull Handbook; from memory)
    physics, sheet = taylor(), draw_sheet(4, "rate")
    V, F = at_start(physics)
    run = long_run(physics, V, F)
    minutes = 10.0 * sheet.band_length / sheet.thickness * math.gamma(1 + 1 / 2.5)
    area = minutes * F * sheet.thickness / 100
    cost = (sheet.per_minute * (minutes + sheet.change_minutes) + sheet.price + sheet.scrap) / area
    assert run.minutes[0, 0, -1] == pytest.approx(minutes, rel=2e-3)  # 57 points of wear
    assert run.cost[0, 0, -1] == pytest.approx(cost, rel=2e-3)


def test_change_out_is_renewal_reward():
    # age replacement: cost (c P(T < a) + ...) / E min(T, a) (Barlow and Proschan; from memory), by fine quadrature here
    physics, sheet = taylor(), draw_sheet(4, "rate")
    V, F = at_start(physics, 0.8, 14.0)
    tau = 10.0 * 0.8**-4 * 1.4**-1 * sheet.band_length / sheet.thickness  # min
    Z = F * sheet.thickness / 100
    t = np.linspace(0, 0.6 * tau, 20_001)
    left = np.exp(-((t / tau) ** 2.5))
    minutes = np.sum(0.5 * (left[1:] + left[:-1]) * np.diff(t))
    lost = sheet.scrap * (1 - left[-1])
    cost = (sheet.per_minute * (minutes + sheet.change_minutes) + sheet.price + lost) / (Z * minutes)
    assert long_run(physics, V, F, [[0.6 * tau * Z]]).cost[0, 0, 0] == pytest.approx(cost, rel=2e-3)


def test_best_speed_is_taylors():
    # minimum-cost life T = (1/n - 1)(t_c + C_t/r), m = 1/n (Groover, Fundamentals of Modern Manufacturing, machining
    # economics; from memory), where every band lasts exactly as long
    sheet = replace(draw_sheet(4, "rate"), scrap=0.0, motor=1e9, ranges=((1.0, 1000.0),), feed_range=(1.0, 1e4))
    physics = Physics(taylor(end_form=1.0, end_spread=0.001).constants, sheet)
    best = best_setting(physics, (tuple(np.array([0.35, 2.9]) * sheet.job.speed), (9.999, 10.001)))
    life = 3 * (sheet.change_minutes + sheet.price / sheet.per_minute)
    V = sheet.job.speed * (10.0 * sheet.band_length / sheet.thickness / life) ** (1 / 4)
    assert best.indicated == pytest.approx(V, rel=0.03)  # the optimum is flat and the grid has steps


@pytest.mark.parametrize("kind", KINDS)
def test_bands_sawn_one_by_one_last_as_long_as_the_long_run_says(kind):
    world = World(6, kind)
    V = world.reachable(0.9 * world.sheet.job.speed)
    feed = world.feed_for(V, 12.0)
    run = long_run(world.physics, V, feed)
    minutes, lives = float(run.minutes[0, 0, -1]), []
    pieces = max(1, round(float(run.area[0, 0, -1]) / world.sheet.thickness / 20))
    for _ in range(60):
        world.bands.clear()  # each of a batch of its own
        band, life = world.new_band(), 0.0
        while world.bands[band].end == "in_service":
            life += world.run(band, V, feed, 1, pieces=pieces).minutes
        lives.append(life)
    error = np.std(lives) / np.sqrt(60)
    assert abs(np.mean(lives) - minutes) < 3 * error + 0.05 * minutes  # 5 %: a row of pieces has one wear


@pytest.mark.parametrize("kind", KINDS)
def test_a_log_passes_the_checks_and_has_what_the_kind_logs(tmp_path, kind):
    world = World(8, kind, tmp_path / "study")
    logs.narrow_trial(world, 30.0)
    assert 30 < world.minutes < 90  # nine runs, none begun after its minutes
    logs.old_bands(world, 2)
    shop = study.open_study(tmp_path / "study")
    assert not [p for p in shop.problems if p.severity == "error"]
    cuts = study.cut_table(shop)
    assert cuts["motor_power"].notna().any() == (kind in ("rate", "force_power"))
    assert cuts["feed_force"].notna().any() == kind.startswith("force")
    assert cuts["deviation"].notna().all()
    assert set(cuts["material"]) == {"job", "other_a", "other_b"}


def test_a_signal_left_out_is_not_in_the_log(tmp_path):
    world = World(8, "rate", tmp_path / "study", without="deviation")
    logs.narrow_trial(world, 20.0)
    cuts = study.cut_table(study.open_study(tmp_path / "study"))
    assert cuts["deviation"].isna().all() and cuts["motor_power"].notna().all()


def test_a_world_is_the_same_whenever_it_is_made():
    one, other = World(10, "force"), World(10, "force")
    for world in (one, other):
        logs.narrow_trial(world, 10.0)
    assert one.sheet == other.sheet and one.minutes == other.minutes
    assert [b.wear for b in one.bands.values()] == [b.wear for b in other.bands.values()]


def test_every_form_occurs_and_the_best_speed_lies_on_both_sides_of_the_book():
    worlds = [World(seed, "rate") for seed in range(0, 80, 2)]
    for what, names in FORMS.items():
        assert {world.forms[what] for world in worlds} == set(names)
    ratios = [w.best().indicated * w.dial / w.sheet.job.speed for w in worlds[:25]]
    assert 5 <= sum(r < 1 for r in ratios) <= 20


def test_limits_are_told():
    world = World(12, "rate")
    low, high = world.sheet.ranges[0][0], world.sheet.ranges[-1][1]
    assert "band speed" in world.broken(1.2 * high, world.feed_for(high, 5.0))
    assert "chip load" in world.broken(low, world.feed_for(low, 60.0))
    assert "feed" in world.broken(low, 1.1 * world.sheet.feed_range[1])
    best = world.best()
    assert not world.broken(best.indicated, best.feed)


def test_an_unknown_kind_is_named():
    with pytest.raises(ValueError, match=re.escape('kind "rates" is not one of rate, force_power, force, hand')):
        World(1, "rates")


@pytest.mark.parametrize("kind", ["rate", "force_power", "hand"])
def test_the_truth_explains_its_own_log_better_than_a_wrong_world_does(tmp_path, kind):
    world = World(14, kind, tmp_path / "study")
    logs.narrow_trial(world, 40.0)
    log = read_log(tmp_path / "study", world.sheet, world.dial)
    truth = truth_of(world, log)
    wrong = np.random.default_rng(1).standard_normal((50, truth.shape[1]))
    like = log_likelihood(np.vstack([truth, wrong]), log, world.sheet)
    assert like[0] > like[1:].max() + 10


def test_the_observer_comes_near_the_truth_of_a_log(tmp_path):
    world = World(14, "rate", tmp_path / "study")
    logs.narrow_trial(world, 40.0)
    log = read_log(tmp_path / "study", world.sheet, world.dial)
    worlds = observe(log, world.sheet, particles=150, moves=8)
    force = worlds.constants["force"] / world.physics.constants["force"][0]
    assert np.quantile(force, 0.05) < 1.15 and np.quantile(force, 0.95) > 0.85  # prior: 0.55 to 1.8
    assert np.std(np.log(force)) < 0.15
    told = decide(worlds, size=8)
    assert told.low < told.best.cost < told.high
    assert not {"band speed", "feed"} & set(world.broken(told.best.indicated, told.best.feed))


def truth_of(world, log):
    """The latent point of a world and of its bands, all of one batch."""
    rng = np.random.default_rng([world.sheet.seed, KINDS.index(world.sheet.kind), 2])
    c, bands = {k: float(v[0]) for k, v in world.physics.constants.items()}, list(world.bands.values())
    own = [(b.rate / c["band_scatter"] - np.sqrt(c["batch"]) * world._batch) / np.sqrt(1 - c["batch"]) for b in bands]
    levels = [b.level[name] / max(c[f"{name}_band"], 1e-9) for name in ("power", "deviation") for b in bands]
    return np.array([[*rng.standard_normal(len(CONSTANTS)), world._batch, *own, *levels]])
