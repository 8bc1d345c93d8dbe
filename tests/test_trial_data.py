"""The demo studies: made again to the byte, said to be invented, and fit for their questions."""

import importlib.util
from pathlib import Path

import pytest
from bandtrial import published, sawing
from bandtrial.recommend import recommend
from bandtrial.study import check, cut_table, open_study
from bandtrial.watch.record import lines
from bandtrial.wear import fit

FOLDER = Path(__file__).parents[1] / "trial_data"
STUDIES = ("demo_shop", "thin_shop")
SPEC = importlib.util.spec_from_file_location("make_demo", FOLDER / "make_demo.py")
assert SPEC is not None and SPEC.loader is not None
make_demo = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(make_demo)


def test_making_the_studies_again_gives_the_same_bytes(tmp_path):
    make_demo.main(tmp_path)
    made = {path.relative_to(tmp_path): path.read_bytes() for path in sorted(tmp_path.rglob("*.*"))}
    kept = {path.relative_to(FOLDER): path.read_bytes() for name in STUDIES for path in (FOLDER / name).iterdir()}
    assert len(made) == 6
    assert kept.pop(Path("demo_shop") / "forecasts.csv")
    assert made == kept


def test_forecasts_of_the_demo_shop_are_of_its_own_cuts():
    """Every line after a cut of its band, with the pieces that the log has by then."""
    cuts = cut_table(open_study(FOLDER / "demo_shop"))
    for line in lines(FOLDER / "demo_shop"):
        own = cuts[cuts["band"] == line.band]
        at = list(own["cut"].astype(str)).index(line.after_cut)
        assert own["pieces"].iloc[: at + 1].sum() == line.pieces_done
        assert line.pieces_left_low <= line.pieces_left <= line.pieces_left_high


@pytest.mark.parametrize("name", STUDIES)
def test_studies_have_no_problem_and_say_they_are_invented(name):
    assert check(FOLDER / name) == []
    assert open_study(FOLDER / name).info["author"] == "invented data, for demonstration"
    assert (FOLDER / name / "study.toml").read_text().startswith("# Invented by a virtual shop")


def test_demo_shop_is_as_its_readme_says():
    study = open_study(FOLDER / "demo_shop")
    assert (len(study.machines), len(study.band_stock), len(study.materials)) == (2, 1, 3)
    assert (len(study.bands), len(study.cuts)) == (10, 164)
    assert {machine.feed for machine in study.machines.values()} == {"rate", "force"}
    assert {"dull", "weld_broken", "removed_sound", "in_service"} == set(study.bands["end"])


def test_demo_shop_can_answer_its_question_well():
    """The recommended setting against the virtual shop's own truth: at most 10 % dearer than the best there is
    (what issue 4 asks of nine shops in ten at a set feed rate), no limit broken, at least half of what
    the published start costs more saved."""
    study, shop = open_study(FOLDER / "demo_shop"), make_demo.demo_shop()
    answer = recommend(fit(study), study, "upright", "b27", "shaft_1045", 40.0).setting
    best = shop.best_setting("shaft_1045", 40.0)
    at = (answer.band_speed, answer.feed, "shaft_1045", 40.0)
    regret = float(shop.true_cost(*at, answer.change_after)) / best.cost - 1.0
    V = published.band_speed("medium-carbon steel", 40.0)
    start = float(shop.true_cost(V, sawing.feed_rate(V, 10.0, shop.stock.tooth_spacing), "shaft_1045", 40.0))
    assert all(map(bool, shop.within_limits(*at).values()))
    assert 0.0 <= regret <= 0.10
    assert regret < 0.5 * (start / best.cost - 1.0)


def test_thin_shop_can_answer_only_roughly_and_says_what_would_tell_most():
    study = open_study(FOLDER / "thin_shop")
    answer = recommend(fit(study), study, "upright", "b27", "guide_52100", 55.0)
    assert answer.grade == "rough" and answer.telling_cut.cuts >= 1
    assert answer.status == "USE WITH CARE: the best of what was tried, known only roughly; read the warnings"
    assert (answer.setting.indicated, answer.setting.feed) == pytest.approx((42.0, 75.0))  # what was cut
