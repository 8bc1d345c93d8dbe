"""Plain maximum likelihood on published life tables: CHECKS C. Each unit is a band of one cut.

Sources are named at each test; refits in the table were run with R 4.2.2, survival 3.5.3 (Surv, survreg).
"""
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial.wear.fit import fit_rows
from bandtrial.wear.rows import Rows

CHECKS = Path(__file__).parent / "data" / "checks"
FOUR_FIGURES = 5e-4        # "to 4 figures": relative half unit of the fourth figure


def life_rows(time, failed, covariates=None):
    """Rows of bands with one cut each: contact minutes `time`, log tau = log_scale + sum c_k * covariate_k."""
    time = np.asarray(time, float)
    n = len(time)
    columns, parts = ["log_scale"], [np.ones(n)]
    for name, x in (covariates or {}).items():
        columns.append(name)
        parts.append(np.asarray(x, float))
    return Rows(time, np.full(n, 0.5), np.column_stack(parts), tuple(columns), np.arange(n), np.arange(n),
                np.asarray(failed, bool), tuple(f"B{i}" for i in range(n)),
                {"material": ["m"], "machine": ["s"], "stock": ["b"], "coolant": [], "edge": ["bimetal"]})


def fit_life(time, failed, covariates=None):
    _, layout, _, mode, _ = fit_rows(life_rows(time, failed, covariates), priors=False, draws=10)
    errors = np.sqrt(np.diag(np.linalg.inv(mode.precision)))
    assert mode.converged
    names = layout.names
    return (dict(zip(names, mode.theta, strict=True)), dict(zip(names, errors, strict=True)),
            mode.at.merit)


def test_nist_censored_twenty():
    """C1. NIST/SEMATECH e-Handbook of Statistical Methods 8.4.1.3: scale 606.528, shape 1.7208, -logL 75.135."""
    d = pd.read_csv(CHECKS / "weibull_censored_20.csv")
    time, failed = np.repeat(d["time_h"], d["count"]), np.repeat(d["failed"], d["count"])
    theta, _, log_likelihood = fit_life(time, failed)
    assert np.exp(theta["log_scale"]) == pytest.approx(606.528, rel=FOUR_FIGURES)
    assert np.exp(theta["weibull_shape"]) == pytest.approx(1.7208, rel=FOUR_FIGURES)
    assert log_likelihood == pytest.approx(-75.135, abs=0.01)


def test_motorettes():
    """C2. Nelson and Hahn 1972; data and fit in Venables and Ripley, MASS, `motors`:
    survreg(Surv(time, cens) ~ temp): 16.31852 (0.62296), -0.045307 (0.00319), scale 0.33433, logL -147.365."""
    d = pd.read_csv(CHECKS / "motorettes_class_b_40.csv")
    theta, error, log_likelihood = fit_life(d["time_h"], d["failed"], {"thickness_exponent": d["temperature_c"]})
    assert theta["log_scale"] == pytest.approx(16.31852, rel=FOUR_FIGURES)
    assert theta["thickness_exponent"] == pytest.approx(-0.045307, rel=FOUR_FIGURES)
    assert np.exp(-theta["weibull_shape"]) == pytest.approx(0.33433, rel=FOUR_FIGURES)
    assert error["log_scale"] == pytest.approx(0.62296, rel=FOUR_FIGURES)
    assert error["thickness_exponent"] == pytest.approx(0.00319, rel=2e-3)      # printed to three figures
    assert log_likelihood == pytest.approx(-147.365, abs=0.01)
    at_130 = np.exp(theta["log_scale"] + 130 * theta["thickness_exponent"])
    assert at_130 == pytest.approx(33813, rel=FOUR_FIGURES)


@pytest.mark.parametrize(("subset", "b0", "b1", "scale", "log_l"), [
    (False, 64.84722, -17.72959, 1.28774, -300.817), (True, 65.30391, -17.86966, 1.19929, -160.820)])
def test_insulating_fluid(subset, b0, b1, scale, log_l):
    """C3, C3b. Nelson, Applied Life Data Analysis, 1982, insulating fluid breakdown: 76 times (35 of them from
    memory) and their 41-row subset; survreg(Surv(time) ~ log(kV))."""
    d = pd.read_csv(CHECKS / "insulating_fluid_76.csv")
    d = d[d["in_41_row_subset"] == 1] if subset else d
    theta, _, log_likelihood = fit_life(d["time_min"], np.ones(len(d)),
                                        {"thickness_exponent": np.log(d["voltage_kv"])})
    assert theta["log_scale"] == pytest.approx(b0, rel=FOUR_FIGURES)
    assert theta["thickness_exponent"] == pytest.approx(b1, rel=FOUR_FIGURES)
    assert np.exp(-theta["weibull_shape"]) == pytest.approx(scale, rel=FOUR_FIGURES)
    assert log_likelihood == pytest.approx(log_l, abs=0.01)


def test_insulating_fluid_34_kv():
    """C3c. The same, 34 kV rows: scale 12.2222, shape 0.77082."""
    d = pd.read_csv(CHECKS / "insulating_fluid_76.csv").query("voltage_kv == 34")
    theta, _, _ = fit_life(d["time_min"], np.ones(len(d)))
    assert np.exp(theta["log_scale"]) == pytest.approx(12.2222, rel=FOUR_FIGURES)
    assert np.exp(theta["weibull_shape"]) == pytest.approx(0.77082, rel=FOUR_FIGURES)
