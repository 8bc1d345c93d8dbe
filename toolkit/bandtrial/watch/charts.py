"""The control chart: Page's cumulative sum, its average run length, and scores that heavy tails cannot upset.

Sources: E. S. Page, Continuous inspection schemes, Biometrika 41 (1954) 100-115; J. M. Lucas and
R. B. Crosier, Fast initial response for CUSUM quality-control schemes, Technometrics 24 (1982) 199-205;
NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3; for the run length A. L. Goel and S. M. Wu,
Technometrics 13 (1971) 221-230; for charting probability scores C. P. Quesenberry, SPC Q charts, Journal of
Quality Technology 23 (1991) 213-224.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

RULE = "two-sided cumulative sum chart (Page 1954; NIST/SEMATECH e-Handbook 6.3.2.3)"
REFERENCE = 0.5  # k: half the shift worth finding, in standard deviations; the handbook's usual choice


def normal_scores(z, tail_dof=np.inf):
    """Standard normal scores y = Phi^-1(T_nu(z)) of residuals z [-] whose noise is Student's t, nu d.o.f.

    nu = inf leaves z as it is. With nu = 4 a wild reading of 20 becomes about 4: one slip cannot ring.
    """
    z = np.asarray(z, float)
    if np.isinf(tail_dof):
        return z.copy()
    from scipy.special import ndtri, stdtr

    return -np.sign(z) * ndtri(stdtr(tail_dof, -np.abs(z)))


def cumulative_sums(y, k=REFERENCE):
    """Upper and lower sums of scores y [-]; a missing score (NaN) leaves both sums as they were.

        S+_i = max(0, S+_(i-1) + y_i - k),      S-_i = max(0, S-_(i-1) - y_i - k)

    worked out for all i at once: S_i is the plain running sum less the least it has been, 0 at the start.
    Returns two arrays as long as y.
    """
    y = np.asarray(y, float)
    step = np.where(np.isfinite(y), [y - k, -y - k], 0.0)
    total = np.cumsum(step, axis=1)
    upper, lower = total - np.minimum(np.minimum.accumulate(total, axis=1), 0.0)
    return upper, lower


def first_alarm(y, h, k=REFERENCE):
    """(index of the first score at which a sum passes h, "up" or "down"), or (None, None) if none does."""
    upper, lower = cumulative_sums(y, k)
    over = np.flatnonzero((upper > h) | (lower > h))
    if len(over) == 0:
        return None, None
    i = int(over[0])
    return i, "up" if upper[i] > h else "down"


def onset(y, alarm, direction, k=REFERENCE):
    """Index of the first score after the alarming sum was last zero: the chart's guess of the start."""
    sums = cumulative_sums(y, k)[0 if direction == "up" else 1]
    zero = np.flatnonzero(sums[: alarm + 1] == 0.0)
    return int(zero[-1]) + 1 if len(zero) else 0


def one_sided_run_length(shift, h, k=REFERENCE, nodes=60):
    """Mean number of normal scores until the upper sum passes h, with the mean shifted by `shift` [sd].

        L(s) = 1 + L(0) Phi(k - s) + integral_0^h L(x) phi(x + k - s) dx    (scores ~ N(shift, 1), s = 0)

    solved on Gauss-Legendre nodes (Goel and Wu 1971).
    """
    from scipy.special import ndtr

    x, w = np.polynomial.legendre.leggauss(nodes)
    x, w = h * (x + 1) / 2, h * w / 2
    s = np.concatenate([[0.0], x])
    step = x[None, :] + k - shift - s[:, None]
    kernel = np.column_stack([ndtr(k - shift - s), w * np.exp(-0.5 * step**2) / np.sqrt(2 * np.pi)])
    return float(np.linalg.solve(np.eye(nodes + 1) - kernel, np.ones(nodes + 1))[0])


def run_length(shift, h, k=REFERENCE):
    """Average run length of the two-sided chart: 1/L = 1/L+ + 1/L- (Lucas and Crosier 1982).

    >>> round(run_length(0.0, h=5.0)), round(run_length(1.0, h=5.0), 1)
    (465, 10.4)
    """
    with np.errstate(divide="ignore"):
        return 1 / (1 / one_sided_run_length(shift, h, k) + 1 / one_sided_run_length(-shift, h, k))


@lru_cache(maxsize=64)
def decision_interval(false_alarm_every, k=REFERENCE):
    """h at which a steady process rings falsely once in `false_alarm_every` scores on average.

    >>> round(decision_interval(465.4), 2)
    5.0
    """
    low, high = 0.0, 1.0
    while run_length(0.0, high, k) < false_alarm_every:
        low, high = high, high + 1.0
    for _ in range(40):  # to rounding; scipy's own finder would take longer to load than all else here
        middle = (low + high) / 2
        low, high = (middle, high) if run_length(0.0, middle, k) < false_alarm_every else (low, middle)
    return (low + high) / 2
