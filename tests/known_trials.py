"""A known fit with what trials ask of one, and few cuts at a set force."""

import known_shop as shop
import numpy as np
import pandas as pd

JOB = ("saw1", "s8", "plate", 20.0)


def fit_with_bands(feed="rate", **kw):
    """A known fit with what a plan asks beside the recommendation: residuals, wear used and rates of bands."""
    fit = shop.fit(feed, **kw)
    rng = np.random.default_rng(8)
    n = fit.n_draws
    object.__setattr__(fit, "rates", 0.1 * rng.standard_normal((n, 3)))
    object.__setattr__(fit, "used", np.abs([1.0, 0.4, 0.1] + 0.05 * rng.standard_normal((n, 3))))
    signal = "chip_load" if feed == "force" else "motor_power"
    noise = np.exp(0.05 * rng.standard_normal(len(fit.data)))
    residuals = pd.DataFrame({"signal": signal, "observed": noise, "predicted": 1.0})
    object.__setattr__(fit, "residuals", residuals)
    object.__setattr__(fit, "signals", (signal,))
    fit.data["motor_power"] = 300.0
    return fit


def few_at_force(chips, force=(400.0, 500.0, 600.0), **kw):
    """A shop at a set force after as many first cuts as `chips` [um], all at one speed on one band that is still on."""
    data = shop.cuts(n=max(len(chips), 1), feed="force", speeds=(0.6, 0.6)).iloc[: len(chips)]
    data["band"], data["chip_load"], data["motor_power"] = "B1", chips, 300.0
    data["feed_force"] = np.array(force[: len(chips)])
    data["cut_time"] = 150.0 / (np.array(chips) * data["band_speed"] / (25.4 / shop.TPI))
    study = shop.study("force", ends=("in_service",), **kw)
    study.cuts = data
    return fit_with_bands("force", data=data), study
