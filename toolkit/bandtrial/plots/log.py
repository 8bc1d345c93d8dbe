"""The cuts of one band in the order they were made, with the cut that is being typed."""

from __future__ import annotations

import numpy as np

from bandtrial import units
from bandtrial.plots import style
from bandtrial.plots.bands import thinned


def band_so_far(ax, rate, materials, system, draft=None):
    """Cutting rate (n,) [cm2/min] of a band's cuts in their order, by material; returns ax.

    draft: cutting rate of the cut that is being typed [cm2/min], or None.
    """
    unit = units.display_unit("rate", system)
    y, materials = units.from_inside(np.asarray(rate, float), "rate", unit), np.asarray(materials, str)
    keep = thinned(len(y))
    for i, name in enumerate(sorted(set(materials))):
        mine = keep[materials[keep] == name]
        ax.plot(mine + 1, y[mine], label=name, **style.points(i))
    if draft is not None and np.isfinite(draft):
        at = units.from_inside(draft, "rate", unit)
        ax.plot(len(y) + 1, at, "D", markersize=9, fillstyle="none", color="#000000", label="this cut")
    ax.set_xlabel(style.axis_label("row of this band in the log", None))
    ax.set_ylabel(style.axis_label("cutting rate", unit))
    style.from_zero(ax)
    ax.set_xlim(0, len(y) + 2)
    if ax.get_legend_handles_labels()[1]:
        style.legend(ax, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=4)
    return ax
