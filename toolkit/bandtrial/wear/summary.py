"""A fit in tables: parameters beside their priors, wear used, residuals, diagnostics."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Any, Concatenate, ParamSpec, TypeVar
from weakref import WeakKeyDictionary

import numpy as np
import pandas as pd

from .density import Density
from .layout import prior
from .terms import LEVEL, NU

if TYPE_CHECKING:
    from ..inference import Prior
    from .fit import Fit
    from .rows import Rows

P = ParamSpec("P")
R = TypeVar("R")

ALIASES = ("speed_exponent", "taylor_n", "chip_load_exponent", "thickness_exponent", "weibull_shape", "log_scale")
KEPT = 8_000_000  # draws times bands up to which the wear used is kept, 64 MB
MOST_DRAWS = 200  # that residuals are medians of
T_SD = float(np.sqrt(NU / (NU - 2)))

NOT_VARIED = {**dict.fromkeys(("estimate", "standard_error", "low", "high"), np.nan), "unit": "", "moved": False,
              "prior": "", "source": "not varied in these cuts, or too few bands ended"}  # fmt: skip

_kept: WeakKeyDictionary[Fit, dict[Any, Any]] = WeakKeyDictionary()


def once(worked_out: Callable[Concatenate[Fit, P], R]) -> Callable[Concatenate[Fit, P], R]:
    """A function of a fit, which never changes: worked out once, then kept as long as the fit is."""

    @wraps(worked_out)
    def kept(fit: Fit, /, *more: P.args, **named: P.kwargs) -> R:
        own, key = _kept.setdefault(fit, {}), (worked_out, *more, *named.items())
        if key not in own:
            own[key] = worked_out(fit, *more, **named)
        found: R = own[key]
        return found

    return kept


def parameters(fit: Fit) -> pd.DataFrame:
    """One row a parameter: estimate, standard_error, low, high (80 %), unit, moved, prior, source.

    With priors: posterior median, sd and interval. Without: maximum likelihood, Wald standard error and
    interval. Parameters that the data did not vary have no estimate.
    """
    names, lay, theta = fit.layout.names, fit.layout, fit.theta
    records = {}
    for i, p in enumerate(lay.priors):
        centre = None if fit.pooled else fit.mode.theta[i]
        column = np.log(fit.weibull_shape) if fit.pooled and i == lay.shape else theta[:, i]
        records[p.name] = _record(p, column, centre, fit.pooled)
    if "speed_exponent" in names:
        i = names.index("speed_exponent")
        m = lay.priors[i].value(theta[:, i])
        n_hat = None if fit.pooled else 1 / fit.mode.theta[i]
        records["taylor_n"] = _derived(records["speed_exponent"], 1 / m, n_hat, lay.priors[i])
    for name in ALIASES:
        records.setdefault(name, NOT_VARIED)
    if fit.pooled:
        for name, value in (("break_cycles", fit.break_scale), ("break_shape", fit.break_shape)):
            p = prior(name, positive=True)
            records[name] = _record(p, np.log(value), None, True)
    table = pd.DataFrame.from_dict(records, orient="index")
    order = list(ALIASES) + [n for n in table.index if n not in ALIASES]
    return table.loc[order]


def told(low: float, middle: float, high: float) -> str:
    """A prior in three digits each, without powers of ten that a shop would have to work out.

    >>> told(16600.0, 1e5, 601000.0)
    '100000 (16600 to 601000)'
    """
    a, b, c = (f"{float(f'{x:.3g}'):.0f}" if 1000 <= abs(x) < 1e9 else f"{x:.3g}" for x in (low, middle, high))
    return f"{b} ({a} to {c})"


def _record(p: Prior, theta: np.ndarray, centre: Any, pooled: bool) -> dict[str, Any]:
    value = p.value(theta)
    if pooled:
        low, high = np.quantile(value, [0.5 - LEVEL / 2, 0.5 + LEVEL / 2])
        estimate, error = np.median(value), np.std(value)
    else:
        estimate, error = p.value(centre), np.std(theta) * (p.value(centre) if p.positive else 1.0)
        low, high = p.value(centre - 1.2815515655 * np.std(theta)), p.value(centre + 1.2815515655 * np.std(theta))
    a, b, c = p.interval(LEVEL)
    return dict(
        estimate=float(estimate), standard_error=float(error), low=float(low), high=float(high), unit=p.unit,
        moved=moved(p, theta) if pooled else True, prior=told(a, b, c) if pooled else "",
        source=p.source if pooled else "",
    )  # fmt: skip


def _derived(m: dict[str, Any], n: np.ndarray, n_hat: float | None, p: Prior) -> dict[str, Any]:
    low, high = sorted((1 / m["low"], 1 / m["high"])) if m["low"] * m["high"] > 0 else (np.nan, np.nan)
    a, b, c = sorted(1 / np.array(p.interval(LEVEL)))
    estimate = float(np.median(n)) if n_hat is None else float(n_hat)
    error = float(np.std(n)) if n_hat is None else float(m["standard_error"] * n_hat**2)
    believed = told(a, b, c) if n_hat is None else ""
    return m | dict(estimate=estimate, standard_error=error, low=float(low), high=float(high), prior=believed)


def moved(p: Prior, theta: np.ndarray) -> bool:
    """True when the data moved a parameter from its prior: its sd fell below 0.8 of the prior's, or its mean
    shifted by more than 0.6 of it."""
    return bool(np.std(theta) < 0.8 * p.sd or abs(np.mean(theta) - p.mean) > 0.6 * p.sd)


def left_out(cuts: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    """The cuts that are not fitted, each with its reason, and those that only wear the band."""
    out = cuts[~cuts["cut"].isin(table["cut"])].copy()
    other = "not a sawing cut: " + out["operation"].astype(str)
    out["reason"] = other.where(out["operation"] != "sawing", "no contact time or chip load can be worked out")
    marked = cuts[(cuts["exclude"] != "") & cuts["cut"].isin(table["cut"])].copy()
    marked["reason"] = "excluded, still wears the band: " + marked["exclude"].astype(str)
    return pd.concat([out, marked])[["cut", "band", "machine", "material", "reason"]].reset_index(drop=True)


def band_rate_draws(fit: Fit, bands: Any = slice(None)) -> np.ndarray:
    """Own log wear-rate factor of the bands (numbers, in order; all if not given), (n_draws, bands); zero without
    priors."""
    if not fit.pooled:
        return np.zeros((fit.n_draws, fit.n_bands))[:, bands]
    if fit.drawn.method != "normal":
        return np.asarray(fit.drawn.beside[:, bands, 0])
    top: Any = fit.mode
    return _about_top(fit, top.w, top.curvature.eliminated.dw, bands)


def wear_used_draws(fit: Fit, bands: Any = slice(None)) -> np.ndarray:
    """Wear used by bands (n_draws, bands): of each draw, or to first order about the mode of a long log."""
    if fit.n_draws * fit.n_bands <= KEPT:
        return np.asarray(_wear_used_of_all(fit)[:, bands])
    return _wear_used_draws(fit, bands)


@once
def _wear_used_of_all(fit: Fit) -> np.ndarray:
    return _wear_used_draws(fit, slice(None))


AT_ONCE = 60_000  # cuts times draws worked on at once


def _wear_used_draws(fit: Fit, bands: Any) -> np.ndarray:
    if fit.pooled and fit.drawn.method == "normal":
        top: Any = fit.mode
        c = top.curvature
        out = _about_top(fit, c.log_E, c.by_log_E + c.eliminated.dw, bands)
        return np.asarray(np.exp(out, out=out))
    density, n = fit.density, fit.n_draws
    if not isinstance(bands, slice):
        density = Density(fit.rows.of_bands(np.asarray(bands)), fit.layout)
    size = max(1, AT_ONCE // len(density.rows.contact))
    log_T = np.concatenate([np.log(density.exposure(fit.theta[i : i + size].T).total).T for i in range(0, n, size)])
    return np.asarray(np.exp(np.minimum(log_T + band_rate_draws(fit, bands), 50.0)))


def _about_top(fit: Fit, value: np.ndarray, slope: np.ndarray, bands: Any) -> np.ndarray:
    """Draws (n_draws, bands) of a band's quantity: its value at the top (m,), its slopes (m, d), the sd of w."""
    own = np.random.default_rng([fit.seed, 4]).standard_normal((fit.n_draws, len(value)), dtype=np.float32)[:, bands]
    top: Any = fit.mode
    out: np.ndarray = (fit.theta - top.theta) @ slope[bands].T
    out += value[bands]
    out += own * (1 / np.sqrt(top.curvature.eliminated.schur[bands])).astype(np.float32)
    return out


@once
def band_rates(fit: Fit) -> np.ndarray:
    """Median own log wear-rate factor of each band (m,)."""
    return _over_draws(lambda draws: np.median(draws, axis=0), band_rate_draws(fit))


@once
def wear_used(fit: Fit, level: float = LEVEL) -> pd.DataFrame:
    """Wear used of each band when last seen [-]: a row a band, with its median and interval."""
    low, median, high = _over_draws(
        lambda draws: np.quantile(draws, [0.5 - level / 2, 0.5, 0.5 + level / 2], axis=0), wear_used_draws(fit)
    )
    return pd.DataFrame({"band": fit.rows.bands, "low": low, "median": median, "high": high})


def _over_draws(summed: Callable[[np.ndarray], np.ndarray], draws: np.ndarray) -> np.ndarray:
    """`summed` of draws (n_draws, m), which work on a copy, for 500 columns at a time."""
    return np.concatenate([summed(draws[:, i : i + 500]) for i in range(0, draws.shape[1], 500)], axis=-1)


@once
def residuals(fit: Fit) -> pd.DataFrame:
    """Observed and predicted signals (medians over at most MOST_DRAWS draws), z in sd of the noise."""
    n = len(fit.rows.contact)
    most = max(1, min(MOST_DRAWS, fit.n_draws, 40_000_000 // max(n, 1)))
    pick = np.linspace(0, fit.n_draws - 1, most).astype(int)
    beside = fit.drawn.beside[pick] if len(fit.drawn.beside) > 1 else fit.drawn.beside
    parts = []
    for keep in _groups_of_bands(fit.rows):
        density = fit.density if len(keep) == fit.n_bands else Density(fit.rows.of_bands(keep), fit.layout)
        cut = fit.data["cut"].to_numpy()[fit.rows.heads[keep[0]] :]
        parts.append(_residuals(fit, density, cut, fit.theta[pick], beside[:, keep]))
    by_signal = [table for tables in zip(*parts, strict=True) for table in tables if len(table)]
    columns = ["cut", "band", "signal", "wear_used", "observed", "predicted", "z"]
    return pd.concat(by_signal, ignore_index=True) if by_signal else pd.DataFrame(columns=columns)


def _residuals(
    fit: Fit, density: Density, cut: np.ndarray, theta: np.ndarray, effects: np.ndarray
) -> list[pd.DataFrame]:
    """A table for each signal of some bands, which begin at `cut`, their effects (n or 1, bands, 1 + S)."""
    tables, theta = [], theta.T
    w = np.broadcast_to(effects[:, :, 0].T, (effects.shape[1], theta.shape[1]))
    for i, s in enumerate(density.rows.signals):
        g = np.broadcast_to(effects[:, :, 1 + i].T, w.shape)
        mean, log_E = density.at_readings(i, theta, w, g)
        sigma = s.scale(np.median(np.exp(theta[fit.layout.blocks[i].noise])))
        centre = np.median(mean, axis=1)
        tables.append(pd.DataFrame({
            "cut": cut[s.rows], "band": np.array(density.rows.bands, object)[s.bands], "signal": s.name,
            "wear_used": np.exp(np.median(log_E, axis=1)), "observed": np.exp(s.y), "predicted": np.exp(centre),
            "z": (s.y - centre) / (sigma * T_SD),
        }))  # fmt: skip
    return tables


def _groups_of_bands(rows: Rows, most: int = 20_000) -> list[np.ndarray]:
    """Bands (numbers, in order) in groups of about `most` cuts: what is worked out for each cut and draw fits."""
    group = rows.heads // most if len(rows.contact) > 2 * most else np.zeros(len(rows.heads), int)
    return np.split(np.arange(len(group)), np.flatnonzero(np.diff(group)) + 1)


def diagnostics(fit: Fit) -> dict[str, Any]:
    """How the answer was found and how far it can be trusted, as plain values."""
    d = fit.drawn
    return {
        "method": "maximum likelihood" if not fit.pooled else d.method,
        "converged": bool(fit.mode.converged),
        "steps": fit.mode.steps,
        "draws": fit.n_draws,
        "effective_draws": d.effective,
        "drift": d.drift,
        "densities_computed": d.slopes,
        "grade": fit.trust.grade,
        "interval": LEVEL,
        "seed": fit.seed,
        "broken": fit.n_broken,
        "excluded": len(fit.excluded),
    }


def to_json(fit: Fit) -> dict[str, Any]:
    """The fit as `fit --json` prints it."""
    table = fit.parameters[["estimate", "standard_error", "low", "high", "unit", "moved"]]
    return {
        "parameters": {name: row.to_dict() for name, row in table.iterrows()},
        "log_likelihood": fit.log_likelihood,
        "n_cuts": fit.n_cuts,
        "n_bands": fit.n_bands,
        "n_failed": fit.n_failed,
        "n_censored": fit.n_censored,
        "diagnostics": diagnostics(fit),
    }


def draws(fit: Fit) -> pd.DataFrame:
    """Table of the draws (n_draws, parameters) on the scale that people use."""
    columns = {p.name: p.value(fit.theta[:, i]) for i, p in enumerate(fit.layout.priors)}
    columns["weibull_shape"] = fit.weibull_shape
    if "speed_exponent" in columns:
        columns["taylor_n"] = 1 / columns["speed_exponent"]
    if fit.pooled:
        columns |= {"break_cycles": fit.break_scale, "break_shape": fit.break_shape}
    return pd.DataFrame(columns)


def inference_data(fit: Fit) -> Any:
    """`Fit.to_inference_data`."""
    try:
        import arviz
    except ImportError:
        raise ImportError("The draws go to ArviZ, which is not installed: pip install 'bandtrial[arviz]'.") from None
    table = draws(fit)
    posterior = {name: table[name].to_numpy()[None] for name in table}
    if fit.pooled and fit.drawn.method != "normal":
        posterior["band_rate"] = band_rate_draws(fit)[None]
    named = {"dims": {"band_rate": ["band"]}, "coords": {"band": list(fit.rows.bands)}}
    return arviz.from_dict(posterior=posterior, **named)
