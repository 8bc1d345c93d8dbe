"""Marks of a drawing that say what they are when they are pointed at: names tied to points, laid over the picture."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from numpy.typing import ArrayLike

_NAMES = "_bandtrial_names"  # an attribute of a line of marks: matplotlib keeps it with the line
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
