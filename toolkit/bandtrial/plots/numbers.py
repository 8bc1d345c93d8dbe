"""What a drawing shows, as numbers: its marks, lines and intervals, for a table beside the picture."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial.plots.marks import names_of

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure
    from numpy.typing import ArrayLike

_SPAN = "_bandtrial_span"  # an attribute of a shade: matplotlib keeps it with the shade


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
