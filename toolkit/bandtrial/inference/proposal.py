"""A t law about the mode, moved, turned and stretched until it looks like the density."""
from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import lgamma

import numpy as np

TAILS = 10.0        # degrees of freedom: tails heavier than a posterior's, so that no weight runs away
FARTHEST = 40.0     # log ratio above the middle one beyond which a draw counts no more, and below the greatest one
LATER_TAILS = 40.0  # of proposals beside which one with TAILS has been drawn from: it is kept in the mixture


@dataclass(frozen=True)
class SplitT:
    """theta = centre + axes . x, x multivariate t with `tails` degrees of freedom, each x_i stretched by right_i
    above zero and by left_i below.

    Source of the form: Geweke, Bayesian inference in econometric models using Monte Carlo integration,
    Econometrica 57 (1989), 1317-1339, section 4 (the split-t law).
    """

    centre: np.ndarray
    axes: np.ndarray
    left: np.ndarray
    right: np.ndarray
    tails: float = TAILS

    def wider(self, by):
        """The same law, each parameter stretched about the centre `by` a factor, (d,) or one for all."""
        return replace(self, axes=np.reshape(by, (-1, 1)) * self.axes)

    def draw(self, n, rng):
        """n draws (n, d)."""
        x = np.abs(rng.standard_normal((n, len(self.centre))))
        x *= np.sqrt(self.tails / rng.chisquare(self.tails, (n, 1)))
        side = rng.random(x.shape) < self.right / (self.left + self.right)
        return self.centre + np.where(side, x * self.right, -x * self.left) @ self.axes.T

    def along(self, theta):
        """Places on the axes x (n, d)."""
        return (theta - self.centre) @ self._to_axes

    @cached_property
    def _to_axes(self):
        return np.linalg.inv(self.axes).T

    @cached_property
    def _log_height(self):
        """Log density at the centre."""
        d = len(self.centre)
        size = np.linalg.slogdet(self.axes)[1] + np.sum(np.log((self.left + self.right) / 2))
        return lgamma((self.tails + d) / 2) - lgamma(self.tails / 2) - d / 2 * np.log(self.tails * np.pi) - size

    def log_density(self, theta):
        x = self.along(theta)
        x /= np.where(x > 0, self.right, self.left)
        return self._log_height - (self.tails + x.shape[1]) / 2 * np.log1p(np.sum(x * x, axis=1) / self.tails)


def symmetric_axes(covariance):
    """Axes A with A A' = covariance that stay as near as can be to the parameters' own: sd times corr^(1/2)."""
    sd = np.sqrt(np.diag(covariance))
    values, vectors = np.linalg.eigh(covariance / np.outer(sd, sd))
    return sd[:, None] * (vectors * np.sqrt(np.maximum(values, 1e-10)) @ vectors.T)


def sound_covariance(precision, scale, least=0.3):
    """Inverse of a precision whose eigenvalues, in units of 1/scale^2, are lifted to `least` where below it."""
    values, vectors = np.linalg.eigh(precision * np.outer(scale, scale))
    half = scale[:, None] * vectors / np.sqrt(np.maximum(values, least))
    return half @ half.T


def fit_axes(log_density, centre, covariance, rounds=3, reach=1.0, far=1.7, near=0.5):
    """SplitT whose centre and side widths follow `log_density` ((N, d) -> (N,)) along symmetric axes.

    Each round reads the density at +-reach on every axis, moves the centre by the Newton step of those
    differences (at most 1.5 an axis, halved until the density rises) and rescales the axes, until a step is no longer
    than `near` and a width off by no more than 2 on any axis; a last reading at +-far sets the widths of each side.
    """
    axes = symmetric_axes(covariance)
    for _ in range(rounds):
        here, up, down = _read(log_density, centre, axes, reach)
        curvature = np.clip(-(up + down - 2 * here) / reach**2, 0.25, 1e4)
        step = np.clip((up - down) / (2 * reach) / curvature, -1.5, 1.5)
        settled = np.max(np.abs(step), initial=0.0) <= near and curvature.max(initial=0.0) <= 4.0
        while not settled and step @ step > 1e-4 and not log_density((centre + axes @ step)[None])[0] > here:
            step = step / 2
        centre, axes = centre + axes @ step, axes / np.sqrt(curvature)
        if settled:
            break
    here, up, down = _read(log_density, centre, axes, far)
    left, right = (np.clip(far / np.sqrt(2 * np.maximum(here - side, 0.02)), 0.5, 2.0) for side in (down, up))
    return SplitT(centre, axes, left, right)


def _read(log_density, centre, axes, reach):
    points = np.concatenate([centre[None], centre + reach * axes.T, centre - reach * axes.T])
    f = log_density(points)
    f = np.where(np.isfinite(f), f, -1e300)
    d = len(centre)
    return f[0], f[1:d + 1], f[d + 1:]


def turn(q, theta, log_ratio, line=0.5, curve=0.1, noise=1.0):
    """The proposal q, moved and turned by what weights on draws tell: theta (n, d), log (p/q) (n,).

    A quadratic in q's own axes is fitted to the log ratio by ridge regression, slopes expected within
    `line` and second-order terms within `curve`; the quadratic is then added to q.
    """
    x = q.along(theta)
    middle = max(np.median(log_ratio), np.max(log_ratio) - FARTHEST)
    ok = np.isfinite(log_ratio) & (log_ratio > middle - 6)
    x, y = np.ascontiguousarray(x[ok].T, np.float32), np.minimum(log_ratio[ok], middle + FARTHEST)
    d = len(x)
    M = np.concatenate([x * line, (x**2 - 1) * curve, *(x[k] * curve * x[k + 1:] for k in range(d - 1))])
    M -= M.mean(axis=1, keepdims=True)
    c = _ridge(M, (y - y.mean()).astype(np.float32), noise).astype(float)
    Q = np.zeros((d, d))
    Q[np.triu_indices(d, 1)] = c[2 * d:] * curve
    Q += Q.T + np.diag(2 * c[d:2 * d] * curve)
    sd = (q.left + q.right) / 2
    values, vectors = np.linalg.eigh(np.diag(1 / sd**2) - Q)
    values = np.clip(values, 0.3, 4.0)
    shift = vectors / values @ (vectors.T @ (c[:d] * line))
    shift *= min(1.0, 2.0 / max(np.sqrt(np.sum(values * (vectors.T @ shift) ** 2)), 1e-9))
    axes = q.axes @ (vectors / np.sqrt(values) @ vectors.T)
    left, right = (np.clip(side / sd, 0.6, 1.6) for side in (q.left, q.right))
    return SplitT(q.centre + q.axes @ shift, axes, left, right, LATER_TAILS)


def _ridge(M, y, noise):
    """Coefficients c (k,) least in |y - c M|^2 / noise + |c|^2, M (k, n), by the smaller of its two systems."""
    k, n = M.shape
    A = M.T @ M if n < k else M @ M.T
    A[np.diag_indices(len(A))] += noise
    return M @ np.linalg.solve(A, y) if n < k else np.linalg.solve(A, M @ y)
