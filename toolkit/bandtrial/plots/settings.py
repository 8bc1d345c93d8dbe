"""What a setting does, drawn: band life, cutting rate and cost over band speed, runs to make, published starts."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes
    from numpy.typing import ArrayLike, NDArray

    from bandtrial.study.model import Machine
    from bandtrial.trials import Plan

import numpy as np

from bandtrial import units
from bandtrial.plots import style
from bandtrial.plots.marks import keep_span, name_marks
from bandtrial.plots.style import interval, single_draws, thinned


def life_against_speed(ax: Axes, band_speed: ArrayLike, log_tau_draws: ArrayLike, system: str) -> Axes:
    """Life of a typical band, log_tau (n_draws, n) [log contact minutes], over true band speed (n,) [m/min].

    Returns ax.
    """
    x = style.in_units(band_speed, "speed", system)
    life = np.exp(np.asarray(log_tau_draws))
    interval(ax, x, life, style.series(0), "typical band, 50 and 80 %")
    single_draws(ax, x, life, style.series(0))
    ax.set_xscale("log")
    ax.set_yscale("log")
    style.plain_log_ticks(ax.xaxis)
    style.plain_log_ticks(ax.yaxis)
    ax.set_xlabel(style.axis_in("true band speed", "speed", system))
    ax.set_ylabel(style.axis_label("band life, time each tooth is in the work", "min"))
    return ax


def band_points(
    ax: Axes, band_speed: ArrayLike, minutes: ArrayLike, ended: ArrayLike, system: str, names: ArrayLike | None = None
) -> Axes:
    """What the bands did: contact minutes (n,) at their mean speed, ended (bool) or still sound; returns ax.

    names (n,): what each mark is called when it is asked, as its cut.

    A sound band is drawn as a triangle that points up: its life is at least that long.
    """
    x = style.in_units(band_speed, "speed", system)
    minutes, ended = np.asarray(minutes, float), np.asarray(ended, bool)
    for mask, marker, label in ((ended, "o", "band ended"), (~ended, "^", "still sound: at least")):
        if mask.any():
            look: dict[str, Any] = {"color": "#000000" if marker == "o" else "#ffffff", "label": label}
            at = x[mask], minutes[mask], marker
            name_marks(ax.plot(*at, markersize=5.5, linestyle="none", markeredgecolor="#000000", **look), names, mask)
    return ax


def dial(ax: Axes, machine: Machine, system: str) -> Axes:
    """The same band speeds along the top as the dial of this machine shows them, where its speed was checked; returns
    ax.

    ax has true band speed along the bottom, its scale set, in the unit of the system.
    """
    if not machine.speed_check:
        return ax
    unit = units.display_unit("speed", system)

    def turned(speed: Callable[[Any], Any]) -> Callable[[Any], Any]:
        return lambda x: units.from_inside(speed(units.convert(np.asarray(x, float), unit, "speed")), "speed", unit)

    top = ax.secondary_xaxis("top", functions=(turned(machine.indicated_speed), turned(machine.true_speed)))
    top.set_xlabel(style.axis_label(f"on the dial of {machine.id}", unit))
    if ax.get_xscale() == "log":
        style.plain_log_ticks(top.xaxis)
    return ax


def published_start(ax: Axes, speeds: ArrayLike, system: str) -> Axes:
    """Published speeds (low, typical, high) [m/min]: a dashed line and a hatched strip; returns ax."""
    low, typical, high = style.in_units(speeds, "speed", system)
    if high > low:
        ax.axvspan(low, high, facecolor="none", edgecolor="#999999", hatch="///", linewidth=0)
    ax.axvline(typical, label="published start", **style.PUBLISHED)
    return ax


def recommended(ax: Axes, band_speed: ArrayLike, system: str) -> Axes:
    """The recommended true band speed [m/min] as a solid dark line; returns ax."""
    x = float(style.in_units(band_speed, "speed", system))
    ax.axvline(x, color=style.COLOURS[1], linewidth=1.8, label="recommended")
    return ax


def cutting_rate(
    ax: Axes, band_speed: ArrayLike, rate: ArrayLike, materials: ArrayLike, system: str, names: ArrayLike | None = None
) -> Axes:
    """Cutting rate (n,) [cm2/min] of each cut over true band speed (n,) [m/min], by material; returns ax.

    names (n,): as of `band_points`.
    """
    x = style.in_units(band_speed, "speed", system)
    y = style.in_units(rate, "rate", system)
    keep, materials = thinned(len(y)), np.asarray(materials, str)
    for i, name in enumerate(sorted(set(materials))):
        mine = keep[materials[keep] == name]
        name_marks(ax.plot(x[mine], y[mine], label=name, **style.points(i)), names, mine)
    ax.set_xlabel(style.axis_in("true band speed", "speed", system))
    ax.set_ylabel(style.axis_in("cutting rate", "rate", system))
    style.from_zero(ax)
    style.legend(ax)
    return ax


def per_area(cost: ArrayLike, system: str) -> NDArray[np.float64]:
    """Cost per cm2 as cost per displayed unit of area."""
    return np.asarray(cost, float) / float(style.in_units(1.0, "area", system))


def cost_against_speed(ax: Axes, band_speed: ArrayLike, cost_draws: ArrayLike, system: str, currency: str) -> Axes:
    """Long-run cost per area (n_draws, n) [currency/cm2] over true band speed (n,) [m/min]; returns ax.

    The axis ends at three times the lowest median cost: what lies above is not worth drawing.
    """
    x = style.in_units(band_speed, "speed", system)
    cost = per_area(cost_draws, system)
    interval(ax, x, cost, style.series(0), "expected cost, 50 and 80 %")
    ax.set_ylim(0, 3 * float(np.nanmin(np.median(cost, axis=0))))
    ax.set_xlabel(style.axis_in("true band speed", "speed", system))
    ax.set_ylabel(style.axis_label("cost per area", f"{currency}/{units.display_unit('area', system)}"))
    return ax


def cost_and_output(
    ax: Axes,
    curve: Sequence[Mapping[str, Any]],
    system: str,
    currency: str,
    named: Sequence[tuple[str, Mapping[str, Any]]] = (),
) -> Axes:
    """The curve between output and cost of a recommendation (its `curve`), each point the best of its kind.

    named: (label, point) of points to mark, each with a marker of its own; returns ax.
    """
    points = sorted(curve, key=lambda point: point["output"])
    output, cost, low, high = (
        np.array([p[key] for p in points]) for key in ("output", "cost", "cost_low", "cost_high")
    )
    x = style.in_units(output, "rate", system)
    ends, label = (per_area(low, system), per_area(high, system)), "its cost, 80 %"
    keep_span(ax.fill_between(x, *ends, color="#333333", alpha=0.15, linewidth=0, label=label), label, x, *ends)
    ax.plot(x, per_area(cost, system), "-", color="#333333", linewidth=1.8, label="best that can be had")
    for i, (label, point) in enumerate(named):
        at = style.in_units(point["output"], "rate", system), per_area(point["cost"], system)
        ax.plot(*at, label=label, **style.points(i) | {"markersize": 8})
    ax.locator_params(nbins=4)  # few, and quick to draw
    ax.set_xlabel(style.axis_in("output with band changes counted", "rate", system))
    ax.set_ylabel(style.axis_label("cost per area", f"{currency}/{units.display_unit('area', system)}"))
    style.legend(ax)
    return ax


def runs(ax: Axes, cuts: pd.DataFrame, plan: Plan, system: str) -> Axes:
    """Chip load over true band speed: the cuts of the plan's work (a fit's table) and its runs; returns ax.

    A run is a numbered diamond, its number the order to make it in.
    """
    job = plan.job
    mine = cuts[(cuts["machine"] == job.machine.id) & (cuts["material"] == job.material.id)]
    keep = thinned(len(mine))
    tried = style.in_units(mine["band_speed"], "speed", system)
    chips = style.in_units(mine["chip_load"], "chip_load", system)
    name_marks(ax.plot(tried[keep], chips[keep], label="cuts so far", **style.points(0)), mine["cut"], keep)
    x = style.in_units([run.band_speed for run in plan.runs], "speed", system).tolist()
    y = style.in_units([run.chip_load for run in plan.runs], "chip_load", system).tolist()
    if plan.runs:
        ax.plot(x, y, "D", markersize=9, color=style.COLOURS[1], markeredgecolor="#222222", label="runs to make")
    numbers: dict[tuple[float, float], list[str]] = {}
    for n, at in enumerate(zip(x, y, strict=True), start=1):
        numbers.setdefault(at, []).append(str(n))
    for at, order in numbers.items():
        ax.annotate(", ".join(order), at, xytext=(8, 4), textcoords="offset points", fontsize=9)
    published_start(ax, np.full(3, job.published_speed), system)
    ax.set_xlabel(style.axis_in("true band speed", "speed", system))
    ax.set_ylabel(style.axis_in("chip load", "chip_load", system))
    ax.margins(x=0.08, y=0.3)
    ax.set_ylim(bottom=0)
    dial(ax, job.machine, system)
    return style.legend(ax, loc="upper left", ncols=3)


FILLED = {"read": "full", "trade fact": "full", "worked out": "full"}
"""A figure read in its source is drawn filled, one from memory hollow."""


def sources(
    ax: Axes, lines: Sequence[tuple[str, float, float, str]], chosen: tuple[float, float, float], system: str
) -> Axes:
    """Band speed of each published line as a bar from low to high [m/min]; returns ax.

    lines: (label, low, high, how_known) each; chosen: (low, typical, high) of the start, a band and a line.
    """
    low, typical, high = style.in_units(chosen, "speed", system)
    ax.axvspan(low, high, color=style.COLOURS[5], alpha=0.25, linewidth=0, label="start, range")
    ax.axvline(typical, color=style.COLOURS[0], linewidth=1.6, label="start")
    for row, (_, least, most, how_known) in enumerate(lines):
        fill = FILLED.get(how_known, "none")
        ax.plot(
            style.in_units((least, most), "speed", system),
            [row, row],
            "-o",
            color="#222222",
            fillstyle=fill,
            markersize=6,
        )
    ax.set_yticks(range(len(lines)), [f"{line[0]}\n({line[3]})" for line in lines])
    ax.set_ylim(len(lines) - 0.5, -0.5)
    ax.set_xlabel(style.axis_in("true band speed", "speed", system))
    ax.set_xlim(left=0)
    ax.locator_params(axis="x", nbins=5)
    ax.set_title("each source as printed for its own band; the start")
    return style.legend(ax, loc="upper right")


def over_thickness(ax: Axes, thickness: ArrayLike, speeds: ArrayLike, mark: float, system: str) -> Axes:
    """Published start over work thickness: speeds (3, n) low, typical, high [m/min] at thickness (n,) [mm].

    mark: the thickness of the job [mm]. Returns ax.
    """
    x = style.in_units(thickness, "length", system)
    low, typical, high = style.in_units(speeds, "speed", system)
    ax.fill_between(x, low, high, color=style.COLOURS[5], alpha=0.25, linewidth=0, label="published range")
    ax.plot(x, typical, color=style.COLOURS[0], label="typical")
    here = style.in_units(mark, "length", system)
    ax.axvline(here, **style.PUBLISHED)
    ax.plot(here, np.interp(here, x, typical), "D", color=style.COLOURS[1], markersize=7, label="this work")
    ax.set_xlabel(style.axis_in("work thickness", "length", system))
    ax.set_ylabel(style.axis_in("true band speed", "speed", system))
    ax.set_xlim(left=0)
    style.from_zero(ax)
    ax.locator_params(nbins=5)
    ax.set_title("the published start over work thickness")
    return style.legend(ax, loc="lower right")
