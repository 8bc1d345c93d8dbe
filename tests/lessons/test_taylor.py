"""The tool-life law and the textbook readings of a trial, against published worked examples.

Answers are compared to the digits their source prints (or we computed by hand to 5 figures): the relative
tolerance is half a unit of the last digit given.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from bandtrial_lessons import textbook
from bandtrial_lessons.costs import (
    remaining_life_linear_damage,
    taylor_from_two_points,
    taylor_life,
    taylor_speed,
    wear_used,
)

CHECKS = Path(__file__).parents[1] / "data" / "checks"
FIVE_FIGURES = 5e-5
"""Answers given to 5 figures or more."""


def test_two_points_fix_exponent_and_constant():
    """Groover, Fundamentals of Modern Manufacturing, tool life example; inputs from memory, prints
    0.223 and 229."""
    n, C = taylor_from_two_points(160.0, 5.0, 100.0, 41.0)
    assert n == pytest.approx(0.22337, rel=FIVE_FIGURES)
    assert pytest.approx(229.2186, rel=FIVE_FIGURES) == C
    assert (round(n, 3), round(C)) == (0.223, 229)


def test_flank_wear_read_to_a_limit():
    """Textbook-type exercise, readings read from it, answers computed with straight lines to 0.75 mm."""
    readings = pd.read_csv(CHECKS / "flank_wear_two_speeds.csv").groupby("cutting_speed_m_min")
    lives = {
        speed: textbook.straight_line_crossing(rows["time_min"], rows["flank_wear_mm"], 0.75)
        for speed, rows in readings
    }
    n, C = taylor_from_two_points(100.0, lives[100], 155.0, lives[155])
    assert lives == pytest.approx({100: 20.4167, 155: 10.000}, rel=FIVE_FIGURES)
    assert n == pytest.approx(0.61400, rel=FIVE_FIGURES)
    assert pytest.approx(637.29, rel=FIVE_FIGURES) == C


def test_speed_and_feed_exponents_through_three_points():
    """University course solution, 2011: v^p f^q T = C, prints p 2.41 and q 1.26."""
    fit = textbook.fit_log_life([30.0, 15.0, 9.0], speed=[300.0, 400.0, 400.0], feed=[0.2, 0.2, 0.3])
    assert -fit.exponents["speed"] == pytest.approx(2.4094, rel=FIVE_FIGURES)
    assert -fit.exponents["feed"] == pytest.approx(1.2599, rel=FIVE_FIGURES)
    assert np.exp(fit.intercept) == pytest.approx(3.6724e6, rel=FIVE_FIGURES)
    assert fit.s == 0.0


@pytest.mark.parametrize(
    ("n", "speed_ratio", "life_ratio"), [(0.4, 0.8, 1.74693), (0.4, 1.3, 0.51897), (0.5, 0.5, 4.0)]
)
def test_life_ratio_of_a_speed_change(n, speed_ratio, life_ratio):
    """Textbook-type exercise, answers computed: the ratio does not depend on C."""
    V, C = 60.0, 240.0
    ratio = taylor_life(V * speed_ratio, n, C) / taylor_life(V, n, C)
    assert ratio == pytest.approx(life_ratio, rel=FIVE_FIGURES)


def test_better_tool_gives_life_or_speed():
    """Textbook-type exercise, answers computed: n 0.125, C from 1.016 to 1.143 m/s, V 0.635 m/s."""
    V, C_old, C_new = 0.635 * 60, 1.016 * 60, 1.143 * 60
    old_life = taylor_life(V, 0.125, C_old)
    assert old_life == pytest.approx(42.950, rel=FIVE_FIGURES)
    assert taylor_life(V, 0.125, C_new) == pytest.approx(110.200, rel=FIVE_FIGURES)
    assert taylor_speed(old_life, 0.125, C_new) == pytest.approx(0.714375 * 60, rel=FIVE_FIGURES)


def test_log_life_regression_of_36_trials():
    """Statistics-text exercise (three digits of the data repaired), refit with R 4.2.2:

    summary(lm(log(tool_life_min) ~ log(cutting_speed_ft_min) + log(feed_in_rev), d))
    """
    d = pd.read_csv(CHECKS / "tool_life_speed_feed_36.csv")
    fit = textbook.fit_log_life(d["tool_life_min"], speed=d["cutting_speed_ft_min"], feed=d["feed_in_rev"])
    assert fit.intercept == pytest.approx(18.749627, rel=1e-7)
    assert fit.exponents == pytest.approx({"speed": -5.120884, "feed": -3.737860}, rel=3e-7)
    assert fit.s == pytest.approx(0.23490, rel=FIVE_FIGURES)
    assert fit.r2 == pytest.approx(0.9595, rel=FIVE_FIGURES)


def test_sums_of_squares_of_a_two_level_trial():
    """Montgomery, Design and Analysis of Experiments, 2^3 tool life exercise; two decimals printed."""
    d = pd.read_csv(CHECKS / "tool_life_factorial_2_3.csv")
    squares = textbook.two_level_sums_of_squares(
        d["tool_life_h"], A=d["speed_code"], B=d["geometry_code"], C=d["angle_code"]
    )
    printed = {
        "A": 0.67, "B": 770.67, "C": 280.17, "A x B": 16.67, "A x C": 468.17, "B x C": 48.17,
        "A x B x C": 28.17, "error": 482.67,
    }  # fmt: skip
    assert {name: round(value, 2) for name, value in squares.items()} == printed
    assert d["tool_life_h"].mean() == pytest.approx(40.8333, rel=FIVE_FIGURES)


def test_regression_and_effects_agree_on_a_two_level_trial():
    """Least squares on coded factors has half the effect as its slope (reference: numpy.linalg.lstsq)."""
    d = pd.read_csv(CHECKS / "tool_life_factorial_2_3.csv")
    codes = d[["speed_code", "geometry_code", "angle_code"]].to_numpy(float)
    X = np.column_stack([np.ones(len(d)), codes])
    slopes = np.linalg.lstsq(X, d["tool_life_h"], rcond=None)[0][1:]
    effects = textbook.two_level_effects(d["tool_life_h"], A=codes[:, 0], B=codes[:, 1], C=codes[:, 2])
    assert [effects[name] for name in "ABC"] == pytest.approx(2.0 * slopes, rel=1e-9)  # rounding only


def test_linear_damage_adds_up():
    """Arithmetic, no source: n 0.125, C 70 gives 14.758 min at 50 m/min, 59.537 at 42; after
    7.38 min at 50, 29.764 min are left at 42."""
    at_50, at_42 = taylor_life(50.0, 0.125, 70.0), taylor_life(42.0, 0.125, 70.0)
    assert (at_50, at_42) == pytest.approx((14.758, 59.537), rel=FIVE_FIGURES)
    assert remaining_life_linear_damage([7.38], [at_50], at_42) == pytest.approx(29.764, rel=FIVE_FIGURES)


def test_linear_damage_does_not_mind_the_order_and_stops_at_nothing():
    minutes, lives = np.array([3.0, 8.0, 1.0]), np.array([10.0, 40.0, 5.0])
    assert wear_used(minutes, lives) == pytest.approx(wear_used(minutes[::-1], lives[::-1]), rel=1e-12)
    assert remaining_life_linear_damage([20.0], [10.0], 30.0) == 0.0


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: taylor_from_two_points(100.0, 5.0, 100.0, 8.0),
            "two trials at speeds 100.0 and 100.0 m/min with lives 5.0 and 8.0 min fix no exponent; "
            "give two different speeds and two different lives",
        ),
        (
            lambda: textbook.straight_line_crossing([1.0, 5.0], [0.1, 0.3], 0.75),
            "wear readings from 0.1 to 0.3 start or stay below the limit 0.75: no crossing to read; "
            "take readings on both sides of it",
        ),
        (
            lambda: textbook.fit_log_life([30.0, 15.0, 9.0], speed=[300.0, 400.0, 500.0], feed=[3.0, 4.0, 5.0]),
            "3 trials can't tell the exponents of speed, feed apart; "
            "vary each setting on its own in at least one trial more than there are settings",
        ),
        (
            lambda: textbook.two_level_effects([1.0, 2.0, 3.0], speed=[-1, 1, -1], feed=[-1, -1, 1]),
            "3 runs in 3 settings are not a full two-level trial of speed, feed; "
            "code each -1 or +1 and run all 4 settings equally often",
        ),
    ],
    ids=["one speed twice", "limit not reached", "settings move together", "a run missing"],
)
def test_trials_that_can_not_be_read(call, message):
    with pytest.raises(ValueError) as caught:
        call()
    assert str(caught.value) == message
