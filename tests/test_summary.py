"""The summary for who decides: the card's own words on a page and in a mail, the figures' numbers beside them."""

import csv
import shutil
from pathlib import Path

import numpy as np
import pytest
from bandtrial import study, wear
from bandtrial.plots import marks, settings, style
from bandtrial.report import context, words
from bandtrial.report import export as summary

ROOT = Path(__file__).parents[1]
MADE = "2027-04-01"


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    shop = study.open_study(ROOT / "tests/data/sample_study")
    gathered = context.gather(shop, wear.fit(shop))
    return gathered, summary.write_summary(gathered, tmp_path_factory.mktemp("out") / "study.html", MADE)


def test_page_and_mail_say_what_the_card_says(written):
    gathered, page = written
    answer = gathered.answers[0]
    lines = [line for line in answer.recommendation.card_lines(answer.plan) if line.key not in summary.NOT_HERE]
    assert {"set", "take_off", "piece", "sure", "faster", "heavier", "next"} <= {line.key for line in lines}
    mail = " ".join((page.parent / "mail.txt").read_text("utf-8").split())
    for line in lines:
        assert " ".join(f"{line.label}: {line.text}".split()) in mail
    cautions = " ".join(words.cautions(gathered.study))
    assert mail.index(cautions) < mail.index(lines[0].text)  # before the speed
    html = page.read_text("utf-8")
    assert html.index("Before anybody cuts") < html.index(">Set<")
    assert "default-src 'none'; img-src data:; style-src" in html and "<script" not in html


def test_a_study_without_an_answer_says_what_would_help(tmp_path):
    shutil.copytree(ROOT / "tests/data/sample_study", tmp_path / "shop")
    log = tmp_path / "shop/cuts.csv"
    log.write_text(log.read_text("utf-8").splitlines(keepends=True)[0], "utf-8")  # the head alone
    gathered = context.gather(study.open_study(tmp_path / "shop"))
    page = summary.write_summary(gathered, tmp_path / "study.html", MADE)
    mail = (page.parent / "mail.txt").read_text("utf-8")
    assert "- Not yet: no cut of this work is logged yet." in mail and "Set:" not in mail
    assert sorted(path.name for path in page.parent.iterdir()) == ["mail.txt", "summary.html"]


def test_the_numbers_of_a_figure_are_those_it_was_drawn_from():
    """By hand: 50 m/min is 164.042 ft/min (1 ft = 0.3048 m by definition); the middle 80 % of 0..10 is 1 to 9, the
    middle half 2.5 to 7.5."""
    figure, ax = style.figure()
    settings.band_points(ax, [50.0], [7.0], [True], "us", ["B1"])
    settings.recommended(ax, 50.0, "us")
    style.interval(ax, [1.0], np.arange(11.0)[:, None], style.series(0), "life, 80 %")
    heads, rows = marks.numbers(figure)
    assert heads[0] == "what" and heads[4] == "cut or band"
    assert ["80 % of life", 1.0, 1.0, 9.0, ""] in rows and ["50 % of life", 1.0, 2.5, 7.5, ""] in rows
    assert ["band ended", 164.042, 7.0, "", "B1"] in rows
    assert ["recommended", 164.042, "", "", ""] in rows
    assert ["life, 80 %", 1.0, 5.0, "", ""] in rows and len(rows) == 5


def test_every_cut_of_the_log_is_in_the_figures_table(written):
    gathered, page = written
    with (page.parent / "how_fast_the_shop_cuts.csv").open(encoding="utf-8") as file:
        named = [row["cut or band"] for row in csv.DictReader(file)]
    used = gathered.cuts[gathered.cuts["exclude"] == ""]["cut"].astype(str)
    assert sorted(named) == sorted(used)


def test_names_of_a_line_without_marks_to_ask_are_none():
    _, ax = style.figure()
    assert marks.names_of(ax.plot([1.0], [1.0])[0]) == []
