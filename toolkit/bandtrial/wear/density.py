"""The joint density of a study's signals and band ends, with its slopes, for many parameter vectors at once.

For a band with own log wear rate w ~ N(0, s_w^2) and own signal levels g_s ~ N(0, s_g^2):

    E_i  = e^w sum_{j <= i} c_j exp(-log tau_j)                       wear used at cut i
    log y_is ~ t_NU(X_i beta + g_s + rise(u_s(E_i)), (sigma_s^2 + rounding^2)^(1/2))
    ends: `terms.WearEnd` in E

The terms are those of `terms`; what is here is how they hang together. Arrays run (rows, points): n cuts or readings,
N parameter vectors. Slopes are exact: a test holds them to differences.
"""

from dataclasses import dataclass
from math import log, pi
from typing import NamedTuple

import numpy as np

from . import levels
from .design import Design
from .terms import INFO_MEAN, STEEPEST, WEAR_END, noise

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


class Density:
    """log p(theta, w, g, log) of one study; theta (d, N), w (m, N), g a list of (m, N)."""

    def __init__(self, rows, layout):
        self.rows, self.layout = rows, layout
        self.X = (
            rows.X if layout.pooled else Design(rows.X.dense(columns=layout.columns), tuple(layout.names[layout.eta]))
        )
        self.n_bands = len(rows.heads)
        self.contact, self.left = rows.contact[:, None], rows.left[:, None]
        self.worn = rows.worn[:, None].astype(float)
        self.readings = [np.bincount(s.bands, minlength=self.n_bands)[:, None] for s in rows.signals]  # of each band

    def exposure(self, theta):
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

    def value(self, theta, w, g):
        """Log density (N,), up to the constants of the normal priors."""
        return self._work(theta, w, g, False)[0]

    def value_and_slopes(self, theta, w, g):
        """Log density (N,), its slopes with theta (d, N), w (m, N) and g (list of (m, N))."""
        return self._work(theta, w, g, True)[:4]

    def placed(self, theta, w, z):
        """The same at levels placed by z (list of (m, N)), see `levels`, with the log volume: log density and its
        slopes with theta, w and z."""
        return self._work(theta, w, z, True, placed=True)[:4]

    def levels(self, theta, w, z):
        """The levels (list of (m, N)) themselves."""
        return self._work(theta, w, z, False, placed=True)[-1]

    def _work(self, theta, w, g, sloped, placed=False):
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
        return out, by_theta, by_w, by_g, at

    def log_prior(self, theta, by_theta):
        """Log prior (N,) up to constants; its slopes are added to by_theta (d, N)."""
        lay = self.layout
        z = (theta - lay.mean[:, None]) / lay.sd[:, None]
        z[lay.pooled_at] = 0.0
        out = -0.5 * np.sum(z * z, axis=0)
        by_theta -= z / lay.sd[:, None]
        for group in lay.groups:
            by_own = np.zeros((len(group.at), theta.shape[1]))
            out += self._spread(group.spread, theta, theta[group.at], by_theta, by_own)
            by_theta[group.at] += by_own
        return out

    def _ends(self, theta, w, ex, by_theta):
        """Slopes with w (m, N) and with the log of each band's total, log density (N,)."""
        lay = self.layout
        K, by_shape = WEAR_END.shape(theta[lay.shape])
        log_E = np.log(ex.total) + w
        last = ex.log_rate[self.rows.last] + w
        value, by_log_E, by_log_K, _ = WEAR_END.log_density(K, log_E, last, self.worn)
        by_theta[lay.shape] += by_log_K.sum(axis=0) * by_shape
        return by_log_E + self.worn, by_log_E, value.sum(axis=0)

    def _signal(self, i, point, g, added, sloped, placed):
        """Log density (N,) of one signal and of its levels g, or of z if they are `placed`; slopes with g or z, and g.
        The other slopes are `added` to in place."""
        (theta, w, ex), (by_theta, by_w, by_middle) = point, added
        s, block = self.rows.signals[i], self.layout.blocks[i]
        middle = np.maximum(ex.middle.take(s.rows, axis=0), 1e-300)
        log_E = np.log(middle)
        log_E += w.take(s.bands, axis=0)
        rest, steep, by_log_E, of_growth, of_law = block.rise(theta, log_E, s.share)
        rest += s.X.times(theta[block.beta])
        np.subtract(s.y[:, None], rest, out=rest)
        sd = np.exp(np.minimum(theta[block.noise], 20.0))
        scale = s.scale(sd)
        if placed:
            n = np.maximum(self.readings[i], 1)
            own = levels.place(
                g,
                self.of_bands(s, rest) / n,
                self.readings[i],
                s.weight * INFO_MEAN / scale**2,
                np.exp(-2 * theta[block.band]),
            )
            g = own.g
        rest -= g.take(s.bands, axis=0)
        value, pull = noise(rest, scale)
        by_log_scale = np.einsum("ij,ij->j", pull, rest) - len(rest)
        if s.weight != 1:
            pull *= s.weight
        by_own = self.of_bands(s, pull)
        out = s.weight * value.sum(axis=0) + self._spread(block.band, theta, g, by_theta, by_own)
        if not sloped:
            return out, None, g
        if placed:
            out += own.volume
            by_own, by_off, by_information, by_spread = own.carried(by_own)
            pull -= (by_off / n).take(s.bands, axis=0)
            by_theta[block.band] += by_spread
            by_theta[block.noise] -= 2 * by_information * (sd / scale) ** 2
        by_theta[block.beta] += s.X.transposed(pull)
        by_theta[block.noise] += s.weight * by_log_scale * (sd / scale) ** 2
        for place, slope in of_law:
            by_theta[place] += np.einsum("ij,ij->j", pull, slope)
        by_log_E *= pull
        by_w += self.of_bands(s, by_log_E)
        by_log_E /= middle
        by_middle[s.rows] += by_log_E
        pull *= steep
        for place, slope in of_growth:
            by_theta[place] += np.einsum("ij,ij->j", pull, slope)
        return out, by_own, g

    def of_bands(self, s, values):
        """Sums (m, N) of a signal's rows (n_s, N) over the bands, 0 where a band has none."""
        sums = np.add.reduceat(values, s.heads, axis=0)
        if len(s.of) == self.n_bands:
            return sums
        out = np.zeros((self.n_bands, values.shape[1]))
        out[s.of] = sums
        return out

    @staticmethod
    def _spread(place, theta, own, by_theta, by_own):
        """Log density (N,) of effects `own` (m, N) ~ N(0, s^2), log s at `place`."""
        precision = np.exp(-2 * theta[place])
        squares = precision * np.einsum("ij,ij->j", own, own)
        by_theta[place] += squares - len(own)
        by_own -= precision * own
        return -0.5 * squares - len(own) * (theta[place] + HALF_LOG_2PI)

    def _clock_slopes(self, theta, ex, by_middle, by_total, by_theta):
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

    def at_readings(self, i, theta, w, g):
        """Mean log of one signal's readings (n_s, N) and log wear used there."""
        s, block = self.rows.signals[i], self.layout.blocks[i]
        log_E = np.minimum(np.log(np.maximum(self.exposure(theta).middle[s.rows], 1e-300)) + w[s.bands], STEEPEST)
        return s.X.times(theta[block.beta]) + g[s.bands] + block.rise(theta, log_E, s.share)[0], log_E

    def band_integrals(self, theta, w, g, steps=2):
        """Log density (m, N) of each band's readings and end, its effects integrated out by Laplace's method about
        where Newton steps from w (m, N) and g (list of (m, N)) lead."""
        for _ in range(steps):
            _, parts, score_g, ww, wg, gg = self.band_scores(theta, w, g)
            score_w = sum(parts)
            schur = ww - sum(a * a / b for a, b in zip(wg, gg, strict=True))
            dw = np.clip((score_w - sum(a * s / b for a, b, s in zip(wg, gg, score_g, strict=True))) / schur, -1, 1)
            w, g = (
                w + dw,
                [old + np.clip((s - a * dw) / b, -2, 2) for old, s, a, b in zip(g, score_g, wg, gg, strict=True)],
            )
        value, _, _, ww, wg, gg = self.band_scores(theta, w, g)
        schur = ww - sum(a * a / b for a, b in zip(wg, gg, strict=True))
        return value + (1 + len(g)) * HALF_LOG_2PI - 0.5 * (np.log(schur) + sum(np.log(b) for b in gg))

    def band_scores(self, theta, w, g):
        """Log density (m, N) of each band with its effects' priors; scores of w, a list of those of its prior, its end
        and each signal; scores of g; precisions of w, w and g, g."""
        lay, ex = self.layout, self.exposure(theta)
        K, _ = WEAR_END.shape(theta[lay.shape])
        log_E = np.log(ex.total) + w
        value, by_log_E, _, power = WEAR_END.log_density(K, log_E, ex.log_rate[self.rows.last] + w, self.worn)
        own = np.exp(-2 * theta[lay.band_scatter])
        value = value - 0.5 * own * w * w - theta[lay.band_scatter] - HALF_LOG_2PI
        score_w, ww, score_g, wg, gg = [-own * w, by_log_E + self.worn], K * K * power + own, [], [], []
        for i, (s, block) in enumerate(zip(self.rows.signals, lay.blocks, strict=True)):
            log_E = np.minimum(np.log(np.maximum(ex.middle[s.rows], 1e-300)) + w[s.bands], STEEPEST)
            rise, _, slope, *_ = block.rise(theta, log_E, s.share)
            scale = s.scale(np.exp(np.minimum(theta[block.noise], 20.0)))
            each, pull = noise(s.y[:, None] - s.X.times(theta[block.beta]) - g[i][s.bands] - rise, scale)
            info, own = s.weight * INFO_MEAN / scale**2, np.exp(-2 * theta[block.band])
            value = value + s.weight * self.of_bands(s, each) - 0.5 * own * g[i] ** 2 - theta[block.band] - HALF_LOG_2PI
            score_w.append(s.weight * self.of_bands(s, pull * slope))
            ww = ww + info * self.of_bands(s, slope * slope)
            score_g.append(s.weight * self.of_bands(s, pull) - own * g[i])
            wg.append(info * self.of_bands(s, slope))
            gg.append(info * self.of_bands(s, np.ones(pull.shape)) + own)
        return value, score_w, score_g, ww, wg, gg
