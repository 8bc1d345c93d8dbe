"""How every drawing looks: colours that colour-blind readers tell apart, and marks that grey print keeps.

Colours are those of M. Okabe and K. Ito, Color Universal Design (2008); no two series differ by colour only.
Figures are made without pyplot, so that nothing global is touched and the same data give the same bytes.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure
    from numpy.typing import ArrayLike, NDArray

import io
from typing import Any

import numpy as np

from bandtrial import units
from bandtrial.plots.marks import FONT, keep_span, written

COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#000000", "#F0E442")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
LINES = ("-", "--", "-.", ":", (0, (5, 1)), (0, (3, 1, 1, 1)), (0, (1, 1)), (0, (7, 2)))
PUBLISHED: dict[str, Any] = {"color": "#000000", "linestyle": (0, (2, 2)), "linewidth": 1.2}
SETTINGS: dict[Any, Any] = {
    "font.family": FONT,
    "font.size": 9.0,
    "axes.labelsize": 9.0,
    "axes.titlesize": 9.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.grid": True,
    "grid.color": "#dddddd",
    "grid.linewidth": 0.6,
    "legend.frameon": False,
    "legend.fontsize": 8.0,
    "lines.markersize": 4.5,
    "svg.hashsalt": "bandtrial",
    "text.parse_math": False,  # a $ in a name or a currency is a $
    "path.simplify": True,
    "figure.dpi": 100.0,
}


def series(i: int) -> dict[str, Any]:
    """Colour, marker and line of the i-th series; eight differ in all three, after that markers repeat."""
    return {"color": COLOURS[i % len(COLOURS)], "marker": MARKERS[i % len(MARKERS)], "linestyle": LINES[i % len(LINES)]}


def points(i: int) -> dict[str, Any]:
    """Style of the i-th group of data points: filled, edged dark, so that overlaps show in grey too."""
    look = series(i)
    return {
        "color": look["color"],
        "marker": look["marker"],
        "linestyle": "none",
        "alpha": 0.75,
        "markeredgecolor": "#222222",
        "markeredgewidth": 0.4,
    }


def figure(width: float = 6.4, height: float = 3.8, columns: int = 1, rows: int = 1) -> tuple[Figure, Any]:
    """A figure [in] and its axes: one `ax`, or an array of them for more than one panel."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context(SETTINGS):
        fig = Figure(figsize=(width, height), layout="constrained")
        return fig, fig.subplots(rows, columns)


def svg(fig: Figure) -> tuple[str, dict[str, str]]:
    """The figure as an SVG element with letters as outlines, alike wherever it is seen; and what its marks stand for.

    The marks are those of `written`, in place of names that no font here can draw.
    """
    import matplotlib as mpl

    out = io.StringIO()
    marks = written(fig)
    with mpl.rc_context(SETTINGS | {"svg.fonttype": "path"}):
        fig.savefig(out, format="svg", metadata={"Date": None, "Creator": None})
    text = out.getvalue()
    return text[text.index("<svg") :], marks


def png(fig: Figure, dpi: int = 200) -> bytes:
    """The figure as a PNG, for a mail or slides."""
    import matplotlib as mpl

    out = io.BytesIO()
    with mpl.rc_context(SETTINGS):
        fig.savefig(out, format="png", dpi=dpi)
    return out.getvalue()


def axis_label(name: str, unit: str | None) -> str:
    """Label of an axis, always with its unit.

    >>> axis_label("band speed", "ft/min"), axis_label("wear used", None)
    ('band speed [ft/min]', 'wear used [-]')
    """
    return f"{name} [{unit or '-'}]"


def axis_in(name: str, kind: str, system: str) -> str:
    """Label of an axis of a kind of quantity, in the unit of a system.

    >>> axis_in("band speed", "speed", "us")
    'band speed [ft/min]'
    """
    return axis_label(name, units.display_unit(kind, system))


def in_units(values: ArrayLike, kind: str, system: str) -> Any:
    """Numbers of a kind in inside units, in the unit in which a system's axes show them."""
    return units.from_inside(np.asarray(values, float), kind, units.display_unit(kind, system))


def from_zero(ax: Axes) -> None:
    """The vertical axis from zero to a little above all that is drawn so far, so that no mark is cut."""
    ax.autoscale_view()
    ax.set_ylim(0, ax.get_ylim()[1] + 0.02 * abs(ax.get_ylim()[1]))


def legend(ax: Axes, **place: Any) -> Axes:
    """The legend of a drawing, small, on a pale ground that data shine through, if it names any; returns ax."""
    if ax.get_legend_handles_labels()[0]:
        ax.legend(fontsize=8, framealpha=0.8, edgecolor="none", **place)
    return ax


def fewer_log_ticks(axis: Axis) -> None:
    """Ticks at 1 and 3 times a power of ten, on a logarithmic axis of many decades; quicker to draw, too."""
    from matplotlib.ticker import LogLocator

    axis.set_major_locator(LogLocator(base=10, subs=(1.0, 3.0)))


def plain_log_ticks(axis: Axis) -> None:
    """Ticks at 1, 1.5, 2, 3, 5, 7 times a power of ten, as plain numbers (100, 200), on a log axis."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullLocator

    axis.set_major_locator(LogLocator(base=10, subs=(1.0, 1.5, 2.0, 3.0, 5.0, 7.0)))
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_locator(NullLocator())


SINGLE = 12  # draws that are drawn by themselves
LEVELS = ((0.8, 0.18), (0.5, 0.30))  # interval and how dark it is drawn


def interval(ax: Axes, x: ArrayLike, draws: NDArray[np.float64], look: Mapping[str, Any], label: str) -> Axes:
    """Median line and 80 % and 50 % intervals of draws (n_draws, n) over x (n,); returns ax."""
    for level, alpha in LEVELS:
        low, high = np.quantile(draws, [(1 - level) / 2, (1 + level) / 2], axis=0)
        shade = ax.fill_between(x, low, high, color=look["color"], alpha=alpha, linewidth=0)
        keep_span(shade, f"{100 * level:.0f} % of {label.partition(',')[0]}", x, low, high)
    line = {"color": look["color"], "linestyle": look["linestyle"], "linewidth": 1.8}
    ax.plot(x, np.median(draws, axis=0), label=label, **line)
    return ax


def single_draws(ax: Axes, x: ArrayLike, draws: NDArray[np.float64], look: Mapping[str, Any]) -> Axes:
    """A few single draws, evenly picked, as thin lines: what a curve could look like; returns ax."""
    for row in draws[:: max(1, len(draws) // SINGLE)][:SINGLE]:
        ax.plot(x, row, color=look["color"], linewidth=0.5, alpha=0.35)
    return ax


def thinned(n: int, most: int = 400) -> NDArray[np.intp]:
    """Indices of at most `most` of n points, evenly spaced, so that long logs stay readable."""
    return np.arange(n) if n <= most else np.unique(np.linspace(0, n - 1, most).astype(int))
