"""What the sampler asks of the model: slopes at a point, and unbiased densities of many points at once.

The sampler sees the parameters that bend the model (`rest`); the signals' levels and the band effects are
drawn with each of its points and come back beside the density.
"""
from __future__ import annotations

from dataclasses import replace

import numpy as np

from .effects import HALF_LOG_2PI, draw_effects, log_integral, newton_step
from .levels import Levels
from .slopes import slopes
from .starts import first_guess

BLOCK = 100_000    # elements (draws x rows) worked on at once: temporaries stay in the processor's cache
WIDE, HEAVY_WIDE = 1.1, 1.3    # proposals over the fitted law: tails of pooled parameters and speed exponents are heavy
FAR_OFF = 5.0      # middle decrement of the guesses' Newton steps above which each guess takes two: the noise halves
MANY_BANDS = 60    # from which band effects are integrated out to second order: means shift by up to 0.05 sd


class Posterior:
    """A study's posterior as the sampler sees it, once `centred` on its mode.

    settled: how far from their own modes, in sd, the band effects may be left on the climb.
    """

    def __init__(self, joint, settled=1e-2):
        self.joint, self.levels, self.settled = joint, Levels(joint), settled
        self.integrated = joint.n_bands >= MANY_BANDS
        self.careful: bool | None = None    # whether guesses take two steps; the first draws tell

    @property
    def start(self):
        """Where a climb to the mode starts (d,)."""
        return first_guess(self.joint, self.levels)

    @property
    def wide(self):
        """How much wider than fitted the sampler should propose each of its parameters (r,)."""
        lay = self.joint.layout
        heavy = [i for i, name in enumerate(lay.names) if name.startswith(("log_scale", "speed_exponent"))]
        heavy += [i for at, _ in lay.groups for i in at]
        return np.where(np.isin(self.levels.rest, heavy), HEAVY_WIDE, WIDE)

    def slopes(self, theta, last):
        """`slopes.Slopes` at theta (d,), the band effects started from those at the last point."""
        if last is None:
            return slopes(self.joint, theta, settled=self.settled)
        shift = np.clip(theta - last.theta, -0.5, 0.5)
        return slopes(self.joint, theta, last.w + last.dw @ shift,
                      [g + dg @ shift for g, dg in zip(last.g, last.dg, strict=True)], settled=self.settled)

    def centred(self, mode, covariance):
        """Take the mode and covariance of all parameters (d, d) as the point about which guesses are made."""
        rest, levels, self.careful = self.levels.rest, self.levels.places, None
        self.mode, at = mode.theta, mode.at
        self.covariance = covariance[np.ix_(rest, rest)]
        self.to_levels = np.linalg.solve(self.covariance, covariance[np.ix_(rest, levels)])   # (rest, levels)
        self.w = at.w, at.dw[:, rest] + at.dw[:, levels] @ self.to_levels.T
        self.g = [(g, dg[:, rest] + dg[:, levels] @ self.to_levels.T) for g, dg in zip(at.g, at.dg, strict=True)]
        return self

    def guess(self, rest):
        """All parameters (N, d), w (N, m) and g to first order about the mode, at `rest` (N, r)."""
        shift = rest - self.mode[self.levels.rest]
        theta = np.empty((len(rest), len(self.mode)))
        theta[:, self.levels.rest] = rest
        theta[:, self.levels.places] = self.mode[self.levels.places] + shift @ self.to_levels
        return theta, self.w[0] + shift @ self.w[1].T, [g + shift @ dg.T for g, dg in self.g]

    def density(self, rest, rng):
        """Unbiased estimate of the log posterior density at `rest` (N, r), with what was drawn beside it.

        Returns log density (N,) and the levels and band effects drawn (N, p + m (1 + S)); see `unpack`. Where
        the bands are MANY_BANDS or more, `marginal` and nothing beside it: the estimate's noise grows with them.
        """
        if self.integrated:
            return self.marginal(rest), np.empty((len(rest), 0))
        return self._in_blocks(lambda part: self._density(part, rng), rest)

    def completed(self, rest, beside, rng):
        """What is drawn beside the draws `rest`, where `density` did not."""
        if not self.integrated:
            return beside
        each, place = np.unique(rest, axis=0, return_inverse=True)
        return self._in_blocks(lambda part: self._density(part, rng), each)[1][place.ravel()]

    def marginal(self, rest):
        """Log density (N,) with levels and band effects integrated out to second order, ends by table: no noise."""
        return self._in_blocks(lambda part: (self._marginal(part),), rest)[0]

    def _in_blocks(self, function, rest):
        size = max(1, BLOCK // max(len(self.joint.rows.contact), 1))
        parts = [function(rest[i:i + size]) for i in range(0, len(rest), size)]
        return tuple(np.concatenate(p) for p in zip(*parts, strict=True))

    def _density(self, rest, rng):
        joint, levels = self.joint, self.levels
        theta, w, g = self.guess(rest)
        base = joint.base(theta, np.float32)
        e = joint.effects(theta, base, w, g, density=False)
        log_q = 0.0
        if len(levels.places):
            S, score, with_w = levels.system(theta, e)
            if self.careful is None:
                self.careful = bool(np.median(self._decrement(e, S, score, with_w)) > FAR_OFF)
            if self.careful:
                self._relevel(theta, base, e, levels.step(S, score), with_w)
                w, g = _followed(e, w, g)
                e = joint.effects(theta, base, w, g, density=False)
                S, score, with_w = levels.system(theta, e)
            change, log_q = levels.draw(S, score, rng)
            self._relevel(theta, base, e, change, with_w)
            w, g = _followed(e, w, g)
            e = joint.effects(theta, base, w, g, curvature="observed", density=False)
        w, g, log_q_bands = draw_effects(e, w, g, base.log_T, self.shape(theta), joint.rows.worn, rng)
        log_p = joint.effects(theta, base, w, g, curvature=None).log_p
        beside = np.concatenate([theta[:, levels.places], np.stack([w, *g], axis=2).reshape(len(theta), -1)], axis=1)
        return joint.log_prior(theta) - log_q + (log_p - log_q_bands).sum(axis=1), beside

    def _relevel(self, theta, base, e, change, with_w):
        """Make a `change` of the levels in theta and base, and to first order in `e`."""
        self.levels.shifted(e, with_w, change)
        theta[:, self.levels.places] += change
        self.joint.relevel(theta, base, np.float32)

    def _decrement(self, e, S, score, with_w):
        """Of the Newton step of levels and bands' wear rates (N,): how far off the guess is, in its own sds squared."""
        change = self.levels.step(S, score)
        dw, _ = newton_step(self.levels.shifted(replace(e), with_w, change))
        return np.sum(change * score, axis=1) + np.sum(dw**2 * e.schur, axis=1)

    def _marginal(self, rest):
        joint, levels = self.joint, self.levels
        theta, w, g = self.guess(rest)
        base = joint.base(theta, np.float32)
        e = joint.effects(theta, base, w, g, density=False)
        if len(levels.places):
            S, score, with_w = levels.system(theta, e)
            self._relevel(theta, base, e, levels.step(S, score), with_w)
        w, g = _followed(e, w, g)
        e = joint.effects(theta, base, w, g)
        out = joint.log_prior(theta) + log_integral(e, w, g, base.log_T, self.shape(theta),
                                                    joint.rows.worn).sum(axis=1)
        if len(levels.places):
            S, score, _ = levels.system(theta, e)
            out += 0.5 * np.sum(score * levels.step(S, score), axis=1) - 0.5 * np.linalg.slogdet(S)[1]
            out += len(levels.places) * HALF_LOG_2PI
        return out

    def unpack(self, rest, beside):
        """All parameters (N, d) and band effects (N, m, 1 + S) from the sampler's draws."""
        p = len(self.levels.places)
        theta = np.empty((len(rest), len(self.mode)))
        theta[:, self.levels.rest], theta[:, self.levels.places] = rest, beside[:, :p]
        return theta, beside[:, p:].reshape(len(rest), self.joint.n_bands, -1)

    def shape(self, theta):
        return np.exp(np.minimum(theta[:, self.joint.layout.shape], 50.0))[:, None]


def _followed(e, w, g):
    """Band effects a Newton step on, none of w longer than 1."""
    dw, dg = newton_step(e)
    return w + np.clip(dw, -1.0, 1.0), [a + b for a, b in zip(g, dg, strict=True)]
