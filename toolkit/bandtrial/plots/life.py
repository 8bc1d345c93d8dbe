"""Band life against band speed, on logarithmic axes, where V T^n = C is a straight line."""

from __future__ import annotations

import numpy as np

from bandtrial import units
from bandtrial.plots import style
from bandtrial.plots.bands import interval, single_draws


def life_against_speed(ax, band_speed, log_tau_draws, system, label="typical band, 50 and 80 %", look=0):
    """Life of a typical band, log_tau (n_draws, n) [log contact minutes], over true band speed (n,) [m/min].

    Returns ax.
    """
    x = units.from_inside(np.asarray(band_speed), "speed", units.display_unit("speed", system))
    life = np.exp(np.asarray(log_tau_draws))
    interval(ax, x, life, style.series(look), label)
    single_draws(ax, x, life, style.series(look))
    ax.set_xscale("log")
    ax.set_yscale("log")
    style.plain_log_ticks(ax.xaxis)
    style.plain_log_ticks(ax.yaxis)
    ax.set_xlabel(style.axis_label("true band speed", units.display_unit("speed", system)))
    ax.set_ylabel(style.axis_label("band life, time each tooth is in the work", "min"))
    return ax


def band_points(ax, band_speed, minutes, ended, system):
    """What the bands did: contact minutes (n,) at their mean speed, ended (bool) or still sound; returns ax.

    A sound band is drawn as a triangle that points up: its life is at least that long.
    """
    x = units.from_inside(np.asarray(band_speed, float), "speed", units.display_unit("speed", system))
    minutes, ended = np.asarray(minutes, float), np.asarray(ended, bool)
    for mask, marker, label in ((ended, "o", "band ended"), (~ended, "^", "still sound: at least")):
        if mask.any():
            ax.plot(
                x[mask],
                minutes[mask],
                marker,
                color="#000000" if marker == "o" else "#ffffff",
                markersize=5.5,
                markeredgecolor="#000000",
                linestyle="none",
                label=label,
            )
    return ax


def published_start(ax, speeds, system):
    """Published speeds (low, typical, high) [m/min]: a dashed line and a hatched strip; returns ax."""
    low, typical, high = units.from_inside(np.asarray(speeds, float), "speed", units.display_unit("speed", system))
    if high > low:
        ax.axvspan(low, high, facecolor="none", edgecolor="#999999", hatch="///", linewidth=0)
    ax.axvline(typical, label="published start", **style.PUBLISHED)
    return ax


def recommended(ax, band_speed, system, label="recommended"):
    """The recommended true band speed [m/min] as a solid dark line; returns ax."""
    x = float(units.from_inside(band_speed, "speed", units.display_unit("speed", system)))
    ax.axvline(x, color=style.COLOURS[1], linewidth=1.8, label=label)
    return ax
