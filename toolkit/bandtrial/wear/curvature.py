"""Curvature of the joint density about one point, in time linear in the cuts, and the normal law it makes.

Curvature of the signals is the one expected from the t law (Gauss and Newton's, positive whatever the readings), that
of the ends J' E^K J.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from .elimination import Eliminated, eliminate
from .terms import INFO_MEAN, INFO_SCALE, WEAR_END

if TYPE_CHECKING:
    from .density import Density, Exposure
    from .layout import Layout
    from .rows import Rows

CHUNK = 4096  # cuts worked on at once
WIDTH = 160  # of the design's columns that a chunk may hold: with many groups, chunks are shorter


class Noise(NamedTuple):
    """Of the readings of a signal: place of their log noise, what they tell of it, and their weight in all."""

    place: int
    info: float
    weight: float


class Spread(NamedTuple):
    """Of band effects: place of their log spread s, and 1/s^2."""

    place: int
    own: float


class OfGroup(NamedTuple):
    """Of a group's effects: their places (n,), the place of their log spread s, and 1/s^2."""

    at: np.ndarray
    place: int
    own: float


@dataclass
class Curvature:
    """Of the density about (theta, w, g): precision A (d, d) of the parameters, cross terms with w (m, d) and g (list
    of (m, d)), of w (m,), of w and g (list of (m,)) and of g (list of (m,)).

    data, data_ww: what each signal's readings give of the last and of w (lists of (m,)); log_E (m,): log wear used at
    each band's end, and its slopes (m, d); A_signals: what each signal gives of A (list of (d, d)); rest: places of the
    parameters but the spreads and the shape; noises: of each signal; spreads: of w and of each g."""

    A: np.ndarray
    with_w: np.ndarray
    with_g: list[np.ndarray]
    ww: np.ndarray
    wg: list[np.ndarray]
    gg: list[np.ndarray]
    data: list[np.ndarray]
    data_ww: list[np.ndarray]
    log_E: np.ndarray
    by_log_E: np.ndarray
    groups: list[OfGroup]
    A_signals: list[np.ndarray]
    rest: np.ndarray
    noises: list[Noise]
    spreads: list[Spread]

    @cached_property
    def eliminated(self) -> Eliminated:
        """`Eliminated`: what is left once the band effects are gone."""
        return eliminate(self)


def curvature(density: Density, theta: np.ndarray, w: np.ndarray) -> Curvature:
    """`Curvature` at theta (d,) and w (m,), whatever the levels: what they add to a reading is itself."""
    rows, lay = density.rows, density.layout
    d, m, signals = len(theta), density.n_bands, len(rows.signals)

    def of_each(*shape: int) -> list[np.ndarray]:
        return [np.zeros(shape) for _ in range(signals)]

    groups = [OfGroup(group.at, group.spread, np.exp(-2 * theta[group.spread])) for group in lay.groups]
    out = Curvature(
        A=np.zeros((d, d)), with_w=np.zeros((m, d)), with_g=of_each(m, d), ww=np.zeros(m), wg=of_each(m),
        gg=of_each(m), data=of_each(m), data_ww=of_each(m), log_E=np.zeros(m), by_log_E=np.zeros((m, d)),
        groups=groups, A_signals=of_each(d, d), rest=np.setdiff1d(np.arange(d), lay.scatters), noises=[], spreads=[],
    )  # fmt: skip
    ex = density.exposure(theta[:, None])
    for bands in chunks(rows):
        clock = _Clock(density, theta, ex, bands)
        for i in range(signals):
            _add_signal(density, i, theta, w, clock, bands, out)
        _add_ends(density, theta, w, clock, bands, out)
    for s, block, own in zip(rows.signals, lay.blocks, out.A_signals, strict=True):
        out.A += own
        sd = np.exp(min(theta[block.noise], 20.0))
        weight = s.weight * len(s.y)
        info = weight * (sd / s.scale(sd)) ** 4 * INFO_SCALE
        out.A[block.noise, block.noise] += info
        out.noises.append(Noise(block.noise, info, weight))
    _add_spreads(lay, theta, out)
    own = 1 / lay.sd**2
    for at, _, precision in out.groups:
        own[at] = precision
    out.A[np.diag_indices(d)] += own
    return out


def chunks(rows: Rows) -> Iterator[slice]:
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

    def __init__(self, density: Density, theta: np.ndarray, ex: Exposure, bands: slice) -> None:
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


def _add_signal(
    density: Density, i: int, theta: np.ndarray, w: np.ndarray, clock: _Clock, bands: slice, out: Curvature
) -> None:
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


def _add_ends(density: Density, theta: np.ndarray, w: np.ndarray, clock: _Clock, bands: slice, out: Curvature) -> None:
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


def _add_spreads(lay: Layout, theta: np.ndarray, out: Curvature) -> None:
    """What the spreads s of the band effects give: 1/s^2 to each effect."""
    assert lay.band_scatter is not None  # a layout with band effects has their spread
    own = np.exp(-2 * theta[lay.band_scatter])
    out.ww += own
    out.spreads.append(Spread(lay.band_scatter, own))
    for i, block in enumerate(lay.blocks):
        own = np.exp(-2 * theta[block.band])
        out.gg[i] += out.data[i] + own
        out.spreads.append(Spread(block.band, own))
