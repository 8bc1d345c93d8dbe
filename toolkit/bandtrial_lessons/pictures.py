"""The drawings of the lessons, from what a lesson knows."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np
from bandtrial import units
from bandtrial.plots import settings, style

from bandtrial_lessons import costs

if TYPE_CHECKING:
    from bandtrial.panels.base import Picture

    from bandtrial_lessons.cut_cost import CutCost
    from bandtrial_lessons.feed_teeth import FeedAndTeeth
    from bandtrial_lessons.speed_life import SpeedAndLife

MARK = {"color": "#000000", "linestyle": (0, (2, 2)), "linewidth": 1.2}


def picture_of(lesson: Any, paint: Callable[[Any, Any], Any], caption: str) -> Picture:
    """A picture for a notebook: paint(ax, lesson) on one pair of axes."""
    from bandtrial.panels.base import Picture

    picture = Picture(caption, 6.6, 3.7)
    picture.draw(lambda ax: paint(ax, lesson))
    return picture


def force_over_time(axes: Any, lesson: SpeedAndLife) -> Any:
    """Readings of each band on axes of its own, plain on both; returns axes."""
    unit = lesson.unit("force")
    for i, (ax, run) in enumerate(zip(axes, lesson.runs, strict=True)):
        force = units.from_inside(run.force, "force", unit)
        ax.plot(run.minutes, force, label=f"band {i + 1}, {lesson.show(run.speed, 'speed')}", **style.series(i))
        ax.axhline(float(units.from_inside(lesson.mark, "force", unit)), label="called dull", **MARK)
        ax.set_xlim(left=0)
        ax.set_ylim(bottom=0)
        ax.set_xlabel(style.axis_label("cutting time", "min"))
        ax.set_ylabel(style.axis_label("cutting force", unit))
        style.legend(ax, loc="lower right")
    return axes


def life_over_speed(ax: Any, lesson: SpeedAndLife) -> Any:
    """Both lives and the law through them; returns ax."""
    unit = lesson.unit("speed")
    V = np.geomspace(0.85 * lesson.speeds[0], 1.18 * lesson.speeds[1], 30)
    line = costs.taylor_life(V, *lesson.law)
    ax.plot(units.from_inside(V, "speed", unit), line, color=style.COLOURS[0], linewidth=1.2, label="V T^n = C")
    for i, (speed, minutes) in enumerate(zip(lesson.speeds, lesson.lives, strict=True)):
        ax.plot(units.from_inside(speed, "speed", unit), minutes, label=f"band {i + 1}", **style.points(i))
    ax.set_xscale("log")
    ax.set_yscale("log")
    start = lesson.start_of_shop().settings.speed
    settings.published_start(ax, (start.low, start.typical, start.high), lesson.system)
    round_ticks(ax, units.from_inside(V[[0, -1]], "speed", unit))
    style.plain_log_ticks(ax.yaxis)
    ax.set_xlabel(style.axis_label("band speed, log scale", unit))
    ax.set_ylabel(style.axis_label("band life, log scale", "min"))
    return style.legend(ax)


def round_ticks(ax: Any, ends: Any) -> Any:
    """Round numbers as ticks on a log x axis that covers less than a decade, from end to end; returns ax."""
    from matplotlib.ticker import FixedLocator, MaxNLocator, NullLocator, StrMethodFormatter

    ticks = MaxNLocator(6).tick_values(*ends)
    ax.xaxis.set_major_locator(FixedLocator([x for x in ticks if ends[0] <= x <= ends[1]]))
    ax.xaxis.set_major_formatter(StrMethodFormatter("{x:g}"))
    ax.xaxis.set_minor_locator(NullLocator())
    return ax


def area_over_chip_load(axes: Any, lesson: FeedAndTeeth) -> Any:
    """Area of each band on axes[0], what an area costs on axes[1]; returns axes."""
    run, unit, area = lesson.run, lesson.unit("chip_load"), lesson.unit("area")
    h = units.from_inside(run.chip_load, "chip_load", unit)
    per_area = float(units.from_inside(1.0, "area", area))
    axes[0].plot(h, units.from_inside(run.area, "area", area), **style.series(0))
    axes[0].set_ylabel(style.axis_label("area of one band", area))
    axes[1].plot(h, lesson.costs_of_area / per_area, **style.series(1))
    axes[1].set_ylabel(style.axis_label("cost per area", f"{lesson.currency}/{area}"))
    for ax in axes:
        ax.set_xlabel(style.axis_label("chip load", unit))
        ax.set_ylim(bottom=0)
    return axes


def cost_and_output_over_speed(axes: Any, lesson: CutCost, V: Any, prices: Any, best: Any) -> Any:
    """Cost per area on axes[0], output on axes[1], over speeds V (n,) [m/min].

    prices : an hour, a band [currency], a change [min]; best : speeds of lowest cost and greatest output
    """
    hour, band, change = prices
    unit, area, rate = (lesson.unit(kind) for kind in ("speed", "area", "rate"))
    per_area = float(units.from_inside(1.0, "area", area))

    def cost(speed: Any) -> Any:
        life = costs.taylor_life(speed, *lesson.law)
        return costs.cost_per_area(lesson.rate(speed), life, hour, change, band) / per_area

    def output(speed: Any) -> Any:
        life = costs.taylor_life(speed, *lesson.law)
        return units.from_inside(costs.output_rate(lesson.rate(speed), life, change), "rate", rate)

    for i, (ax, curve, at, name) in enumerate(
        zip(axes, (cost, output), best, ("lowest cost", "greatest output"), strict=True)
    ):
        look = style.series(i) | {"marker": ""}
        ax.plot(units.from_inside(V, "speed", unit), curve(V), **look)
        ax.plot(units.from_inside(at, "speed", unit), curve(at), label=name, **style.points(i) | {"markersize": 8})
        ax.set_xlabel(style.axis_label("band speed", unit))
        style.legend(ax, loc="upper center" if i == 0 else "lower center")
    axes[0].set_ylim(0, 3 * float(cost(best[0])))
    axes[0].set_ylabel(style.axis_label("cost per area", f"{lesson.currency}/{area}"))
    axes[1].set_ylim(0, 1.15 * float(output(best[1])))
    axes[1].set_ylabel(style.axis_label("output, changes counted", rate))
    return axes


def power_over_minutes(ax: Any, cuts: Any, unit: str) -> Any:
    """Motor power of each band's cuts over its cutting time; returns ax."""
    for i, (band, rows) in enumerate(cuts.groupby("band", sort=False)):
        power = units.from_inside(rows["motor_power"].to_numpy(float), "power", unit)
        ax.plot(rows["cut_time"].cumsum(), power, label=f"band {band}", **style.points(i))
    ax.set_xlim(left=0)
    ax.set_ylim(bottom=0)
    ax.set_xlabel(style.axis_label("cutting time of the band", "min"))
    ax.set_ylabel(style.axis_label("motor power", unit))
    return style.legend(ax)
