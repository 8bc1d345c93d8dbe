"""What a set of runs is worth: expected saving of the setting chosen after them (preposterior analysis).

The costs of all settings are taken as jointly normal with what the runs would show, so that the readings move the
expected costs by a regression: C -> mean C + B (y - mean y), B = cov(C, y) (cov(y, y) + R)^-1, R the noise.
Value = least expected cost now - expectation of the least expected cost then.
Source: Raiffa and Schlaifer, Applied Statistical Decision Theory (1961), preposterior analysis; regression on
posterior draws: Strong, Oakley, Brennan, Medical Decision Making 34 (2014), 311-326.
"""

from __future__ import annotations

import numpy as np

SHRINK = 0.02
"""Added to the variance of every reading, as a share: keeps chance correlations of the draws small."""


def told(target, shown, errors) -> float:
    """Part of the variance of `target` (S,) that the readings tell, by the same regression."""
    y, t = shown - shown.mean(axis=0), target - target.mean()
    R = errors + np.diag(SHRINK * y.var(axis=0))
    c = y.T @ t / len(t)
    return float(c @ np.linalg.solve(y.T @ y / len(t) + R, c)) if len(c) else 0.0


def least_after(cost, shown, errors, open_now, rng):
    """Expectation of the least expected cost after readings are seen.

    Parameters: cost (S, n) of settings by draw; shown (S, d) noise-free readings; errors (d, d) their covariance;
    open_now (n,) settings that may be chosen; rng for the errors of the readings.
    """
    middle = cost.mean(axis=0)
    if not shown.shape[1]:
        return float(middle[open_now].min())
    y = shown - shown.mean(axis=0)
    S = len(y)
    R = errors + np.diag(SHRINK * y.var(axis=0))
    C = cost[:, open_now] - middle[open_now]
    B = np.linalg.solve(y.T @ y / S + R, y.T @ C / S)
    seen = y + rng.standard_normal(y.shape) @ np.linalg.cholesky(errors).T
    seen -= seen.mean(axis=0)
    return float(np.mean((middle[open_now] + seen @ B).min(axis=1)))
