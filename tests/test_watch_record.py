"""The watch keeps score: what is written down, how it is held against what came, and a virtual year."""

import dataclasses
import functools
import json
import shutil
from pathlib import Path

import pandas as pd
import pytest
from bandtrial import __main__ as command
from bandtrial import watch, wear
from bandtrial.disk import NotWrittenError
from bandtrial.study import band_table, cut_table, open_study
from bandtrial.watch.record import FILE, Past, Score, at_most, keep, lines, score
from bandtrial.watch.state import BandState, Watch
from bandtrial_lessons.worlds import World
from scipy import stats

SAMPLE = Path(__file__).parent / "data" / "sample_study"


def seen(*bands):
    """A watch that foretells (band, last cut, pieces done, left, low, high) of pieces of 20 cm2."""
    state = BandState("", "saw1", "s6", "plate", 20.0, 0.0, 1, 0.5, 0.4, 0.6, 0, 0, 0, 0, 0, 0, 0.99)
    made = [
        dataclasses.replace(state, band=band, last_cut=cut, pieces_done=done, pieces_left=left, pieces_left_low=low,
                            pieces_left_high=high, piece_area=20.0)
        for band, cut, done, left, low, high in bands
    ]  # fmt: skip
    return Watch(tuple(made), (), (), 0, 1000.0)


@dataclasses.dataclass
class Kept:
    """What `keep` and `score` ask of a study."""

    path: str
    levels: tuple = ()

    @property
    def machines(self):
        return {"saw1": self}

    band_stock = machines


def test_a_line_is_written_when_a_band_has_made_a_tenth_more(tmp_path):
    shop = Kept(tmp_path)
    assert lines(tmp_path) == [] and score(shop, pd.DataFrame(), pd.DataFrame()) is None
    assert keep(seen(("B1", "10", 100, 50, 20, 90), ("B,2", "11", 7, 80, 30, 120)), shop) == 2
    assert keep(seen(("B1", "12", 109, 44, 15, 80), ("B,2", "11", 7, 80, 30, 120)), shop) == 0
    assert keep(seen(("B1", "13", 110, 43, 15, 80)), shop) == 1
    assert (tmp_path / FILE).read_text(encoding="utf-8") == (
        "band,after_cut,pieces_done,pieces_left,pieces_left_low,pieces_left_high,piece_area [cm2]\n"
        "B1,10,100,50,20,90,20.0\n"
        '"B,2",11,7,80,30,120,20.0\n'
        "B1,13,110,43,15,80,20.0\n"
    )
    assert [line.band for line in lines(tmp_path)] == ["B1", "B,2", "B1"]


def test_lines_that_can_t_be_read_are_passed_over(tmp_path):
    (tmp_path / FILE).write_text("band,after_cut,pieces_done\nB1,2,many\n\x00,,,\n", encoding="utf-8")
    assert lines(tmp_path) == []


def test_forecast_that_can_t_be_written_changes_nothing(tmp_path):
    (tmp_path / FILE).mkdir()
    with pytest.raises(NotWrittenError):
        keep(seen(("B1", "10", 100, 50, 20, 90)), Kept(tmp_path))


CUTS = pd.DataFrame({"cut": [str(i + 1) for i in range(10)], "band": "B1", "machine": "saw1", "material": "plate",
                     "work_thickness": 20.0, "cut_area": 20.0, "pieces": 10})  # fmt: skip


def ends(end):
    return pd.DataFrame({"band": ["B1"], "end": [end], "machine": "saw1", "stock": "s6"})


@pytest.mark.parametrize(("low", "high", "held"), [(40, 60, True), (51, 60, False), (20, 49, False), (50, 50, True)])
def test_forecast_is_held_against_the_pieces_that_came(tmp_path, low, high, held):
    """Ten rows of ten pieces; said after the fifth: 50 pieces came, half of the life."""
    keep(seen(("B1", "5", 50, 44, low, high)), Kept(tmp_path))
    (one,) = score(Kept(tmp_path), CUTS, ends("dull")).past
    assert (one.share, one.came, one.held) == (0.5, 50.0, held)


def test_band_that_runs_or_was_taken_off_or_whose_cut_is_gone_is_not_counted(tmp_path):
    keep(seen(("B1", "5", 50, 44, 40, 60)), Kept(tmp_path))
    shop = Kept(tmp_path)
    assert score(shop, CUTS, ends("in_service")) == Score((), waiting=1)
    assert score(shop, CUTS, ends("removed_sound")) == Score((), taken_off=1)
    levelled = Kept(tmp_path, levels=(("motor_power", 900.0),))  # then it was taken off at what was foretold
    assert [one.came for one in score(levelled, CUTS, ends("removed_sound")).past] == [50.0]
    assert score(shop, CUTS[CUTS["cut"] != "5"], ends("dull")).past == ()


def test_other_work_is_counted_in_pieces_of_that_at_the_forecast(tmp_path):
    """By area: the last three rows are of 40 cm2 a piece, each as two of 20."""
    keep(seen(("B1", "5", 50, 44, 40, 60)), Kept(tmp_path))
    (one,) = score(Kept(tmp_path), CUTS.assign(cut_area=[20.0] * 7 + [40.0] * 3), ends("broken")).past
    assert one.came == pytest.approx(2 * 10 + 3 * 20) and one.share == pytest.approx(50 / 130)


def test_score_in_words():
    good, bad = Past("B", 0.5, 50, 40, 60, 50.0), Past("B", 0.45, 50, 40, 60, 90.0)

    def kept(held, missed, share=0.5):
        both = [good] * held + [bad] * missed
        return Score(tuple(dataclasses.replace(one, band=f"B{i}") for i, one in enumerate(both)))

    assert kept(11, 3).say() == (
        "Of 14 bands that ended, 11 did within the interval said at half life (4 in 5 should)."
    )
    assert kept(6, 8).say() == (
        "Of 14 bands that ended, 6 did within the interval said at half life (4 in 5 should): trust the intervals less "
        "than they say."
    )
    assert kept(2, 1).say() == (
        "Of 3 bands that ended, 2 did within the interval said at half life (4 in 5 should): too few yet to judge by."
    )
    assert kept(1, 0).say() == "One band ended; it did within the interval said at half life."
    assert kept(0, 1).say() == "One band ended; it did not within the interval said at half life."
    assert Score((), waiting=2).say() == (
        "No band has ended yet of those foretold at half life; their score will stand here."
    )
    assert kept(3, 0).rows()[1] == ["half", "3", "3 of 3", "0.20", "+0.00"]  # 60 - 40 of a life of 100
    assert kept(2, 2).rows()[0] == ["a quarter", "0", "–", "–", "–"]
    assert f"past forecasts: {kept(11, 3).say()}" not in str(seen())
    told = dataclasses.replace(seen(), score=kept(11, 3))
    assert kept(11, 3).say() in str(told).splitlines() and told.to_json()["score"]["held"] == 11


@pytest.mark.parametrize(("k", "n"), [(6, 14), (0, 3), (14, 14)])
def test_chance_of_so_few_is_binomial(k, n):
    """scipy's distribution as the outside reference."""
    assert at_most(k, n) == pytest.approx(stats.binom.cdf(k, n, 0.8), rel=1e-12)


def test_command_writes_its_record_unless_told_not_to(tmp_path, capsys, monkeypatch):
    fitted = functools.cache(lambda _: wear.fit(open_study(SAMPLE), draws=400))
    monkeypatch.setattr("bandtrial.commands.answers.fitted", lambda study: fitted(0))
    shop = shutil.copytree(SAMPLE, tmp_path / "shop")
    assert command.main(["watch", str(shop), "--no-record"]) == 0 and not (shop / FILE).exists()
    capsys.readouterr()
    assert command.main(["watch", str(shop), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["bands"]
    assert [(line.band, line.after_cut, line.pieces_left) for line in lines(shop)] == [
        (band["band"], band["last_cut"], band["pieces_left"]) for band in told
    ]
    (shop / FILE).unlink()
    (shop / FILE).mkdir()
    assert command.main(["watch", str(shop)]) == 0  # the answer is handed over all the same
    first = f"what is foretold was not written down: '{shop / FILE}' is a folder; name a file in it"
    assert capsys.readouterr().err.startswith(first)


def test_a_season_of_a_virtual_shop_scores_as_its_bands_did(tmp_path):
    """A world nobody here wrote: eight bands at one setting, each of the last four watched at about half of the usual
    life. The record's score is that of the bands themselves."""
    world = World(8, "rate", tmp_path / "shop")
    V = world.reachable(0.8 * world.sheet.job.speed)
    feed, said, world.holding = world.feed_for(V, 12.0), {}, True
    for number in range(8):
        band, rows = world.new_band(), 0
        while world.bands[band].end == "in_service":
            world.run(band, V, feed, 1, pieces=500)
            rows += 1
            if number > 3 and rows == 7 and world.bands[band].end == "in_service":
                world.save()
                study = open_study(world.folder)
                now = watch.watch(wear.fit(study, draws=400), study)
                keep(now, study)
                said[band] = next(state for state in now.bands if state.band == band)
    world.save()
    study = open_study(world.folder)
    kept = score(study, cut_table(study), band_table(study))
    done = cut_table(study).groupby("band")["pieces"].sum()
    assert [one.band for one in kept.past] == list(said) and len(said) > 2
    for one in kept.past:
        state = said[one.band]
        assert one.came == pytest.approx(done[one.band] - state.pieces_done, abs=1.0)  # the last piece is cut in part
        assert one.held == (state.pieces_left_low - 0.5 <= one.came <= state.pieces_left_high + 0.5)
