"""The map of standard normals to what lies about the top of the posterior."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ..inference import on_grid
from .density import Density
from .elimination import parts
from .layout import Layout
from .levels import Shrunk
from .terms import WEAR_END
from .top import Top

APART = 0.05  # by which axes that no part tells apart are kept apart
MOST_SHARED = 0.98  # of an axis' precision that may come from readings: where they tell nothing, the priors hold it


class Ratio(NamedTuple):
    """Information of a signal's readings over that at the top (N,), and its slope with the log noise."""

    value: np.ndarray
    by_noise: np.ndarray


class RatioOfMeans(NamedTuple):
    """What the means of bands tell over what they do at the top (N,), its slopes with the readings' information and
    with the log spread of the levels."""

    value: np.ndarray
    by_readings: np.ndarray
    by_spread: np.ndarray


class Parameters(NamedTuple):
    """theta (d, N); of each signal the readings' information and the means'; z (k, N), width (k, N) and log volume (N,)
    of the axes of the core parameters; the groups' effects."""

    theta: np.ndarray
    readings: list[Ratio]
    means: list[RatioOfMeans]
    core: np.ndarray
    width: np.ndarray
    volume: np.ndarray
    groups: Shrunk


@dataclass
class Place:
    """Where z (D, N) leads: theta (d, N), w (m, N), the levels' own z (list of (m, N)) and the log volume (N,); the
    rest is what `Map.carried` needs."""

    theta: np.ndarray
    w: np.ndarray
    levels: list[np.ndarray]
    volume: np.ndarray
    parameters: Parameters
    bands: Shrunk
    ended: np.ndarray
    by_shape: np.ndarray
    pull: np.ndarray


class Map:
    """`Place` of z (D, N), near to standard normal where the posterior is near to its `Top`, and slopes carried back.
    theta and w are made of the first of z; the others place the signals' levels (`levels`).

    Noises and the spreads t of levels are top + z times their sd. The other parameters but the effects of groups are
    top + L c z, where c says how far each axis of L widens with these: axis k has the share a_sk of its precision from
    the readings of signal s within bands, and b_sk from the bands' means,

        c_k = (1 + sum a_sk (r_s - 1) + sum b_sk (q_s - 1))^(-1/2),

    r_s: 1/scale^2 over what it is at the top; q_s: the same of r o / (D r + o), o = 1/t^2, D the readings' information
    on the level of a band.

    The effects of groups, then those of bands, follow what came
    before to first order, and shrink and scatter as their spread s and the noise at theta say, so that no funnel is
    left. For a group u = f (u^ + B (theta - top)) + R z, f: share D/(D + 1/s^2) over that at the top, of information D;
    for bands

        w = w^ + pull / P + f dw (theta - top) + z_w / P^(1/2),   P = D + 1/s_w^2,

    pull: what ends, readings and spread do to w where it was at the top; f: share D/P of the data over that at the top;
    D: their information, of readings in proportion to 1/scale^2 of the noise, of ends to K^2.
    """

    def __init__(self, top: Top, density: Density) -> None:
        c, lay = top.curvature, density.layout
        self.top, self.layout, self.signals = top, lay, density.rows.signals
        schur, precision, self.dw = c.eliminated.schur, c.eliminated.precision, c.eliminated.dw
        d, m = len(top.theta), len(top.w)
        self.grouped = lay.pooled_at
        self.first = np.array([place for block in lay.blocks for place in (block.noise, block.band)], int)
        self.core = np.setdiff1d(np.arange(d), np.concatenate([self.grouped, self.first]))
        self.sd_first = 1 / np.sqrt(np.diag(precision)[self.first, None])
        self.told = [float(np.median(data[data > 0])) for data in c.data]
        self._of_groups(precision, [part for pair in parts(c) for part in pair], lay)
        self.of_w = [ww - wg**2 / gg for ww, wg, gg in zip(c.data_ww, c.wg, c.gg, strict=True)]
        self.of_end = np.maximum(schur - np.exp(-2 * top.theta[lay.band_scatter]) - sum(self.of_w), 1e-12)
        self.shape = WEAR_END.shape(top.theta[lay.shape])[0]
        worn = density.rows.worn
        self.pull_end = np.where(worn, -self.of_end * np.clip(c.log_E, -2, 2), top.pull_end)
        self.pull_w = top.pull_w
        self.precision_w = schur
        self.scales = [s.scale(np.exp(top.theta[b.noise])) for s, b in zip(self.signals, lay.blocks, strict=True)]
        self.size = d + m * (1 + len(c.gg))
        self.slices = [slice(0, d), *(slice(d + i * m, d + (i + 1) * m) for i in range(1 + len(c.gg)))]

    def _of_groups(self, precision: np.ndarray, of_signals: list[np.ndarray], lay: Layout) -> None:
        """How the effects of groups follow the other parameters, the roots of what is left to both, and the share of
        each part in the precision of these."""
        at, core = self.grouped, self.core
        among, own = precision[np.ix_(at, at)], precision[np.ix_(core, core)]
        self.follow = -np.linalg.solve(among, precision[np.ix_(at, core)])
        self.root, self.shares = _shared(
            _root(own + precision[np.ix_(core, at)] @ self.follow, lay.sd[core]),
            [_followed(part, core, at, self.follow) for part in of_signals],
        )
        self.precision_u = np.diag(among).copy()
        self.root_u = np.sqrt(self.precision_u)[:, None] * _told(_root(among, lay.sd[at])) if len(at) else np.eye(0)
        self.kinds = [(np.searchsorted(at, group.at), group.spread) for group in lay.groups]
        self.data_u = self.precision_u.copy()
        for places, spread in self.kinds:
            self.data_u[places] -= np.exp(-2 * self.top.theta[spread])
        np.maximum(self.data_u, 0.0, out=self.data_u)

    def place(self, z: np.ndarray) -> Place:
        """`Place` of z (D, N)."""
        lay, top = self.layout, self.top
        at = self._parameters(z[self.slices[0]])
        theta = at.theta
        shift = theta - top.theta[:, None]
        K, by_shape = WEAR_END.shape(theta[lay.shape])
        ended = (K / self.shape) ** 2  # its information goes as K^2
        data = self.of_end[:, None] * ended
        data += sum(a[:, None] * ratio.value for a, ratio in zip(self.of_w, at.readings, strict=True))
        data_then = self.of_end + sum(self.of_w)
        own = np.exp(-2 * theta[lay.band_scatter])
        bands = Shrunk.at(self.dw @ shift, z[self.slices[1]], data, own, data_then[:, None], self.precision_w[:, None])
        pull = self.pull_end[:, None] * ended - own * top.w[:, None]
        pull += sum(a[:, None] * ratio.value for a, ratio in zip(self.pull_w, at.readings, strict=True))
        w = bands.value + (top.w[:, None] + pull / bands.precision)
        volume = bands.volume + at.volume + at.groups.volume
        levels = [z[part] for part in self.slices[2:]]
        return Place(theta, w, levels, volume, at, bands, ended, 2 * ended * by_shape, pull)

    def theta(self, part: np.ndarray) -> np.ndarray:
        """Parameters (d, ...) at the parameters' part of z (d, ...)."""
        return self._parameters(part.reshape(len(part), -1)).theta.reshape(part.shape)

    def _parameters(self, part: np.ndarray) -> Parameters:
        """`Parameters` at their part of z (d, N)."""
        theta = np.empty(part.shape)
        theta[self.first] = self.top.theta[self.first, None] + self.sd_first * part[self.first]
        readings = [self._ratio(i, theta) for i in range(len(self.signals))]
        means = [self._ratio_of_means(i, theta, ratio.value) for i, ratio in enumerate(readings)]
        ratios = [ratio.value for pair in zip(readings, means, strict=True) for ratio in pair]
        precision = 1 + self.shares.T @ (np.array(ratios).reshape(len(ratios), part.shape[1]) - 1)
        width = 1 / np.sqrt(precision)
        core = part[self.core]
        shift = self.root @ (width * core)
        theta[self.core] = self.top.theta[self.core, None] + shift
        middle = self.top.theta[self.grouped, None] + self.follow @ shift
        own = np.empty(middle.shape)
        for places, spread in self.kinds:
            own[places] = np.exp(-2 * theta[spread])
        data, then = self.data_u[:, None], self.precision_u[:, None]
        groups = Shrunk.at(middle, self.root_u @ part[self.grouped], data, own, data, then)
        theta[self.grouped] = groups.value
        return Parameters(theta, readings, means, core, width, -0.5 * np.log(precision).sum(axis=0), groups)

    def _ratio(self, i: int, theta: np.ndarray) -> Ratio:
        noise = np.exp(np.minimum(theta[self.layout.blocks[i].noise], 20.0))
        scale = self.signals[i].scale(noise)
        ratio = (self.scales[i] / scale) ** 2
        return Ratio(ratio, -2 * ratio * (noise / scale) ** 2)

    def _ratio_of_means(self, i: int, theta: np.ndarray, ratio: np.ndarray) -> RatioOfMeans:
        place, told = self.layout.blocks[i].band, self.told[i]
        own, then = np.exp(-2 * theta[place]), np.exp(-2 * self.top.theta[place])
        both = told * ratio + own
        means = ratio * (own / then) * (told + then) / both
        return RatioOfMeans(means, means / ratio * own / both, -2 * means * told * ratio / both)

    def carried(self, at: Place, by_theta: np.ndarray, by_w: np.ndarray, by_z: list[np.ndarray]) -> np.ndarray:
        """Slopes with z (D, N) of log density and log volume, from those of the log density with theta, w and the
        levels' z; by_theta is changed."""
        lay, out = self.layout, np.empty((self.size, by_w.shape[1]))
        for part, own in zip(self.slices[2:], by_z, strict=True):
            out[part] = own
        by = at.bands.carried(by_w)
        out[self.slices[1]] = by.by_z
        precision, pull = at.bands.precision, at.pull
        each = by_w / precision  # with the pull, whose share moves w
        by_data = by.by_information - each * pull / precision
        moved = self.top.w[:, None] + pull / precision
        by_theta[lay.band_scatter] += np.sum(by.by_spread + 2 * at.bands.own * each * moved, axis=0)
        by_ended = np.sum(by_data * self.of_end[:, None], axis=0) + self.pull_end @ each
        by_theta[lay.shape] += at.by_shape * by_ended
        for a, own_pull, block, ratio in zip(self.of_w, self.pull_w, lay.blocks, at.parameters.readings, strict=True):
            by_theta[block.noise] += ratio.by_noise * (np.sum(by_data * a[:, None], axis=0) + own_pull @ each)
        by_theta += self.dw.T @ by.by_middle
        self._carry_parameters(at.parameters, by_theta, out[self.slices[0]])
        return out

    def _carry_parameters(self, at: Parameters, by_theta: np.ndarray, out: np.ndarray) -> None:
        """Into `out` (d, N): slopes with the parameters' part of z, from those with theta, which are changed."""
        by = at.groups.carried(by_theta[self.grouped])
        for places, spread in self.kinds:
            by_theta[spread] += by.by_spread[places].sum(axis=0)
        by_core = self.root.T @ (by_theta[self.core] + self.follow.T @ by.by_middle)
        out[self.core] = by_core * at.width
        by_precision = -0.5 * (by_core * at.core * at.width + 1) * at.width**2
        by_ratio = iter(self.shares @ by_precision)
        for block, ratio, mean in zip(self.layout.blocks, at.readings, at.means, strict=True):
            within, between = next(by_ratio), next(by_ratio)
            by_theta[block.noise] += ratio.by_noise * (within + between * mean.by_readings)
            by_theta[block.band] += between * mean.by_spread
        out[self.first] = by_theta[self.first] * self.sd_first
        out[self.grouped] = self.root_u.T @ by.by_z


def _told(root: np.ndarray) -> np.ndarray:
    """A root whose numbers are told to 1/1,000 of the length of their row, about."""
    return on_grid(root, np.exp2(np.floor(np.log2(np.sqrt(np.einsum("ij,ij->i", root, root)))))[:, None] / 1024)


def _followed(part: np.ndarray, core: np.ndarray, at: np.ndarray, follow: np.ndarray) -> np.ndarray:
    """Part of a precision (d, d) that is left to the parameters `core` where those `at` follow them."""
    across = part[np.ix_(core, at)] @ follow
    return np.asarray(part[np.ix_(core, core)] + across + across.T + follow.T @ part[np.ix_(at, at)] @ follow)


def _shared(root: np.ndarray, parts: list[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """A root turned so that each part of the precision (list of (k, k)) lies along its axes as nearly as one turn can
    do that for all, and the share of each part in each axis (S, k).

    Axes that no part tells apart keep their order and their sign, and the root lies on a grid: its last digits, and
    which of many turns is found, would be the processor's own."""
    if not parts:
        return _told(root), np.zeros((0, len(root)))
    parts, order = [root.T @ part @ root for part in parts], np.arange(len(root)) / len(root)
    _, turn = np.linalg.eigh(sum((1 + i) * part for i, part in enumerate(parts)) + np.diag(APART * order))
    turn *= np.where(np.cos(7 * order) @ turn < 0, -1.0, 1.0)
    shares = np.array([np.einsum("ij,ij->j", turn, part @ turn) for part in parts])
    shares = np.clip(shares, 0.0, None)
    return _told(root @ turn), shares / np.maximum(shares.sum(axis=0) / MOST_SHARED, 1.0)


def _root(precision: np.ndarray, sd: np.ndarray) -> np.ndarray:
    """L with L L' = precision^-1, whose eigenvalues in units of the priors' sd are lifted where hardly positive."""
    scaled = precision * np.outer(sd, sd)
    try:
        lower = np.linalg.cholesky(scaled)
        if np.diag(lower).min() > 0.4:
            return np.asarray(sd[:, None] * np.linalg.inv(lower).T)
    except np.linalg.LinAlgError:
        pass
    values, vectors = np.linalg.eigh(scaled)
    return np.asarray(sd[:, None] * vectors / np.sqrt(np.maximum(values, 0.3)))
