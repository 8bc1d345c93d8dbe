"""The signals' levels and powers given all else: linear in the log signal, so nearly normal, and taken out.

For each parameter vector the curvature of the levels beta, with each band's effects eliminated, is

    S = sum_s info_s X_s' X_s + 1/sd^2 - (what the bands' levels g and wear rates w explain),

from which beta is stepped to its mode and drawn. What is left for the sampler is about half as many numbers.
"""
from __future__ import annotations

from functools import cached_property

import numpy as np

from .effects import HALF_LOG_2PI
from .joint import FEW_BANDS

ROUNDING = 1e-6      # of a reading's information: what single precision leaves when bands are eliminated


class Levels:
    """Places of beta in the parameter vector and the sums of the designs that never change."""

    def __init__(self, joint):
        self.joint, lay = joint, joint.layout
        self.places = np.array([i for b in lay.blocks for i in range(b.beta.start, b.beta.stop)], dtype=int)
        self.rest = np.setdiff1d(np.arange(len(lay.priors)), self.places)
        sizes = [b.beta.stop - b.beta.start for b in lay.blocks]
        starts = np.cumsum([0, *sizes])
        self.parts = [slice(a, a + n) for a, n in zip(starts, sizes, strict=False)]
        self.XX = [X @ X.T for X in joint.signal_X]
        self.by_band = [joint.band_sum(s, X).T for s, X in zip(joint.rows.signals, joint.signal_X, strict=True)]
        self.squares = [(B[:, :, None] * B[:, None, :]).reshape(len(B), -1) for B in self.by_band]

    @cached_property
    def sums(self):
        """By signal, the matrix of `_sums_by_band`; only where draws are made, as it is as large as the log."""
        joint = self.joint
        if joint.n_bands > FEW_BANDS:
            return [_sparse_sums_by_band(s, X, joint.n_bands)
                    for s, X in zip(joint.rows.signals, joint.signal_X, strict=True)]
        return [_sums_by_band(joint.members[s.name, np.dtype(np.float32)], X)
                for s, X in zip(joint.rows.signals, joint.signal_X, strict=True)]

    def system(self, theta, e):
        """Curvature S (N, p, p), score (N, p) and cross terms with w (N, m, p) at effects `e`."""
        lay, p = self.joint.layout, len(self.places)
        S, score = np.zeros((len(theta), p, p)), np.zeros((len(theta), p))
        with_w = np.zeros((len(theta), self.joint.n_bands, p))
        for i, part in enumerate(self.parts):
            X, B, info, gg = self.joint.signal_X[i], self.by_band[i], e.info[i], e.gg[i]
            S[:, part, part] += info[:, :, None] * self.XX[i]
            S[:, part, part] -= (info**2 / gg @ self.squares[i]).reshape(len(theta), *self.XX[i].shape)
            score[:, part] += e.score[i] @ X.T - info * e.g_score[i] / gg @ B
            by_band = (self.sums[i] @ e.slope[i].T).T.astype(float)
            with_w[:, :, part] = info[:, :, None] * by_band.reshape(len(theta), len(B), -1)
        diagonal = np.arange(p)
        S[:, diagonal, diagonal] += 1 / lay.sd[self.places] ** 2 + ROUNDING * self._alone(e)
        score -= (theta[:, self.places] - lay.mean[self.places]) / lay.sd[self.places] ** 2
        lifted, total = self._eliminated(e, with_w)
        schur = e.schur[:, :, None]
        S -= (lifted / schur).transpose(0, 2, 1) @ lifted
        score -= np.sum(lifted * (total[:, :, None] / schur), axis=1)
        return S, score, with_w

    def _alone(self, e):
        """Information of the readings on each of beta alone (N, p), before anything is eliminated."""
        return np.concatenate([info * np.diag(XX) for info, XX in zip(e.info, self.XX, strict=True)], axis=1)

    def _eliminated(self, e, with_w):
        """Cross terms of beta with w, and the score of w, once the bands' levels are eliminated."""
        lifted = with_w.copy()
        total = e.w_score + e.end_score
        for i, part in enumerate(self.parts):
            lifted[:, :, part] -= (e.info[i] * e.wg[i] / e.gg[i])[:, :, None] * self.by_band[i]
            total = total - e.wg[i] * e.g_score[i] / e.gg[i]
        return lifted, total

    def shifted(self, e, with_w, change):
        """`e` with its scores to first order after beta has changed by (N, p), in place."""
        e.w_score = e.w_score - np.einsum("nmp,np->nm", with_w, change)
        e.g_score = [g - info * (change[:, part] @ B.T) for g, info, part, B in
                     zip(e.g_score, e.info, self.parts, self.by_band, strict=True)]
        return e

    def step(self, S, score):
        try:
            return np.linalg.solve(S, score[:, :, None])[:, :, 0]
        except np.linalg.LinAlgError:
            L = roots(S)
            return np.linalg.solve(L @ L.transpose(0, 2, 1), score[:, :, None])[:, :, 0]

    def draw(self, S, score, rng):
        """Change of beta drawn from the normal law of S and score: change (N, p), log density (N,)."""
        L = roots(S)
        xi = rng.standard_normal(score.shape)
        change = _back(L, _forward(L, score) + xi)                   # S^-1 score + L'^-1 xi
        half_log_det = np.log(np.diagonal(L, axis1=1, axis2=2)).sum(axis=1)
        return change, half_log_det - 0.5 * np.sum(xi**2, axis=1) - score.shape[1] * HALF_LOG_2PI


def _sums_by_band(member, X):
    """Matrix (m p, n) that sums slopes (n,) times each row of the design X (p, n) over each band of `member` (n, m)."""
    return (member.T[:, None, :] * X).reshape(-1, X.shape[1]).astype(np.float32)


def _sparse_sums_by_band(s, X, m):
    """The same of m bands, which are many."""
    from scipy.sparse import csr_array

    p, n = X.shape
    place = s.bands * p + np.arange(p)[:, None]
    return csr_array((X.ravel().astype(np.float32), (place.ravel(), np.tile(np.arange(n), p))), shape=(m * p, n))


def _forward(L, b):
    """x (N, p) of L x = b, L (N, p, p) lower triangular."""
    x = np.empty_like(b)
    for i in range(b.shape[1]):
        x[:, i] = (b[:, i] - np.einsum("nj,nj->n", L[:, i, :i], x[:, :i])) / L[:, i, i]
    return x


def _back(L, b):
    """x (N, p) of L' x = b: with rows and columns in reverse, L' is lower triangular."""
    return _forward(L[:, ::-1, ::-1].transpose(0, 2, 1), b[:, ::-1])[:, ::-1]


def roots(S):
    """Cholesky roots of curvatures (N, p, p); of one that rounding has left without a positive least eigenvalue, that
    of its diagonal."""
    try:
        return np.linalg.cholesky(S)
    except np.linalg.LinAlgError:
        one = np.eye(S.shape[1])
        S = np.where(np.isfinite(S).all(axis=(1, 2), keepdims=True), S, one)
        bad = ~(np.linalg.eigvalsh(S)[:, 0] > 0)
        S[bad] = one * np.maximum(np.abs(S[bad].diagonal(axis1=1, axis2=2)), 1e-12)[:, None, :]
        return np.linalg.cholesky(S)
