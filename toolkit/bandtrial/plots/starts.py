"""Published starting band speeds: each source's own figure, and how the start follows the work thickness."""

from __future__ import annotations

import numpy as np

from bandtrial import units
from bandtrial.plots import style

FILLED = {"read": "full", "trade fact": "full", "worked out": "full"}
"""A figure read in its source is drawn filled, one from memory hollow."""


def sources(ax, lines, chosen, system):
    """Band speed of each published line as a bar from low to high [m/min]; returns ax.

    lines: (label, low, high, how_known) each; chosen: (low, typical, high) of the start, a band and a line.
    """
    unit = units.display_unit("speed", system)
    low, typical, high = (units.from_inside(speed, "speed", unit) for speed in chosen)
    ax.axvspan(low, high, color=style.COLOURS[5], alpha=0.25, linewidth=0, label="start, range")
    ax.axvline(typical, color=style.COLOURS[0], linewidth=1.6, label="start")
    for row, (_, least, most, how_known) in enumerate(lines):
        ends = [units.from_inside(speed, "speed", unit) for speed in (least, most)]
        fill = FILLED.get(how_known, "none")
        ax.plot(ends, [row, row], "-o", color="#222222", fillstyle=fill, markersize=6)
    ax.set_yticks(range(len(lines)), [f"{line[0]}\n({line[3]})" for line in lines])
    ax.set_ylim(len(lines) - 0.5, -0.5)
    ax.set_xlabel(style.axis_label("true band speed", unit))
    ax.set_xlim(left=0)
    ax.locator_params(axis="x", nbins=5)
    ax.set_title("each source as printed for its own band; the start")
    return style.legend(ax, loc="upper right")


def over_thickness(ax, thickness, speeds, mark, system):
    """Published start over work thickness: speeds (3, n) low, typical, high [m/min] at thickness (n,) [mm].

    mark: the thickness of the job [mm]. Returns ax.
    """
    v, t = units.display_unit("speed", system), units.display_unit("length", system)
    x = units.from_inside(np.asarray(thickness, float), "length", t)
    low, typical, high = units.from_inside(np.asarray(speeds, float), "speed", v)
    ax.fill_between(x, low, high, color=style.COLOURS[5], alpha=0.25, linewidth=0, label="published range")
    ax.plot(x, typical, color=style.COLOURS[0], label="typical")
    here = units.from_inside(mark, "length", t)
    ax.axvline(here, **style.PUBLISHED)
    ax.plot(here, np.interp(here, x, typical), "D", color=style.COLOURS[1], markersize=7, label="this work")
    ax.set_xlabel(style.axis_label("work thickness", t))
    ax.set_ylabel(style.axis_label("true band speed", v))
    ax.set_xlim(left=0)
    style.from_zero(ax)
    ax.locator_params(nbins=5)
    ax.set_title("the published start over work thickness")
    return style.legend(ax, loc="lower right")
