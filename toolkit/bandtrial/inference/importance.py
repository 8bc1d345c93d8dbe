"""Importance weights that say how far they can be trusted: Pareto-smoothed weights, k-hat, effective draws."""

from __future__ import annotations

import numpy as np


def pareto_smooth(log_w):
    """Smooth the largest importance weights with a generalised Pareto tail.

    The M = min(N/5, 3 sqrt(N)) largest weights are replaced by the expected order statistics of a
    generalised Pareto law fitted to them. Returns (log weights that sum to one, k-hat, effective draws).
    k-hat below 0.7 means that averages over the draws can be trusted at usual sizes; infinite when the
    weights are all the same or not finite.

    Source: Vehtari, Simpson, Gelman, Yao, Gabry, Pareto smoothed importance sampling, JMLR 25 (2024), 1-58;
    fit of the tail: Zhang and Stephens, Technometrics 51 (2009), 316-325, with the weak prior of the former.
    """
    log_w = np.where(np.isfinite(log_w), log_w, -np.inf)
    n = len(log_w)
    log_w = log_w - log_w.max()
    m = int(min(n / 5, 3 * np.sqrt(n)))
    order = np.argsort(log_w)
    tail = order[n - m :]
    cut = np.exp(log_w[order[n - m - 1]])
    excess = np.exp(log_w[tail]) - cut
    k_hat = np.inf
    if m >= 5 and excess[-1] > 0:
        k_hat, scale = fit_generalised_pareto(excess)
        p = (np.arange(m) + 0.5) / m
        smooth = scale * np.expm1(-k_hat * np.log1p(-p)) / k_hat if k_hat else -scale * np.log1p(-p)
        log_w[tail] = np.log(np.minimum(cut + smooth, 1.0) + 1e-300)
    elif m >= 5:
        k_hat = -np.inf  # equal weights: nothing to smooth
    log_w = log_w - np.log(np.exp(log_w).sum())
    return log_w, float(k_hat), float(1 / np.exp(2 * log_w).sum())


def fit_generalised_pareto(x):
    """Shape k and scale of a generalised Pareto law for sorted exceedances x (m,), density positive from 0.

    Zhang and Stephens' posterior-mean estimate over a data-based grid of b = k/scale, then shrunk to 0.5
    as if by ten more observations (Vehtari et al.).
    """
    m = len(x)
    grid = 30 + int(np.sqrt(m))
    quarter = x[int(m / 4 + 0.5) - 1]
    b = 1 - np.sqrt(grid / (np.arange(1, grid + 1) - 0.5))
    b = b / (3 * max(quarter, 1e-300)) + 1 / x[-1]
    k = np.mean(np.log1p(-b[:, None] * x), axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        profile = m * (np.log(-b / k) - k - 1)
    profile = np.where(np.isfinite(profile), profile, -np.inf)
    w = np.exp(profile - profile.max())
    b_mean = np.sum(b * w) / w.sum()
    k_mean = np.mean(np.log1p(-b_mean * x))
    scale = -k_mean / b_mean
    return float((m * k_mean + 10 * 0.5) / (m + 10)), float(scale)


def resample(log_w, size, rng):
    """Indices of `size` draws in proportion to the weights, by systematic resampling (one random number)."""
    cdf = np.cumsum(np.exp(log_w))
    at = (rng.random() + np.arange(size)) / size * cdf[-1]
    return np.minimum(np.searchsorted(cdf, at), len(log_w) - 1)
