"""Time of a full posterior: shops of 10 bands with 20 cuts and two signals, 2,000 draws, warm.

    OPENBLAS_NUM_THREADS=1 python tests/benchmarks/posterior_speed.py [--shops 20]

Shops are drawn from the model's own priors (prior_shops.py); a band that dies early has fewer cuts, and shops with
fewer than 150 cuts are left out. Shown for each: cuts, how the draws were made, densities tried, the
wall clock and processor seconds of the better of two runs. The last line has the medians; the target is 0.15 s.
"""

from __future__ import annotations

import argparse
import time

import numpy as np
from bandtrial.wear.fitting import fit_rows
from prior_shops import shop


def timed(rows):
    """(seconds by the clock, of the processor, draws) of the better of two runs."""
    runs = []
    for _ in range(2):
        wall, cpu = time.perf_counter(), time.process_time()
        drawn = fit_rows(rows).drawn
        runs.append((time.perf_counter() - wall, time.process_time() - cpu, drawn))
    return min(runs, key=lambda r: r[0])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=20)
    args = parser.parse_args()
    fit_rows(shop(0)[0])
    done, seed = [], 0
    print(f"{'seed':>4} {'cuts':>5} {'draws':<11} {'slopes':>6} {'effective':>9} {'wall s':>7} {'cpu s':>7}")
    while len(done) < args.shops:
        rows, *_ = shop(seed, n_bands=10, cuts=(20, 21))
        if len(rows.contact) >= 150:
            wall, cpu, d = timed(rows)
            done.append((wall, cpu))
            print(
                f"{seed:>4} {len(rows.contact):>5} {d.method:<11} {d.slopes:>6} {d.effective:>9.0f} "
                f"{wall:>7.3f} {cpu:>7.3f}"
            )
        seed += 1
    wall, cpu = np.median(done, axis=0)
    print(f"median of {len(done)} shops: {wall:.3f} s by the clock, {cpu:.3f} s of the processor")


if __name__ == "__main__":
    main()
