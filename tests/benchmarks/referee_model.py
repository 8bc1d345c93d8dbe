"""The model stated a second time, in jax and from its words alone (`wear.terms`, `wear.density`): the referee's.

Taken from the fit: priors, design matrices, readings, contact minutes. Not taken: any density, slope, start or map. The
common spread of a group's effects is a parameter here, where the fit integrates it out by quadrature.
"""

from __future__ import annotations

import jax
import jax.numpy as jnp
import numpy as np
from jax.scipy.special import gammaln

FREEDOM = 5.0
HIGHEST_SHAPE = 20.0
RATE_CAP, RISE_CAP = 60.0, 30.0


def normal(x, mean, sd):
    """Sum of the log density of normal laws."""
    z = (x - mean) / sd
    return jnp.sum(-0.5 * z * z - jnp.log(sd) - 0.5 * jnp.log(2 * jnp.pi))


def student(rest, scale):
    """Log density of Student's t law, of each."""
    constant = gammaln((FREEDOM + 1) / 2) - gammaln(FREEDOM / 2) - 0.5 * jnp.log(FREEDOM * jnp.pi)
    return constant - jnp.log(scale) - (FREEDOM + 1) / 2 * jnp.log1p((rest / scale) ** 2 / FREEDOM)


class Model:
    """Log density of one study over {"theta", "spread", "w", "g0", "g1", ...}, theta in units of its prior.

    Effects of bands are sampled as effect = s^share raw, raw ~ N(0, s^(1 - share)): share 1 where the prior tells most,
    0 where the readings do. `shares` holds them, for w and each g; any values give the same law.
    """

    def __init__(self, rows, layout, shares):
        self.layout, self.shares, n = layout, shares, len(rows.contact)
        self.mean, self.sd = jnp.array(layout.mean), jnp.array(layout.sd)
        self.positive = jnp.array(layout.positive[layout.eta])
        self.X = jnp.array(rows.X.dense())
        self.heads = np.asarray(rows.heads)
        counts = np.diff(np.append(self.heads, n))
        self.last = self.heads + counts - 1
        place = np.arange(n) - self.heads[rows.band]
        self.grid = (np.asarray(rows.band), place)  # cuts as bands by turns
        self.shape = (len(counts), int(counts.max()))
        self.contact, self.left = jnp.array(rows.contact), jnp.array(rows.left)
        self.worn = jnp.array(rows.worn, float)
        self.signals = [_readings(s) for s in rows.signals]

    @property
    def places(self):
        """Places in theta of the log spreads of w and of each g."""
        return [self.layout.band_scatter, *(block.band for block in self.layout.blocks)]

    def folded(self, fit):
        """Draws of the fit as the referee's own coordinates, {name: (n, size)}."""
        out = {"theta": (fit.theta - fit.layout.mean) / fit.layout.sd}
        for group in self.layout.groups:
            out["theta"][:, group.at] = fit.theta[:, group.at] / np.exp(fit.theta[:, [group.spread]])
        for i, (place, share) in enumerate(zip(self.places, self.shares, strict=True)):
            effects = np.broadcast_to(fit.drawn.beside[:, :, i], (len(fit.theta), len(share)))
            out[f"g{i - 1}" if i else "w"] = effects / np.exp(fit.theta[:, [place]] * share)
        return out

    def middle(self, rng, scale=0.3):
        """A point about the middle of the priors."""
        bands = self.shape[0]
        sizes = {"theta": len(self.mean), "w": bands}
        sizes |= {f"g{i}": bands for i in range(len(self.signals))}
        return {name: scale * rng.standard_normal(size) for name, size in sizes.items()}

    @staticmethod
    def out(known, factor, rng):
        """One of the points `known`, `factor` times as far from their mean."""
        i = int(rng.integers(len(known["theta"])))
        return {name: a.mean(axis=0) + factor * (a[i] - a.mean(axis=0)) for name, a in known.items()}

    def unfolded(self, z):
        """theta on its working scale, w, list of g; log volume."""
        theta = self.mean + self.sd * z["theta"]
        for group in self.layout.groups:
            theta = theta.at[group.at].set(jnp.exp(theta[group.spread]) * z["theta"][group.at])
        w = jnp.exp(self.shares[0] * theta[self.layout.band_scatter]) * z["w"]
        g = [
            jnp.exp(share * theta[block.band]) * z[f"g{i}"]
            for i, (block, share) in enumerate(zip(self.layout.blocks, self.shares[1:], strict=True))
        ]
        return theta, w, g

    def log_density(self, z):
        theta, w, g = self.unfolded(z)
        out = normal(z["theta"], 0.0, 1.0)
        out += normal(z["w"], 0.0, jnp.exp((1 - self.shares[0]) * theta[self.layout.band_scatter]))
        for i, (block, share) in enumerate(zip(self.layout.blocks, self.shares[1:], strict=True)):
            out += normal(z[f"g{i}"], 0.0, jnp.exp((1 - share) * theta[block.band]))
        before, total, rate = self.clock(theta)
        out += self.ends(theta, jnp.log(total) + w, rate[self.last] + w)
        for i in range(len(self.signals)):
            out += self.readings(i, theta, before, w, g[i])
        return out

    def clock(self, theta):
        """Wear used at the moment of measuring and in all, for w = 0, and the log wear rate."""
        eta = theta[self.layout.eta]
        rate = jnp.minimum(-self.X @ jnp.where(self.positive, jnp.exp(eta), eta), RATE_CAP)
        step = self.contact * jnp.exp(rate)
        by_band = jnp.zeros(self.shape).at[self.grid].set(step)
        running = jnp.cumsum(by_band, axis=1)
        return running[self.grid] - self.left * step, by_band.sum(axis=1), rate

    def ends(self, theta, log_wear, log_rate):
        """Weibull in wear used, on the time scale; bands still sound by their survival."""
        free = jnp.exp(theta[self.layout.shape])
        K = free / jnp.cbrt(1 + (free / HIGHEST_SHAPE) ** 3)
        hazard = jnp.log(K) + (K - 1) * log_wear + log_rate
        return jnp.sum(self.worn * hazard - jnp.exp(jnp.minimum(K * log_wear, 300.0)))

    def readings(self, i, theta, before, w, g):
        """One signal: level, powers and the rise with the wear used, Student's t about it."""
        s, block = self.signals[i], self.layout.blocks[i]
        log_wear = jnp.log(jnp.maximum(before[s["rows"]], 1e-300)) + w[s["bands"]]
        log_wear = jnp.minimum(log_wear, RISE_CAP)
        j, k, power, length = (jnp.exp(theta[block.growth[at]]) for at in (0, 1, 2, 3))
        early = j * (1 - jnp.exp(-jnp.exp(log_wear) / length))
        u = early + k * jnp.exp(jnp.minimum(power * log_wear, RISE_CAP))
        if block.growth[4] is not None:
            u = u * jnp.exp(theta[block.growth[4]] * s["share"])
        if type(block.law).__name__ == "Leaves":
            rise = jnp.arcsinh(0.5) + jnp.arcsinh(u * jnp.sqrt(1.25) - 0.5)
        else:
            rise = jnp.log1p(u)
        scale = jnp.sqrt(jnp.exp(2 * theta[block.noise]) + s["rounding"] ** 2)
        rest = s["y"] - s["X"] @ theta[block.beta] - g[s["bands"]] - rise
        return s["weight"] * jnp.sum(student(rest, scale))


def _readings(s):
    arrays = {"rows": np.asarray(s.rows), "bands": np.asarray(s.bands), "rounding": s.rounding, "weight": s.weight}
    return arrays | {"y": jnp.array(s.y), "X": jnp.array(s.X.dense()), "share": jnp.array(s.share)}


def shares_of(fit):
    """How far to leave effects to their priors: the drawn variance of each over that of its prior. Speed only."""
    s, m = fit.layout, fit.n_bands
    spreads = [s.band_scatter, *(block.band for block in s.blocks)]
    drawn = fit.drawn.beside.var(axis=0)  # (m, 1 + S)
    prior = np.exp(2 * fit.theta[:, spreads]).mean(axis=0)
    return [np.broadcast_to(np.clip(v / p, 0.0, 1.0), (m,)) for v, p in zip(drawn.T, prior, strict=True)]


def apart(model, fit, points=20):
    """Spread of the difference between the two statements' log densities at drawn points: 0 but for rounding."""
    theta, beside = fit.theta[:points], fit.drawn.beside[:points]
    own = fit.density.value(theta.T, beside[:, :, 0].T, [a.T for a in np.moveaxis(beside[:, :, 1:], 2, 0)])
    known, log_density = model.folded(fit), jax.jit(model.log_density)
    found = []
    for n, draw in enumerate(theta):
        z = {name: a[n] for name, a in known.items()}
        rest = sum(share.sum() * draw[place] for place, share in zip(model.places, model.shares, strict=True))
        rest += sum(len(group.at) * draw[group.spread] for group in model.layout.groups)
        found.append(float(log_density(z)) - rest)
    return float(np.ptp(np.array(found) - own))
