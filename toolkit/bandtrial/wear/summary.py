"""A fit in tables: parameters beside their priors, wear used, residuals, diagnostics."""
from __future__ import annotations

import numpy as np
import pandas as pd

from .layout import prior
from .predict import growth
from .signals import NU

LEVEL = 0.8                       # of every interval shown
ALIASES = ("speed_exponent", "taylor_n", "chip_load_exponent", "thickness_exponent", "weibull_shape", "log_scale")
T_SD = float(np.sqrt(NU / (NU - 2)))


def parameters(fit):
    """One row a parameter: estimate, standard_error, low, high (80 %), unit, moved, prior, source.

    With priors: posterior median, sd and interval. Without: maximum likelihood, Wald standard error and
    interval. Parameters that the data did not vary have no estimate.
    """
    names, lay, theta = fit.layout.names, fit.layout, fit.theta
    records = {}
    for i, p in enumerate(lay.priors):
        centre = None if fit.pooled else fit.mode.theta[i]
        records[p.name] = _record(p, theta[:, i], centre, fit.pooled)
    if "speed_exponent" in names:
        i = names.index("speed_exponent")
        m = lay.priors[i].value(theta[:, i])
        n_hat = None if fit.pooled else 1 / fit.mode.theta[i]
        records["taylor_n"] = _derived(records["speed_exponent"], 1 / m, n_hat, lay.priors[i])
    for name in ALIASES:
        records.setdefault(name, dict(estimate=np.nan, standard_error=np.nan, low=np.nan, high=np.nan, unit="",
                                      moved=False, prior="", source="not varied in these cuts, or too few bands ended"))
    if fit.pooled:
        for name, value in (("break_cycles", fit.break_scale), ("break_shape", fit.break_shape)):
            p = prior(name, positive=True)
            records[name] = _record(p, np.log(value), None, True)
    table = pd.DataFrame.from_dict(records, orient="index")
    order = list(ALIASES) + [n for n in table.index if n not in ALIASES]
    return table.loc[order]


def _record(p, theta, centre, pooled):
    value = p.value(theta)
    if pooled:
        low, high = np.quantile(value, [0.5 - LEVEL / 2, 0.5 + LEVEL / 2])
        estimate, error = np.median(value), np.std(value)
    else:
        estimate, error = p.value(centre), np.std(theta) * (p.value(centre) if p.positive else 1.0)
        low, high = p.value(centre - 1.2815515655 * np.std(theta)), p.value(centre + 1.2815515655 * np.std(theta))
    a, b, c = p.interval(LEVEL)
    return dict(estimate=float(estimate), standard_error=float(error), low=float(low), high=float(high), unit=p.unit,
                moved=moved(p, theta) if pooled else True, prior=f"{b:.3g} ({a:.3g} to {c:.3g})" if pooled else "",
                source=p.source if pooled else "")


def _derived(m, n, n_hat, p):
    low, high = sorted((1 / m["low"], 1 / m["high"])) if m["low"] * m["high"] > 0 else (np.nan, np.nan)
    a, b, c = sorted(1 / np.array(p.interval(LEVEL)))
    estimate = float(np.median(n)) if n_hat is None else float(n_hat)
    error = float(np.std(n)) if n_hat is None else float(m["standard_error"] * n_hat**2)
    return dict(m, estimate=estimate, standard_error=error, low=float(low), high=float(high),
                prior=f"{b:.3g} ({a:.3g} to {c:.3g})" if n_hat is None else "")


def moved(p, theta):
    """True when the data moved a parameter from its prior: its sd fell below 0.8 of the prior's, or its mean
    shifted by more than 0.6 of it."""
    return bool(np.std(theta) < 0.8 * p.sd or abs(np.mean(theta) - p.mean) > 0.6 * p.sd)


def left_out(cuts, table):
    """The cuts that are not fitted, each with its reason, and those that only wear the band."""
    out = cuts[~cuts["cut"].isin(table["cut"])].copy()
    reason = np.where(out["operation"] != "sawing", "not a sawing cut: " + out["operation"].astype(str),
                      "no contact time or chip load can be worked out")
    out["reason"] = reason
    marked = cuts[(cuts["exclude"].fillna("").astype(str).str.strip() != "") & cuts["cut"].isin(table["cut"])].copy()
    marked["reason"] = "excluded, still wears the band: " + marked["exclude"].astype(str)
    return pd.concat([out, marked])[["cut", "band", "machine", "material", "reason"]].reset_index(drop=True)


def band_rate_draws(fit):
    """Each band's own log wear-rate factor (n_draws, n_bands); zero without priors."""
    if not fit.pooled:
        return np.zeros((fit.n_draws, fit.n_bands))
    if fit.drawn.method != "normal":
        return fit.drawn.beside[:, :, 0]
    return _about_mode(fit, fit.mode.at.w[0], fit.mode.at.dw)


def wear_used_draws(fit, block=60_000):
    """Wear used by each band (n_draws, n_bands): of each draw, or to first order about the mode of a long log."""
    if fit.pooled and fit.drawn.method == "normal":
        return np.exp(_about_mode(fit, fit.mode.at.log_E, fit.mode.at.dlog_E))
    rows, n = fit.rows, fit.n_draws
    size = max(1, block // len(rows.contact))
    log_T = np.concatenate([fit.joint.base(fit.theta[i:i + size]).log_T for i in range(0, n, size)])
    return np.exp(np.minimum(log_T + band_rate_draws(fit), 50.0))


def _about_mode(fit, value, slope):
    """Draws (n_draws, n_bands) of a band's quantity: its value at the mode (m,), its slopes (m, d), the sd of w."""
    own = np.random.default_rng([fit.seed, 4]).standard_normal((fit.n_draws, len(value)), dtype=np.float32)
    return value + (fit.theta - fit.mode.theta) @ slope.T + own * fit.mode.at.w_sd


def wear_used(fit, level=LEVEL):
    low, median, high = np.quantile(fit.wear_used_draws, [0.5 - level / 2, 0.5, 0.5 + level / 2], axis=0)
    return pd.DataFrame({"band": fit.rows.bands, "low": low, "median": median, "high": high})


def residuals(fit, most=200):
    """Observed and predicted signals (medians over at most `most` draws), z in sd of the noise."""
    most = max(1, min(most, fit.n_draws, 40_000_000 // max(len(fit.rows.contact), 1)))
    pick = np.linspace(0, fit.n_draws - 1, most).astype(int)
    theta, lay = fit.theta[pick], fit.layout
    base = fit.joint.base(theta)
    effects = fit.drawn.beside[pick] if len(fit.drawn.beside) > 1 else fit.drawn.beside
    parts = []
    for i, (s, block) in enumerate(zip(fit.rows.signals, lay.blocks, strict=True)):
        E = base.E[i] * (np.exp(effects[:, s.bands, 0]) if fit.pooled else 1.0)
        mean = base.mean[i] + np.log(growth(theta, lay, block, E))
        if fit.pooled:
            mean = mean + effects[:, s.bands, 1 + i]
        sigma = np.median(np.exp(theta[:, block.noise]))
        cut = fit.data["cut"].to_numpy()[s.rows]
        centre = np.median(mean, axis=0)
        parts.append(pd.DataFrame({
            "cut": cut, "band": np.array(fit.rows.bands, object)[s.bands], "signal": s.name,
            "wear_used": np.median(E, axis=0), "observed": np.exp(s.y), "predicted": np.exp(centre),
            "z": (s.y - centre) / (sigma * T_SD)}))
    columns = ["cut", "band", "signal", "wear_used", "observed", "predicted", "z"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def diagnostics(fit):
    """How the answer was found and how far it can be trusted, as plain values."""
    d = fit.drawn
    return {"method": "maximum likelihood" if not fit.pooled else d.method, "converged": bool(fit.mode.converged),
            "steps": fit.mode.steps, "draws": fit.n_draws, "pareto_k": d.k_hat, "effective_draws": d.effective,
            "densities_computed": d.tried, "interval": LEVEL, "seed": fit.seed,
            "broken": fit.n_broken, "excluded": len(fit.excluded)}


def to_json(fit):
    table = fit.parameters[["estimate", "standard_error", "low", "high", "unit", "moved"]]
    return {"parameters": {name: row.to_dict() for name, row in table.iterrows()},
            "log_likelihood": fit.log_likelihood, "n_cuts": fit.n_cuts, "n_bands": fit.n_bands,
            "n_failed": fit.n_failed, "n_censored": fit.n_censored, "diagnostics": diagnostics(fit)}
