"""The slower sampler: many particles carried from a proposal to the density by tempering and moves.

Sequential Monte Carlo (Del Moral, Doucet, Jasra, JRSS B 68 (2006), 411-436) on the path q^(1-b) p^b, with
moves that leave a normal law of the particles' own mean and covariance unchanged (preconditioned
Crank-Nicolson; Cotter, Roberts, Stuart, White, Statistical Science 28 (2013), 424-446). The density may be
an unbiased estimate: it is carried with its particle (Andrieu, Roberts, Annals of Statistics 37 (2009), 697-725).
"""
from __future__ import annotations

import numpy as np

from .importance import resample


def tempered(target, q, n, rng, tried=0, keep=0.6, renewal=3.0, most=60):
    """n draws of the target from proposal q: (theta, beside, method, k_hat, effective, tried).

    Each temper keeps `keep` of the particles effective; at each, moves go on until the particles have been
    renewed (sum of acceptance times squared step) by 0.5, at the last by `renewal`, `most` moves in all.
    """
    theta = q.draw(n, rng)
    log_q = q.log_density(theta)
    log_p, beside = target.density(theta, rng)
    log_p = np.where(np.isfinite(log_p), log_p, -1e300)
    state = [theta, log_q, log_p, beside]
    beta, moves, rho, renewed = 0.0, 0, 0.7, 0.0
    while beta < 1.0:
        gain = state[2] - state[1]
        step = _next_step(gain, 1.0 - beta, keep)
        beta += step
        at = resample(step * gain - np.max(step * gain), n, rng)
        state = [a[at] for a in state]
        renewed = 0.0
        while renewed < (renewal if beta >= 1.0 else 0.5) and moves < most:
            accepted = _move(target, q, state, beta, rho, rng)
            renewed += accepted * (1 - rho**2)
            rho = float(np.clip(rho + (0.3 - accepted) * 0.4, 0.2, 0.98))
            moves += 1
    effective = n * (1 - np.exp(-2 * renewed))
    return state[0], state[3], "tempered", float("nan"), float(effective), tried + n * (moves + 1)


def _next_step(gain, left, keep):
    """Largest step of the temper, at most `left`, that keeps a share `keep` of the particles effective."""
    def share(step):
        w = np.exp(step * (gain - gain.max()))
        return w.sum() ** 2 / (w @ w) / len(w)

    if share(left) >= keep:
        return left
    low, high = 0.0, left
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if share(middle) > keep else (low, middle)
    return max(low, 1e-4 * left)


def _move(target, q, state, beta, rho, rng):
    """One Metropolis move of every particle, in place; returns the mean acceptance."""
    theta, log_q, log_p = state[:3]
    n, d = theta.shape
    mean = theta.mean(axis=0)
    spread = np.cov(theta.T) + 1e-10 * np.diag(theta.var(axis=0) + 1e-12)
    L = np.linalg.cholesky(spread)
    new = mean + rho * (theta - mean) + np.sqrt(1 - rho**2) * rng.standard_normal((n, d)) @ L.T
    new_q = q.log_density(new)
    new_p, new_beside = target.density(new, rng)
    new_p = np.where(np.isfinite(new_p), new_p, -1e300)
    old_z, new_z = (np.linalg.solve(L, (t - mean).T) for t in (theta, new))
    normal = 0.5 * np.sum(new_z**2 - old_z**2, axis=0)
    log_ratio = (1 - beta) * (new_q - log_q) + beta * (new_p - log_p) + normal
    yes = np.log(rng.random(n)) < log_ratio
    for old, fresh in zip(state, (new, new_q, new_p, new_beside), strict=True):
        old[yes] = fresh[yes]
    return float(np.minimum(1.0, np.exp(np.minimum(log_ratio, 0.0))).mean())
