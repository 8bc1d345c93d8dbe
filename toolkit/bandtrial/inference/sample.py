"""Posterior draws: importance sampling that checks itself, and a slower sampler that takes over when it fails."""
from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .importance import pareto_smooth, resample
from .proposal import TAILS, SplitT, fit_axes, turn
from .tempered import tempered

GOOD_K, ENOUGH = 0.7, 300        # Pareto k-hat and effective draws asked of importance sampling
ROUNDS = (300, *6 * (200,), 300, 400, 600, 800, 1200, 2000, 3000, 4000)    # draws of each, until both are met
RECENT = 800                     # of the draws, from which the next proposal is learned: it has some 500 terms
LOST = 700, 20                   # draws after which fewer effective ones than this say that the centre is no mode
HARD = 2500                      # draws from which two thirds as many effective ones are enough; and from which, where
                                 # k-hat stays bad, proposals keep the tails of the first: what is missed lies far out
PARTICLES = 1000                 # of the slower sampler, repeated where more draws are asked for


@dataclass(frozen=True)
class Draws:
    """theta (n, d) and what was drawn beside it (n, ...), equally weighted: how made, and how good they are.

    method: "importance", "tempered" or "normal"; k_hat and effective: of the importance weights,
    or, for the tempered sampler, k_hat nan and the effective number by its moves; tried: densities computed.
    """

    theta: np.ndarray
    beside: np.ndarray
    method: str
    k_hat: float
    effective: float
    tried: int

    @property
    def good(self):
        return self.effective >= 100 and not self.k_hat > GOOD_K


def sample(target, centre, covariance, draws, rng, rounds=ROUNDS, enough=ENOUGH, moves=130, wide=1.0, again=None):
    """`draws` posterior draws of a target about its mode `centre` (d,) with covariance (d, d).

    target: `.marginal(theta)` smooth log density (N,), `.density(theta, rng)` unbiased log density (N,) with
    what was drawn beside it (N, e). Proposals are refined round by round from the latest weights; all rounds count,
    weighted against the mixture they were drawn from (Owen and Zhou, JASA 95 (2000), 135-143). wide: by how much the
    first proposal is wider than what was fitted to the density, for each parameter or all: where its tails are heavy,
    few draws miss them. The later ones are half as much wider and have lighter tails, as the first stands beside them;
    from HARD draws on they are like the first where k-hat is bad.
    again: a function that looks for a better centre and returns (centre, covariance), or None; called once, if nearly
    all the weight of the draws lies on a few.
    When k-hat or the effective number stays bad after the last round, `tempered` takes over from the best proposal,
    with at most `moves` moves (0: it does not).
    """
    q = fit_axes(target.marginal, centre, covariance).wider(wide)
    proposals: list[SplitT] = []
    sizes: list[int] = []
    log_q: list[np.ndarray] = []
    theta, log_p, beside = np.empty((0, len(centre))), np.empty(0), []
    for n in rounds:
        new = q.draw(n, rng)
        new_p, new_beside = target.density(new, rng)
        theta = np.concatenate([theta, new])
        log_p = np.append(log_p, np.where(np.isfinite(new_p), new_p, -np.inf))
        beside.append(new_beside)
        log_q = [np.append(row, old.log_density(new)) for row, old in zip(log_q, proposals, strict=True)]
        log_q.append(q.log_density(theta))
        proposals.append(q)
        sizes.append(n)
        log_w, k_hat, effective = pareto_smooth(_mixture_weights(sizes, log_q, log_p))
        if k_hat < GOOD_K and effective >= (enough if len(theta) < HARD else enough / 1.5):
            break
        if again and len(theta) >= LOST[0]:
            better = again() if effective < LOST[1] else None
            if better:
                centre, covariance = better
                return sample(target, centre, covariance, draws, rng, rounds, enough, moves, wide)
            again = None
        last = -max(RECENT, n)
        turned = turn(q, theta[last:], log_p[last:] - log_q[-1][last:])
        heavy = replace(turned, tails=TAILS).wider(wide)
        q = heavy if len(theta) >= HARD and k_hat > GOOD_K else turned.wider((1 + np.asarray(wide)) / 2)
    if moves and not (k_hat < GOOD_K and effective >= 100):
        theta, beside, *rest = tempered(target, heavy, min(draws, PARTICLES), rng, len(theta), most=moves)
        at = np.arange(draws) % len(theta)
        return Draws(theta[at], beside[at], *rest)
    at = resample(log_w, draws, rng)
    return Draws(theta[at], np.concatenate(beside)[at], "importance", k_hat, effective, len(theta))


def _mixture_weights(sizes, log_q, log_p):
    """Log weights (n,) of draws with log density log_p (n,) against the mixture of the proposals, in proportion to the
    `sizes` of their rounds, whose log densities at all draws are log_q, a list of (n,)."""
    log_q = np.stack(log_q) + np.log(np.array(sizes) / sum(sizes))[:, None]
    top = log_q.max(axis=0)
    return log_p - top - np.log(np.exp(log_q - top).sum(axis=0))
