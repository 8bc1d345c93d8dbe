"""The curvature of the parameters once the band effects are gone, and what it says of noises and spreads.

Band effects are arrow-shaped: w and the levels g of one band meet each other and the parameters only, so they are
eliminated band by band. A log noise or spread is known by as many readings or effects as no parameter follows: of n
that scatter by s, each known to a variance V once all else is integrated out, by 2 sum (1 - V/s^2)^2.

With a thousand materials the precision (d, d) is the whole of the work: it is factored once, by Cholesky, and what is
asked of it comes from that factor. A band then meets few of the parameters, so that its rows are held sparse.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from .curvature import Curvature

Rows: TypeAlias = Any  # of bands (m, d): an array, or a csr_array, whose numbers SciPy gives no types

MOST_FOLLOWED = 0.95  # of a signal's readings that its parameters may be said to follow, at the most
MANY = 500  # parameters from which rows of bands are held sparse, and LAPACK is asked for just what is needed


class Scattered(NamedTuple):
    """Of a spread s: its place, 1/s^2 and the variances of its effects (n,)."""

    place: int
    own: float
    variances: np.ndarray


@dataclass(frozen=True)
class Eliminated:
    """What is left once the band effects are gone.

    schur (m,): precision of w with g gone; precision (d, d): of the parameters; dw (m, d): d w / d theta;
    V_groups: variances of each group's effects given the other parameters (list of (n,)); log_det: of the precision of
    the parameters but the spreads and the shape, `rest` (r,), and V (r, r) its inverse. With these integrated out too,
    leverage: how many of its readings each signal's parameters and band effects follow (list), and scatter of the
    effects of each spread (list)."""

    schur: np.ndarray
    precision: np.ndarray
    dw: np.ndarray
    V_groups: list[np.ndarray]
    log_det: float
    leverage: list[float]
    scatter: list[Scattered]
    rest: np.ndarray
    V: np.ndarray

    def newton(self, gradient: np.ndarray) -> np.ndarray:
        """precision^-1 gradient (d,), by `V` and what is left to the spreads and the shape once the rest is gone."""
        rest, few = self.rest, np.setdiff1d(np.arange(len(gradient)), self.rest)
        across = self.precision[np.ix_(rest, few)]
        follow = self.V @ across
        left = self.precision[np.ix_(few, few)] - across.T @ follow
        move = np.empty(len(gradient))
        move[few] = np.linalg.solve(left, gradient[few] - follow.T @ gradient[rest])
        move[rest] = self.V @ gradient[rest] - follow @ move[few]
        return move


def eliminate(c: Curvature) -> Eliminated:
    """`Eliminated` of a `Curvature`."""
    schur = c.ww - sum(wg**2 / gg for wg, gg in zip(c.wg, c.gg, strict=True))
    toward_w = c.with_w.copy()
    for wg, gg, C in zip(c.wg, c.gg, c.with_g, strict=True):
        toward_w -= C * (wg / gg)[:, None]
    dw = -toward_w / schur[:, None]
    through = _held(np.vstack([*c.with_g, toward_w]))
    precision = c.A - _gram(through, 1 / np.concatenate([*c.gg, schur]))
    rest = c.rest
    V, log_det = _inverse(precision[np.ix_(rest, rest)])
    V_groups = _given_the_others(V, [np.searchsorted(rest, at) for at, _, _ in c.groups]) if c.groups else []
    of_bands = [_held(C[:, rest]) for C in c.with_g]
    of_w = _held(toward_w[:, rest])
    scatter = _scatter(c, schur, of_bands, of_w, V)
    for place, own, variances in scatter:
        precision[place, place] += np.sum(2 * (1 - np.minimum(variances * own, 1.0)) ** 2) + 0.05 * len(variances)
    leverage = _leverage(c, schur, of_bands, of_w, V)
    for (place, info, weight), followed in zip(c.noises, leverage, strict=True):
        precision[place, place] -= info * min(followed / max(weight, 1e-300), MOST_FOLLOWED)
    return Eliminated(schur, precision, dw, V_groups, log_det, leverage, scatter, rest, V)


def parts(c: Curvature) -> list[tuple[np.ndarray, np.ndarray]]:
    """What each signal gives of the eliminated precision (list of pairs of (d, d)): by its readings within bands, and
    by the bands' means, which their own levels blur."""
    schur = c.eliminated.schur
    out = []
    for A, C, wg, gg, data, ww in zip(c.A_signals, c.with_g, c.wg, c.gg, c.data, c.data_ww, strict=True):
        own = gg - data
        rows = _held(C)
        between = _gram(rows, np.where(data > 0, own / np.maximum(data * gg, 1e-300), 0.0))
        through_w = _gram(_held(c.eliminated.dw), schur * _share_of_w(schur, wg, gg, own, ww))
        out.append((A - _gram(rows, 1 / gg) - between - through_w, between))
    return out


def _share_of_w(schur: np.ndarray, wg: np.ndarray, gg: np.ndarray, own: np.ndarray, ww: np.ndarray) -> np.ndarray:
    """Share (m,) of a signal's readings in what is known of w: slope of its part with the log of their information."""
    return np.asarray(np.clip((ww - wg**2 / gg * (gg + own) / gg) / schur, 0.0, 1.0))


def _scatter(c: Curvature, schur: np.ndarray, of_bands: list[Rows], of_w: Rows, V: np.ndarray) -> list[Scattered]:
    """Place, 1/s^2 and variances of w, of each g and of each group's effects, all else integrated out."""
    effects = [1 / schur + _quadratic(_scaled(of_w, 1 / schur), V)]
    for rows, wg, gg in zip(of_bands, c.wg, c.gg, strict=True):
        own = _scaled(rows, 1 / gg) - _scaled(of_w, wg / (schur * gg))
        effects.append(1 / gg + (wg / gg) ** 2 / schur + _quadratic(own, V))
    out = [Scattered(spread.place, spread.own, variances) for spread, variances in zip(c.spreads, effects, strict=True)]
    of_rest = np.diag(V)
    return out + [Scattered(place, own, of_rest[np.searchsorted(c.rest, at)]) for at, place, own in c.groups]


def _leverage(c: Curvature, schur: np.ndarray, of_bands: list[Rows], of_w: Rows, V: np.ndarray) -> list[float]:
    """Readings of each signal that its parameters and band effects follow: the trace of V with the slope of the
    signal's part of the eliminated precision, and with that of the effects' own."""
    here, by_w = np.ix_(c.rest, c.rest), _quadratic(of_w, V)
    out = []
    for A, rows, wg, gg, data, ww in zip(c.A_signals, of_bands, c.wg, c.gg, c.data, c.data_ww, strict=True):
        share = _share_of_w(schur, wg, gg, gg - data, ww)
        followed = np.sum(V * A[here]) - np.sum(_quadratic(rows, V) * (2 * gg - data) / gg**2 + by_w * share / schur)
        of_effects = (1 / gg + (wg / gg) ** 2 / schur) * data + (ww - 2 * wg**2 / gg) / schur
        out.append(float(followed + np.sum(of_effects)))
    return out


def _held(rows: np.ndarray) -> Rows:
    """Rows of bands (m, d) as they are worked on: sparse where they are long."""
    if rows.shape[1] < MANY:
        return rows
    from scipy.sparse import csr_array  # most logs do without: its import takes as long as half a fit

    return csr_array(rows)


def _scaled(rows: Rows, by: np.ndarray) -> Rows:
    """Rows (m, d), each times its own number (m,)."""
    return rows * by[:, None] if isinstance(rows, np.ndarray) else rows.multiply(by[:, None]).tocsr()


def _gram(rows: Rows, weight: np.ndarray) -> np.ndarray:
    """sum weight_i rows_i rows_i' (d, d)."""
    product = _scaled(rows, weight).T @ rows
    return product if isinstance(product, np.ndarray) else product.toarray()


def _quadratic(rows: Rows, V: np.ndarray) -> np.ndarray:
    """rows_i' V rows_i (m,)."""
    across = rows @ V
    return np.asarray(
        np.einsum("ij,ij->i", across, rows) if isinstance(rows, np.ndarray) else rows.multiply(across).sum(axis=1)
    )


def _given_the_others(V: np.ndarray, places: list[np.ndarray]) -> list[np.ndarray]:
    """Variances of the effects at `places` (a list of arrays) of a covariance V (r, r), given all that are in none."""
    every = np.concatenate(places)
    others = np.setdiff1d(np.arange(len(V)), every)
    across = V[np.ix_(every, others)]
    known = np.einsum("ij,ij->i", across, np.linalg.solve(V[np.ix_(others, others)], across.T).T)
    return np.split(V[every, every] - known, np.cumsum([len(at) for at in places])[:-1])


def _inverse(precision: np.ndarray) -> tuple[np.ndarray, float]:
    """Inverse of a precision (r, r) and the log of its determinant; where it is hardly positive it is lifted."""
    size = np.sqrt(np.maximum(np.diag(precision), 1e-300))
    scaled = precision / size
    scaled /= size[:, None]
    try:
        lower = np.linalg.cholesky(scaled)
    except np.linalg.LinAlgError:
        scaled[np.diag_indices(len(size))] += max(1e-6, 1e-9 - 2 * np.linalg.eigvalsh(scaled)[0])
        lower = np.linalg.cholesky(scaled)
    inverse = _of_root(lower)
    inverse /= size
    inverse /= size[:, None]
    return inverse, 2 * float(np.log(np.diag(lower) * size).sum())


def _of_root(lower: np.ndarray) -> np.ndarray:
    """(L L')^-1 of a Cholesky root L (r, r)."""
    if len(lower) < MANY:
        root = np.linalg.inv(lower)
        return np.asarray(root.T @ root)
    from scipy.linalg import lapack

    inverse: np.ndarray = np.tril(lapack.dpotri(lower, lower=True)[0])
    inverse += np.tril(inverse, -1).T
    return inverse
