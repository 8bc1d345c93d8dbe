"""What a fit offers to people who write Python: one line, named draws, predictions for a table, export."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial import wear
from bandtrial.study import open_study

DEMO = Path(__file__).parents[1] / "trial_data" / "demo_shop"


@pytest.fixture(scope="module")
def fit():
    return wear.fit(open_study(DEMO), draws=400)


def test_one_line(fit):
    assert repr(fit) == "<Fit of 164 cuts on 10 bands (4 ended by wear), 400 draws, good>"


def test_named_draws_on_scales_that_people_use(fit):
    table = fit.draws
    assert len(table) == 400
    assert table["taylor_n"].to_numpy() == pytest.approx(1 / table["speed_exponent"].to_numpy(), rel=1e-12)
    shown = fit.parameters.loc["taylor_n"]
    # a quantile lies between two of 400 draws, of n here and of m = 1/n in the table: 1/m is bent over that gap
    told = pytest.approx([shown.low, shown.estimate, shown.high], rel=1e-4)
    assert np.quantile(table["taylor_n"], [0.1, 0.5, 0.9]) == told


def test_predictions_for_a_table_of_settings(fit):
    """Rows keep their index and order whatever their material; life as log_tau has it, a signal as `signal` has it."""
    settings = pd.DataFrame(
        {"band_speed": [40.0, 80.0, 50.0], "chip_load": 12.0, "work_thickness": 55.0, "stock": "b27",
         "material": ["guide_52100", "shaft_1045", "guide_52100"], "machine": "cutoff", "wear_used": [0.0, 0.2, 0.5]},
        index=["a", "b", "c"],
    )  # fmt: skip
    got = fit.predict(settings)
    assert list(got.index) == ["a", "b", "c"]
    cutting = {"material": "guide_52100", "machine": "cutoff", "stock": "b27"}
    life = np.exp(fit.log_tau(50.0, 12.0, 55.0, **cutting)[:, 0])
    told = got.loc["c", ["life_low", "life", "life_high"]].to_list()
    assert told == pytest.approx(np.quantile(life, [0.1, 0.5, 0.9]))
    deviation = fit.signal("deviation", 50.0, 12.0, 55.0, **cutting, wear_used=0.5)[:, 0]
    assert got.loc["c", "deviation"] == pytest.approx(np.median(deviation))
    assert (got["life_low"] < got["life"]).all() and (got["life"] < got["life_high"]).all()


def test_without_arviz_the_export_says_what_to_install(fit, monkeypatch):
    monkeypatch.setitem(sys.modules, "arviz", None)
    with pytest.raises(ImportError) as no:
        fit.to_inference_data()
    assert str(no.value) == "The draws go to ArviZ, which is not installed: pip install 'bandtrial[arviz]'."
