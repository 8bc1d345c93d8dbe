"""Marks that say what they are: their place in the drawing, and the line of the log as its file has it."""

import csv
import re
import shutil
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from bandtrial import study
from bandtrial.plots import marks, settings, style

SHOP = Path(__file__).parents[1] / "trial_data/demo_shop"


def test_a_mark_lies_where_the_drawing_has_it():
    """Straight from the axes: their corners are at 0.1 and 0.9 of a figure of 5 x 4 in, 72 points to the inch."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(5, 4))
    ax = figure.add_axes((0.1, 0.2, 0.8, 0.5))
    ax.set(xlim=(0, 10), ylim=(0, 100))
    marks.name_marks(
        ax.plot([10.0, 0.0, 99.0, 5.0], [0.0, 100.0, 50.0, 50.0], "o"), ["a", "b", "out", "c"], slice(None)
    )
    ax.plot([1.0], [1.0], "o")  # has no name
    found = marks.named(figure)
    assert [name for *_, name in found] == ["b", "c", "a"]  # from left to right; one is outside
    by_hand = [(0.1 * 360, 0.3 * 288), (0.5 * 360, 0.55 * 288), (0.9 * 360, 0.8 * 288)]
    assert np.array([at for *at, _ in found]) == pytest.approx(np.array(by_hand), rel=1e-9)  # rounding of floats


def test_the_layer_is_clear_and_what_it_says_is_no_markup():
    figure, ax = style.figure()
    assert marks.layer(figure, list) == ""
    marks.name_marks(ax.plot([2.0], [2.0], "o"), ["a", "<script>b"], [1])
    layer = marks.layer(figure, lambda names: [f"it is {name}" for name in names])
    assert re.findall("<title>(.*?)</title>", layer) == ["it is &lt;script&gt;b"]
    assert 'fill="none"' in layer and "<script" not in layer


def test_a_cut_is_told_as_its_file_has_it():
    with (SHOP / "cuts.csv").open(encoding="utf-8") as file:
        rows = list(csv.reader(file))
    heads, seventh = rows[0], rows[7]  # the head is row 1, so that cut 7 stands in row 8
    (said,) = study.open_study(SHOP).lines.of(["7"])
    assert said.startswith("cut 7, row 8 of cuts.csv: started ")
    for head, cell in zip(heads[1:], seventh[1:], strict=True):
        name, _, unit = head.partition(" [")
        if cell:
            assert f"{name.replace('_', ' ')} {cell}{' ' + unit[:-1] if unit else ''}" in said
    assert "feed force" not in said  # an empty cell


def test_a_log_that_has_changed_since_is_not_read_for_another(tmp_path):
    shutil.copytree(SHOP, tmp_path / "shop")
    shop = study.open_study(tmp_path / "shop")
    log = tmp_path / "shop/cuts.csv"
    log.write_text("".join(log.read_text("utf-8").splitlines(keepends=True)[:-1]), "utf-8")
    assert shop.lines.of(["7"]) == ["cut 7"]


def test_a_band_is_told_with_its_end_and_its_cuts():
    shop = study.open_study(SHOP)
    with (SHOP / "cuts.csv").open(encoding="utf-8") as file:
        mine = [row["cut"] for row in csv.DictReader(file) if row["band"] == "U1"]
    (said,) = shop.lines.of_bands(["U1"])
    assert said.startswith(f"band U1, dull: {len(mine)} rows of cuts, from {mine[0]} to {mine[-1]}")


def test_every_cut_of_a_drawing_of_the_log_can_be_asked():
    shop = study.open_study(SHOP)
    cuts = study.cut_table(shop)
    figure, ax = style.figure()
    rate = cuts["feed_rate"] * cuts["work_thickness"] / 100
    settings.cutting_rate(ax, cuts["band_speed"], rate, cuts["material"], "metric", cuts["cut"])
    style.svg(figure)
    said = [unescape(one) for one in re.findall("<title>(.*?)</title>", marks.layer(figure, shop.lines.of))]
    assert sorted(one.split(",")[0] for one in said) == sorted(f"cut {cut}" for cut in cuts["cut"])
