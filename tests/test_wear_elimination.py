"""What is left of the curvature once the band effects are gone, against plain linear algebra (NumPy's inverse and
determinant) on the whole matrix of parameters and band effects."""

from pathlib import Path

import numpy as np
import pytest
from bandtrial import wear
from bandtrial.study import open_study
from bandtrial.wear import elimination
from bandtrial.wear.curvature import curvature
from bandtrial.wear.elimination import eliminate

SAMPLE = Path(__file__).parent / "data" / "sample_study"
CLOSE = 1e-8  # relative: a condition of 1e6 or so leaves that much of a double


@pytest.fixture(scope="module")
def curved():
    fitted = wear.fit(open_study(SAMPLE))
    top = fitted.mode
    return curvature(fitted.density, top.theta, top.w)


def whole(c):
    """Precision of parameters, w and each g together."""
    d, m, levels = len(c.A), len(c.ww), len(c.gg)
    P = np.zeros((d + m * (1 + levels),) * 2)
    P[:d, :d] = c.A
    for k, (rows, own) in enumerate([(c.with_w, c.ww), *zip(c.with_g, c.gg, strict=True)]):
        at = slice(d + k * m, d + (k + 1) * m)
        P[at, :d], P[:d, at] = rows, rows.T
        P[at, at] = np.diag(own)
        if k:
            P[d : d + m, at] = P[at, d : d + m] = np.diag(c.wg[k - 1])
    return P


def test_the_parameters_are_known_as_the_whole_matrix_says(curved):
    d, V = len(curved.A), np.linalg.inv(whole(curved))
    rest = np.ix_(curved.rest, curved.rest)
    left = np.linalg.inv(V[:d, :d])[rest]
    found = eliminate(curved)
    assert pytest.approx(np.linalg.inv(left), rel=CLOSE, abs=CLOSE * np.abs(found.V).max()) == found.V
    assert found.log_det == pytest.approx(np.linalg.slogdet(left)[1], rel=CLOSE)
    every = np.concatenate([at for at, *_ in curved.groups])
    among = np.linalg.inv(np.linalg.inv(V[:d, :d])[np.ix_(every, every)])
    assert np.concatenate(found.V_groups) == pytest.approx(np.diag(among), rel=CLOSE)


def test_a_step_solves_the_eliminated_precision(curved):
    found = eliminate(curved)
    gradient = np.random.default_rng(4).standard_normal(len(curved.A))
    assert found.precision @ found.newton(gradient) == pytest.approx(gradient, rel=1e-6, abs=1e-6)


def test_scatter_knows_each_effect_as_the_whole_matrix_says(curved):
    """Variances of w and of each g with the spreads and the shape held, from the whole inverse."""
    d, m = len(curved.A), len(curved.ww)
    held = np.setdiff1d(np.arange(d), curved.rest)
    free = np.setdiff1d(np.arange(len(whole(curved))), held)
    V = np.zeros(len(whole(curved)))
    V[free] = np.diag(np.linalg.inv(whole(curved)[np.ix_(free, free)]))
    for k, spread in enumerate(eliminate(curved).scatter[: 1 + len(curved.gg)]):
        assert spread.variances == pytest.approx(V[d + k * m : d + (k + 1) * m], rel=CLOSE)


def test_sparse_rows_give_what_full_ones_do(curved, monkeypatch):
    full = eliminate(curved)
    full_parts = elimination.parts(curved)
    monkeypatch.setattr(elimination, "MANY", 1)
    sparse = eliminate(curved)
    assert sparse.precision == pytest.approx(full.precision, rel=CLOSE, abs=CLOSE * np.abs(full.precision).max())
    assert sparse.leverage == pytest.approx(full.leverage, rel=CLOSE)
    for one, other in zip(elimination.parts(curved), full_parts, strict=True):
        assert one[0] == pytest.approx(other[0], rel=CLOSE, abs=CLOSE * np.abs(other[0]).max())
        assert one[1] == pytest.approx(other[1], rel=CLOSE, abs=CLOSE * np.abs(other[1]).max())
