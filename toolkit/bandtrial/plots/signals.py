"""Sharpness signals over wear used: what the fit learns from before any band is worn out."""

from __future__ import annotations

import numpy as np
import pandas as pd

from bandtrial.plots import style
from bandtrial.plots.bands import interval, thinned
from bandtrial.wear.signals import in_words


def signal_over_wear(ax, signal, wear_used, ratio, bands, curve_wear, curve_draws, most_bands=7):
    """One signal as a multiple of a fresh band's at the same setting, over wear used; returns ax.

    signal: its name; wear_used, ratio (n,): a reading each, its `bands` (n,); curve_wear (m,) and curve_draws
    (n_draws, m): the fit's multiple. Both axes are pure numbers. The bands with most readings are told apart.
    """
    shown, rest, others = marks(bands, most_bands)
    for i, (name, mine) in enumerate(shown.items()):
        ax.plot(np.asarray(wear_used)[mine], np.asarray(ratio)[mine], label=name, **style.points(i))
    if len(rest):
        ax.plot(
            np.asarray(wear_used)[rest],
            np.asarray(ratio)[rest],
            ".",
            color="#777777",
            markersize=3,
            label=f"{others} other bands",
        )
    interval(ax, curve_wear, curve_draws, {"color": "#333333", "linestyle": "-"}, "fit, 50 and 80 %")
    word = in_words(signal)
    ax.set_xlabel(style.axis_label("wear used", None))
    ax.set_ylabel(style.axis_label(f"{word}, multiple of a fresh band's", None))
    style.from_zero(ax)
    ax.set_xlim(left=0)
    style.legend(ax, ncols=2)
    return ax


def marks(bands, most_bands=7, most=400):
    """Which readings are drawn: places of those of the bands with most readings, by name; of the rest; other bands.

    All where there are at most `most`. Of more, every band that is told apart keeps as many as it can, evenly,
    and the rest fill what is left.
    """
    codes, names = pd.factorize(np.asarray(bands, object), sort=True)
    top = sorted(np.argsort(-np.bincount(codes), kind="stable")[:most_bands])
    shown = {str(names[code]): np.flatnonzero(codes == code) for code in top}
    rest = np.flatnonzero(~np.isin(codes, top))
    if len(codes) > most:
        shown = {name: own[thinned(len(own), most // (2 * most_bands))] for name, own in shown.items()}
        rest = rest[thinned(len(rest), most - sum(map(len, shown.values())))]
    return shown, rest, len(names) - len(top)


def fitted_signal(ax, fit, signal, draws=320):
    """A signal of a `wear.Fit` over wear used: readings brought to one setting, and the fit; returns ax.

    A chip load, which falls as the band dulls, is drawn falling.
    """
    rows = fit.residuals.query("signal == @signal")
    wear = rows["wear_used"].to_numpy(float)
    grid = np.linspace(0, max(1.0, float(wear.max())), 60)
    curve = growth(fit.thinned(draws), signal, grid)
    ratio = (rows["observed"] / rows["predicted"]).to_numpy(float)
    ratio = 1 / ratio if signal == "chip_load" else ratio
    ratio = ratio * np.interp(wear, grid, np.median(curve, axis=0))
    return signal_over_wear(ax, signal, wear, ratio, rows["band"], grid, curve)


def growth(fit, signal, wear_used):
    """Signal at wear used (k,) over a fresh band's at the same setting, draws (n_draws, k) [-].

    The setting is that of the cut whose chip load is in the middle of those that have the signal.
    """
    rows = fit.data[fit.data["cut"].isin(fit.residuals.query("signal == @signal")["cut"])]
    row = rows.iloc[int(rows["chip_load"].to_numpy().argsort()[len(rows) // 2])]
    names = {name: row[name] for name in ("material", "machine", "stock")}
    E = np.append(0.0, np.asarray(wear_used, float))
    setting = (row["band_speed"], row["work_thickness"])
    if signal == "chip_load":
        values = fit.chip_load_at_force(row["feed_force"], *setting, **names, wear_used=E)
    else:
        values = fit.signal(signal, setting[0], row["chip_load"], setting[1], **names, wear_used=E)
    return values[:, 1:] / values[:, :1]


def chart(ax, upper, lower, limit, cuts, name):
    """The control chart of a band or a machine: both cumulative sums and the alarm limit; returns ax."""
    x = np.arange(1, len(upper) + 1)
    ax.step(x, upper, where="mid", label="running above", color=style.COLOURS[1], linewidth=1.4)
    ax.step(
        x,
        -np.asarray(lower),
        where="mid",
        label="running below",
        color=style.COLOURS[0],
        linestyle="--",
        linewidth=1.4,
    )
    for edge in (limit, -limit):
        ax.axhline(edge, **style.PUBLISHED)
    ax.annotate("alarm limit", (x[-1], limit), (0, 2), textcoords="offset points", ha="right", va="bottom", fontsize=8)
    top = max(1.6 * limit, 1.15 * float(np.max([*upper, *lower], initial=0.0)))  # room for the legend
    ax.set_ylim(-top, top)
    ax.set_xlabel(f"reading, in the order of cutting (the last is cut {cuts[-1]}) [-]")
    ax.set_ylabel(style.axis_label("cumulative sum", "sd"))
    ax.set_title(name)
    style.legend(ax, loc="upper left", ncols=2)
    return ax
