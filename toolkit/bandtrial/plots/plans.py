"""Where a plan goes: the settings tried so far and the runs to make, over band speed and chip load."""

from __future__ import annotations

import numpy as np

from bandtrial import units
from bandtrial.plots import life, style
from bandtrial.plots.bands import thinned


def runs(ax, cuts, plan, system):
    """Chip load over true band speed: the cuts of the plan's work (a fit's table) and its runs; returns ax.

    A run is a numbered diamond, its number the order to make it in.
    """
    v, h = units.display_unit("speed", system), units.display_unit("chip_load", system)
    job = plan.job
    mine = cuts[(cuts["machine"] == job.machine.id) & (cuts["material"] == job.material.id)]
    keep = thinned(len(mine))
    ax.plot(
        units.from_inside(mine["band_speed"].to_numpy(float)[keep], "speed", v),
        units.from_inside(mine["chip_load"].to_numpy(float)[keep], "chip_load", h),
        label="cuts so far",
        **style.points(0),
    )
    x = [units.from_inside(run.band_speed, "speed", v) for run in plan.runs]
    y = [units.from_inside(run.chip_load, "chip_load", h) for run in plan.runs]
    if plan.runs:
        ax.plot(x, y, "D", markersize=9, color=style.COLOURS[1], markeredgecolor="#222222", label="runs to make")
    numbers: dict[tuple[float, float], list[str]] = {}
    for n, at in enumerate(zip(x, y, strict=True), start=1):
        numbers.setdefault(at, []).append(str(n))
    for at, order in numbers.items():
        ax.annotate(", ".join(order), at, xytext=(8, 4), textcoords="offset points", fontsize=9)
    life.published_start(ax, np.full(3, job.published_speed), system)
    ax.set_xlabel(style.axis_label("true band speed", v))
    ax.set_ylabel(style.axis_label("chip load", h))
    ax.margins(x=0.08, y=0.3)
    ax.set_ylim(bottom=0)
    return style.legend(ax, loc="upper left", ncols=3)
