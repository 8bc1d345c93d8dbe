"""Change by condition: against bands followed cut by cut, against the long run without a limit, and in words."""

import dataclasses

import numpy as np
import pytest
from bandtrial.recommend import condition, recommend
from bandtrial.recommend.condition import above, bands_of, long_run_by, reading_of, sign_to_look_for
from bandtrial.recommend.job import job_of
from bandtrial.recommend.longrun import evaluate
from bandtrial.recommend.optimise import Wish
from bandtrial.recommend.sign import Sign, Value
from known_shop import BAND_LENGTH, STAR, TPI, L, fit, study

AT = STAR, 10.0  # true band speed [m/min], chip load [um]
PIECE = 20.0  # cm2


def job(**kw):
    return job_of(study(**kw), "saw1", "s8", "plate", L)


def known(feed="rate", **kw):
    return fit(feed=feed, sure=0.0, n=8, **kw)


def followed(one, limit, run, n=4000, seed=3):
    """(mean area, share ended) of bands followed cut by cut, changed after `run` readings running over the limit."""
    rng = np.random.default_rng(seed)
    step = 25.4 / TPI
    Z = AT[1] / 1000 * AT[0] * 1000 / step * L / 100
    tau = float(np.exp(one.log_tau(AT[0], AT[1], L, "plate", "saw1", "s8")[0, 0]))
    b = one.band_scatter[0] * rng.standard_normal(n)
    wear = PIECE / Z * L / BAND_LENGTH / tau * np.exp(b)  # of a piece
    turns = 2 * 1000 * AT[0] * PIECE / Z / BAND_LENGTH
    ends = np.minimum(rng.weibull(one.weibull_shape[0], n) / wear, rng.weibull(2.0, n) * one.break_scale[0] / turns)
    level = one.signal("motor_power", *AT, L, "plate", "saw1", "s8", wear_used=0.0).ravel()[0]
    own, over = one.level * rng.standard_normal(n), np.zeros(n, int)
    pieces, off = ends.copy(), np.zeros(n, bool)
    for i in range(1, 5000):
        reading = np.log(level * (1 + one.dulling * i * wear)) + own + one.noise * rng.standard_t(5, n)
        over = np.where(reading > np.log(limit), over + 1, 0)
        now = (over >= run) & ~off & (ends > i)
        pieces[now], off = i, off | now
        if (off | (ends <= i)).all():
            break
    return pieces.mean() * PIECE, 1 - off.mean()


@pytest.mark.parametrize(("rise", "run"), [(1.45, 1), (1.45, 3), (1.25, 2), (1.7, 2)])
def test_rule_gives_what_bands_followed_cut_by_cut_give(rise, run):
    """4,000 bands: the mean area is known to 0.7 %, a share to 0.8 points; 16 bands stand for all, and ages lie 9 %
    apart: 3 % and 2 points."""
    one = known()
    bands, reading = bands_of(one, job(), *AT), reading_of(one, job(), "motor_power", *AT)
    got = long_run_by(bands, reading, [np.log(300.0 * rise)], run, PIECE)
    area, ended = followed(one, 300.0 * rise, run)
    assert got.area[0, 0, -1] == pytest.approx(area, rel=0.03)
    assert got.ended[0, 0, -1] == pytest.approx(ended, abs=0.02)


@pytest.mark.parametrize("feed", ["rate", "force"])
def test_without_a_limit_it_is_the_long_run(feed):
    """The scatter of bands by 16 points here, by weights there."""
    one, work = known(feed), job(feed=feed)
    at = AT if feed == "rate" else (STAR, 5.0)
    name = "motor_power" if feed == "rate" else "chip_load"
    bands = bands_of(one, work, *at)
    got = long_run_by(bands, reading_of(one, work, name, *at), [np.inf], 1, PIECE)
    other = evaluate(one, work, *at, condition.SIZE)
    j = [20, 30, 40, -1]
    assert got.area[0, 0, j] == pytest.approx(other.area[0, 0, j], rel=0.01)
    assert got.minutes[0, 0, j] == pytest.approx(other.minutes[0, 0, j], rel=0.01)
    assert got.ended[0, 0, j] == pytest.approx(other.ended[0, 0, j], abs=0.01)


def test_noise_of_readings_is_students_t_of_five_degrees():
    """Quantiles of NIST/SEMATECH e-Handbook 1.3.6.7.2, five degrees of freedom: to the table's last digit."""
    t = np.array([1.476, 2.015, 2.571, 3.365, 5.893])
    assert above(t) == pytest.approx([0.10, 0.05, 0.025, 0.01, 0.001], rel=2e-3)
    assert above(-t) + above(t) == pytest.approx(np.ones(5))


def test_wait_for_a_run_is_fellers():
    """Feller, An Introduction to Probability Theory, vol. 1, XIII.7: mean wait (1 - p^k) / ((1 - p) p^k); for p = 1/2,
    k = 3 it is 14 trials, and for k = 1 2."""
    assert 1 / condition.completed(0.0, 3, 1.0) == pytest.approx(14.0, rel=1e-6)
    assert 1 / condition.completed(0.0, 1, 1.0) == pytest.approx(2.0, rel=1e-6)


def test_the_better_a_signal_tells_wear_the_more_it_saves():
    """Ends that come as regularly as any (shape 15) at scattered wear rates: only a reading can tell. A signal that
    does not rise saves nothing."""
    lost = study(costs={"scrapped_piece": 600.0})
    work = job_of(lost, "saw1", "s8", "plate", L)
    one = known(breaks=1e9, life=2.0, signals=("motor_power",))
    base = dataclasses.replace(one, weibull_shape=np.full(8, 15.0), band_scatter=np.full(8, 0.4))

    def saved(**kw):
        return sign_to_look_for(dataclasses.replace(base, **kw), work, Wish(), *AT)

    clear, noisy, blind = (saved(noise=n, level=n / 2, dulling=d) for n, d in ((0.01, 0.8), (0.2, 0.8), (0.05, 0.0)))
    assert clear.pays == "sign" and clear.saves.value > 0.1
    assert clear.saves.value > noisy.saves.value > blind.saves.value - 0.01
    assert blind.pays != "sign" and blind.saves.value < 0.003
    assert 300.0 * 1.3 < clear.limit < 300.0 * 1.8


def test_wishes_hold_for_the_sign_as_well():
    free = sign_to_look_for(known(life=2.0), job(), Wish(), *AT)
    most = sign_to_look_for(known(life=2.0), job(), Wish(deviation=0.1), *AT, most_age=4000.0)
    assert free.best_after > 4000.0 >= max(most.after, most.best_after)
    least = 1.01 * free.area.value
    assert sign_to_look_for(known(life=2.0), job(), Wish(life_at_least=least), *AT).area.value >= least > 0
    assert sign_to_look_for(known(life=2.0), job(), Wish(life_at_least=2 * least), *AT) is None


def test_no_reading_no_sign():
    assert sign_to_look_for(known(signals=()), job(), Wish(), *AT) is None
    assert recommend(fit(signals=()), study(), "saw1", "s8", "plate", L).to_json()["sign_to_look_for"] is None


def _sign(**changes):
    plain = Sign("motor_power", 540.0, 300.0, 2, None, Value(900.0, 700.0, 1200.0), Value(48.4, 40.0, 61.0),
                 Value(45.0, 35.0, 60.0), 0.1, Value(0.06, 0.02, 0.11), Value(0.041, 0.012, 0.083), 800.0, 0.9, "sign",
                 20.0, True)  # fmt: skip
    return dataclasses.replace(plain, **changes)


def test_sign_in_words():
    sign = _sign()
    assert sign.look("metric") == "motor power is over 540 W, in 2 cuts running (new band: 300 W)"
    assert sign.until() == "about 45 pieces (35 to 60), about 48 min of cutting"
    assert sign.worth() == "saves 4.1 % (80 %: 1.2 to 8.3) against changing after a set area"
    slow = _sign(reading="cut_time", limit=1.6, fresh=0.98, in_a_row=1)
    assert slow.look("metric") == "a piece takes over 96 s, in one cut (new band: 59 s)"
    strange = dataclasses.replace(slow, known=False, pays="end", saves_to_end=Value(-0.001, -0.002, 0.0))
    assert strange.look("us") == "a piece takes over 1.6 times a new band's time, in one cut"
    assert strange.until() == "about 48 min of cutting"
    assert strange.worth() == "changing by it saves nothing against running to the end"
    assert strange.said("us") == ("none that pays", f"{strange.look('us')}: {strange.worth()}")
    assert sign.said("metric") == (sign.look("metric"), f"{sign.until()}; {sign.worth()}")


def test_recommendation_carries_the_sign():
    answer = recommend(fit(), study(), "saw1", "s8", "plate", L)
    label = next(row for row in answer.fields() if row[0] == "the sign to look for")
    assert label[1:] == answer.sign.said("metric")
    told = answer.to_json()["sign_to_look_for"]
    assert told["reading"] in ("motor_power", "deviation") and told["unit"] in ("W", "mm")
    assert told["pieces_low"] <= told["pieces"] <= told["pieces_high"]
    assert told["pays"] in ("sign", "after", "end")
