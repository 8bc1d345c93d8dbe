"""Intervals when the truth is not the model: log life that bends, chips that break edges, bands in batches.

    python tests/benchmarks/off_model.py --shops 60

Each virtual shop (kinds bent_life and strong_chip, half each) runs 10 bands on mixed settings about the published
start, half of them to their end. The 80 % interval of the long-run cost per area, the band run to its end, is
held against the truth at the middle of what was tried and at a speed, or a chip load, 1.25 times its edge: as
far out as a recommendation ever goes.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
import pandas as pd
from bandtrial import sawing
from bandtrial.recommend.job import job_of
from bandtrial.recommend.longrun import evaluate
from bandtrial_lessons.shop import NoSettingError
from trial_shop import TRAVEL, TrialShop

BANDS, RUNS, SPEED, CHIP = 10, 12, 0.18, 0.30  # half-widths of what is tried, in logs of speed and chip load
BEYOND = 1.25


def mixed_log(shop, rng):
    """10 bands of RUNS runs each at random settings; a band is meant to use 0.3 to 1.8 of a usual life."""
    V0, F0 = shop.published_start()
    h0 = float(sawing.chip_load(V0, F0, shop.stock.tooth_spacing))
    life = float(shop.shop.long_run(V0, F0, shop.material, shop.thickness, machine=shop.machine_id).minutes)
    settings = []
    for _ in range(BANDS):
        band = shop.shop.new_band(machine=shop.machine_id)
        share = rng.uniform(0.3, 1.8)
        rows = []
        for _ in range(RUNS):
            V, h = V0 * np.exp(rng.uniform(-SPEED, SPEED)), h0 * np.exp(rng.uniform(-CHIP, CHIP))
            V = shop.reachable(V)
            F = shop.feed(V, h)
            pieces = max(1, round(share * life / RUNS / (TRAVEL / F)))
            rows.append(
                {
                    "band": band,
                    "band_speed": float(shop.machine.indicated_speed(V)),
                    "feed_rate": F,
                    "work_thickness": shop.thickness,
                    "cut_travel": TRAVEL,
                    "material": shop.material,
                    "pieces": pieces,
                }
            )
            settings.append((V, float(sawing.chip_load(V, F, shop.stock.tooth_spacing))))
        shop.shop.run(pd.DataFrame(rows))
    return np.array(settings)


def held(fit, study, shop, V, h):
    """Truth, and the 10, 50 and 90 % points of the fitted long-run cost, run to the end, at a setting."""
    job = job_of(study, shop.machine_id, shop.stock.id, shop.material, shop.thickness)
    cost = evaluate(fit, job, V, h).cost(job.prices)[:, 0, -1]
    F = float(sawing.feed_rate(V, h, shop.stock.tooth_spacing))
    truth = float(shop.shop.true_cost(V, F, shop.material, shop.thickness, machine=shop.machine_id))
    return truth, *np.quantile(cost, [0.1, 0.5, 0.9])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=60)
    args = parser.parse_args()
    results, seed, start = [], 0, time.perf_counter()
    while len(results) < args.shops:
        kind = ("bent_life", "strong_chip")[seed % 2]
        seed += 1
        try:
            shop = TrialShop(kind, 500 + seed)
        except NoSettingError:
            continue
        tried = mixed_log(shop, np.random.default_rng(seed))
        fit, study = shop.fit()
        middle = np.exp(np.log(tried).mean(axis=0))
        edge = tried.max(axis=0)
        faster = seed % 4 < 2
        outside = (shop.reachable(BEYOND * edge[0]), edge[1]) if faster else (middle[0], BEYOND * edge[1])
        results.append(
            (kind, held(fit, study, shop, *middle), held(fit, study, shop, *outside), fit.n_failed, fit.drawn.method)
        )
    print(
        f"{len(results)} shops, {np.mean([r[3] for r in results]):.1f} of {BANDS} bands worn out on average, "
        f"{sum(r[4] == 'tempered' for r in results)} by the slower sampler, {time.perf_counter() - start:.0f} s"
    )
    print(f"{'kind':<12} {'setting':<8} {'inside 80 %':>11} {'width':>6} {'bias of middle':>15}")
    for kind in ("bent_life", "strong_chip", "all"):
        for at, name in ((1, "tried"), (2, "outside")):
            rows = np.array([r[at] for r in results if kind in ("all", r[0])])
            truth, low, middle, high = rows.T
            print(
                f"{kind:<12} {name:<8} {100 * np.mean((low <= truth) & (truth <= high)):>9.0f} % "
                f"{np.median(np.log(high / low)):>6.2f} {np.median(np.log(middle / truth)):>+15.3f}"
            )


if __name__ == "__main__":
    main()
