"""The virtual shop's long-run truth against closed forms, scipy's integrals, long simulations and search."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from bandtrial_lessons.shop import KINDS, NoSettingError, Shop
from bandtrial_lessons.shop.long_run import rate_nodes

L = 50.0


def unbreakable(shop: Shop) -> Shop:
    """The same shop with bands that never break, so that wear alone ends them."""
    return Shop(replace(shop.config, stock=tuple(replace(s, bending_life=1e12) for s in shop.config.stock)))


def test_mean_life_is_the_weibull_mean_times_the_mean_of_one_over_the_rate():
    """Closed form at a set feed rate: area of a typical band x Gamma(1 + 1/k) x exp(sd^2 / 2), scipy's Gamma."""
    from scipy.special import gamma

    shop = unbreakable(Shop(3))
    m, s = shop.mechanics(), shop.config.scatter
    V, F = 40.0, 90.0
    per_wear = m.machine.sheet.band_length / L / m.wear_rate(V, F * m.spacing / V, L) * F * L / 100.0
    mean = per_wear * gamma(1.0 + 1.0 / s.wear_shape) * np.exp((s.batch**2 + s.band**2) / 2.0)
    assert shop.true_life(V, F, None, L) == pytest.approx(mean, rel=5e-4)  # trapezoids on GRID


def test_rate_nodes_have_the_moments_of_a_lognormal():
    rate, weight = rate_nodes(Shop(3).config.scatter)
    s = Shop(3).config.scatter
    for power in (-1, 1, 2):
        mean = np.exp(power**2 * (s.batch**2 + s.band**2) / 2.0)
        assert weight @ rate**power == pytest.approx(mean, rel=1e-9)


@pytest.mark.parametrize("change_after", [None, 9_000.0])
def test_cost_is_the_double_integral_over_wear_rate_and_area(change_after):
    """Slow twin: scipy's dblquad of the survival over area and the band's log wear rate, at a set feed rate."""
    from scipy.integrate import dblquad, quad
    from scipy.stats import norm

    shop = Shop(4)
    m, s, c = shop.mechanics(), shop.config.scatter, shop.config.costs
    V, F = 1.1 * m.material.law.reference_speed, 110.0
    Z, B, sd = F * L / 100.0, m.machine.sheet.band_length, float(np.hypot(s.batch, s.band))
    wear = m.wear_rate(V, F * m.spacing / V, L) * L / B / Z
    bends = 2000.0 * V / B / Z / m.bending_life()

    def survival(A: float, z: float) -> float:
        return np.exp(-((np.exp(sd * z) * wear * A) ** s.wear_shape) - (bends * A) ** m.stock.bending_shape)

    end = 3.0 * np.exp(4.0 * sd) / wear if change_after is None else change_after
    area = dblquad(lambda A, z: norm.pdf(z) * survival(A, z), -6, 6, 0, end, epsrel=1e-7)[0]
    kept = quad(lambda z: norm.pdf(z) * survival(end, z), -6, 6)[0]
    minute = c.machine_and_labor_per_hour / 60.0
    turn = minute * (area / Z + c.band_change_minutes) + m.stock.sheet.price + c.scrapped_piece * (1.0 - kept)
    cost = shop.true_cost(V, F, None, L, change_after)
    assert cost == pytest.approx(turn / area, rel=5e-4)  # trapezoids on GRID


@pytest.mark.parametrize("change_share", [None, 0.6])
@pytest.mark.parametrize("kind", ["bent_life", "force_feed_thinning"])
def test_true_cost_agrees_with_a_long_simulation(kind, change_share):
    """4,000 bands cut through `run`, in batches, with whole cuts: within 3.5 standard errors of the simulation,
    the batches being the independent units; the error itself at most 2 %."""
    shop = Shop(8, kind=kind)
    shop = Shop(replace(shop.config, scatter=replace(shop.config.scatter, batch_size=4)))
    best = shop.best_setting(None, L)
    change = None if change_share is None else change_share * float(shop.true_life(best.band_speed, best.feed, None, L))
    bands = [shop.new_band() for _ in range(4000)]
    far = 1e9 if change is None else change * 100.0 / L
    cut = {"band_speed": shop.indicated_speed(best.band_speed), "work_thickness": L, "cut_travel": far}
    log = shop.run(pd.DataFrame({"band": bands, shop.mechanics().feed_name: best.feed, **cut}))
    made = [shop.bands[id] for id in bands]
    costs = shop.config.costs
    minutes = np.array([b.minutes for b in made]) + costs.band_change_minutes
    died = ~log["complete"].to_numpy(bool)
    spent = costs.machine_and_labor_per_hour / 60.0 * minutes + shop.stock.price + costs.scrapped_piece * died
    area = np.array([b.area for b in made])
    cost = spent.sum() / area.sum()
    off = (spent - cost * area).reshape(-1, 4).sum(axis=1)
    error = off.std() * np.sqrt(len(off)) / area.sum()
    assert error < 0.02 * cost
    assert cost == pytest.approx(float(shop.true_cost(best.band_speed, best.feed, None, L, change)), abs=3.5 * error)


def test_true_cost_broadcasts_and_agrees_one_by_one():
    shop = Shop(5)
    V, F = np.array([[30.0], [45.0]]), np.array([60.0, 90.0, 120.0])
    cost = shop.true_cost(V, F, None, L, 12_000.0)
    assert cost.shape == (2, 3)
    assert cost[1, 2] == pytest.approx(float(shop.true_cost(45.0, 120.0, None, L, 12_000.0)), rel=1e-12)


def test_changing_never_is_changing_at_infinity_and_changing_at_once_costs_most():
    shop = Shop(5)
    never, infinity, soon = (float(shop.true_cost(40.0, 90.0, None, L, a)) for a in (None, np.inf, 50.0))
    assert never == infinity
    assert soon > 5.0 * never


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("machine", ["vertical", "weight_feed"])
def test_no_setting_in_limits_is_cheaper_than_the_best(kind, machine):
    """4,000 random settings with random change-out points; the grids close in to 0.1 % of the cost."""
    shop = Shop(6, kind=kind, metals=("stainless", "mild"))
    best = shop.best_setting("stainless", L, machine=machine)
    limits = shop.limits(machine)
    random = np.random.default_rng(1)
    V = random.uniform(*np.ravel(limits.band_speed_ranges)[[0, -1]], 4000)
    feed = np.exp(random.uniform(*np.log(limits.feed_range), 4000))
    near = slice(0, 2000)
    V[near], feed[near] = (x * np.exp(0.1 * random.standard_normal(2000)) for x in (best.band_speed, best.feed))
    kept = np.all(list(shop.within_limits(V, feed, "stainless", L, machine=machine).values()), axis=0)
    assert kept.sum() > 300
    after = best.band_life * random.choice([0.5, 0.8, 1.2, 2.0, np.inf], kept.sum())
    cost = shop.true_cost(V[kept], feed[kept], "stainless", L, after, machine=machine)
    assert cost.min() > best.cost * (1.0 - 1e-3)


@pytest.mark.parametrize("seed", range(5))
def test_best_setting_keeps_every_limit_and_costs_what_it_says(seed):
    shop = Shop(seed)
    best = shop.best_setting(None, L)
    assert all(map(bool, shop.within_limits(best.band_speed, best.feed, None, L).values()))
    cost = shop.true_cost(best.band_speed, best.feed, None, L, best.change_after)
    assert cost == pytest.approx(best.cost, rel=1e-9)


def test_the_best_with_fewer_choices_costs_more():
    shop = Shop(5)
    best = shop.best_setting(None, L)
    slow = shop.best_setting(None, L, replace(shop.limits(), band_speed_ranges=((15.0, 20.0),)))
    assert slow.cost > 1.2 * best.cost
    assert slow.band_speed == pytest.approx(20.0, rel=1e-6)
    assert shop.best_setting(None, L, changes=False).cost >= best.cost * (1.0 - 1e-3)


def test_costlier_pieces_bring_the_change_forward():
    shop = Shop(5)
    dear = Shop(replace(shop.config, costs=replace(shop.config.costs, scrapped_piece=3000.0)))
    best = dear.best_setting(None, L)
    assert best.change_after is not None
    assert best.change_after < 0.8 * float(shop.true_life(best.band_speed, best.feed, None, L))


def test_limits_that_no_setting_keeps_are_named():
    shop = Shop(5)
    with pytest.raises(NoSettingError) as caught:
        shop.best_setting(None, L, shop.limits(deviation=1e-4, least_teeth=40.0))
    assert str(caught.value) == "No setting keeps every limit; none at all keeps teeth, deviation."


def test_limits_hold_true_speeds():
    shop = Shop(5)
    (low, _), *_ = shop.limits("weight_feed").band_speed_ranges
    assert low == shop.true_speed(shop.machines["weight_feed"].band_speed_ranges[0][0], "weight_feed")
