"""Pieces until a band is to be changed: against bands followed cut by cut, and in words."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from bandtrial import watch, wear
from bandtrial.recommend.condition import WEAR, Reading
from bandtrial.recommend.result import Value
from bandtrial.recommend.sign import Sign
from bandtrial.study import open_study
from bandtrial.watch.countdown import Change, pieces_until

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


def _change(**changes):
    sign = Sign("motor_power", 540.0, 300.0, 2, None, Value(900.0, 700.0, 1200.0), Value(48.4, 40.0, 61.0),
                Value(45.0, 35.0, 60.0), 0.1, Value(0.06, 0.02, 0.11), Value(0.041, 0.012, 0.083), 800.0, 0.9, "sign",
                20.0, True)  # fmt: skip
    return Change(dataclasses.replace(sign, **changes), 412.4, 1034, 620, 1410)


def test_countdown_in_words():
    assert _change().say("metric") == (
        "change when motor power is over 540 W in 2 cuts running (now 412 W), in about 1,034 pieces (620 to 1,410)"
    )
    assert _change(pays="after").say("metric") == (
        "change after 800 cm² sawn in all, in about 1,034 pieces (620 to 1,410)"
    )
    assert _change(pays="end").say("us") == "run it to its end; no earlier change pays at this setting"
    slow = _change(reading="cut_time", limit=1.6, fresh=1.0, in_a_row=1, known=False)
    assert dataclasses.replace(slow, now=1.25).say("us") == (
        "change when a piece takes over 1.6 times a new band's time in one cut (now 1.2 times), in about 1,034 pieces "
        "(620 to 1,410)"
    )


def test_watch_counts_down_for_each_band_in_service():
    study = open_study(SAMPLE)
    seen = watch.watch(wear.fit(study, draws=500), study)
    assert all(band.change is not None for band in seen.bands) and len(seen.bands) == 3
    for band in seen.bands:
        assert band.change.pieces_low <= band.change.pieces <= band.change.pieces_high
        assert band.change.pieces_high <= band.pieces_left_high  # never after its end
        assert f"{band.band}: {band.change.say('us')}" in str(seen)
    told = seen.to_json()["bands"][0]["change"]
    assert told["sign"]["pays"] in ("sign", "after", "end") and told["pieces"] == seen.bands[0].change.pieces
