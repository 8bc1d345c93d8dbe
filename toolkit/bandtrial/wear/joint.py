"""The joint density of a study's signals and band ends, for many parameter vectors at once.

For a band with own log wear rate w ~ N(0, s_w^2) and own signal levels g_s ~ N(0, s_g^2):

    E_i  = e^w sum_{j <= i} c_j exp(-log tau_j)                       wear used at cut i
    log y_is ~ t_NU(mu_is + g_s + log(1 + s_i (j (1 - exp(-E_i/e)) + k E_i)), (sigma_s^2 + rounding^2)^(1/2))
               but by another law than the log of 1 + u where the signal is what the edge leaves (`signals`)
    end by wear:  log density  log K + (K-1) log E + w - log tau_last - E^K     (per contact minute)
    still sound or ended otherwise:  -E^K

The band effects are integrated out: a Newton step to their mode under the curvature expected from the
t law, then one draw with its importance weight, which keeps the estimate of the density unbiased.
"""
from __future__ import annotations

from dataclasses import dataclass, field
from math import lgamma, log, pi

import numpy as np

from .signals import NU, risen

LOG_T = lgamma((NU + 1) / 2) - lgamma(NU / 2) - 0.5 * log(NU * pi)  # t density's constant
INFO_MEAN, INFO_SCALE = (NU + 1) / (NU + 3), 2 * NU / (NU + 3)   # Fisher information of its mean and log scale
TOP = 300.0                                                     # exponents above it are no longer resolved


@dataclass(frozen=True)
class Bounds:
    """What a precision can hold: greatest log wear rate, greatest wear used, largest size of w, least and greatest log
    of a signal's parameters."""

    rate: float
    wear: float
    effect: float
    least: float
    most: float


FEW_BANDS = 20    # up to which rows are summed over bands by a product with a matrix of 0 and 1: it is the faster way
BOUNDS = {np.dtype(np.float64): Bounds(TOP, np.inf, TOP, -TOP, 50.0),
          np.dtype(np.float32): Bounds(60.0, 1e12, 18.0, -18.0, 40.0)}


@dataclass
class Dulling:
    """How one signal rises as bands dull, columns (N, 1): break-in j, steady rise k, break-in's length e; its noise;
    the bend b of its growth, or None."""

    j: np.ndarray
    k: np.ndarray
    length: np.ndarray
    sigma: np.ndarray    # in double precision
    bend: np.ndarray | None = None


@dataclass
class Base:
    """What the band effects do not change, for N parameter vectors: sums of exposure and signal means."""

    E: list        # per signal: wear used at its rows for w = 0 (N, n_s)
    share: list    # per signal: share s of dulling (N, n_s), 1 where the same at all settings
    dulling: list  # per signal: `Dulling`
    above: list    # per signal: log reading less its log level without dulling and band level (N, n_s)
    log_T: np.ndarray   # log wear used at the end of each band for w = 0 (N, m)
    log_rate: np.ndarray  # -log tau of the last cut of each band (N, m)


@dataclass
class Effects:
    """Score and curvature of the band effects, arrays (N, m) and lists of them by signal; arrow-shaped per band.

    What a band's end adds to w is kept apart from what signals and prior add."""

    log_p: np.ndarray
    end_score: np.ndarray
    end_curve: np.ndarray
    w_score: np.ndarray | float = 0.0
    ww: np.ndarray | float = 0.0
    g_score: list = field(default_factory=list)
    wg: list = field(default_factory=list)
    gg: list = field(default_factory=list)
    score: list = field(default_factory=list)    # by signal: d log p / d log level of each reading (N, n_s)
    slope: list = field(default_factory=list)    # by signal: d log growth / d w (N, n_s)
    info: list = field(default_factory=list)     # by signal: information of a reading on its log level (N, 1)
    least: np.ndarray | float = 0.0              # bound of `smooth` from below, for observed curvatures

    @property
    def smooth(self):
        """Precision of w from signals and prior, the band's levels eliminated."""
        return np.maximum(self.ww - sum(wg**2 / gg for wg, gg in zip(self.wg, self.gg, strict=True)), self.least)

    @property
    def schur(self):
        return self.smooth + self.end_curve

    @property
    def log_det(self):
        return np.log(self.schur) + sum(np.log(gg) for gg in self.gg)


class Joint:
    """Density of one study; `theta` arrays are (N, d) in the order of the layout."""

    def __init__(self, rows, layout):
        self.rows, self.layout = rows, layout
        self.X = np.ascontiguousarray(rows.X[:, layout.columns].T)                  # (p, n)
        self.signal_X = [np.ascontiguousarray(s.X.T) for s in rows.signals]
        self.eta_positive = layout.positive[layout.eta]
        self.n_bands = len(rows.heads)
        self.members = {(s.name, precision): (s.bands[:, None] == np.arange(self.n_bands)).astype(precision)
                        for s in rows.signals for precision in BOUNDS if self.n_bands <= FEW_BANDS}
        self.bent = [_bent(layout, block) for block in layout.blocks]
        self.own = [np.r_[bent, b.beta.start:b.beta.stop] for bent, b in zip(self.bent, layout.blocks, strict=True)]
        self.counts = [np.bincount(s.bands, minlength=self.n_bands) for s in rows.signals]

    def base(self, theta, dtype=float):
        """`Base` at theta; dtype: of the arrays over readings, and so of all work on them (see `effects`)."""
        rows, lay = self.rows, self.layout
        coefficient = np.where(self.eta_positive, np.exp(theta[:, lay.eta]), theta[:, lay.eta])
        log_rate = -(coefficient @ self.X)
        bounds = BOUNDS[np.dtype(dtype)]
        step = rows.contact * np.exp(np.minimum(log_rate, bounds.rate).astype(dtype, copy=False))
        total = rows.running(step)
        last = rows.last
        middle = np.minimum(total - rows.left * step, bounds.wear).astype(dtype, copy=False) if rows.signals else total
        E = [middle[:, s.rows] if len(s.rows) < len(rows.left) else middle for s in rows.signals]
        base = Base(E, self._shares(theta, dtype), self._dulling(theta, dtype), [],
                    np.log(np.maximum(total[:, last], 1e-300)), log_rate[:, last])
        self.relevel(theta, base, dtype)
        return base

    def _shares(self, theta, dtype):
        """Share of dulling at each reading, a list by signal; its powers kept within what the precision can hold."""
        out = []
        for s, b in zip(self.rows.signals, self.layout.blocks, strict=True):
            if b.share is None:
                out.append(1.0)
                continue
            most = BOUNDS[np.dtype(dtype)].effect / max(float(np.max(np.abs(s.share), initial=0.0)), 1e-300)
            power = np.minimum(np.maximum(theta[:, b.share], -most), most).astype(dtype)
            out.append(np.exp(power[:, None] * s.share.astype(dtype)))
        return out

    def _dulling(self, theta, dtype):
        """Each signal's `Dulling`, the logs of its parameters kept within what the precision can hold."""
        bounds, out = BOUNDS[np.dtype(dtype)], []
        for s, b in zip(self.rows.signals, self.layout.blocks, strict=True):
            at = [b.break_in, b.dulling, self.layout.break_in_length, b.noise]
            logs = np.minimum(np.maximum(theta[:, at], bounds.least), bounds.most)
            j, k, length, noise = np.exp(logs).T[:, :, None]
            bend = None if b.bend is None else theta[:, b.bend, None].astype(dtype)
            out.append(Dulling(j.astype(dtype), k.astype(dtype), length.astype(dtype), s.scale(noise), bend))
        return out

    def relevel(self, theta, base, dtype=float):
        """`base` after the signals' levels and powers have changed, in place."""
        base.above = [(s.y - theta[:, b.beta] @ X).astype(dtype, copy=False)
                      for s, b, X in zip(self.rows.signals, self.layout.blocks, self.signal_X, strict=True)]

    def effects(self, theta, base, w, g, curvature="expected", density=True):
        """Log density of each band given its effects w (N, m), g list of (N, m), with score and curvature.

        curvature: "expected" of the t law, positive whatever the readings; "observed" at these readings, which
        draws follow better, kept above 0.4 of the expected; None for the density alone. density: False where
        score and curvature alone are wanted. Sums over readings are taken in double precision, whatever the
        precision of `base`; in single precision a log density is off by some 1e-5, nothing beside its weight.
        """
        lay = self.layout
        out = self._ends(theta, base, w)
        for i, (s, block) in enumerate(zip(self.rows.signals, lay.blocks, strict=True)):
            self._signal(theta, base, i, s, block, w, g, out, curvature, density)
        if lay.pooled:
            s_w = np.exp(theta[:, lay.band_scatter])[:, None]
            out.log_p += -0.5 * (w / s_w) ** 2 - np.log(s_w) - 0.5 * np.log(2 * np.pi)
            out.w_score = out.w_score - w / s_w**2
            out.ww = out.ww + 1 / s_w**2
            out.least = 0.4 / s_w**2
        return out

    def _ends(self, theta, base, w):
        shape = np.exp(np.minimum(theta[:, self.layout.shape], 50.0))[:, None]
        log_E = base.log_T + w
        power = np.exp(np.clip(shape * log_E, -TOP, TOP))
        worn = self.rows.worn
        log_p = np.where(worn, np.log(shape) + (shape - 1) * log_E + base.log_rate + w, 0.0) - power
        return Effects(log_p, shape * (worn - power), shape**2 * power)

    def _signal(self, theta, base, i, s, block, w, g, out, curvature, density):
        above, wear, dulling = base.above[i], base.E[i], base.dulling[i]
        j, k, length, sigma = dulling.j, dulling.k, dulling.length, dulling.sigma
        far, counts = BOUNDS[above.dtype].effect, self.counts[i]
        if self.layout.pooled:
            factor = np.exp(np.minimum(np.maximum(w, -far), far)).astype(above.dtype, copy=False)
            wear = wear * np.repeat(factor, counts, axis=1)
        fade = np.exp(wear * (-1 / length))
        growth = fade * -j
        growth += wear * k
        growth += j
        growth *= base.share[i]
        if dulling.bend is None:
            growth += 1
            r = above - np.log(growth)
        else:
            rise, by_growth = risen(growth, dulling.bend)
            r = above - rise
        if self.layout.pooled:
            r -= np.repeat(g[i].astype(above.dtype, copy=False), counts, axis=1)
        spread = r * r
        spread += (NU * sigma**2).astype(above.dtype, copy=False)
        if density:
            each = LOG_T + (NU + 1) / 2 * np.log(NU) + NU * np.log(sigma)
            out.log_p = out.log_p + counts * each - (NU + 1) / 2 * self.band_sum(s, np.log(spread))
        if not self.layout.pooled:
            return
        s_g = np.exp(theta[:, block.band])[:, None]
        out.log_p += -0.5 * (g[i] / s_g) ** 2 - np.log(s_g) - 0.5 * np.log(2 * np.pi)
        if curvature is None:
            return
        score = r * (NU + 1)
        score /= spread
        slope = fade                                                  # d log(growth) / dw
        slope *= j / length
        slope += k
        slope *= wear
        slope *= base.share[i]
        if dulling.bend is None:
            slope /= growth
        else:
            slope *= by_growth
        out.score.append(score)
        out.slope.append(slope)
        self._curve(s, i, sigma, r, spread, score, slope, g[i] / s_g**2, 1 / s_g**2, out, curvature)

    def _curve(self, s, i, sigma, r, spread, score, slope, pull, own, out, curvature):
        """Add to `out` what one signal's readings say: scores, and curvature as asked for."""
        info = INFO_MEAN / sigma**2
        out.info.append(info)
        out.w_score = out.w_score + self.band_sum(s, score * slope)
        out.g_score.append(self.band_sum(s, score) - pull)
        expected = info * self.counts[i]
        if curvature == "expected":
            out.ww = out.ww + info * self.band_sum(s, slope * slope)
            out.wg.append(info * self.band_sum(s, slope))
            out.gg.append(expected + own)
            return
        each = (2 * NU * (NU + 1)) * (sigma**2).astype(r.dtype) / spread
        each -= NU + 1
        each /= spread                                                # (NU + 1) (NU sigma^2 - r^2) / spread^2
        out.gg.append(np.maximum(self.band_sum(s, each), 0.4 * expected) + own)
        each *= slope
        out.wg.append(self.band_sum(s, each))
        each *= slope
        out.ww = out.ww + self.band_sum(s, each)

    def band_sum(self, s, values):
        """Sum of a signal's rows over the bands: (N, n_s) -> (N, m), 0 where a band has none."""
        member = self.members.get((s.name, values.dtype))
        if member is not None:
            return (values @ member).astype(float, copy=False)
        sums = np.add.reduceat(values, s.heads, axis=1, dtype=float)
        if len(s.of) == self.n_bands:
            return sums
        out = np.zeros((len(values), self.n_bands))
        out[:, s.of] = sums
        return out

    def no_effects(self, n):
        return np.zeros((n, self.n_bands)), [np.zeros((n, self.n_bands)) for _ in self.rows.signals]

    def log_prior(self, theta):
        """Log prior (N,) up to the constants of the normal laws."""
        from ..inference import exchangeable

        lay = self.layout
        z = (theta - lay.mean) / lay.sd
        out = -0.5 * z**2
        total = out.sum(axis=1)
        for at, spread in lay.groups:
            total += exchangeable(theta[:, at], spread)[0] - out[:, at].sum(axis=1)
        return total


def _bent(layout, block):
    """Places of the parameters on which a signal's growth depends: the clock's and those of its dulling."""
    dulling = [layout.break_in_length, block.break_in, block.dulling, block.share, block.bend]
    return np.r_[layout.eta, [place for place in dulling if place is not None]]
