"""The joint density of a study's signals and band ends, with its slopes, for many parameter vectors at once.

For a band with own log wear rate w ~ N(0, s_w^2) and own signal levels g_s ~ N(0, s_g^2):

    E_i  = e^w sum_{j <= i} c_j exp(-log tau_j)                       wear used at cut i
    log y_is ~ t_NU(X_i beta + g_s + rise(u_s(E_i)), (sigma_s^2 + rounding^2)^(1/2))
    ends: `terms.WearEnd` in E

The terms are those of `terms`; what is here is how they hang together. Arrays run (rows, points): n cuts or readings,
N parameter vectors. Slopes are exact: a test holds them to differences.
"""

from copy import copy
from dataclasses import dataclass
from math import log, pi
from typing import NamedTuple, Self

import numpy as np

from . import levels
from .design import Design
from .layout import Block, Layout, Rise
from .levels import Placed
from .rows import Rows, SignalRows
from .terms import INFO_MEAN, STEEPEST, WEAR_END, bounded_noise, noise

TOP = 60.0  # log wear rate per minute, and log wear used, beyond which no more is resolved
HALF_LOG_2PI = 0.5 * log(2 * pi)


@dataclass
class Exposure:
    """Of N points: log wear rate (n, N) and the step of wear of each row for w = 0, its running sum at the moment of
    measuring and the band's total (m, N)."""

    log_rate: np.ndarray
    step: np.ndarray
    middle: np.ndarray
    total: np.ndarray


class Point(NamedTuple):
    """N points: parameters (d, N), band effects (m, N), and their exposure."""

    theta: np.ndarray
    w: np.ndarray
    exposure: Exposure


class Slopes(NamedTuple):
    """Slopes with theta (d, N), w (m, N) and the wear at the moment of measuring (n, N)."""

    by_theta: np.ndarray
    by_w: np.ndarray
    by_middle: np.ndarray


class Worked(NamedTuple):
    """Log density (N,), its slopes with theta (d, N), w (m, N) and g, or what places it, and g (lists of (m, N))."""

    value: np.ndarray
    by_theta: np.ndarray
    by_w: np.ndarray
    by_g: list[np.ndarray]
    g: list[np.ndarray]


class Read(NamedTuple):
    """One signal at N points: by how much its readings are off what is expected of them but for the bands' own levels
    (n_s, N), the wear used there (n_s, N), how that raises them, their noise and its scale (N,)."""

    rest: np.ndarray
    middle: np.ndarray
    rise: Rise
    sd: np.ndarray
    scale: np.ndarray


Sloped = tuple[np.ndarray, np.ndarray, np.ndarray, list[np.ndarray]]


class Density:
    """log p(theta, w, g, log) of one study; theta (d, N), w (m, N), g a list of (m, N)."""

    def __init__(self, rows: Rows, layout: Layout) -> None:
        self.rows, self.layout = rows, layout
        self.X = (
            rows.X if layout.pooled else Design(rows.X.dense(columns=layout.columns), tuple(layout.names[layout.eta]))
        )
        self.n_bands = len(rows.heads)
        self.contact, self.left = rows.contact[:, None], rows.left[:, None]
        self.worn = rows.worn[:, None].astype(float)
        self.noise = noise
        self.readings = [np.bincount(s.bands, minlength=self.n_bands)[:, None] for s in rows.signals]  # of each band

    def bounded(self) -> Self:
        """The same with noise whose pull never lets go (`terms.bounded_noise`): where a climb begins."""
        out = copy(self)
        out.noise = bounded_noise
        return out

    def exposure(self, theta: np.ndarray) -> Exposure:
        """`Exposure` at theta (d, N)."""
        lay = self.layout
        log_rate = self.X.times(-lay.coefficients(theta))
        np.minimum(log_rate, TOP, out=log_rate)
        step = np.exp(log_rate)
        step *= self.contact
        running = self.rows.running(step)
        total = np.maximum(running[self.rows.last], 1e-300)
        running -= self.left * step
        return Exposure(log_rate, step, running, total)

    def value(self, theta: np.ndarray, w: np.ndarray, g: list[np.ndarray]) -> np.ndarray:
        """Log density (N,), up to the constants of the normal priors."""
        return self._work(theta, w, g, False).value

    def value_and_slopes(self, theta: np.ndarray, w: np.ndarray, g: list[np.ndarray]) -> Sloped:
        """Log density (N,), its slopes with theta (d, N), w (m, N) and g (list of (m, N))."""
        return self._work(theta, w, g, True)[:4]

    def placed(self, theta: np.ndarray, w: np.ndarray, z: list[np.ndarray]) -> Sloped:
        """The same at levels placed by z (list of (m, N)), see `levels`, with the log volume: log density and its
        slopes with theta, w and z."""
        return self._work(theta, w, z, True, placed=True)[:4]

    def levels(self, theta: np.ndarray, w: np.ndarray, z: list[np.ndarray]) -> list[np.ndarray]:
        """The levels (list of (m, N)) themselves."""
        return self._work(theta, w, z, False, placed=True).g

    def _work(
        self, theta: np.ndarray, w: np.ndarray, g: list[np.ndarray], sloped: bool, placed: bool = False
    ) -> Worked:
        assert self.layout.band_scatter is not None  # plain maximum likelihood asks `Ends`
        by_theta, by_g, at = np.zeros(theta.shape), [], []
        out = self.log_prior(theta, by_theta)
        ex = self.exposure(theta)
        by_w, by_total, out_ends = self._ends(theta, w, ex, by_theta)
        out += out_ends
        by_middle = np.zeros_like(ex.step)
        point, slopes = Point(theta, w, ex), Slopes(by_theta, by_w, by_middle)
        for i in range(len(self.layout.blocks)):
            value, own_g, level = self._signal(i, point, g[i], slopes, sloped, placed)
            out += value
            by_g.append(own_g)
            at.append(level)
        out += self._spread(self.layout.band_scatter, theta, w, by_theta, by_w)
        if sloped:
            self._clock_slopes(theta, ex, by_middle, by_total, by_theta)
        return Worked(out, by_theta, by_w, by_g, at)

    def log_prior(self, theta: np.ndarray, by_theta: np.ndarray) -> np.ndarray:
        """Log prior (N,) up to constants; its slopes are added to by_theta (d, N)."""
        lay = self.layout
        z = (theta - lay.mean[:, None]) / lay.sd[:, None]
        z[lay.pooled_at] = 0.0
        out: np.ndarray = -0.5 * np.sum(z * z, axis=0)
        by_theta -= z / lay.sd[:, None]
        for group in lay.groups:
            by_own = np.zeros((len(group.at), theta.shape[1]))
            out += self._spread(group.spread, theta, theta[group.at], by_theta, by_own)
            by_theta[group.at] += by_own
        return out

    def _ends(
        self, theta: np.ndarray, w: np.ndarray, ex: Exposure, by_theta: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Slopes with w (m, N) and with the log of each band's total, log density (N,)."""
        lay = self.layout
        K, by_shape = WEAR_END.shape(theta[lay.shape])
        log_E = np.log(ex.total) + w
        last = ex.log_rate[self.rows.last] + w
        value, by_log_E, by_log_K, _ = WEAR_END.log_density(K, log_E, last, self.worn)
        by_theta[lay.shape] += by_log_K.sum(axis=0) * by_shape
        return by_log_E + self.worn, by_log_E, value.sum(axis=0)

    def _signal(
        self, i: int, point: Point, g: np.ndarray, added: Slopes, sloped: bool, placed: bool
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Log density (N,) of one signal and of its levels g, or of z if they are `placed`; slopes with g or z, and g.
        The other slopes are `added` to in place."""
        s, block, theta = self.rows.signals[i], self.layout.blocks[i], point.theta
        read = self._read(s, block, point)
        own = self._levels(i, read, g, theta) if placed else None
        g = own.g if own else g
        rest = np.subtract(read.rest, g.take(s.bands, axis=0), out=read.rest)
        value, pull = self.noise(rest, read.scale)
        by_log_scale = np.einsum("ij,ij->j", pull, rest) - len(rest)
        if s.weight != 1:
            pull *= s.weight
        by_own = self.of_bands(s, pull)
        out = s.weight * value.sum(axis=0) + self._spread(block.band, theta, g, added.by_theta, by_own)
        if not sloped:
            return out, by_own, g
        of_noise = (read.sd / read.scale) ** 2  # share of the noise in what scatters the readings
        if own:
            out += own.volume
            by = own.carried(by_own)
            by_own = by.by_z
            pull -= (by.by_middle / np.maximum(self.readings[i], 1)).take(s.bands, axis=0)
            added.by_theta[block.band] += by.by_spread
            added.by_theta[block.noise] -= 2 * by.by_information * of_noise
        added.by_theta[block.noise] += s.weight * by_log_scale * of_noise
        self._follow(s, block, read, pull, added)
        return out, by_own, g

    def _read(self, s: SignalRows, block: Block, point: Point) -> Read:
        """One signal's readings beside what is expected of them."""
        theta, w, ex = point
        middle = np.maximum(ex.middle.take(s.rows, axis=0), 1e-300)
        log_E = np.log(middle)
        log_E += w.take(s.bands, axis=0)
        rise = block.rise(theta, log_E, s.share)
        rest = rise.value
        rest += s.X.times(theta[block.beta])
        np.subtract(s.y[:, None], rest, out=rest)
        sd = np.exp(np.minimum(theta[block.noise], 20.0))
        return Read(rest, middle, rise, sd, s.scale(sd))

    def _levels(self, i: int, read: Read, z: np.ndarray, theta: np.ndarray) -> Placed:
        """One signal's levels placed by z (m, N) about what its readings say."""
        s, n = self.rows.signals[i], self.readings[i]
        off = self.of_bands(s, read.rest) / np.maximum(n, 1)
        own = np.exp(-2 * theta[self.layout.blocks[i].band])
        return levels.place(z, off, n, s.weight * INFO_MEAN / read.scale**2, own)

    def _follow(self, s: SignalRows, block: Block, read: Read, pull: np.ndarray, added: Slopes) -> None:
        """Add a signal's slopes with its level, its rise and the wear used, from those with each reading's mean, `pull`
        (n_s, N), which is changed."""
        (by_theta, by_w, by_middle), rise = added, read.rise
        by_theta[block.beta] += s.X.transposed(pull)
        for place, slope in rise.of_law:
            by_theta[place] += np.einsum("ij,ij->j", pull, slope)
        by_log_E = rise.by_log_E
        by_log_E *= pull
        by_w += self.of_bands(s, by_log_E)
        by_log_E /= read.middle
        by_middle[s.rows] += by_log_E
        pull *= rise.steep
        for place, slope in rise.of_growth:
            by_theta[place] += np.einsum("ij,ij->j", pull, slope)

    def of_bands(self, s: SignalRows, values: np.ndarray) -> np.ndarray:
        """Sums (m, N) of a signal's rows (n_s, N) over the bands, 0 where a band has none."""
        sums = np.asarray(np.add.reduceat(values, s.heads, axis=0))
        if len(s.of) == self.n_bands:
            return sums
        out = np.zeros((self.n_bands, values.shape[1]))
        out[s.of] = sums
        return out

    @staticmethod
    def _spread(place: int, theta: np.ndarray, own: np.ndarray, by_theta: np.ndarray, by_own: np.ndarray) -> np.ndarray:
        """Log density (N,) of effects `own` (m, N) ~ N(0, s^2), log s at `place`."""
        precision = np.exp(-2 * theta[place])
        squares = precision * np.einsum("ij,ij->j", own, own)
        by_theta[place] += squares - len(own)
        by_own -= precision * own
        return np.asarray(-0.5 * squares - len(own) * (theta[place] + HALF_LOG_2PI))

    def _clock_slopes(
        self, theta: np.ndarray, ex: Exposure, by_middle: np.ndarray, by_total: np.ndarray, by_theta: np.ndarray
    ) -> None:
        """Slopes with the clock's coefficients, from those with the running wear and the totals."""
        rows, lay = self.rows, self.layout
        running = np.cumsum(by_middle, axis=0)
        by_rate = (running[rows.last] + by_total / ex.total).take(rows.band, axis=0)
        by_rate -= running  # the sum over later cuts of the band
        by_middle *= 1 - self.left
        by_rate += by_middle
        by_rate *= ex.step
        by_rate[rows.last] += self.worn
        by_eta = -self.X.transposed(by_rate)
        by_theta[lay.eta] += by_eta * np.where(lay.positive[lay.eta, None], lay.coefficients(theta), 1.0)

    def at_readings(self, i: int, theta: np.ndarray, w: np.ndarray, g: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Mean log of one signal's readings (n_s, N) and log wear used there; g (m, N): that signal's levels."""
        s, block = self.rows.signals[i], self.layout.blocks[i]
        log_E = np.minimum(np.log(np.maximum(self.exposure(theta).middle[s.rows], 1e-300)) + w[s.bands], STEEPEST)
        return s.X.times(theta[block.beta]) + g[s.bands] + block.rise(theta, log_E, s.share).value, log_E
