"""Plain maximum likelihood on published life tables: CHECKS C. Each unit is a band of one cut.

Sources are named at each test; refits in the table were run with R 4.2.2, survival 3.5.3 (Surv, survreg).
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial.wear.fitting import fit_rows
from bandtrial.wear.rows import Rows

CHECKS = Path(__file__).parent / "data" / "checks"
FOUR_FIGURES = 5e-4  # "to 4 figures": relative half unit of the fourth figure


def fit_life(time, failed, covariates=None):
    fitted = fit_rows(Rows.of_lives(time, failed, covariates), priors=False, draws=10)
    layout, mode = fitted.layout, fitted.mode
    errors = np.sqrt(np.diag(np.linalg.inv(mode.precision)))
    assert mode.converged
    names = layout.names
    return (dict(zip(names, mode.theta, strict=True)), dict(zip(names, errors, strict=True)), mode.merit)


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
    assert error["thickness_exponent"] == pytest.approx(0.00319, rel=2e-3)  # printed to three figures
    assert log_likelihood == pytest.approx(-147.365, abs=0.01)
    at_130 = np.exp(theta["log_scale"] + 130 * theta["thickness_exponent"])
    assert at_130 == pytest.approx(33813, rel=FOUR_FIGURES)


@pytest.mark.parametrize(
    ("subset", "b0", "b1", "scale", "log_l"),
    [(False, 64.84722, -17.72959, 1.28774, -300.817), (True, 65.30391, -17.86966, 1.19929, -160.820)],
)
def test_insulating_fluid(subset, b0, b1, scale, log_l):
    """C3, C3b. Nelson, Applied Life Data Analysis, 1982, insulating fluid breakdown: 76 times (35 of them from
    memory) and their 41-row subset; survreg(Surv(time) ~ log(kV))."""
    d = pd.read_csv(CHECKS / "insulating_fluid_76.csv")
    d = d[d["in_41_row_subset"] == 1] if subset else d
    theta, _, log_likelihood = fit_life(d["time_min"], np.ones(len(d)), {"thickness_exponent": np.log(d["voltage_kv"])})
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


@pytest.mark.parametrize(("celsius", "median", "sd"), [(105, 1188.46, 0.98070), (125, 308.451, 0.76236)])
def test_resistors_by_a_line_through_the_origin(celsius, median, sd):
    """C4. Tobias and Trindade, Applied Reliability, p. 201 (data as in NIST's sample data): each resistor's
    degradation as a line through the origin, its life at 30 %; mean and sd of the log lives of ten."""
    from bandtrial_lessons.textbook import life_by_line_through_origin

    d = pd.read_csv(CHECKS / "resistor_degradation_60.csv").query("temperature_c == @celsius")
    lives = [
        life_by_line_through_origin(part["time_h"], part["degradation_percent"], 30.0)
        for _, part in d.groupby("component")
    ]
    assert np.exp(np.mean(np.log(lives))) == pytest.approx(median, rel=FOUR_FIGURES / 50)  # printed to six figures
    assert np.std(np.log(lives), ddof=1) == pytest.approx(sd, rel=FOUR_FIGURES / 50)


STUDY = """
[study]
name = "Insulating fluid as bands of one cut"
units = "metric"
currency = "USD"

[costs]
machine_and_labor_per_hour = 60.0
band_change_minutes = 10.0
scrapped_piece = 1.0

[machines.rig]
kind = "vertical"
feed = "rate"
band_speed_ranges = [["20 m/min", "45 m/min"]]
wheel_diameter = "500 mm"
band_length = "1000 mm"
motor_power = "1 kW"

[band_stock.s]
pitch = "6 tpi"
tooth_form = "regular"
set = "raker"
edge = "bimetal"
width = "20 mm"
thickness = "0.9 mm"
kerf = "1.2 mm"
price = 1.0

[materials.oil]
name = "not a metal: a published life table in the clothes of a study"
group = "low-carbon steel"
"""


def test_a_life_table_as_a_study_folder(tmp_path, capsys):
    """C3 through the command: one band a unit, band speed the kV, contact minutes the time (work as long as the
    band). log_scale is the log life at the published start V*, here compared at 34 kV with Nelson's b0 + b1 ln 34."""
    import json

    from bandtrial.__main__ import main

    d = pd.read_csv(CHECKS / "insulating_fluid_76.csv")
    (tmp_path / "study.toml").write_text(STUDY)
    (tmp_path / "bands.csv").write_text(
        "band,stock,machine,end\n" + "".join(f"B{i},s,rig,dull\n" for i in range(len(d)))
    )
    (tmp_path / "cuts.csv").write_text(
        "cut,machine,band,material,work_thickness [mm],cut_travel [mm],band_speed [m/min],cut_time [min]\n"
        + "".join(f"{i},rig,B{i},oil,1000,10,{r.voltage_kv},{r.time_min}\n" for i, r in enumerate(d.itertuples()))
    )
    assert main(["fit", str(tmp_path), "--no-priors", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    p = answer["parameters"]
    assert p["speed_exponent"]["estimate"] == pytest.approx(17.72959, rel=FOUR_FIGURES)
    assert p["taylor_n"]["estimate"] == pytest.approx(1 / 17.72959, rel=FOUR_FIGURES)
    assert 1 / p["weibull_shape"]["estimate"] == pytest.approx(1.28774, rel=FOUR_FIGURES)
    assert answer["log_likelihood"] == pytest.approx(-300.817, abs=0.01)
    assert (answer["n_cuts"], answer["n_bands"], answer["n_failed"], answer["n_censored"]) == (76, 76, 76, 0)
    star = 300 * 0.3048 * 0.88  # ft/min of the handbook's table, at 8 in of work or more
    at_34 = p["log_scale"]["estimate"] - p["speed_exponent"]["estimate"] * np.log(34 / star)
    assert at_34 == pytest.approx(64.84722 - 17.72959 * np.log(34), rel=FOUR_FIGURES)
