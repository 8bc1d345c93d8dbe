"""Drawings beyond their ink: marks that say what they are when they are pointed at, and the numbers of it all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from numpy.typing import ArrayLike

_NAMES = "_bandtrial_names"  # attributes of lines and shades: matplotlib keeps them with the drawing
_SPAN = "_bandtrial_span"
SIZE = 6.0
"""Radius in which a mark hears the pointer [pt]; the script of a panel takes the nearest from further away."""
Words = Callable[[Sequence[str]], Sequence[str]]
"""What marks say, by their names: as `study.lines.Lines.of` of the names of cuts."""


def name_marks(lines: Sequence[Line2D], names: ArrayLike | None, at: Any) -> None:
    """Tie a name to each mark that `ax.plot` has drawn: those at the places `at` of all `names`, if there are any."""
    if names is not None:
        setattr(lines[0], _NAMES, np.asarray(names, object)[at])


def names_of(line: Line2D) -> list[str]:
    """The names of a line's marks, empty where they have none."""
    return [str(name) for name in getattr(line, _NAMES, ())]


def named(figure: Figure) -> list[tuple[float, float, str]]:
    """(x from the left, y from the top [pt], name) of each named mark, from left to right.

    The figure has been drawn, so that every axis has its final place; marks outside their axes are left out.
    """
    from matplotlib.lines import Line2D

    height = figure.get_figheight() * 72
    found: list[tuple[float, float, str]] = []
    for line in figure.findobj(Line2D):
        names = np.array(names_of(line), object)
        if line.axes is None or not len(names):
            continue
        places = line.get_transform().transform(np.column_stack(line.get_data(orig=False)))
        low, high = line.axes.bbox.get_points()
        inside = np.all((places >= low - 2) & (places <= high + 2), axis=1)
        x, y = 72 * places[inside].T / figure.dpi
        found += zip(x.tolist(), (height - y).tolist(), names[inside], strict=True)
    return sorted(found)


def layer(figure: Figure, words: Words) -> str:
    """An SVG to lie over the drawing: a clear circle at each named mark, its title what `words` makes of the name.

    A browser shows the title of what is pointed at without any script. Empty where no mark has a name.
    """
    marks = named(figure)
    if not marks:
        return ""
    width, height = (72 * side for side in figure.get_size_inches())
    circles = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{SIZE:g}"><title>{escape(said)}</title></circle>'
        for (x, y, _), said in zip(marks, words([name for *_, name in marks]), strict=True)
    )
    view = f'viewBox="0 0 {width:g} {height:g}" fill="none" pointer-events="all"'
    return f'<svg class="marks" role="group" {view}>{circles}</svg>'


def keep_span(shade: Artist, name: str, x: ArrayLike, low: ArrayLike, high: ArrayLike) -> None:
    """Tie its name and the numbers (n,) it was drawn from to a shade between two lines."""
    setattr(shade, _SPAN, (name, x, low, high))


def numbers(figure: Figure) -> tuple[list[str], list[list[Any]]]:
    """(heads, rows) of a figure: what it is, along, up (a shade: from and to), and a mark's name; units in the heads.

    A line across the whole drawing, as at the recommended speed, has no height. Lines without a label are left out.
    """
    along, up = zip(*((ax.get_xlabel(), ax.get_ylabel()) for ax in figure.axes), strict=True)
    rows: list[list[Any]] = []
    for ax in figure.axes:
        for shade in ax.collections:
            if span := getattr(shade, _SPAN, None):
                name, *columns = span
                rows += [[name, *_rounded(at), ""] for at in zip(*columns, strict=True)]
        for line in ax.lines:
            label, across = str(line.get_label()), line.get_transform() != ax.transData
            if label.startswith("_"):
                continue
            x, y = (np.asarray(values, float) for values in line.get_data(orig=False))
            names = names_of(line) or [""] * len(x)
            places = [(x[0],)] if across else zip(x, y, strict=True)
            rows += [[label, *_rounded(at), *[""] * (2 if across else 1), name]
                     for at, name in zip(places, names, strict=False)]  # fmt: skip
    return ["what", along[0], up[0], f"to: {up[0]}", "cut or band"], rows


def _rounded(at: Iterable[float]) -> list[float]:
    """To six figures, more than any drawing shows."""
    return [float(f"{x:.6g}") for x in at]
