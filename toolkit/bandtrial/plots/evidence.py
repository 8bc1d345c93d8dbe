"""What was measured and fitted, drawn: signals over wear, residuals, ends, priors, the log, bands in service."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import ArrayLike, NDArray

    from bandtrial.watch.record import Past
    from bandtrial.watch.state import BandState
    from bandtrial.wear import Fit

import numpy as np
import pandas as pd

from bandtrial.plots import style
from bandtrial.plots.marks import name_marks
from bandtrial.plots.style import interval, thinned
from bandtrial.sawing import BROKEN, WORN
from bandtrial.wear.signals import in_words

DRAWS = 320


def signal_over_wear(
    ax: Axes, signal: str, wear_used: ArrayLike, ratio: ArrayLike, bands: ArrayLike,
    curve: tuple[ArrayLike, NDArray[np.float64]], names: ArrayLike | None = None,
) -> Axes:  # fmt: skip
    """One signal as a multiple of a fresh band's at the same setting, over wear used; returns ax.

    signal: its name; wear_used, ratio (n,): a reading each, its `bands` (n,); curve: wear used (m,) and
    draws (n_draws, m) of the fit's multiple; names (n,): what each mark is called when it is
    asked, as its cut. Both axes are pure numbers. The bands with most readings are told apart.
    """
    shown, rest, others = marks(bands)
    x, y = np.asarray(wear_used), np.asarray(ratio)
    for i, (name, mine) in enumerate(shown.items()):
        name_marks(ax.plot(x[mine], y[mine], label=name, **style.points(i)), names, mine)
    if len(rest):
        few: dict[str, Any] = {"color": "#777777", "markersize": 3, "label": f"{others} other bands"}
        name_marks(ax.plot(x[rest], y[rest], ".", **few), names, rest)
    interval(ax, *curve, {"color": "#333333", "linestyle": "-"}, "fit, 50 and 80 %")
    word = in_words(signal)
    ax.set_xlabel(style.axis_label("wear used", None))
    ax.set_ylabel(style.axis_label(f"{word}, multiple of a fresh band's", None))
    style.from_zero(ax)
    ax.set_xlim(left=0)
    return style.legend(ax, ncols=2)


MOST_BANDS, MOST_MARKS = 7, 400  # told apart, and drawn


def marks(bands: ArrayLike) -> tuple[dict[str, NDArray[np.intp]], NDArray[np.intp], int]:
    """Which readings are drawn: places of those of the bands with most readings, by name; of the rest; other bands.

    All where there are at most MOST_MARKS. Of more, every band that is told apart keeps as many as it can, evenly,
    and the rest fill what is left.
    """
    codes, names = pd.factorize(np.asarray(bands, object), sort=True)
    top = sorted(np.argsort(-np.bincount(codes), kind="stable")[:MOST_BANDS])
    shown = {str(names[code]): np.flatnonzero(codes == code) for code in top}
    rest = np.flatnonzero(~np.isin(codes, top))
    if len(codes) > MOST_MARKS:
        shown = {name: own[thinned(len(own), MOST_MARKS // (2 * MOST_BANDS))] for name, own in shown.items()}
        rest = rest[thinned(len(rest), MOST_MARKS - sum(map(len, shown.values())))]
    return shown, rest, len(names) - len(top)


def fitted_signal(ax: Axes, fit: Fit, signal: str) -> Axes:
    """A signal of a `wear.Fit` over wear used: readings brought to one setting, and the fit; returns ax.

    A chip load, which falls as the band dulls, is drawn falling.
    """
    rows = fit.residuals.query("signal == @signal")
    wear = rows["wear_used"].to_numpy(float)
    grid = np.linspace(0, max(1.0, float(wear.max())), 60)
    curve = growth(fit.thinned(DRAWS), signal, grid)
    ratio = (rows["observed"] / rows["predicted"]).to_numpy(float)
    ratio = 1 / ratio if signal == "chip_load" else ratio
    ratio = ratio * np.interp(wear, grid, np.median(curve, axis=0))
    return signal_over_wear(ax, signal, wear, ratio, rows["band"], (grid, curve), rows["cut"])


def growth(fit: Fit, signal: str, wear_used: ArrayLike) -> NDArray[np.float64]:
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
    return np.asarray(values[:, 1:] / values[:, :1])


def chart(
    ax: Axes, upper: NDArray[np.float64], lower: NDArray[np.float64], limit: float, cuts: Sequence[str], name: str
) -> Axes:
    """The control chart of a band or a machine: both cumulative sums and the alarm limit; returns ax."""
    x = np.arange(1, len(upper) + 1)
    for y, label, colour, line in ((upper, "above", 1, "-"), (-np.asarray(lower), "below", 0, "--")):
        look: dict[str, Any] = {"label": f"running {label}", "color": style.COLOURS[colour], "linestyle": line}
        name_marks(ax.step(x, y, where="mid", linewidth=1.4, **look), cuts, slice(None))
    for edge in (limit, -limit):
        ax.axhline(edge, **style.PUBLISHED)
    ax.annotate("alarm limit", (x[-1], limit), (0, 2), textcoords="offset points", ha="right", va="bottom", fontsize=8)
    top = max(1.6 * limit, 1.15 * float(np.max([*upper, *lower], initial=0.0)))  # room for the legend
    ax.set_ylim(-top, top)
    ax.set_xlabel(f"reading, in the order of cutting (the last is cut {cuts[-1]}) [-]")
    ax.set_ylabel(style.axis_label("cumulative sum", "sd"))
    ax.set_title(name)
    return style.legend(ax, loc="upper left", ncols=2)


def residuals(ax: Axes, z: ArrayLike, bands: ArrayLike, signal: str, names: ArrayLike | None = None) -> Axes:
    """Standardized residuals z (n,) [sd] of one signal in the order of cutting, bands (n,) told apart; returns ax.

    names (n,): what each mark is called when it is asked, as its cut.

    Most should lie between the dotted lines at -2 and 2, without a trend inside a band.
    """
    scores, of_band = np.asarray(z, float), np.asarray(bands, str)
    keep = thinned(len(scores), 600)
    order = list(dict.fromkeys(of_band))
    for i, band in enumerate(order):
        mine = keep[of_band[keep] == band]
        name_marks(ax.plot(mine + 1, scores[mine], **style.points(i % 2)), names, mine)
        if len(mine) and len(order) <= 20:
            ax.annotate(band, (mine.mean() + 1, 1), (0, 3), xycoords=("data", "axes fraction"),
                        textcoords="offset points", ha="center", va="bottom", fontsize=8)  # fmt: skip
    for edge in (-2, 2):
        ax.axhline(edge, **style.PUBLISHED)
    ax.axhline(0, color="#333333", linewidth=0.8)
    top = max(4.0, float(np.nanmax(np.abs(scores))) * 1.1 if len(scores) else 4.0)
    ax.set_ylim(-top, top)
    ax.set_xlabel(style.axis_label("reading, in the order of cutting", None))
    ax.set_ylabel(style.axis_label(f"residual of {signal}", "sd"))
    return ax


def wear_at_end(ax: Axes, wear: pd.DataFrame, ends: ArrayLike, shape: float) -> Axes:
    """Wear used of each band when last seen, with its 80 % interval, against where bands should end; returns ax.

    wear: `Fit.wear_used`; ends (n,): how its bands ended; shape: Weibull shape of the ends. The shaded part holds 80 %
    of the ends that the model expects: a worn-out band outside it, or one in service far beyond it, is one that the
    model misses.
    """
    bands, rows, ends = wear["band"].tolist(), np.arange(len(wear)), np.asarray(ends, str)
    expected = (-np.log([0.9, 0.1])) ** (1 / shape)
    ax.axvspan(*expected, color=style.COLOURS[5], alpha=0.25, linewidth=0, label="80 % of ends expected here")
    ax.hlines(rows, wear["low"], wear["high"], color="#333333", linewidth=1.4)
    worn = np.isin(ends, WORN)
    kinds = (
        (worn, "o", "full", "worn out"),
        (np.isin(ends, BROKEN), "X", "full", "broken"),
        (np.isin(ends, ("in_service", "removed_sound")), "^", "none", "still sound: at least"),
    )
    for mask, marker, fill, label in kinds:
        if mask.any():
            look: dict[str, Any] = {"color": "#000000", "fillstyle": fill, "label": label}
            name_marks(ax.plot(wear["median"].to_numpy()[mask], rows[mask], marker, **look), bands, mask)
    ax.set_yticks(rows, bands)
    ax.set_ylim(len(bands) - 0.5, -0.5)
    ax.set_xlim(left=0)
    ax.set_xlabel(style.axis_label("wear used, 1 is a typical band's life", None))
    return style.legend(ax, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=4)


class Learnt(NamedTuple):
    """A parameter: 80 % range of its prior, its interval and estimate by the data, and whether they moved it."""

    name: str
    prior_low: float
    prior_high: float
    low: float
    estimate: float
    high: float
    moved: bool


def prior_and_posterior(ax: Axes, rows: Sequence[Learnt]) -> Axes:
    """Prior ranges and posterior intervals of parameters (n,), each on its own prior's scale; returns ax.

    The scale puts the prior's 80 % range at -1 to 1, so that parameters of any unit stand in one picture.
    Parameters that the data moved carry a filled marker, the others an open one.
    """
    names, *columns, moved = zip(*rows, strict=True)
    prior_low, prior_high, low, estimate, high = (np.asarray(column, float) for column in columns)
    middle, half = (prior_low + prior_high) / 2, (prior_high - prior_low) / 2
    scaled = [(v - middle) / half for v in (low, estimate, high)]
    y = np.arange(len(names))[::-1]
    ax.hlines(y, -1, 1, color="#bbbbbb", linewidth=7, label="before the trial, 80 %")
    ax.hlines(y, scaled[0], scaled[2], color=style.COLOURS[0], linewidth=1.8, label="after the trial, 80 %")
    told = np.asarray(moved, bool)
    for mask, fill, label in ((told, style.COLOURS[0], "the data moved it"), (~told, "#ffffff", "they did not")):
        if mask.any():
            ax.plot(scaled[1][mask], y[mask], "o", color=fill, markeredgecolor=style.COLOURS[0], label=label)
    ax.set_yticks(y, list(names))
    ax.set_ylim(-0.7, len(names) - 0.3)
    ax.set_xlim(-2.5, 2.5)
    ax.grid(axis="y", visible=False)
    ax.set_xlabel(style.axis_label("place in the range believed before (-1 to 1)", None))
    return style.legend(ax, loc="upper center", bbox_to_anchor=(0.4, -0.16), ncols=2)


def band_so_far(
    ax: Axes,
    rate: ArrayLike,
    materials: ArrayLike,
    system: str,
    draft: float | None = None,
    names: ArrayLike | None = None,
) -> Axes:
    """Cutting rate (n,) [cm2/min] of a band's cuts in their order, by material; returns ax.

    draft: cutting rate of the cut that is being typed [cm2/min], or None; names (n,): as of `residuals`.
    """
    y, materials = style.in_units(rate, "rate", system), np.asarray(materials, str)
    keep = thinned(len(y))
    for i, name in enumerate(sorted(set(materials))):
        mine = keep[materials[keep] == name]
        name_marks(ax.plot(mine + 1, y[mine], label=name, **style.points(i)), names, mine)
    if draft is not None and np.isfinite(draft):
        ax.plot(
            len(y) + 1,
            style.in_units(draft, "rate", system),
            "D",
            markersize=9,
            fillstyle="none",
            color="#000000",
            label="this cut",
        )
    ax.set_xlabel(style.axis_label("row of this band in the log", None))
    ax.set_ylabel(style.axis_in("cutting rate", "rate", system))
    style.from_zero(ax)
    ax.set_xlim(0, len(y) + 2)
    if ax.get_legend_handles_labels()[1]:
        style.legend(ax, loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=4)
    return ax


def wear_used(ax: Axes, bands: Sequence[BandState]) -> Axes:
    """Wear used of bands in service with its 80 % interval, the most worn on top; returns ax.

    A band whose alarm rings carries a cross. The dotted line is where a typical band is worn out.
    """
    y = np.arange(len(bands))[::-1]
    middle, low, high = np.array([(b.wear_used, b.wear_used_low, b.wear_used_high) for b in bands]).T
    ax.barh(y, middle, height=0.5, color="#cccccc", edgecolor="#333333", linewidth=0.6)
    doubt = [(middle - low).tolist(), (high - middle).tolist()]  # matplotlib takes an array of one for a number
    ax.errorbar(middle, y, xerr=doubt, fmt="none", ecolor="#000000", capsize=3, label="80 %")
    loud = np.array([any(alarm.now for alarm in b.alarms) for b in bands])
    if loud.any():
        ax.plot(middle[loud], y[loud], "X", color=style.COLOURS[1], markersize=8, markeredgecolor="#000000",
                label="alarm rings")  # fmt: skip
    ax.axvline(1.0, label="a typical band is worn out", **style.PUBLISHED)
    ax.set_yticks(y, [b.band for b in bands])
    ax.set_ylim(-0.6, len(bands) - 0.4)
    ax.set_xlim(0, max(1.1, 1.05 * float(high.max())))
    ax.grid(axis="y", visible=False)
    ax.set_xlabel(style.axis_label("wear used", None))
    ax.set_ylabel("band in service")
    return style.legend(ax, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3)


def past_forecasts(ax: Axes, past: Sequence[Past]) -> Axes:
    """Forecasts of the end (watch.record.Past) as they were made, against the end that came; returns ax.

    Each lies at the share of the life at which it was made (up), its 80 % interval and middle in lives (along); open
    where the interval missed. The end came at 1.
    """
    for held, fill in ((True, "#000000"), (False, "#ffffff")):
        mine = [one for one in past if one.held == held]
        if not mine:
            continue
        share = np.array([one.share for one in mine])
        life = np.array([one.came / (1 - one.share) for one in mine])
        middle, low, high = (share + np.array([getattr(one, name) for one in mine]) / life
                             for name in ("said", "low", "high"))  # fmt: skip
        doubt = [(middle - low).tolist(), (high - middle).tolist()]
        label = "interval held" if held else "interval missed"
        ax.errorbar(middle, share, xerr=doubt, fmt="o", color="#000000", capsize=2, markersize=5, lw=0.8, label=label,
                    mfc=fill)  # fmt: skip
    ax.axvline(1.0, label="the end that came", **style.PUBLISHED)
    ax.set_ylim(0, 1)
    ax.set_xlim(left=0)
    ax.set_xlabel("end as foretold, in lives of the band")
    ax.set_ylabel("share of life when foretold")
    return style.legend(ax, loc="lower center", bbox_to_anchor=(0.5, 1.0), ncols=3)
