"""Pieces until a band is to be changed: against bands followed cut by cut, and in words."""

import dataclasses
import shutil
from pathlib import Path

import numpy as np
import pytest
from bandtrial import watch, wear
from bandtrial.recommend.condition import WEAR, Reading
from bandtrial.recommend.sign import Sign, Value
from bandtrial.study import open_study
from bandtrial.watch.countdown import pieces_until, said_of, wear_at

SAMPLE = Path(__file__).parent / "data" / "sample_study"


@pytest.mark.parametrize(("run", "noise"), [(1, 0.02), (3, 0.06)])
def test_countdown_is_that_of_readings_followed_cut_by_cut(run, noise):
    """A reading 100 (1 + 0.8 E) of a band at E = 0.4 that wears 0.004 a piece, changed over 160 (E = 0.75 without
    noise): 4,000 courses, quantiles known to 1 piece; the sum over pieces is an integral here: 2 pieces of about 80."""
    n, rng = 4000, np.random.default_rng(1)
    log = np.broadcast_to(np.log(100 * (1 + 0.8 * WEAR)), (n, len(WEAR)))
    reading = Reading(log, np.full(n, noise), np.zeros(n), 1.0)
    ours = pieces_until(reading, np.zeros(n), np.log(160.0), run, np.full(n, 0.4), np.full(n, 0.004), rng)
    over, found = np.zeros(n, int), np.full(n, np.inf)
    for piece in range(1, 400):
        read = np.log(100 * (1 + 0.8 * (0.4 + 0.004 * piece))) + noise * rng.standard_t(5, n)
        over = np.where(read > np.log(160.0), over + 1, 0)
        found = np.where((over >= run) & np.isinf(found), piece, found)
    at = [0.1, 0.5, 0.9]
    assert np.quantile(ours, at) == pytest.approx(np.quantile(found, at), abs=2.5)


def test_reading_that_never_rises_is_never_over():
    flat = Reading(np.zeros((4, len(WEAR))), np.full(4, 1e-3), np.zeros(4), 1.0)
    assert np.isinf(pieces_until(flat, np.zeros(4), 5.0, 2, np.full(4, 0.4), np.full(4, 0.01),
                                 np.random.default_rng(1))).all()  # fmt: skip


def test_level_is_where_the_course_of_a_band_comes_to_it():
    """100 (1 + 0.8 E) of a band that reads 5 % more comes to 160 at E = (160 / 105 - 1) / 0.8. Straight lines
    between WEAR, h = 1/6 apart in the log, miss it by h^2/8 times the law's second over its first slope there, x / (1 +
    x)^2 over x / (1 + x) with x = 0.8 E: 0.0024 at most. Noise moves nothing."""
    log = np.broadcast_to(np.log(100 * (1 + 0.8 * WEAR)), (3, len(WEAR)))
    own = np.log([1.05, 1.05, 1.0])
    at = wear_at(Reading(log, np.array([0.01, 0.5, 0.1]), np.zeros(3), 1.0), own, np.log(160.0))
    assert at == pytest.approx([(160 / 105 - 1) / 0.8] * 2 + [0.75], rel=2.4e-3)
    flat = Reading(np.zeros((2, len(WEAR))), np.full(2, 0.1), np.zeros(2), 1.0)
    assert np.isinf(wear_at(flat, np.zeros(2), 0.5)).all()


def _said(now=412.4, count=(1034, 620, 1410), **changes):
    sign = Sign("motor_power", 540.0, 300.0, 2, None, Value(900.0, 700.0, 1200.0), Value(48.4, 40.0, 61.0),
                Value(45.0, 35.0, 60.0), 0.1, Value(0.06, 0.02, 0.11), Value(0.041, 0.012, 0.083), 800.0, 0.9, "sign",
                20.0, True)  # fmt: skip
    return said_of(dataclasses.replace(sign, **changes), now, count, "metric")


def test_countdown_in_words():
    assert _said() == (
        "change when motor power is over 540 W, in 2 cuts running (now 412 W), in about 1,034 pieces (620 to 1,410)"
    )
    latest = _said(after=25270.8)
    assert latest == (
        "change when motor power is over 540 W, in 2 cuts running (now 412 W), at the latest after 25,300 cm² sawn in "
        "all, in about 1,034 pieces (620 to 1,410)"
    )
    assert _said(pays="after", count=(0, 0, 0)) == "change after 800 cm² sawn in all, which is now"
    assert _said(pays="after") == "change after 800 cm² sawn in all, in about 1,034 pieces (620 to 1,410)"
    assert _said(pays="end") == "run it to its end; no earlier change pays at this setting"
    assert _said(1.25, reading="cut_time", limit=1.6, fresh=1.0, in_a_row=1, known=False) == (
        "change when a piece takes over 1.6 times a new band's time, in one cut (now 1.2 times), in about 1,034 pieces "
        "(620 to 1,410)"
    )


LEVEL = 'change_at_motor_power = "0.42 hp"\n'


def test_level_of_the_shop_is_an_end_and_life_is_foretold_to_it(tmp_path):
    """A level that the bands' readings will pass long before they are worn out; the readings so far are below it."""
    shop = Path(shutil.copytree(SAMPLE, tmp_path / "shop"))
    text = (shop / "study.toml").read_text(encoding="utf-8")
    (shop / "study.toml").write_text(text.replace("[machines.saw1]\n", "[machines.saw1]\n" + LEVEL), encoding="utf-8")
    plain, own = open_study(SAMPLE), open_study(shop)
    assert dict(own.machines["saw1"].levels) == pytest.approx({"motor_power": 0.42 * 745.699872}, rel=1e-6)
    fit = wear.fit(plain, draws=500)
    before = {band.band: band for band in watch.watch(fit, plain).bands}
    for band in watch.watch(fit, own).bands:
        assert band.change.way == "own" and band.pieces_left == band.change.pieces
        assert band.pieces_left <= before[band.band].pieces_left
        assert band.change.said.startswith("the shop changes it when motor power is over 0.42 hp (now 0.")
    assert sum(b.pieces_left for b in watch.watch(fit, own).bands) < sum(b.pieces_left for b in before.values())


def test_watch_counts_down_for_each_band_in_service():
    study = open_study(SAMPLE)
    seen = watch.watch(wear.fit(study, draws=500), study)
    assert all(band.change is not None for band in seen.bands) and len(seen.bands) == 3
    for band in seen.bands:
        assert band.change.pieces_low <= band.change.pieces <= band.change.pieces_high
        assert band.change.pieces_high <= band.pieces_left_high  # never after its end
        assert f"{band.band}: {band.change.said}" in str(seen)
    told = seen.to_json()["bands"][0]["change"]
    assert told["way"] in ("sign", "after", "end") and told["pieces"] == seen.bands[0].change.pieces
