"""The slower sampler: many particles carried from a proposal to the density by tempering and moves.

Sequential Monte Carlo (Del Moral, Doucet, Jasra, JRSS B 68 (2006), 411-436) on the path q^(1-b) p^b, with
moves that leave a normal law of the particles' own mean and covariance unchanged (preconditioned
Crank-Nicolson; Cotter, Roberts, Stuart, White, Statistical Science 28 (2013), 424-446) and moves along the
difference of two other particles (ter Braak, Statistics and Computing 16 (2006), 239-249). The density may be an
unbiased estimate: it is carried with its particle (Andrieu, Roberts, Annals of Statistics 37 (2009), 697-725).
"""
from __future__ import annotations

import numpy as np

from .importance import resample

STRETCH = 64                # moves of the first stretch: shorter ones mistake slow for still
WIDER = 1.3                 # the proposal is widened so: particles can be moved together, not conjured up


def tempered(target, q, n, rng, tried=0, keep=0.6, settled=0.25, most=130):
    """n draws of the target from proposal q: (theta, beside, method, k_hat, effective, tried).

    Each temper keeps `keep` of the particles effective. Moves go on until no coordinate, nor its square,
    remembers where it was: correlation at most 0.7 at a temper. At the last temper stretches of 64, 128, ...
    moves follow until over one the memory is at most `settled`, and no mean (in sd) and no sd (in itself) has
    drifted by more than 0.04 and what n particles do by chance: stretches that double notice a slow drift.
    effective: n (1 - r^2), r the largest correlation left, and 0 when the moves ran out before it settled.
    """
    q = q.wider(WIDER)
    theta = q.draw(n, rng)
    log_p, beside = target.density(theta, rng)
    state = [theta, q.log_density(theta), np.where(np.isfinite(log_p), log_p, -1e300), beside]
    chain = _Chain(target, q, rng, most)
    beta = 0.0
    while beta < 1.0:
        gain = state[2] - state[1]
        step = _next_step(gain, 1.0 - beta, keep)
        beta += step
        at = resample(step * gain - np.max(step * gain), n, rng)
        state = [a[at] for a in state]
        if beta < 1.0:
            chain.until(state, beta, 0.7)
    still, stretch = False, STRETCH
    while not still and chain.moves < most:
        before = state[0].copy()
        for _ in range(min(stretch, most - chain.moves)):
            chain.move(state, 1.0)
        memory, stretch = _memory(before, state[0]), 2 * stretch
        still = memory <= settled and _drift(before, state[0]) < 0.04 + 2 / np.sqrt(n)
    effective = n * (1 - memory**2) if still else 0.0
    return state[0], state[3], "tempered", float("nan"), float(effective), tried + n * (2 * chain.moves + 1)


class _Chain:
    """Moves of all particles, counted, with the length of the first kind of move tuned as it goes."""

    def __init__(self, target, q, rng, most):
        self.target, self.q, self.rng, self.most = target, q, rng, most
        self.moves, self.rho = 0, 0.7

    def until(self, state, beta, settled):
        """Move `state` in place until its memory is at most `settled` or the moves run out."""
        before, memory = state[0].copy(), 1.0
        while memory > settled and self.moves < self.most:
            self.move(state, beta)
            memory = _memory(before, state[0])

    def move(self, state, beta):
        accepted = _move(self.target, self.q, state, beta, self.rho, self.rng)
        self.rho = float(np.clip(self.rho + (0.3 - accepted) * 0.4, 0.2, 0.98))
        self.moves += 1


def _drift(before, after):
    """Largest shift of a coordinate's mean in sd, or relative change of its sd."""
    sd = np.maximum(after.std(axis=0), 1e-300)
    return float(max(np.max(np.abs(after.mean(axis=0) - before.mean(axis=0)) / sd),
                     np.max(np.abs(1 - before.std(axis=0) / sd))))


def _memory(before, after):
    """Largest correlation, over coordinates and their squares, of where particles are with where they were."""
    def parts(x):
        z = (x - x.mean(axis=0)) / np.maximum(x.std(axis=0), 1e-300)
        both = np.hstack([z, z**2])
        return (both - both.mean(axis=0)) / np.maximum(both.std(axis=0), 1e-300)

    return float(np.max(np.abs(np.mean(parts(before) * parts(after), axis=0))))


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
    """Two Metropolis moves of every particle, in place, each half of the cost: one within the normal law of all
    particles, one along the difference of two others. Returns the mean acceptance of the first."""
    theta = state[0]
    n, d = theta.shape
    mean = theta.mean(axis=0)
    L = np.linalg.cholesky(np.cov(theta.T) + 1e-10 * np.diag(theta.var(axis=0) + 1e-12))
    new = mean + rho * (theta - mean) + np.sqrt(1 - rho**2) * rng.standard_normal((n, d)) @ L.T
    old_z, new_z = (np.linalg.solve(L, (t - mean).T) for t in (theta, new))
    accepted = _judge(target, q, state, beta, new, 0.5 * np.sum(new_z**2 - old_z**2, axis=0), rng)
    theta = state[0]
    one, other = (rng.permutation(n) for _ in range(2))
    reach = 2.38 / np.sqrt(2 * d) * np.exp(0.5 * rng.standard_normal((n, 1)))
    new = theta + reach * (theta[one] - theta[other]) + 1e-4 * rng.standard_normal((n, d)) @ L.T
    _judge(target, q, state, beta, new, 0.0, rng)
    return accepted


def _judge(target, q, state, beta, new, correction, rng):
    """Accept or refuse proposals `new` (n, d), in place; mean acceptance."""
    _, log_q, log_p = state[:3]
    new_q = q.log_density(new)
    new_p, new_beside = target.density(new, rng)
    new_p = np.where(np.isfinite(new_p), new_p, -1e300)
    log_ratio = (1 - beta) * (new_q - log_q) + beta * (new_p - log_p) + correction
    yes = np.log(rng.random(len(new))) < log_ratio
    for old, fresh in zip(state, (new, new_q, new_p, new_beside), strict=True):
        old[yes] = fresh[yes]
    return float(np.exp(np.minimum(log_ratio, 0.0)).mean())
