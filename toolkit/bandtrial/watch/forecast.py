"""How much is left of a band: pieces until it ends, and the chance that the next one finishes. Pure arrays.

A band that has used E of its wear life and bent N times ends by wear with cumulative hazard E^K, and by
breaking with (N/B)^S (Weibull laws; the ends compete). Given that it is sound now, n pieces of wear e and
c bends each leave it sound with probability

    R(n) = exp(E^K - (E + n e)^K) exp((N/B)^S - ((N + n c)/B)^S).

Conditional reliability and prediction intervals: W. Q. Meeker and L. A. Escobar, Statistical Methods for
Reliability Data (1998), chapter 12.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from bandtrial.wear import summary
from bandtrial.wear.predict import growth_slope, log_growth

if TYPE_CHECKING:
    from bandtrial.sawing import Numbers
    from bandtrial.wear.fit import Fit
    from bandtrial.wear.layout import Block


MOST = 1_000_000  # pieces; more is written as "more than"


@dataclass(frozen=True)
class Remaining:
    """What decides how long a band lasts, one by one or as draws (n_draws,); every field [-] broadcasts.

    wear_used E, wear_per_piece e, shape K; bends N, bends_per_piece c, break_scale B, break_shape S
    """

    wear_used: Numbers
    wear_per_piece: Numbers
    shape: Numbers
    bends: Numbers
    bends_per_piece: Numbers
    break_scale: Numbers
    break_shape: Numbers

    def log_survival(self, pieces: Numbers) -> Numbers:
        """log R of the module's equation for `pieces` more."""
        n, K, S = np.asarray(pieces, float), self.shape, self.break_shape
        wear = self.wear_used**K - (self.wear_used + n * self.wear_per_piece) ** K
        bends = self.bends + n * self.bends_per_piece
        return wear + (self.bends / self.break_scale) ** S - (bends / self.break_scale) ** S

    def next_finishes(self) -> float:
        """Chance that the next piece is finished: the mean of R(1) over the draws."""
        return float(np.mean(np.exp(self.log_survival(1.0))))

    def pieces_left(self, rng: np.random.Generator) -> np.ndarray:
        """One draw of the whole pieces finished before the band ends, for each posterior draw (n_draws,).

        The end is drawn too (log R(n) = log u, u uniform, by bisection), so that quantiles of the answer are
        prediction intervals: they hold the scatter between bands as well as what is not known of the law.
        """
        target = np.log(rng.random(np.broadcast_shapes(*(np.shape(value) for value in vars(self).values()))))
        low, high = np.zeros(target.shape), np.full(target.shape, float(MOST))
        for _ in range(60):
            middle = 0.5 * (low + high)
            sound = self.log_survival(middle) > target
            low, high = np.where(sound, middle, low), np.where(sound, high, middle)
        return np.asarray(np.floor(high))


def recursive_residuals(
    d: np.ndarray,
    s: np.ndarray,
    sigma: float,
    level_sd: float,
    rate_sd: float,
    dof: float,
    band: np.ndarray | None = None,
) -> np.ndarray:
    """z (n,) of the module's equation for readings d (n,) with slopes s (n,); all logs [-].

    band : number of the band of each reading (n,), a band's readings in their order; one band if not given.
    The i-th readings of all bands are worked on at once.
    """
    band = np.zeros(len(d), int) if band is None else np.asarray(band)
    order = np.argsort(band, kind="stable")
    heads = np.flatnonzero(np.diff(band[order], prepend=-1)) if len(d) else np.empty(0, int)
    counts = np.diff(np.append(heads, len(d)))
    longest = np.argsort(-counts, kind="stable")  # so that those with an i-th reading come first
    heads, counts = heads[longest], counts[longest]
    m = np.zeros((2, len(heads)))
    C = np.zeros((3, len(heads)))  # variance of g, covariance, variance of w
    C[0], C[2] = level_sd**2, rate_sd**2
    z = np.empty(len(d))
    for i in range(int(counts.max(initial=0))):
        live = int(np.searchsorted(-counts, -i))
        at = order[heads[:live] + i]
        z[at] = _step(d[at], s[at], m[:, :live], C[:, :live], sigma, dof)
    return z


def _step(d: np.ndarray, s: np.ndarray, m: np.ndarray, C: np.ndarray, sigma: float, dof: float) -> np.ndarray:
    """z (k,) of one reading of each of k bands; their m (2, k) and C (3, k) are moved by it."""
    Cx = np.array([C[0] + C[1] * s, C[1] + C[2] * s])
    known = Cx[0] + s * Cx[1]
    error = d - (m[0] + s * m[1])
    z = error / np.sqrt(sigma**2 + known)
    gain = Cx / (sigma**2 * (dof + z**2) / (dof + 1) + known)
    m += gain * error
    C -= [gain[0] * Cx[0], gain[0] * Cx[1], gain[1] * Cx[1]]
    return np.asarray(z)


def band_deviations(fit: Fit, rows: pd.DataFrame, block: Block, i: int) -> dict[str, Any]:
    """d and s of the readings `rows` of the fit's i-th signal, with the laws of g and w and the noise's scale.

    Returns a dict: d (n,), s (n,), band (n,), sigma, level_sd, rate_sd.
    """
    band = fit.rows.signals[i].bands
    w = summary.band_rates(fit)[band]
    g = np.median(fit.drawn.beside[:, :, 1 + i], axis=0)[band]
    theta, signal = np.median(fit.theta, axis=0), fit.rows.signals[i]
    E = rows["wear_used"].to_numpy(float)
    ordinary = E * np.exp(-w)
    grown, usual = (log_growth(theta[None], block, wear[None], signal.share)[0] for wear in (E, ordinary))
    s = growth_slope(theta[None], block, ordinary, signal.share)[0]
    d = np.log((rows["observed"] / rows["predicted"]).to_numpy(float)) + g + grown - usual
    return {"d": d, "s": s, "band": band, "sigma": float(signal.scale(np.exp(theta[block.noise]))),
            "level_sd": float(np.exp(theta[block.band])), "rate_sd": float(np.median(fit.band_scatter))}  # fmt: skip


def forecast_errors(fit: Fit, dof: float) -> pd.DataFrame:
    """fit.residuals with z of each reading against its forecast, one row per reading, scale 1, t with `dof`.

    Without priors a fit has no band effects: its residuals are passed on as they are.
    """
    unit = np.sqrt(dof / (dof - 2))  # fit.residuals count in standard deviations of the noise
    table: pd.DataFrame = fit.residuals
    if not fit.pooled or not fit.signals:
        return table.assign(z=table["z"] * unit)
    parts: list[pd.DataFrame] = []
    for i, block in enumerate(fit.layout.blocks):
        rows = table[table["signal"] == fit.signals[i]]
        parts.append(rows.assign(z=recursive_residuals(**band_deviations(fit, rows, block, i), dof=dof)))
    return pd.concat(parts, ignore_index=True)
