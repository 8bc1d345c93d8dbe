"""What the sampler asks of the model: slopes at a point, and unbiased densities of many points with effects."""
from __future__ import annotations

import numpy as np

from .effects import draw_effects, log_integral, newton_step
from .slopes import slopes

BLOCK = 60_000     # elements (draws x rows) worked on at once: temporaries stay in the processor's cache


class Posterior:
    """A study's posterior as the sampler sees it."""

    def __init__(self, joint):
        self.joint = joint
        self.start, self.scale = joint.layout.mean, joint.layout.sd
        self.centre = None       # slopes at the mode: first guess of the band effects elsewhere

    def slopes(self, theta, last):
        """`slopes.Slopes` at theta (d,), the band effects started from those at the last point."""
        w, g = (None, None) if last is None else (last.w, last.g)
        return slopes(self.joint, theta, w, g)

    def density(self, theta, rng):
        """Unbiased estimate of the marginal posterior density at theta (N, d).

        Returns log density (N,) and the band effects drawn with it, (N, m, 1 + S).
        """
        size = max(1, BLOCK // max(len(self.joint.rows.contact), 1))
        parts = [self._density(theta[i:i + size], rng) for i in range(0, len(theta), size)]
        return np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])

    def _density(self, theta, rng):
        joint = self.joint
        base = joint.base(theta)
        w, g = self.guess(theta)
        e = joint.effects(theta, base, w, g)
        w, g, log_q = draw_effects(e, w, g, base.log_T, self.shape(theta), joint.rows.worn, rng)
        log_p = joint.effects(theta, base, w, g, curvature=False).log_p
        return joint.log_prior(theta) + (log_p - log_q).sum(axis=1), np.stack([w, *g], axis=2)

    def marginal(self, theta):
        """Log density (N,) with the band effects integrated out to second order, ends by table: no noise."""
        joint = self.joint
        base = joint.base(theta)
        w, g = self.guess(theta)
        e = joint.effects(theta, base, w, g)
        dw, dg = newton_step(e)
        w, g = w + np.clip(dw, -1.0, 1.0), [a + b for a, b in zip(g, dg, strict=True)]
        e = joint.effects(theta, base, w, g)
        return joint.log_prior(theta) + log_integral(e, w, g, base.log_T, self.shape(theta),
                                                     joint.rows.worn).sum(axis=1)

    def shape(self, theta):
        return np.exp(np.minimum(theta[:, self.joint.layout.shape], 50.0))[:, None]

    def guess(self, theta):
        """Band effects to first order about the mode: (N, m) and list of (N, m)."""
        shift = theta - self.centre.theta
        at = self.centre.at
        return at.w + shift @ at.dw.T, [g + shift @ dg.T for g, dg in zip(at.g, at.dg, strict=True)]
