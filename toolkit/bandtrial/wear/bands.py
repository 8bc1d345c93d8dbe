"""Each band alone: the density of its readings and its end, its scores, and its own effects integrated out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .density import HALF_LOG_2PI, Density
from .terms import INFO_MEAN, STEEPEST, WEAR_END, noise


class BandScores(NamedTuple):
    """Log density (m, N) of each band with its effects' priors; scores of w, a list of those of its prior, its end and
    each signal; scores of g; precisions of w, w and g, g (lists of (m, N))."""

    value: np.ndarray
    of_w: list[np.ndarray]
    of_g: list[np.ndarray]
    ww: np.ndarray
    wg: list[np.ndarray]
    gg: list[np.ndarray]

    @property
    def schur(self) -> np.ndarray:
        """Precision of w (m, N) with g gone."""
        return np.asarray(self.ww - sum(a * a / b for a, b in zip(self.wg, self.gg, strict=True)))


def band_scores(density: Density, theta: np.ndarray, w: np.ndarray, g: list[np.ndarray]) -> BandScores:
    """`BandScores` at theta (d, N), w (m, N) and g (list of (m, N))."""
    rows, lay, ex = density.rows, density.layout, density.exposure(theta)
    K, _ = WEAR_END.shape(theta[lay.shape])
    log_E = np.log(ex.total) + w
    value, by_log_E, _, power = WEAR_END.log_density(K, log_E, ex.log_rate[rows.last] + w, density.worn)
    own = np.exp(-2 * theta[lay.band_scatter])
    value = value - 0.5 * own * w * w - theta[lay.band_scatter] - HALF_LOG_2PI
    of_w, ww = [-own * w, by_log_E + density.worn], K * K * power + own
    of_g, wg, gg = list[np.ndarray](), list[np.ndarray](), list[np.ndarray]()
    for i, (s, block) in enumerate(zip(rows.signals, lay.blocks, strict=True)):
        log_E = np.minimum(np.log(np.maximum(ex.middle[s.rows], 1e-300)) + w[s.bands], STEEPEST)
        rise, _, slope, *_ = block.rise(theta, log_E, s.share)
        scale = s.scale(np.exp(np.minimum(theta[block.noise], 20.0)))
        each, pull = noise(s.y[:, None] - s.X.times(theta[block.beta]) - g[i][s.bands] - rise, scale)
        info, own = s.weight * INFO_MEAN / scale**2, np.exp(-2 * theta[block.band])
        value = value + s.weight * density.of_bands(s, each)
        value = value - 0.5 * own * g[i] ** 2 - theta[block.band] - HALF_LOG_2PI
        of_w.append(s.weight * density.of_bands(s, pull * slope))
        ww = ww + info * density.of_bands(s, slope * slope)
        of_g.append(s.weight * density.of_bands(s, pull) - own * g[i])
        wg.append(info * density.of_bands(s, slope))
        gg.append(info * density.of_bands(s, np.ones(pull.shape)) + own)
    return BandScores(value, of_w, of_g, ww, wg, gg)


def band_integrals(
    density: Density, theta: np.ndarray, w: np.ndarray, g: list[np.ndarray], steps: int = 2
) -> np.ndarray:
    """Log density (m, N) of each band's readings and end, its effects integrated out by Laplace's method about where
    Newton steps from w (m, N) and g (list of (m, N)) lead."""
    for _ in range(steps):
        c = band_scores(density, theta, w, g)
        score = sum(c.of_w) - sum(a * s / b for a, b, s in zip(c.wg, c.gg, c.of_g, strict=True))
        dw = np.clip(score / c.schur, -1, 1)
        w = w + dw
        g = [old + np.clip((s - a * dw) / b, -2, 2) for old, s, a, b in zip(g, c.of_g, c.wg, c.gg, strict=True)]
    c = band_scores(density, theta, w, g)
    log_det = np.log(c.schur) + sum(np.log(b) for b in c.gg)
    return np.asarray(c.value + (1 + len(g)) * HALF_LOG_2PI - 0.5 * log_det)
