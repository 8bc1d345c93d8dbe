"""Plain maximum likelihood against outside fitters: the same answers, and how much faster.

    python tests/benchmarks/outside_fitters.py        needs lifelines and surpyval beside bandtrial

One setting a band: lifelines' WeibullAFTFitter. Mixed settings a band: surpyval's WeibullAFT.fit_tvc (time-
varying covariates on the accumulated age). Log-likelihoods must agree to 1e-6 relative and estimates to 1e-3
standard errors. The ratios of times are of best runs, in one process on one core.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # one core, for all of them

import time
import warnings

import numpy as np
from bandtrial.wear.design import Design
from bandtrial.wear.fitting import fit_rows
from bandtrial.wear.rows import Rows

TRUE = {"log_scale": 3.0, "speed_exponent": 6.0, "chip_load_exponent": 1.2, "shape": 3.0}


def bands(n, cuts, seed):
    """Rows of n bands with `cuts` settings each (log speed, log chip load), some worn, some still sound."""
    rng = np.random.default_rng(seed)
    band = np.repeat(np.arange(n), cuts)
    X = np.column_stack([np.ones(n * cuts), -rng.normal(0, 0.2, n * cuts), -rng.normal(0, 0.3, n * cuts)])
    tau = np.exp(X @ [TRUE["log_scale"], TRUE["speed_exponent"], TRUE["chip_load_exponent"]])
    life = rng.weibull(TRUE["shape"], n)
    contact = rng.uniform(0.3, 1.8, n)[band] * tau / cuts * rng.uniform(0.5, 1.5, n * cuts)
    before = np.concatenate(
        [np.cumsum(c / t) - c / t for c, t in zip(contact.reshape(n, cuts), tau.reshape(n, cuts), strict=True)]
    )
    alive = before < life[band]
    step = contact / tau
    dies = alive & (before + step >= life[band])
    contact = np.where(dies, (life[band] - before) * tau, contact)[alive]
    worn = np.zeros(n, bool)
    worn[band[dies]] = True
    band = band[alive]
    heads = np.flatnonzero(np.diff(band, prepend=-1))
    return Rows(
        contact,
        np.full(len(band), 0.5),
        Design(X[alive], ("log_scale", "speed_exponent", "chip_load_exponent")),
        band,
        heads,
        worn,
        tuple(map(str, range(n))),
        {"material": ["m"], "machine": ["s"], "stock": ["b"], "coolant": [], "edge": ["bimetal"]},
    )


def ours(rows):
    """Estimates on the log-linear scale, their standard errors, log-likelihood."""
    mode = fit_rows(rows, priors=False, draws=0).mode
    return mode.theta, np.sqrt(np.diag(np.linalg.inv(mode.precision))), mode.merit


def lifelines_fit(rows):
    import pandas as pd
    from lifelines import WeibullAFTFitter

    frame = pd.DataFrame({"x": rows.X.core[:, 1], "y": rows.X.core[:, 2], "t": rows.contact, "e": rows.worn})
    fitter = WeibullAFTFitter().fit(frame, "t", "e")
    p = fitter.params_
    theta = np.array([p["lambda_", "Intercept"], p["lambda_", "x"], p["lambda_", "y"], p["rho_", "Intercept"]])
    return theta, None, fitter.log_likelihood_


def surpyval_fit(rows):
    from surpyval import WeibullAFT

    end = rows.running(rows.contact)
    status = np.ones(len(end), int)
    status[rows.last[rows.worn]] = 0
    model = WeibullAFT.fit_tvc(rows.band, end - rows.contact, end, status, rows.X.core[:, 1:])
    alpha, beta, *slopes = model.params
    return np.array([np.log(alpha), *-np.array(slopes), np.log(beta)]), None, -model.neg_ll()


def best_time(function, rows, seconds=2.0):
    times = []
    stop = time.perf_counter() + seconds
    while time.perf_counter() < stop or len(times) < 2:
        start = time.perf_counter()
        function(rows)
        times.append(time.perf_counter() - start)
    return min(times)


def main():
    warnings.simplefilter("ignore")
    print(
        f"{'bands':>5} {'cuts':>5} {'against':<12} {'log-likelihood':>15} {'rel. diff':>10} {'worst se':>9} "
        f"{'ours ms':>8} {'theirs ms':>9} {'ratio':>6}"
    )
    for n in (20, 100):
        for cuts, name, other in ((1, "lifelines", lifelines_fit), (12, "surpyval", surpyval_fit)):
            rows = bands(n, cuts, seed=n)
            theta, error, log_l = ours(rows)
            their, _, their_log_l = other(rows)
            mine, theirs = best_time(ours, rows), best_time(other, rows)
            print(
                f"{n:>5} {cuts:>5} {name:<12} {log_l:>15.6f} {abs(log_l / their_log_l - 1):>10.1e} "
                f"{np.max(np.abs(theta - their) / error):>9.1e} {1e3 * mine:>8.2f} {1e3 * theirs:>9.1f} "
                f"{theirs / mine:>6.0f}"
            )


if __name__ == "__main__":
    main()
