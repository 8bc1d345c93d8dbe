"""A plot in a picture widget, redrawn in place: much faster than drawing into a cell's output."""

import io
from collections.abc import Callable
from typing import Any

import ipywidgets as W

from bandtrial.plots.style import SETTINGS

DPI = 110


class Picture(W.Image):
    """`draw(f)` calls f(ax), or f(axes) where there are several columns, on a clean figure [in] and shows it."""

    def __init__(self, tooltip: str, width: float = 7.6, height: float = 4.0, columns: int = 1) -> None:
        from matplotlib.figure import Figure

        super().__init__(format="png", tooltip=tooltip, layout=W.Layout(max_width="100%", object_fit="contain"))
        self.columns = columns
        self.figure = Figure(figsize=(width, height), dpi=DPI)

    def draw(self, paint: Callable[[Any], Any]) -> None:
        import matplotlib as mpl

        with mpl.rc_context(SETTINGS):
            self.figure.clear()
            axes = self.figure.subplots(1, self.columns)
            paint(axes)
            self.figure.tight_layout()
            out = io.BytesIO()
            self.figure.savefig(out, format="png", dpi=DPI, pil_kwargs={"compress_level": 1})
        self.value = out.getvalue()
