"""Calibration: shops drawn from the priors, fitted, and how often the intervals hold the truth.

    python tests/benchmarks/calibration.py --shops 1000 --jobs 2 [--feed force]

Coverage of 50, 80 and 90 % intervals and rank histograms (simulation-based calibration: Talts, Betancourt,
Simpson, Vehtari, Gelman 2018, arXiv 1804.06788) for taylor_n, the chip-load exponent and the log life at a
setting nobody tried; the ranks' flatness is judged by a chi-square test on 20 bins.
"""

from __future__ import annotations

import argparse
import time
from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np
from bandtrial.wear.fitting import fit_rows
from bandtrial.wear.terms import BENDS
from prior_shops import shop
from scipy.stats import chisquare

NEW = {"x": 0.25, "y": 0.3, "z": -0.2}  # log ratios of speed, chip load, thickness of the new setting
LEVELS = (0.5, 0.8, 0.9)
QUANTITIES = ("taylor_n", "chip_load_exponent", "log life at a new setting")


def quantities(theta, layout):
    """The judged quantities (3, n) of parameter vectors (n, d)."""
    at = {p.name: i for i, p in enumerate(layout.priors)}
    m = np.exp(theta[:, at["speed_exponent"]])
    a, b = (theta[:, at[k]] for k in ("chip_load_exponent", "thickness_exponent"))
    life = theta[:, at["log_scale"]] + theta[:, at["material[plate]"]] - m * NEW["x"] - a * NEW["y"] - b * NEW["z"]
    for bend in BENDS:
        life = life - theta[:, at[bend.name]] * bend.column(np.array([NEW["x"]]), np.array([NEW["y"]]))
    return np.stack([1 / m, a, life])


def one(seed, feed="rate"):
    rows, layout, truth, _ = shop(seed, feed=feed)
    start = time.perf_counter()
    drawn = fit_rows(rows, draws=1999, seed=seed).drawn
    took = time.perf_counter() - start
    rank = (quantities(drawn.theta, layout) < quantities(truth[None], layout)).sum(axis=1)
    return seed, rank, drawn.good, drawn.drift, drawn.effective, took, len(rows.contact), int(rows.worn.sum())


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=1000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--feed", default="rate", choices=["rate", "force"], help="what the shops' machine is set to")
    args = parser.parse_args()
    seeds = range(args.first, args.first + args.shops)
    if args.jobs == 1:
        results = [one(s, args.feed) for s in seeds]
    else:
        with ProcessPoolExecutor(args.jobs) as pool:
            results = list(pool.map(partial(one, feed=args.feed), seeds, chunksize=5))
    ranks = np.array([r[1] for r in results])
    share = (ranks + 0.5) / 2000
    good = [r[2] for r in results]
    print(
        f"{len(results)} shops, draws of {sum(good)} good; "
        f"median time {np.median([r[5] for r in results]):.2f} s; "
        f"median effective {np.median([r[4] for r in results]):.0f}"
    )
    print(f"{'quantity':<28}" + "".join(f"{int(100 * lv):>7} %" for lv in LEVELS) + "   flat: p")
    for i, name in enumerate(QUANTITIES):
        covered = [np.mean(np.abs(share[:, i] - 0.5) < lv / 2) for lv in LEVELS]
        counts = np.histogram(share[:, i], bins=20, range=(0, 1))[0]
        print(f"{name:<28}" + "".join(f"{100 * c:>8.1f} " for c in covered) + f"   {chisquare(counts).pvalue:.3f}")


if __name__ == "__main__":
    main()
