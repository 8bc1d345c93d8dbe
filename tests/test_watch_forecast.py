"""Readings against their forecasts: an outside twin, independence, and a band that changes half way."""

import numpy as np
import pytest
from bandtrial.watch.forecast import recursive_residuals
from scipy import stats

SIGMA, LEVEL, RATE = 0.06, 0.05, 0.15


def test_residuals_agree_with_the_joint_normal_law():
    """Twin: with normal noise (dof large) the forecast of reading i is the conditional law of a joint normal,
    d ~ N(0, sigma^2 I + level^2 11' + rate^2 ss'), whose standardised errors are those of its Cholesky factor."""
    rng = np.random.default_rng(4)
    s = np.linspace(0.05, 0.5, 12)
    cov = SIGMA**2 * np.eye(12) + LEVEL**2 + RATE**2 * np.outer(s, s)
    d = rng.multivariate_normal(np.zeros(12), cov)
    twin = np.linalg.solve(np.linalg.cholesky(cov), d)
    np.testing.assert_allclose(recursive_residuals(d, s, SIGMA, LEVEL, RATE, 1e9), twin, rtol=1e-6)  # dof not inf


def test_residuals_of_a_sound_band_are_t_and_independent():
    rng = np.random.default_rng(5)
    s = np.linspace(0.05, 0.5, 30)
    z = []
    for _ in range(400):
        d = rng.normal(0, LEVEL) + rng.normal(0, RATE) * s + SIGMA * rng.standard_t(5, 30)
        z.append(recursive_residuals(d, s, SIGMA, LEVEL, RATE, 5))
    z = np.array(z)
    neighbours = np.corrcoef(z[:, :-1].ravel(), z[:, 1:].ravel())[0, 1]
    assert abs(neighbours) < 3 / np.sqrt(z[:, 1:].size)
    assert stats.kstest(z[:, 10:].ravel(), stats.t(5).cdf).statistic < 0.02  # 8,000 of them: 0.015 at 5 %


def test_a_shift_stands_out_and_an_outlier_is_forgotten():
    """A lasting step of 20 % after 12 readings stays visible; one wild reading hardly moves the next forecast."""
    s = np.linspace(0.05, 0.5, 20)
    step = np.where(np.arange(20) >= 12, np.log(1.2), 0.0)
    z = recursive_residuals(step, s, SIGMA, LEVEL, RATE, 5)
    assert np.all(z[:12] == 0)
    assert z[12] == pytest.approx(np.log(1.2) / SIGMA, rel=0.15)  # wider by what is unknown of the band
    assert np.all(z[12:16] > 1.3)
    wild = recursive_residuals(np.where(np.arange(20) == 12, 1.0, 0.0), s, SIGMA, LEVEL, RATE, 5)
    assert wild[12] > 10 and np.all(np.abs(wild[13:]) < 0.3)


def _one_by_one(d, s, dof):
    """The module's equations as they are written, for one band: a Kalman filter of two states."""
    m, C, z = np.zeros(2), np.diag([LEVEL**2, RATE**2]), []
    for x, reading in zip(np.column_stack([np.ones(len(d)), s]), d, strict=True):
        known = x @ C @ x
        z.append((reading - x @ m) / np.sqrt(SIGMA**2 + known))
        gain = C @ x / (SIGMA**2 * (dof + z[-1] ** 2) / (dof + 1) + known)
        m, C = m + gain * (reading - x @ m), C - np.outer(gain, C @ x)
    return np.array(z)


def test_bands_of_any_length_at_once_agree_with_one_by_one():
    rng = np.random.default_rng(6)
    band = rng.permutation(np.repeat(np.arange(8), [1, 40, 3, 3, 17, 2, 9, 25]))
    s, d = rng.uniform(0.0, 0.6, len(band)), SIGMA * rng.standard_t(5, len(band))
    z = recursive_residuals(d, s, SIGMA, LEVEL, RATE, 5, band)
    for own in range(8):
        alone = _one_by_one(d[band == own], s[band == own], 5)
        np.testing.assert_allclose(z[band == own], alone, rtol=1e-9)  # rounding
    assert len(recursive_residuals(d[:0], s[:0], SIGMA, LEVEL, RATE, 5)) == 0
