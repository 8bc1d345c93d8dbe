"""Drawings: units on every axis, data and uncertainty visible, the same bytes twice, told apart in grey."""

from types import SimpleNamespace

import numpy as np
import pytest
from bandtrial.plots import evidence, settings, style
from bandtrial.watch.record import Past

RNG = np.random.default_rng(5)
SPEED = np.linspace(30, 90, 25)
TRADED = [{"output": x, "cost": c, "cost_low": 0.9 * c, "cost_high": 1.2 * c} for x, c in ((9.0, 0.1), (8.0, 0.09))]
DRAWS = 5.0 - 3.0 * np.log(SPEED / 50) + RNG.normal(0, 0.2, (200, 1))


def _life(ax):
    settings.life_against_speed(ax, SPEED, DRAWS, "us")
    settings.band_points(ax, [40.0, 60.0], [200.0, 90.0], [True, False], "us")
    return settings.published_start(ax, (45.0, 50.0, 55.0), "us")


def _signal(ax):
    E = RNG.uniform(0, 1.2, 60)
    curve = np.linspace(0, 1.2, 30)
    return evidence.signal_over_wear(
        ax,
        "motor_power",
        E,
        1 + 0.3 * E,
        ["B1", "B2"] * 30,
        (curve, 1 + RNG.normal(0.3, 0.05, (200, 1)) * curve),
    )


def _cost(ax):
    return settings.cost_against_speed(ax, SPEED, np.exp(RNG.normal(-4, 0.1, (200, 25))), "us", "USD")


def _chart(ax):
    return evidence.chart(ax, np.arange(5.0), np.zeros(5), 4.0, ["1", "2", "3", "4", "5"], "band B1")


def _in_service(band, used, ringing=False):
    alarms = (SimpleNamespace(now=ringing),)
    return SimpleNamespace(
        band=band, wear_used=used, wear_used_low=0.8 * used, wear_used_high=1.3 * used, alarms=alarms
    )


DRAWINGS = {
    "life": (_life, "true band speed [ft/min]", "band life, time each tooth is in the work [min]"),
    "signal": (_signal, "wear used [-]", "motor power, multiple of a fresh band's [-]"),
    "cost": (_cost, "true band speed [ft/min]", "cost per area [USD/in²]"),
    "curve": (
        lambda ax: settings.cost_and_output(ax, TRADED, "metric", "EUR", [("start", TRADED[0])]),
        "output with band changes counted [cm²/min]",
        "cost per area [EUR/cm²]",
    ),
    "rate": (
        lambda ax: settings.cutting_rate(ax, SPEED, SPEED / 4, ["plate"] * 25, "metric"),
        "true band speed [m/min]",
        "cutting rate [cm²/min]",
    ),
    "past forecasts": (
        lambda ax: evidence.past_forecasts(ax, [Past("B1", 0.5, 60, 40, 80, 50.0), Past("B2", 0.3, 60, 40, 65, 70.0)]),
        "end as foretold, in lives of the band",
        "share of life when foretold",
    ),
    "service": (
        lambda ax: evidence.wear_used(ax, [_in_service("B1", 0.9, ringing=True), _in_service("B2", 0.2)]),
        "wear used [-]",
        "band in service",
    ),
    "chart": (_chart, "reading, in the order of cutting (the last is cut 5) [-]", "cumulative sum [sd]"),
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_every_axis_has_its_unit_and_the_axes_come_back(name):
    draw, x, y = DRAWINGS[name]
    _, ax = style.figure()
    assert draw(ax) is ax
    assert (ax.get_xlabel(), ax.get_ylabel()) == (x, y)


def test_prior_picture_puts_each_prior_at_minus_one_to_one():
    _, ax = style.figure()
    evidence.prior_and_posterior(ax, [("m", 2, 6, 3, 4, 5, True), ("b", 0, 4, 0, 1, 4, False)])
    marks = sorted(line.get_xdata()[0] for line in ax.lines)  # (4-4)/2 and (1-2)/2 by hand
    assert marks == [-0.5, 0.0]
    assert [label.get_text() for label in ax.get_yticklabels()] == ["m", "b"]


def test_speed_and_cost_are_shown_in_the_studys_units():
    """50 m/min is 164.04 ft/min; 1 USD/cm2 is 6.4516 USD/in2 (1 in = 2.54 cm by definition)."""
    _, ax = style.figure()
    settings.recommended(ax, 50.0, "us")
    assert ax.lines[0].get_xdata()[0] == pytest.approx(164.0420, rel=1e-6)
    assert settings.per_area(1.0, "us") == pytest.approx(6.4516, rel=1e-12)


def test_the_dial_stands_along_the_top():
    """By hand: the dial shows 100 m/min where the band runs 80, and half of both lies on the same straight line."""
    ax = style.figure()[1]
    ax.set_xlim(0, 80)
    machine = SimpleNamespace(id="saw1", speed_check=((100.0, 80.0),))
    machine.indicated_speed, machine.true_speed = (lambda v: v / 0.8), (lambda v: v * 0.8)
    settings.dial(ax, machine, "metric")
    ax.figure.draw_without_rendering()
    (top,) = ax.child_axes
    assert top.get_xlabel() == "on the dial of saw1 [m/min]"
    assert top.get_xlim() == pytest.approx((0, 100), rel=1e-9)  # rounding of floats
    ax = style.figure()[1]
    settings.dial(ax, SimpleNamespace(id="saw1", speed_check=()), "metric")
    assert ax.child_axes == []  # a dial that was never checked is taken as true


def test_the_same_drawing_has_the_same_bytes():
    def once():
        fig, ax = style.figure()
        settings.band_points(ax, [40.0, 60.0], [200.0, 90.0], [True, False], "us")
        settings.published_start(ax, (45.0, 50.0, 55.0), "us")
        return style.svg(fig)[0]

    assert once() == once()
    assert "2026" not in once() and "date" not in once().lower()


def test_series_differ_without_their_colour():
    looks = [style.series(i) for i in range(8)]
    assert len({(look["marker"]) for look in looks}) == 8
    assert len({str(look["linestyle"]) for look in looks}) == 8


def test_colours_are_told_apart_in_grey_where_two_are_drawn_together():
    """Relative luminance (ITU-R BT.709) of the first two series and of the two marks for bands."""
    from matplotlib.colors import to_rgb

    def grey(colour):
        return float(np.dot([0.2126, 0.7152, 0.0722], to_rgb(colour)))

    assert abs(grey("#000000") - grey("#ffffff")) == pytest.approx(1.0)
    assert abs(grey(style.COLOURS[0]) - grey(style.COLOURS[1])) > 0.05
