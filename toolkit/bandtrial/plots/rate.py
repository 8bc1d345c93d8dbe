"""How fast the shop cuts: each logged cut, and what the fit makes of a set feed force."""

from __future__ import annotations

import numpy as np

from bandtrial import units
from bandtrial.plots import style
from bandtrial.plots.bands import interval, thinned


def cutting_rate(ax, band_speed, rate, materials, system):
    """Cutting rate (n,) [cm2/min] of each cut over true band speed (n,) [m/min], by material; returns ax."""
    x = units.from_inside(np.asarray(band_speed, float), "speed", units.display_unit("speed", system))
    y = units.from_inside(np.asarray(rate, float), "rate", units.display_unit("rate", system))
    keep, materials = thinned(len(y)), np.asarray(materials, str)
    for i, name in enumerate(sorted(set(materials))):
        mine = keep[materials[keep] == name]
        ax.plot(x[mine], y[mine], label=name, **style.points(i))
    ax.set_xlabel(style.axis_label("true band speed", units.display_unit("speed", system)))
    ax.set_ylabel(style.axis_label("cutting rate", units.display_unit("rate", system)))
    style.from_zero(ax)
    style.legend(ax)
    return ax


def chip_load_over_force(ax, force, chip_load_draws, system, data=None):
    """Chip load (n_draws, n) [um] that a feed force (n,) [N] gives; data (force, chip load); returns ax."""
    f, h = units.display_unit("force", system), units.display_unit("chip_load", system)
    interval(
        ax,
        units.from_inside(np.asarray(force, float), "force", f),
        units.from_inside(np.asarray(chip_load_draws, float), "chip_load", h),
        style.series(0),
        "fit, 50 and 80 %",
    )
    if data is not None:
        keep = thinned(len(data[0]))
        ax.plot(
            units.from_inside(np.asarray(data[0], float)[keep], "force", f),
            units.from_inside(np.asarray(data[1], float)[keep], "chip_load", h),
            label="cuts",
            **style.points(1),
        )
    ax.set_xlabel(style.axis_label("feed force", f))
    ax.set_ylabel(style.axis_label("chip load", h))
    style.legend(ax)
    return ax
