"""Cost per area over band speed, and the curve between cost and output."""

from __future__ import annotations

import numpy as np

from bandtrial import units
from bandtrial.plots import style
from bandtrial.plots.bands import interval


def per_area(cost, system):
    """Cost per cm2 as cost per displayed unit of area."""
    return np.asarray(cost, float) / float(units.from_inside(1.0, "area", units.display_unit("area", system)))


def cost_against_speed(ax, band_speed, cost_draws, system, currency, look=0, label="expected cost, 50 and 80 %"):
    """Long-run cost per area (n_draws, n) [currency/cm2] over true band speed (n,) [m/min]; returns ax.

    The axis ends at three times the lowest median cost: what lies above is not worth drawing.
    """
    x = units.from_inside(np.asarray(band_speed), "speed", units.display_unit("speed", system))
    cost = per_area(cost_draws, system)
    interval(ax, x, cost, style.series(look), label)
    ax.set_ylim(0, 3 * float(np.nanmin(np.median(cost, axis=0))))
    ax.set_xlabel(style.axis_label("true band speed", units.display_unit("speed", system)))
    ax.set_ylabel(style.axis_label("cost per area", f"{currency}/{units.display_unit('area', system)}"))
    return ax


def cost_and_output(ax, curve, system, currency, named=()):
    """The curve between output and cost of a recommendation (its `curve`), each point the best of its kind.

    named: (label, point) of points to mark, each with a marker of its own; returns ax.
    """
    unit = units.display_unit("rate", system)
    points = sorted(curve, key=lambda point: point["output"])
    output, cost, low, high = (
        np.array([p[key] for p in points]) for key in ("output", "cost", "cost_low", "cost_high")
    )
    x = units.from_inside(output, "rate", unit)
    ax.fill_between(
        x,
        per_area(low, system),
        per_area(high, system),
        color="#333333",
        alpha=0.15,
        linewidth=0,
        label="its cost, 80 %",
    )
    ax.plot(
        x,
        per_area(cost, system),
        "-",
        color="#333333",
        linewidth=1.8,
        label="best that can be had",
    )
    for i, (label, point) in enumerate(named):
        ax.plot(
            units.from_inside(point["output"], "rate", unit),
            per_area(point["cost"], system),
            label=label,
            **style.points(i) | {"markersize": 8},
        )
    ax.locator_params(nbins=4)  # few, and quick to draw
    ax.set_xlabel(style.axis_label("output with band changes counted", unit))
    ax.set_ylabel(style.axis_label("cost per area", f"{currency}/{units.display_unit('area', system)}"))
    style.legend(ax)
    return ax
