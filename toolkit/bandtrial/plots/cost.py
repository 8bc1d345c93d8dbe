"""Cost per area over band speed, and the curve between cost and output."""

from __future__ import annotations

import numpy as np

from bandtrial import units
from bandtrial.plots import style
from bandtrial.plots.bands import interval


def per_area(cost, system):
    """Cost per cm2 as cost per displayed unit of area."""
    return np.asarray(cost, float) / float(units.from_inside(1.0, "area", units.display_unit("area", system)))


def cost_against_speed(
    ax, band_speed, cost_draws, system, currency, look=0, label="expected cost, 50 and 80 %"
):
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


def cost_and_output(ax, output, cost, system, currency, named=()):
    """The curve between output (n,) [cm2/min] and cost (n,) [currency/cm2], each point the best of its kind.

    named: (label, output, cost) of points to mark, each with a marker of its own; returns ax.
    """
    unit = units.display_unit("rate", system)
    ax.plot(
        units.from_inside(np.asarray(output, float), "rate", unit),
        per_area(cost, system),
        "-",
        color="#333333",
        linewidth=1.8,
        label="best that can be had",
    )
    for i, (label, at_output, at_cost) in enumerate(named):
        ax.plot(
            units.from_inside(at_output, "rate", unit),
            per_area(at_cost, system),
            label=label,
            **style.points(i) | {"markersize": 8},
        )
    ax.locator_params(nbins=4)  # few, and quick to draw
    ax.set_xlabel(style.axis_label("output with band changes counted", unit))
    ax.set_ylabel(style.axis_label("cost per area", f"{currency}/{units.display_unit('area', system)}"))
    style.legend(ax)
    return ax
