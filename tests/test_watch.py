"""The watch: alarms from readings, what it says word for word, and a virtual shop watched from end to end."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from bandtrial import watch, wear
from bandtrial.study import cut_table
from bandtrial.watch.charts import Alarm, alarms, feed_rate_readings
from bandtrial.watch.state import BandState, Watch
from bandtrial_lessons.shop import Shop


def readings(score, ratio=1.0, band="B1", signal="motor_power", first=1):
    n = len(score)
    cuts = [str(first + i) for i in range(n)]
    started = pd.date_range("2027-03-01 07:00", periods=n, freq="h")
    return pd.DataFrame({"cut": cuts, "started": started, "band": band, "machine": "saw1", "signal": signal,
                         "observed": 100.0 * ratio, "predicted": 100.0, "score": score})  # fmt: skip


def test_alarm_says_whose_which_way_how_much_and_since_when():
    """Page's rule by hand, k = 0.5, h = 5.76 (ARL 1,000): 2.5 a reading from the 11th on passes h at the 13th."""
    score = np.where(np.arange(20) < 10, 0.0, 3.0)
    rows = readings(score, ratio=np.where(np.arange(20) < 10, 1.0, 1.2))
    band, machine = alarms(rows, {"B1"})
    assert str(band) == (
        "band B1: motor power runs 20% above what the fit expects since about cut 11 (rang at cut 13; still so at "
        "its last reading)"
    )
    assert (machine.kind, machine.name, machine.now) == ("machine", "saw1", True)
    assert band.at == "2027-03-01 19:00:00"


def test_alarm_that_came_back_and_band_that_is_off_do_not_ring_now():
    back = readings(np.r_[np.zeros(5), np.full(4, 3.0), np.full(20, -0.7)], ratio=1.1)
    assert [alarm.now for alarm in alarms(back, {"B1"})] == [False, False]
    still = readings(np.r_[np.zeros(5), np.full(4, -3.0)], ratio=0.8)
    band = next(alarm for alarm in alarms(still, set()) if alarm.kind == "band")
    assert str(band) == (
        "band B1: motor power runs 20% below what the fit expects since about cut 6 (rang at cut 8; no longer so, "
        "or the band is off)"
    )


def test_too_few_readings_do_not_ring():
    assert alarms(readings(np.full(4, 9.0)), {"B1"}) == []
    assert len(alarms(readings(np.full(5, 9.0)), {"B1"})) == 2


def test_feed_rate_that_drops_rings_and_a_stopwatch_does_not():
    """A set feed of 100 mm/min kept to the second's rounding (2 %), then 10 % slow from the 17th cut on."""
    n = 24
    rounding = np.tile([0.98, 1.0, 1.02], n // 3)
    cuts = pd.DataFrame({"cut": [str(i + 1) for i in range(n)], "started": pd.Timestamp("2027-03-01"),
                         "band": "B1", "machine": "saw1", "feed_mode": "rate", "exclude": "",
                         "set_feed_rate": 100.0, "feed_rate": 100.0 * rounding})  # fmt: skip
    assert alarms(feed_rate_readings(cuts), {"B1"}) == []
    slow = cuts.assign(feed_rate=cuts["feed_rate"] * np.where(np.arange(n) < 16, 1.0, 0.9))
    found = alarms(feed_rate_readings(slow), {"B1"})
    assert [(a.kind, a.signal, a.direction) for a in found] == [("band", "feed_rate", "down"),
                                                               ("machine", "feed_rate", "down")]  # fmt: skip
    assert found[0].shift == pytest.approx(-0.10, abs=0.03)  # the rounding


def _state(**changes):
    plain = BandState("B08", "saw1", "s8", "plate_304", 19.05, 697.0, 2, 0.612, 0.504, 0.733, 41, 12, 88, 20, 6, 44,
                      0.9876)  # fmt: skip
    return dataclasses.replace(plain, **changes)


def test_watch_in_words():
    alarm = Alarm("band", "B08", "motor_power", "up", "11", "13", "2027-03-01 19:00:00", 0.2, 20, True)
    seen = Watch((_state(alarms=(alarm,)),), ("B11",), (alarm,), 4, 1000.0)
    assert str(seen) == (
        "band                     wear used           pieces left         cuts left  next finishes\n"
        "B08               0.61 (0.50-0.73)            41 (12-88)         20 (6-44)           99 %\n"
        "B11: in service, no cut logged yet\n"
        "\n"
        "ALARM band B08: motor power runs 20% above what the fit expects since about cut 11 (rang at cut 13; still so "
        "at its last reading)\n"
        "Alarm rule: two-sided cumulative sum chart (Page 1954; NIST/SEMATECH e-Handbook 6.3.2.3) on the fit's "
        "residuals as normal scores, k = 0.5, h = 5.76: a steady chart rings falsely about once in 1,000 readings, "
        "and a lasting shift of one standard deviation is found after 12 readings on average, one of two after 5."
    )
    nothing = Watch((), (), (), 0, 1000.0)
    assert str(nothing).splitlines()[:3] == ["No band is in service.", "", "No alarm rings now."]
    assert seen.fields()[1] == ("B08", "wear used 0.61 (0.50 to 0.73), 41 pieces left (12 to 88)",
                                "the next is finished: 99 %")  # fmt: skip
    assert seen.fields()[0][1] == "ALARM: 1" and nothing.fields()[0][1] == "no alarm rings"
    assert "motor power runs 20% above" in seen._repr_html_()
    assert seen.to_json()["bands"][0]["next_finishes"] == 0.9876
    assert seen.to_json()["alarms"][0]["since_cut"] == "11"


def test_many_earlier_alarms_are_counted_and_the_last_named():
    gone = [Alarm("band", f"B{n}", "motor_power", "up", "11", "13", f"2027-03-{1 + n % 28:02}", 0.2, 20, False)
            for n in range(56)]  # fmt: skip
    few = Watch((), (), tuple(gone[:20]), 40, 1000.0, by_chance=2.0)
    many = Watch((), (), tuple(gone), 4_000, 1000.0, by_chance=98.4)
    assert few.earlier() == [str(alarm) for alarm in gone[:20]]
    said = many.earlier()
    assert said[0] == "56 of 4,000 charts rang, about 98 would by chance alone; the last 20:"
    assert said[1:] == [str(a) for a in sorted(gone, key=lambda a: a.at)[-20:]]
    assert [line for line in str(many).splitlines() if line.startswith("earlier: ")] == [f"earlier: {s}" for s in said]
    assert len(many.to_json()["alarms"]) == 56


@pytest.fixture(scope="module")
def shop():
    """Invented: six bands of one setting, the last of them in service at about half of a typical life."""
    shop = Shop(1, kind="gentle")
    best = shop.best_setting(work_thickness=40.0)
    area = float(shop.true_life(best.band_speed, best.feed, work_thickness=40.0))
    pieces = max(1, round(area / 20 / 40))
    row = {"band_speed": float(shop.indicated_speed(best.band_speed)), "feed_rate": best.feed,
           "work_thickness": 40.0, "cut_travel": 100.0, "pieces": pieces}  # fmt: skip
    for n in range(6):
        band = shop.new_band()
        shop.run(pd.DataFrame([{"band": band, **row}] * (10 if n == 5 else 60)))
    return shop


def test_watch_of_a_virtual_shop(shop):
    study = shop.to_study()
    seen = watch.watch(wear.fit(study, draws=500), study)
    (band,) = seen.bands
    cuts = cut_table(study)
    own = cuts[cuts["band"] == band.band]
    assert band.area == pytest.approx(float((own["cut_area"] * own["pieces"]).sum()), rel=1e-12)
    assert band.wear_used_low < band.wear_used < band.wear_used_high
    assert band.pieces_left_low < band.pieces_left < band.pieces_left_high
    assert band.cuts_left == band.pieces_left // band.pieces_per_cut
    life = float(shop.true_life(*_setting(shop), work_thickness=40.0))
    true_left = (life - band.area) / 40.0  # pieces of 40 cm2 to the mean life
    assert band.pieces_left_low < true_left < band.pieces_left_high
    assert 0.9 < band.next_finishes < 1
    again = watch.watch(wear.fit(study, draws=500), study)
    assert again == seen


def _setting(shop):
    best = shop.best_setting(work_thickness=40.0)
    return best.band_speed, best.feed
