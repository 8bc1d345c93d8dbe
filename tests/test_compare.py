"""`compare`: the published start against the shop's own optimum, and what the shop's cuts can exclude."""

import known_shop as shop
import numpy as np
import pandas as pd
import pytest
from bandtrial.recommend import compare, recommend


def test_one_row_per_machine_and_material_with_the_reason_where_there_is_none():
    fit = shop.fit()
    lone = shop.cuts(n=2, material="bar").assign(cut=[98, 99], complete=False)
    object.__setattr__(fit, "data", pd.concat([fit.data, lone], ignore_index=True))
    study = shop.study()
    study.materials["bar"] = study.materials["plate"].__class__(**vars(study.materials["plate"]) | {"id": "bar"})
    got = compare(fit, study)
    assert [(row.machine, row.material) for row in got.rows] == [("saw1", "plate"), ("saw1", "bar")]
    assert got.rows[0].reason == ""
    assert got.rows[1].reason == "of 2 cuts of bar on saw1 none went well: each ended its band or was not finished."
    assert got.status == "1 of 2 pairs of machine and material can be judged"
    out = got.to_json()["comparisons"]
    assert out[1]["band_speed"] is None and out[0]["band_speed"] == pytest.approx(got.rows[0].band_speed)


def test_the_optimum_is_the_one_recommended():
    """Both come from one search; the recommendation is rounded to dial and knob: 3 % of a speed of 50 m/min."""
    fit, study = shop.fit(), shop.study()
    row = compare(fit, study).rows[0]
    assert row.band_speed == pytest.approx(
        recommend(fit, study, "saw1", "s8", "plate", 20.0).setting.band_speed, rel=0.03
    )
    assert row.published_band_speed == pytest.approx(shop.STAR)
    assert row.band_speed_low <= row.band_speed <= row.band_speed_high


def test_what_is_certain_is_excluded_and_what_is_not_stays_open():
    """One true curve of cost over speed: the open speeds are those within 5 % of its least."""
    from bandtrial.recommend.job import job_of
    from bandtrial.recommend.longrun import evaluate

    fit, study = shop.fit(sure=0.0, n=8, life=1.0), shop.study()
    row = compare(fit, study).rows[0]
    job = job_of(study, "saw1", "s8", "plate", 20.0)
    V = np.geomspace(0.8 / 1.12, 1.25 * 1.12, 200) * shop.STAR
    V = V[(V <= 40 * 0.96) | (V >= 45 * 0.96)]
    cost = evaluate(fit, job, V, row.chip_load, 80).cost(job.prices).min(axis=2)[0]
    near = V[cost <= 1.05 * cost.min()]
    assert row.open_low == pytest.approx(near.min(), rel=0.06)  # the speeds compared are 6 % apart
    assert row.open_high == pytest.approx(near.max(), rel=0.06)
    doubtful = compare(shop.fit(sure=0.4, life=1.0), study).rows[0]
    assert doubtful.open_high - doubtful.open_low >= row.open_high - row.open_low


def test_a_good_published_start_is_not_called_dear():
    """Where the optimum is at V* and 10 um, the published start costs within 5 % of it, surely."""
    fit = shop.fit(sure=0.02, life=1.4, data=shop.cuts(speeds=(0.8, 1.25), bites=(8.0, 10.0)))
    study = shop.study(ranges=((10.0, 150.0),))
    study.band_stock["s8"].gullet_area = 0.61  # full at 10.2 um
    row = compare(fit, study).rows[0]
    assert abs(row.published_costs_more) < 0.05
    assert row.dearer_by_5_percent < 0.1


def test_text_says_it_in_words():
    text = str(compare(shop.fit(sure=0.05), shop.study()))
    assert text.startswith("status         1 of 1 pairs of machine and material can be judged\n")
    assert "published start 40.9 m/min, chip load 10 µm; the shop's best speed" in text
    assert "with 90 % probability; over 5 % more with over 99 % probability" in text
    assert "speeds not ruled out: " in text
