"""Draws of the band effects given the parameters, close enough that their weights barely vary.

What the signals say of a band's own wear rate w is nearly normal; what its end says is not: log density
K w - exp(K (log T + w)) is a slope with a wall. So w is drawn from the product

    q(w) ~ exp(end(w)) N(w; mean, sd^2),      mean, sd from the signals' curvature and the prior,

tabulated for each band and each parameter vector at NODES points about its mode and drawn from the straight
lines between them; the band's signal levels g given w are normal.
"""
from __future__ import annotations

import numpy as np

FAR = 40.0                                               # an end's exponent above it is no longer resolved

HALF = 10                                                # nodes each side of the mode
STEP = np.arange(1, HALF + 1) / HALF
HALF_LOG_2PI = 0.5 * np.log(2 * np.pi)


def newton_step(e):
    """Newton step of the band effects under their arrow-shaped curvature: dw (N, m), dg list of (N, m)."""
    lifted = sum(wg * s / gg for wg, s, gg in zip(e.wg, e.g_score, e.gg, strict=True))
    dw = (e.w_score + e.end_score - lifted) / e.schur
    return dw, [(s - wg * dw) / gg for wg, s, gg in zip(e.wg, e.g_score, e.gg, strict=True)]


def draw_effects(e, w, g, log_T, shape, worn, rng):
    """Draw band effects near w (N, m), g list of (N, m) at which `e` (Effects) was taken.

    log_T (N, m): log wear used at the band's end for w = 0; shape (N, 1): Weibull shape; worn (m,).
    Returns w, g and the log density of the draw (N, m).
    """
    lifted = sum(wg * s / gg for wg, s, gg in zip(e.wg, e.g_score, e.gg, strict=True))
    precision = e.smooth
    mean = w + (e.w_score - lifted) / precision
    known = mean, 1 / np.sqrt(precision), log_T, np.minimum(shape, np.exp(FAR / 2)), worn
    table = Tilted(*(a.astype(np.float32) for a in known))      # a table to draw from may be coarse
    new_w, log_q = (a.astype(float) for a in table.draw(rng))
    new_g = []
    for g_s, s, wg, gg in zip(g, e.g_score, e.wg, e.gg, strict=True):
        xi = rng.standard_normal(w.shape)
        new_g.append(g_s + (s - wg * (new_w - w)) / gg + xi / np.sqrt(gg))
        log_q = log_q + 0.5 * np.log(gg) - 0.5 * xi**2 - HALF_LOG_2PI
    return new_w, new_g, log_q


def log_integral(e, w, g, log_T, shape, worn):
    """Log integral of each band's density over its effects (N, m), on the same product as `draw_effects`.

    To second order about (w, g) in the signals and the prior, by the table in the end:

        log p(w, g) + sum s_g^2 / (2 gg) + (s_w - sum wg s_g / gg)^2 / (2 P) - end(w)
        + log integral exp(end(v)) N(v; mean, 1/P) dv + terms of log 2 pi.
    """
    lifted = sum(wg * s / gg for wg, s, gg in zip(e.wg, e.g_score, e.gg, strict=True))
    pull, precision = e.w_score - lifted, e.smooth
    mean = w + pull / precision
    table = Tilted(mean, 1 / np.sqrt(precision), log_T, shape, worn)
    out = e.log_p - table.end(w) + 0.5 * pull**2 / precision + table.log_total
    for s, gg in zip(e.g_score, e.gg, strict=True):
        out = out + 0.5 * s**2 / gg - 0.5 * np.log(gg) + HALF_LOG_2PI
    return out


class Tilted:
    """exp(end(w)) exp(-(w - mean)^2 / (2 sd^2)) on straight lines between nodes, for arrays (N, m) of bands.

    end(w) = worn K w - exp(K (log_T + w)); the log of the integral is `log_total`.
    """

    def __init__(self, mean, sd, log_T, shape, worn):
        self.log_T, self.shape, self.worn = log_T, shape, worn
        mode, narrow = _tilted_mode(mean, sd, log_T, shape, worn)
        t = STEP[:, None, None].astype(mean.dtype)
        out = narrow * t * 5 * (1 - t) + sd * 6 * t**2
        right = np.minimum(out, narrow * 7 * t)
        self.x = x = np.concatenate([mode - out[::-1], mode[None], mode + right])   # (2 HALF + 1, N, m)
        log_f = self.end(x) - 0.5 * ((x - mean) / sd) ** 2
        top = log_f[HALF]
        self.f = np.exp(np.minimum(log_f - top, 5.0))
        self.dx = np.diff(x, axis=0)
        self.cdf = np.cumsum(0.5 * (self.f[1:] + self.f[:-1]) * self.dx, axis=0)
        self.log_total = top + np.log(self.cdf[-1])

    def end(self, w):
        return self.worn * self.shape * w - np.exp(np.minimum(self.shape * (self.log_T + w), FAR))

    def draw(self, rng):
        """One draw for each band with its log density, (N, m) each."""
        u = rng.random(self.cdf[-1].shape, dtype=self.cdf.dtype) * self.cdf[-1]
        cell = np.minimum((u > self.cdf).sum(axis=0), 2 * HALF - 1)[None]
        f0, f1 = (np.take_along_axis(self.f, c, 0)[0] for c in (cell, cell + 1))
        x0, width, total = (np.take_along_axis(a, cell, 0)[0] for a in (self.x, self.dx, self.cdf))
        area = 0.5 * (f0 + f1) * width
        within = np.clip((u - total + area) / np.maximum(area, 1e-30), 0.0, 1.0)
        root = np.sqrt(f0**2 + (f1**2 - f0**2) * within)
        share = (f0 + f1) * within / np.maximum(f0 + root, 1e-30)     # (root - f0) / (f1 - f0), stably
        return x0 + share * width, np.log(np.maximum(root, 1e-30)) - np.log(self.cdf[-1])


def _tilted_mode(mean, sd, log_T, shape, worn, steps=5):
    """Mode and local sd of the tilted normal: Newton steps on a concave log density, bounded."""
    precision = 1 / sd**2
    w = np.minimum(mean + worn * shape * sd**2, np.maximum(mean, -log_T))     # short of the wall
    most = 4 * sd
    for _ in range(steps):
        power = np.exp(np.minimum(shape * (log_T + w), 20.0))
        curve = precision + shape**2 * power
        step = (shape * (worn - power) - (w - mean) * precision) / curve
        w = w + np.minimum(np.maximum(step, -most), most)
    power = np.exp(np.minimum(shape * (log_T + w), FAR))
    return w, 1 / np.sqrt(precision + shape**2 * power)
