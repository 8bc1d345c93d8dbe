"""Does the model hold? Residuals in the order of cutting, and what each band did against what was expected."""

from __future__ import annotations

import numpy as np

from bandtrial.plots import style
from bandtrial.plots.bands import thinned

WORN = ("dull", "crooked", "stripped")


def residuals(ax, z, bands, signal):
    """Standardized residuals z (n,) [sd] of one signal in the order of cutting, bands (n,) told apart; returns ax.

    Most should lie between the dotted lines at -2 and 2, without a trend inside a band.
    """
    z, bands = np.asarray(z, float), np.asarray(bands, str)
    keep = thinned(len(z), 600)
    order = list(dict.fromkeys(bands))
    for i, band in enumerate(order):
        mine = keep[bands[keep] == band]
        ax.plot(mine + 1, z[mine], **style.points(i % 2))
        if len(mine) and len(order) <= 20:
            ax.annotate(band, (mine.mean() + 1, 1), (0, 3), xycoords=("data", "axes fraction"),
                        textcoords="offset points", ha="center", va="bottom", fontsize=8)  # fmt: skip
    for edge in (-2, 2):
        ax.axhline(edge, **style.PUBLISHED)
    ax.axhline(0, color="#333333", linewidth=0.8)
    top = max(4.0, float(np.nanmax(np.abs(z))) * 1.1 if len(z) else 4.0)
    ax.set_ylim(-top, top)
    ax.set_xlabel(style.axis_label("reading, in the order of cutting", None))
    ax.set_ylabel(style.axis_label(f"residual of {signal}", "sd"))
    return ax


def wear_at_end(ax, bands, low, median, high, ends, shape):
    """Wear used of each band when last seen, with its 80 % interval, against where bands should end; returns ax.

    shape: Weibull shape of the ends; the shaded part holds 80 % of the ends that the model expects. A worn-out
    band outside it, or one in service far beyond it, is one that the model misses.
    """
    rows, ends = np.arange(len(bands)), np.asarray(ends, str)
    expected = (-np.log([0.9, 0.1])) ** (1 / shape)
    ax.axvspan(*expected, color=style.COLOURS[5], alpha=0.25, linewidth=0, label="80 % of ends expected here")
    ax.hlines(rows, low, high, color="#333333", linewidth=1.4)
    worn = np.isin(ends, WORN)
    kinds = (
        (worn, "o", "full", "worn out"),
        (np.isin(ends, ("broken", "weld_broken")), "X", "full", "broken"),
        (np.isin(ends, ("in_service", "removed_sound")), "^", "none", "still sound: at least"),
    )
    for mask, marker, fill, label in kinds:
        if mask.any():
            ax.plot(np.asarray(median)[mask], rows[mask], marker, color="#000000", fillstyle=fill, label=label)
    ax.set_yticks(rows, list(bands))
    ax.set_ylim(len(bands) - 0.5, -0.5)
    ax.set_xlim(left=0)
    ax.set_xlabel(style.axis_label("wear used, 1 is a typical band's life", None))
    return style.legend(ax, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4)
