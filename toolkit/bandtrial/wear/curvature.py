"""Curvature of the joint density about one point, in time linear in the cuts, and the normal law it makes.

Curvature of the signals is the one expected from the t law (Gauss and Newton's, positive whatever the readings), that
of the ends J' E^K J. Band effects are arrow-shaped: w and the levels g of one band meet each other and the parameters
only, so they are eliminated band by band.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from .terms import INFO_MEAN, INFO_SCALE, WEAR_END

CHUNK = 4096  # cuts worked on at once
MOST_FOLLOWED = 0.95  # of a signal's readings that its parameters may be said to follow, at the most
WIDTH = 160  # of the design's columns that a chunk may hold: with many groups, chunks are shorter


class Eliminated(NamedTuple):
    """What is left once the band effects are gone: precision of w with g gone (m,), that of the parameters (d, d),
    d w / d theta (m, d), and the variances of each group's effects given the other parameters (list of (n,)).

    by_signal: what each signal's readings give of the precision (list of (d, d)), to first order in their information;
    V: covariance (r, r) of the parameters but the spreads and the shape, given these; log_det of its inverse; leverage:
    how many of its readings each signal's parameters and band effects follow (list)."""

    schur: np.ndarray
    precision: np.ndarray
    dw: np.ndarray
    V_groups: list
    by_signal: list
    V: np.ndarray
    log_det: float
    leverage: list


@dataclass
class Curvature:
    """Of the density about (theta, w, g): precision A (d, d) of the parameters, cross terms with w (m, d) and g (list
    of (m, d)), of w (m,), of w and g (list of (m,)) and of g (list of (m,)).

    data, data_ww: what each signal's readings give of the last and of w (lists of (m,)); log_E (m,): log wear used at
    each band's end, and its slopes (m, d); A_signals: what each signal gives of A (list of (d, d)); rest: places of the
    parameters but the spreads and the shape; noises: place, information and weight of the readings of each signal's."""

    A: np.ndarray
    with_w: np.ndarray
    with_g: list
    ww: np.ndarray
    wg: list
    gg: list
    data: list
    data_ww: list
    log_E: np.ndarray
    by_log_E: np.ndarray
    groups: list
    A_signals: list
    rest: np.ndarray
    noises: list

    @cached_property
    def eliminated(self):
        """`Eliminated`. To the log spread of a group's effects go 2 (1 - V/s^2)^2 an effect, V its variance given the
        other parameters."""
        schur = self.ww - sum(wg**2 / gg for wg, gg in zip(self.wg, self.gg, strict=True))
        toward_w, precision = self.with_w.copy(), self.A.copy()
        for wg, gg, C in zip(self.wg, self.gg, self.with_g, strict=True):
            toward_w -= C * (wg / gg)[:, None]
            precision -= (C / gg[:, None]).T @ C
        precision -= (toward_w / schur[:, None]).T @ toward_w
        V_groups = _pooled_variances(precision, [at for at, _, _ in self.groups]) if self.groups else []
        for (_, place, own), V in zip(self.groups, V_groups, strict=True):
            precision[place, place] += _of_spread(V, own)
        by_signal = self._by_signal(schur, toward_w)
        V, log_det = _inverse(precision[np.ix_(self.rest, self.rest)])
        leverage = self._leverage(V, by_signal)
        for (place, info, weight), followed in zip(self.noises, leverage, strict=True):
            precision[place, place] -= info * min(followed / max(weight, 1e-300), MOST_FOLLOWED)
        return Eliminated(schur, precision, -toward_w / schur[:, None], V_groups, by_signal, V, log_det, leverage)

    def _by_signal(self, schur, toward_w):
        """What each signal gives of the eliminated precision: its slope with the log of the readings' information."""
        out = []
        for A, C, wg, gg, data, ww in zip(
            self.A_signals, self.with_g, self.wg, self.gg, self.data, self.data_ww, strict=True
        ):
            twice = 2 - data / gg
            share = np.clip((ww - wg**2 / gg * twice) / schur, 0.0, 1.0)
            out.append(A - (C * (twice / gg)[:, None]).T @ C - (toward_w * (share / schur)[:, None]).T @ toward_w)
        return out

    def _leverage(self, V, by_signal):
        V_w, *V_g = variances(self)
        here = np.ix_(self.rest, self.rest)
        out = []
        for own, V_own, wg, gg, data, ww in zip(by_signal, V_g, self.wg, self.gg, self.data, self.data_ww, strict=True):
            of_bands = V_own * data + V_w * (ww - 2 * wg**2 / gg)
            out.append(float(np.sum(V * own[here]) + np.sum(of_bands)))
        return out


def curvature(density, theta, w, g):
    """`Curvature` at theta (d,), w (m,) and g (list of (m,))."""
    rows, lay = density.rows, density.layout
    d, m, signals = len(theta), density.n_bands, len(rows.signals)
    out = Curvature(
        np.zeros((d, d)),
        np.zeros((m, d)),
        [np.zeros((m, d)) for _ in range(signals)],
        np.zeros(m),
        [np.zeros(m) for _ in range(signals)],
        [np.zeros(m) for _ in range(signals)],
        [np.zeros(m) for _ in range(signals)],
        [np.zeros(m) for _ in range(signals)],
        np.zeros(m),
        np.zeros((m, d)),
        [(group.at, group.spread, np.exp(-2 * theta[group.spread])) for group in lay.groups],
        [np.zeros((d, d)) for _ in range(signals)],
        np.setdiff1d(np.arange(d), lay.scatters),
        [],
    )
    ex = density.exposure(theta[:, None])
    for bands in chunks(rows):
        clock = _Clock(density, theta, ex, bands)
        for i in range(signals):
            _add_signal(density, i, theta, w, g[i], clock, bands, out)
        _add_ends(density, theta, w, clock, bands, out)
    for s, block, own in zip(rows.signals, lay.blocks, out.A_signals, strict=True):
        out.A += own
        sd = np.exp(min(theta[block.noise], 20.0))
        weight = s.weight * len(s.y)
        info = weight * (sd / s.scale(sd)) ** 4 * INFO_SCALE
        out.A[block.noise, block.noise] += info
        out.noises.append((block.noise, info, weight))
    _add_spreads(lay, theta, w, g, out)
    own = 1 / lay.sd**2
    for at, _, precision in out.groups:
        own[at] = precision
    out.A[np.diag_indices(d)] += own
    return out


def chunks(rows):
    """Slices of bands whose cuts number at most CHUNK (or one band's, if it has more), or WIDTH with many groups."""
    most = CHUNK if len(rows.X.columns) <= WIDTH else WIDTH
    ends = np.append(rows.heads[1:], len(rows.contact))
    first = 0
    while first < len(ends):
        stop = max(int(np.searchsorted(ends, rows.heads[first] + most, side="right")), first + 1)
        yield slice(first, stop)
        first = stop


class _Clock:
    """Rows of a chunk of bands: their slice, running wear with slopes in the clock's parameters that occur in them."""

    def __init__(self, density, theta, ex, bands):
        rows, lay = density.rows, density.layout
        first = rows.heads[bands.start]
        stop = rows.heads[bands.stop] if bands.stop < len(rows.heads) else len(rows.contact)
        self.part = part = slice(first, stop)
        columns = density.X.occurring(part)
        slopes = density.X.dense(part, columns)
        slopes *= -np.where(lay.positive[columns], np.exp(np.minimum(theta[columns], 50.0)), 1.0)
        self.places = columns
        self.of_rate = slopes  # d log rate / d parameters (n, p)
        step = ex.step[part, 0]
        each = self.of_rate * step[:, None]
        self.band = rows.band[part] - bands.start
        heads = rows.heads[bands] - first
        running = np.cumsum(each, axis=0)
        running -= (running[heads] - each[heads])[self.band]
        self.last = np.append(heads[1:], stop - first) - 1
        self.middle = ex.middle[part, 0]
        self.of_middle = running - rows.left[part, None] * each
        self.log_total = np.log(ex.total[bands, 0])
        self.of_total = running[self.last] / ex.total[bands]  # d log total / d parameters (m, p)


def _add_signal(density, i, theta, w, g, clock, bands, out):
    s, block = density.rows.signals[i], density.layout.blocks[i]
    a, b = np.searchsorted(s.bands, [bands.start, bands.stop])
    if a == b:
        return
    at, band = s.rows[a:b] - clock.part.start, s.bands[a:b]
    middle = np.maximum(clock.middle[at], 1e-300)
    log_E = np.minimum(np.log(middle) + w[band], 30.0)
    _, steep, by_log_E, of_growth, slopes = block.rise(theta[:, None], log_E[:, None], s.share[a:b])
    slopes = [*((place, steep * slope) for place, slope in of_growth), *slopes]
    by_log_E = by_log_E[:, 0]
    here = s.X.occurring(slice(a, b))
    J = np.column_stack(
        [
            s.X.dense(slice(a, b), here),
            clock.of_middle[at] * (by_log_E / middle)[:, None],
            *(np.broadcast_to(slope, (b - a, 1)) for _, slope in slopes),
        ]
    )
    places = np.concatenate([here + block.beta.start, clock.places, [place for place, _ in slopes]]).astype(int)
    sd = np.exp(min(theta[block.noise], 20.0))
    scale = s.scale(sd)
    info = s.weight * INFO_MEAN / scale**2
    out.A_signals[i][np.ix_(places, places)] += info * (J.T @ J)
    heads = np.flatnonzero(np.diff(band, prepend=-1))
    of = band[heads]
    sums = np.add.reduceat(np.column_stack([J, np.ones(b - a), by_log_E, by_log_E**2]), heads, axis=0) * info
    by_w = np.add.reduceat(J * by_log_E[:, None], heads, axis=0) * info
    out.with_w[of[:, None], places] += by_w
    out.with_g[i][of[:, None], places] += sums[:, :-3]
    out.data[i][of] += sums[:, -3]
    out.wg[i][of] += sums[:, -2]
    out.data_ww[i][of] += sums[:, -1]
    out.ww[of] += sums[:, -1]


def _add_ends(density, theta, w, clock, bands, out):
    """J' E^K J with z = K log E, and the shape's own information."""
    lay = density.layout
    K, by_shape = WEAR_END.shape(theta[lay.shape])
    log_E = clock.log_total + w[bands]
    power = np.exp(np.minimum(K * log_E, 25.0))
    J = np.column_stack([K * clock.of_total, by_shape * K * log_E])
    places = np.append(clock.places, lay.shape)
    out.A[np.ix_(places, places)] += (J * power[:, None]).T @ J
    out.A[lay.shape, lay.shape] += by_shape**2 * density.rows.worn[bands].sum()
    out.with_w[np.ix_(np.arange(bands.start, bands.stop), places)] += J * (K * power)[:, None]
    out.ww[bands] += K**2 * power
    out.log_E[bands] = log_E
    out.by_log_E[np.ix_(np.arange(bands.start, bands.stop), clock.places)] = clock.of_total


def _add_spreads(lay, theta, w, g, out):
    """What the spreads s of the band effects give: 1/s^2 to each effect, and to log s 2 (1 - V/s^2)^2 a band, V the
    effect's variance given the parameters."""
    out.ww += np.exp(-2 * theta[lay.band_scatter])
    for i, block in enumerate(lay.blocks):
        out.gg[i] += out.data[i] + np.exp(-2 * theta[block.band])
    for place, V in zip([lay.band_scatter, *(b.band for b in lay.blocks)], variances(out), strict=True):
        out.A[place, place] += _of_spread(V, np.exp(-2 * theta[place]))


def _of_spread(V, own):
    """What effects of variances V (m,) and prior precision 1/s^2 tell of log s: 2 (1 - V/s^2)^2 each, and a little."""
    return np.sum(2 * (1 - np.minimum(V * own, 1.0)) ** 2) + 0.05 * len(V)


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


def variances(c):
    """Variance of w, and of each g, given the parameters: list of (m,)."""
    schur = c.ww - sum(wg**2 / gg for wg, gg in zip(c.wg, c.gg, strict=True))
    return [1 / schur, *(1 / gg + (wg / gg) ** 2 / schur for wg, gg in zip(c.wg, c.gg, strict=True))]
