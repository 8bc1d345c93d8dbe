"""Time and memory of the whole fit as the log grows.

    python tests/benchmarks/large_fit.py --bands 20 200 2000 20000

50 cuts a band, two signals, four materials on two machines, half the bands worn out. Each size runs in a
process of its own, on one core; memory is the process's peak less that of its data.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import time
from dataclasses import replace

import numpy as np
from bandtrial.wear.calibration import with_readings
from bandtrial.wear.design import clock_design, share_design, signal_design
from bandtrial.wear.fitting import fit_rows
from bandtrial.wear.layout import build
from bandtrial.wear.rows import Rows, SignalRows
from bandtrial.wear.signals import BY_NAME
from bandtrial.wear.terms import WEAR_END

CUTS = 50
TRUE = {"log_scale": 3.0, "speed_exponent": np.log(6.0), "chip_load_exponent": 1.1, "weibull_shape": np.log(3.0)}


def large_shop(n_bands, seed=1):
    """Rows of n_bands bands with CUTS cuts each at most, and the parameters that made them."""
    rng = np.random.default_rng(seed)
    band, n = np.repeat(np.arange(n_bands), CUTS), n_bands * CUTS
    job = rng.integers(0, 4, n)
    columns = {
        "band_speed": 60 * np.exp(rng.normal(0, 0.18, n)),
        "published_band_speed": np.full(n, 60.0),
        "chip_load": 10 * np.exp(rng.normal(0, 0.3, n)),
        "work_thickness": 25 * np.exp(rng.normal(0, 0.3, n)),
        "material": np.array(["m0", "m1", "m2", "m3"], object)[job],
        "machine": np.array(["saw1", "saw2"], object)[(band % 2)],
        "stock": np.full(n, "s8", object),
        "coolant": np.full(n, "flood", object),
        "edge": np.full(n, "bimetal", object),
        "feed_mode": np.full(n, "rate", object),
    }
    levels = {
        "material": ["m0", "m1", "m2", "m3"],
        "machine": ["saw1", "saw2"],
        "stock": ["s8"],
        "coolant": [],
        "edge": ["bimetal"],
    }
    X = clock_design(columns, levels, ["bimetal"])
    heads = np.arange(0, n, CUTS)
    blocks = []
    for name in ("motor_power", "deviation"):
        S = signal_design(BY_NAME[name], columns, levels)
        blocks.append(
            SignalRows(
                name,
                np.arange(n),
                np.zeros(n),
                S,
                band,
                heads,
                np.arange(n_bands),
                share_design(BY_NAME[name], columns),
            )
        )
    rows = Rows(
        np.ones(n),
        np.full(n, 0.1),
        X,
        band,
        heads,
        np.zeros(n_bands, bool),
        tuple(map(str, range(n_bands))),
        levels,
        tuple(blocks),
    )
    layout = build(rows)
    theta = layout.mean.copy()
    for name, value in TRUE.items():
        theta[layout.names.index(name)] = value
    return simulate(rows, layout, theta, rng), layout, theta


def simulate(rows, layout, theta, rng):
    """The rows with ends and signals drawn at theta; a band's cuts after its death are given no time to wear."""
    m, K = len(rows.heads), WEAR_END.shape(theta[layout.shape])[0]
    w = np.exp(theta[layout.band_scatter]) * rng.standard_normal(m)
    rate = np.exp(-rows.X.times(layout.coefficients(theta[:, None]))[:, 0])
    wanted = rng.uniform(0.2, 1.8, m)[rows.band] / CUTS * rng.uniform(0.5, 1.5, len(rows.band))
    E = rows.running(wanted)
    life = rng.weibull(K, m)[rows.band]
    step = np.clip(life - (E - wanted), 1e-9, wanted)
    worn = rows.totals(wanted) > life[rows.last]
    contact = step / rate * np.exp(-w)[rows.band]
    rows = replace(rows, contact=contact, worn=worn)
    return with_readings(rows, layout, theta, w, rng)


def one(n_bands):
    rows, _, theta = large_shop(n_bands)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    start = time.perf_counter()
    fitted = fit_rows(rows)
    layout, mode, drawn = fitted.layout, fitted.mode, fitted.drawn
    took = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    i = layout.names.index("speed_exponent")
    z = (drawn.theta[:, i].mean() - theta[i]) / drawn.theta[:, i].std()
    print(
        f"{n_bands:>6} {len(rows.contact):>8} {took:>8.2f} {peak / 1024:>8.0f} {(peak - before) / 1024:>8.0f} "
        f"{mode.steps:>5} {drawn.method:<11} {z:>6.2f} {np.exp(theta[i]):.2f} "
        f"{np.exp(drawn.theta[:, i]).mean():.3f} +- {np.exp(drawn.theta[:, i]).std():.3f}"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--bands", type=int, nargs="+", default=[20, 200, 2000, 20000])
    args = parser.parse_args()
    if len(args.bands) == 1:
        return one(args.bands[0])
    print(
        f"{'bands':>6} {'cuts':>8} {'seconds':>8} {'peak MB':>8} {'more MB':>8} {'steps':>5} {'draws':<11} "
        f"{'z':>6} true and fitted speed exponent"
    )
    env = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    for n in args.bands:
        subprocess.run([sys.executable, __file__, "--bands", str(n)], check=True, env=env)
    return None


if __name__ == "__main__":
    main()
