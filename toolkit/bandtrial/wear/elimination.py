"""The curvature of the parameters once the band effects are gone, and what it says of noises and spreads.

Band effects are arrow-shaped: w and the levels g of one band meet each other and the parameters only, so they are
eliminated band by band. A log noise or spread is known by as many readings or effects as no parameter follows: of n
that scatter by s, each known to a variance V once all else is integrated out, by 2 sum (1 - V/s^2)^2.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

MOST_FOLLOWED = 0.95  # of a signal's readings that its parameters may be said to follow, at the most


class Eliminated(NamedTuple):
    """What is left once the band effects are gone: precision of w with g gone (m,), that of the parameters (d, d),
    d w / d theta (m, d), and the variances of each group's effects given the other parameters (list of (n,)).

    parts: what each signal gives of the precision: by its readings within bands, and by the bands' means, which their
    own levels blur (list of pairs of (d, d));
    log_det: of the precision of the parameters but the spreads and the shape; with these integrated out too, leverage:
    how many of its readings each signal's parameters and band effects follow (list), and scatter: place, 1/s^2 and
    variances of the effects of each spread (list)."""

    schur: np.ndarray
    precision: np.ndarray
    dw: np.ndarray
    V_groups: list
    parts: list
    log_det: float
    leverage: list
    scatter: list


def eliminate(c):
    """`Eliminated` of a `Curvature`."""
    schur = c.ww - sum(wg**2 / gg for wg, gg in zip(c.wg, c.gg, strict=True))
    toward_w, precision = c.with_w.copy(), c.A.copy()
    for wg, gg, C in zip(c.wg, c.gg, c.with_g, strict=True):
        toward_w -= C * (wg / gg)[:, None]
        precision -= (C / gg[:, None]).T @ C
    precision -= (toward_w / schur[:, None]).T @ toward_w
    dw = -toward_w / schur[:, None]
    V_groups = _pooled_variances(precision, [at for at, _, _ in c.groups]) if c.groups else []
    slopes, parts = _by_signal(c, schur, toward_w)
    V, log_det = _inverse(precision[np.ix_(c.rest, c.rest)])
    scatter = _scatter(c, schur, dw, V)
    for place, own, variances in scatter:
        precision[place, place] += np.sum(2 * (1 - np.minimum(variances * own, 1.0)) ** 2) + 0.05 * len(variances)
    leverage = _leverage(c, schur, V, slopes)
    for (place, info, weight), followed in zip(c.noises, leverage, strict=True):
        precision[place, place] -= info * min(followed / max(weight, 1e-300), MOST_FOLLOWED)
    return Eliminated(schur, precision, dw, V_groups, parts, log_det, leverage, scatter)


def _by_signal(c, schur, toward_w):
    """What each signal gives of the eliminated precision: slopes with the log of the readings' information (list of
    (d, d)), and `Eliminated.parts`."""
    slopes, parts = [], []
    for A, C, wg, gg, data, ww in zip(c.A_signals, c.with_g, c.wg, c.gg, c.data, c.data_ww, strict=True):
        own = gg - data
        share = np.clip((ww - wg**2 / gg * (gg + own) / gg) / schur, 0.0, 1.0)
        between = (C * np.where(data > 0, own / np.maximum(data * gg, 1e-300), 0.0)[:, None]).T @ C
        through_w = (toward_w * (share / schur)[:, None]).T @ toward_w
        slopes.append(A - (C * ((gg + own) / gg**2)[:, None]).T @ C - through_w)
        parts.append((A - (C / gg[:, None]).T @ C - between - through_w, between))
    return slopes, parts


def _scatter(c, schur, dw, V):
    """Place, 1/s^2 and variances of w, of each g and of each group's effects, all else integrated out."""
    moved = dw[:, c.rest]
    of_w = 1 / schur + _quadratic(moved, V)
    effects = [of_w]
    for C, wg, gg in zip(c.with_g, c.wg, c.gg, strict=True):
        own = -(C[:, c.rest] + wg[:, None] * moved) / gg[:, None]
        effects.append(1 / gg + (wg / gg) ** 2 / schur + _quadratic(own, V))
    out = [(*spread, variances) for spread, variances in zip(c.spreads, effects, strict=True)]
    of_rest = np.diag(V)
    return out + [(place, own, of_rest[np.searchsorted(c.rest, at)]) for at, place, own in c.groups]


def _quadratic(rows, V):
    return np.einsum("ij,ij->i", rows @ V, rows)


def _leverage(c, schur, V, slopes):
    here = np.ix_(c.rest, c.rest)
    out = []
    for own, wg, gg, data, ww in zip(slopes, c.wg, c.gg, c.data, c.data_ww, strict=True):
        of_bands = (1 / gg + (wg / gg) ** 2 / schur) * data + (ww - 2 * wg**2 / gg) / schur
        out.append(float(np.sum(V * own[here]) + np.sum(of_bands)))
    return out


def _pooled_variances(precision, places):
    """Variances, given the other parameters, of the effects at `places` (a list of arrays): a list of arrays."""
    all_at = np.concatenate(places)
    V = np.diag(np.linalg.inv(precision[np.ix_(all_at, all_at)]))
    return np.split(V, np.cumsum([len(at) for at in places])[:-1])


def _inverse(precision):
    """Inverse of a precision (r, r) and the log of its determinant; where it is hardly positive it is lifted."""
    size = np.sqrt(np.maximum(np.diag(precision), 1e-300))
    scaled = precision / np.outer(size, size)
    try:
        lower = np.linalg.cholesky(scaled)
    except np.linalg.LinAlgError:
        lower = np.linalg.cholesky(scaled + max(1e-6, 1e-9 - 2 * np.linalg.eigvalsh(scaled)[0]) * np.eye(len(size)))
    inverse = np.linalg.inv(lower)
    return (inverse.T @ inverse) / np.outer(size, size), 2 * float(np.log(np.diag(lower) * size).sum())
