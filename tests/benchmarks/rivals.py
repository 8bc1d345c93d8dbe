"""What the tool is measured against: the published start, the textbook, a general optimiser. Each returns a setting
(indicated band speed [m/min], feed) after the same minutes of trial cutting, run to the end of the band."""

from __future__ import annotations

import numpy as np
from bandtrial import published, sawing
from bandtrial_lessons import costs

WORN = 0.5
"""Growth of the power, or of the cut time at a set force, at which the textbook calls a band worn: as in the sample
study."""
LONGEST = 3000.0
"""Life that is read off where a band does not dull in the time given [min]."""


def published_start(shop, minutes: float):
    """The published speed at 10 um chip load: a shop without trials."""
    V, feed = shop.published_start()
    return float(shop.machine.indicated_speed(V)), feed


def two_speed_taylor(shop, minutes: float):
    """V T^n = C through two speeds at 10 um, lives by a straight line to WORN; the minimum-cost formula."""
    star = published.band_speed(shop.shop.materials[shop.material].group, shop.thickness, shop.stock.edge)
    points = []
    for share in (1.0, 1.35):
        V = shop.reachable(share * star)
        points.append((V, life(shop, V, 10.0, minutes / 2)[0]))
    (V1, T1), (V2, T2) = points
    money = shop.shop.costs
    try:
        law = costs.taylor_from_two_points(V1, T1, V2, T2)
        V = costs.minimum_cost_speed(
            law.n, law.C, money["band_change_minutes"], shop.stock.price, money["machine_and_labor_per_hour"]
        )
    except ValueError:  # the faster band seemed to live longer: the two speeds say nothing
        V = V1
    V = shop.reachable(float(np.clip(V, 0.3 * star, 3.0 * star)))
    return float(shop.machine.indicated_speed(V)), shop.feed(V, 10.0)


def bayesian_optimiser(shop, minutes: float, runs: int = 10, seed: int = 1):
    """A Gaussian-process optimiser of a library on the cost that each short run seems to have; best of its runs.

    Ten runs of a tenth of the minutes, three of them at random; one new band for every three.
    """
    from bayes_opt import BayesianOptimization

    star = published.band_speed(shop.shop.materials[shop.material].group, shop.thickness, shop.stock.edge)
    full = sawing.chip_load_at_full_gullet(shop.thickness, gullet(shop))
    bounds = {"x": tuple(np.log([0.4, 1.3])), "y": tuple(np.log([6.0, min(50.0, full)]))}
    seen, band = [], [""]

    def merit(x, y):
        V = shop.reachable(star * float(np.exp(x)))
        if len(seen) % 3 == 0:
            band[0] = ""
        T, rate, band[0] = life(shop, V, float(np.exp(y)), minutes / runs, band[0])
        money = shop.shop.costs
        cost = costs.cost_per_area(
            rate, T, money["machine_and_labor_per_hour"], money["band_change_minutes"], shop.stock.price
        )
        seen.append((float(cost), float(shop.machine.indicated_speed(V)), shop.feed(V, float(np.exp(y)))))
        return -float(np.log(cost))

    search = BayesianOptimization(f=merit, pbounds=bounds, random_state=seed, verbose=0, allow_duplicate_points=True)
    search.maximize(init_points=3, n_iter=runs - 3)
    return min(seen)[1:]


def life(shop, V: float, h: float, minutes: float, band: str = ""):
    """Life [min] and rate [cm2/min] read off a run at true speed V and chip load h, and the band it was on."""
    feed, indicated = shop.feed(V, h), float(shop.machine.indicated_speed(V))
    each = float(sawing.cut_time(100.0, sawing.feed_rate(V, h, shop.stock.tooth_spacing)))
    before = len(shop.shop.cuts)
    band = shop.cut(band, indicated, feed, max(3, round(minutes / each)))
    log = shop.shop.cuts.iloc[before:]
    log = log[log["complete"]]
    t = log["cut_time"].cumsum().to_numpy(float)
    rate = float(shop.thickness * 100.0 / 100.0 / log["cut_time"].mean()) if len(log) else 1e-3
    if not shop.shop.bands[band].alive:
        return max(float(t[-1]) if len(t) else 1.0, 0.5), rate, ""
    signal = log["cut_time"] if shop.machine.feed == "force" else log["motor_power"]
    slope = np.polyfit(t, np.log(signal.to_numpy(float)), 1)[0] if len(t) > 2 else 0.0
    return float(np.clip(np.log1p(WORN) / max(slope, 1e-9), 5.0, LONGEST)), rate, band


def gullet(shop) -> float:
    """Gullet area of the stock [mm2]."""
    return shop.stock.gullet_area or float(sawing.gullet_area_estimate(shop.stock.tooth_spacing, shop.stock.tooth_form))
