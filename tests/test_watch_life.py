"""Pieces left and the chance of the next: closed forms and an outside library's conditional survival."""

import numpy as np
import pytest
from bandtrial.watch.forecast import MOST, Remaining
from scipy import stats

NEVER_BREAKS = {"bends": 0.0, "bends_per_piece": 1.0, "break_scale": 1e12, "break_shape": 1.0}


def test_next_finishes_is_the_conditional_survival_of_a_weibull():
    """scipy.stats.weibull_min as the outside reference: R = S(E + e) / S(E)."""
    end = stats.weibull_min(2.5)
    ours = Remaining(0.8, 0.05, 2.5, **NEVER_BREAKS).next_finishes()
    assert ours == pytest.approx(end.sf(0.85) / end.sf(0.8), rel=1e-9)  # break_scale leaves 1e-12


def test_breaking_competes_with_wear():
    end, fatigue = stats.weibull_min(2.5), stats.weibull_min(3.0, scale=2e5)
    ours = Remaining(0.8, 0.05, 2.5, bends=1.5e5, bends_per_piece=2e3, break_scale=2e5, break_shape=3.0).next_finishes()
    wear, breaking = end.sf(0.85) / end.sf(0.8), fatigue.sf(1.52e5) / fatigue.sf(1.5e5)
    assert ours == pytest.approx(wear * breaking, rel=1e-12)


def test_pieces_left_without_memory():
    """Shape 1 forgets what was used: P(n >= j) = exp(-e j), geometric, mean 1/(exp(e) - 1)."""
    rng = np.random.default_rng(1)
    n = Remaining(np.full(40_000, 0.7), 0.1, 1.0, **NEVER_BREAKS).pieces_left(rng)
    expected = 1 / np.expm1(0.1)
    assert abs(n.mean() - expected) < 4 * n.std() / np.sqrt(len(n))
    assert np.mean(n == 0) == pytest.approx(-np.expm1(-0.1), abs=4 * np.sqrt(0.095 * 0.905 / 40_000))


def test_pieces_left_agrees_with_the_chance_of_the_next():
    """Twin: the share of draws with at least one piece left is the chance that the next finishes."""
    rng = np.random.default_rng(2)
    band = Remaining(np.full(40_000, 0.9), 0.08, 3.0, 1e5, 4e3, break_scale=2e5, break_shape=4.0)
    share = np.mean(band.pieces_left(rng) >= 1)
    assert share == pytest.approx(band.next_finishes(), abs=4 * np.sqrt(0.25 / 40_000))


def test_a_band_that_cannot_end_has_more_pieces_than_we_count():
    rng = np.random.default_rng(3)
    n = Remaining(np.zeros(5), 1e-12, 2.0, **NEVER_BREAKS).pieces_left(rng)
    assert (n >= MOST - 1).all()
