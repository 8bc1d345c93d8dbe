"""The report of a long log: a page that stays small, what it sums up, and CSV files that have it all."""

import csv
import re

import numpy as np
import pandas as pd
import pytest
from bandtrial import study, wear
from bandtrial.plots import evidence
from bandtrial.report import context, data, export, figures
from study_folders import TOML, folder

BANDS, PER_BAND, MOST = 320, 4, 300


@pytest.fixture(scope="module")
def long(tmp_path_factory):
    """Invented: 320 bands of 4 cuts each, 400 cuts excluded for three reasons; fitted, and gathered for a report."""
    rng = np.random.default_rng(2)
    n = BANDS * PER_BAND
    V, F = rng.uniform(150, 220, n).round(), rng.uniform(4, 6, n).round(2)
    exclude = np.where(np.arange(n) < 400, np.array(["=slipped", "wrong bar", "stopped"])[np.arange(n) % 3], "")
    pieces = np.repeat(rng.integers(25, 56, BANDS), PER_BAND)
    power = 0.4 * V / 180 * (1 + 0.005 * pieces * (np.arange(n) % PER_BAND)) * rng.lognormal(0, 0.04, n)
    cuts = pd.DataFrame({
        "cut": np.arange(1, n + 1), "machine": "saw1", "band": [f"B{k // PER_BAND}" for k in range(n)],
        "material": "plate", "work_thickness [in]": 1, "cut_travel [in]": 10, "band_speed [ft/min]": V,
        "feed_rate [in/min]": F, "cut_time [s]": (600 / F).round(1), "pieces": pieces, "exclude": exclude,
        "motor_power [kW]": power.round(3), "note": "",
    })  # fmt: skip
    bands = pd.DataFrame({"band": [f"B{k}" for k in range(BANDS)], "stock": "s8", "machine": "saw1",
                          "end": np.where(np.arange(BANDS) % 5, "removed_sound", "dull")})  # fmt: skip
    place = folder(tmp_path_factory.mktemp("long") / "study", cuts.to_csv(index=False), bands.to_csv(index=False), TOML)
    opened = study.open_study(place)
    return context.gather(opened, wear.fit(opened, draws=200)), opened


def test_the_page_sums_up_what_the_csv_files_list(long, tmp_path):
    g, opened = long
    fields = context.page_fields(g, "2027-04-01", "command", "files")
    heads, rows = fields["bands"]
    assert fields["bands_title"] == "What the bands did" and len(rows) == 2
    assert sum(int(row[heads.index("bands")].replace(",", "")) for row in rows) == BANDS
    assert sum(int(row[heads.index("cuts")].replace(",", "")) for row in rows) == BANDS * PER_BAND
    heads, rows = fields["left_out"]
    assert fields["left_out_title"].endswith("by reason")
    assert [row[:2] for row in rows] == [["the log says: =slipped", "134"], ["the log says: wrong bar", "133"],
                                         ["the log says: stopped", "133"]]  # fmt: skip
    assert "the CSV file of bands beside this page lists each" in fields["data_words"][1]
    assert max(len(table[1]) for table in fields.values() if isinstance(table, tuple) and len(table) == 2) <= MOST

    export.fill(g, *export.beside(tmp_path / "study.html"))
    with (tmp_path / "study_bands.csv").open(encoding="utf-8") as file:
        listed = list(csv.DictReader(file))
    assert [row["band"] for row in listed] == [f"B{k}" for k in range(BANDS)]
    table = study.cut_table(opened)
    area = (table["cut_area"] * table["pieces"]).groupby(table["band"], sort=False).sum()
    np.testing.assert_allclose([float(row["area sawn [cm2]"]) for row in listed], area, rtol=1e-12)
    assert all(float(row["wear_used_low"]) < float(row["wear_used"]) < float(row["wear_used_high"]) for row in listed)
    with (tmp_path / "study_cuts.csv").open(encoding="utf-8") as file:
        cuts = list(csv.DictReader(file))
    assert len(cuts) == BANDS * PER_BAND and cuts[0]["exclude"] == "'=slipped"
    assert [row["left_out"] != "" for row in cuts] == [k < 400 for k in range(len(cuts))]


def test_tables_written_in_parts_are_those_written_whole(long, tmp_path):
    """Against the csv module, cell by cell, as short logs were always written."""
    g, _ = long
    table = export.cut_rows(g).head(90)
    whole, parts = tmp_path / "whole.csv", tmp_path / "parts.csv"
    export.write_table(table, whole)
    export.write_table(table, parts, at_once=7)
    assert parts.read_bytes() == whole.read_bytes()
    cells = table.astype(object).where(table.notna(), None)
    cells["started"] = [None if t is None else t.isoformat(timespec="minutes") for t in cells["started"]]
    assert whole.read_text(encoding="utf-8") == export.as_csv(list(table.columns), cells.to_numpy().tolist())


def test_pictures_show_a_stated_sample(long):
    g, opened = long
    rate = figures.rate(opened, g.cuts)
    used = int((g.cuts["exclude"] == "").sum())
    assert f"Drawn are 400 of {used} cuts, evenly over the log." in rate.caption
    (power,) = figures.signals(g.fit, g.study)
    shown, rest, others = evidence.marks(g.fit.residuals["band"])
    n = sum(map(len, shown.values())) + len(rest)
    assert n <= 400 and others == len(set(g.fit.residuals["band"])) - 7
    assert re.search(rf"Drawn are {n} of {used} readings", power.caption)


def test_a_sample_keeps_every_group_and_order():
    groups = np.repeat(["a", "b", "c"], [9_000, 900, 3])
    at = figures.sample_of(groups)
    assert len(at) <= 400 and (np.diff(at) > 0).all()
    counts = dict(zip(*np.unique(groups[at], return_counts=True), strict=True))
    assert counts["c"] == 3 and counts["b"] > 40 and counts["a"] > 300
    assert len(figures.sample_of(groups[:400])) == 400


def test_bands_without_a_cut_have_done_nothing(long):
    g, _ = long
    bands = pd.concat([g.bands, g.bands.tail(1).assign(band="fresh")])
    fresh = data.work_of_bands(g.cuts, bands).iloc[-1]
    assert fresh[["cuts", "pieces", "minutes", "area"]].tolist() == [0, 0, 0, 0]
