"""A plot in a picture widget, redrawn in place: much faster than drawing into a cell's output.

The margins are measured at the first drawing and then kept, and the picture is drawn once, not twice as
`savefig` does, so that a slider is followed within 0.2 s.
"""

import html
import io
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from bandtrial.plots.scripts import explained, written
from bandtrial.plots.style import SETTINGS

DPI = 100
PLAIN = {"text.parse_math": False}  # a dollar sign in a name of the study is a dollar sign
SIDES = ("left", "right", "bottom", "top", "wspace")


class Picture(widgets.VBox):
    """`draw(f)` calls f(ax), or f(axes) where there are several columns, on a clean figure [in] and shows it.

    caption: what the picture shows, in words below it, which a screen reader reads for the picture.
    """

    def __init__(self, caption: str, width: float = 7.6, height: float = 4.0, columns: int = 1) -> None:
        self.image = widgets.Image(format="png", layout=widgets.Layout(max_width="100%"))
        self.words = widgets.HTML()
        super().__init__([self.image, self.words], layout=widgets.Layout(align_items="flex-start"))
        self.add_class("bandtrial-picture")
        self.marks: dict[str, str] = {}
        self.caption(caption)
        self.columns = columns
        self.margins: dict[str, float] = {}
        self.size = (width, height)

    def draw(self, paint: Callable[[Any], Any]) -> None:
        """Paint on fresh axes and show the drawing; `paint` is given the axes."""
        import matplotlib as mpl
        import numpy as np
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from PIL import Image

        with mpl.rc_context(SETTINGS | PLAIN):
            figure = Figure(figsize=self.size, dpi=DPI)  # quicker than to clear one
            canvas = FigureCanvasAgg(figure)
            paint(figure.subplots(1, self.columns, gridspec_kw=self.margins))
            self.marks = written(figure)
            if not self.margins:
                figure.tight_layout()
                self.margins = {side: getattr(figure.subplotpars, side) for side in SIDES}
            canvas.draw()
        pixels = np.asarray(canvas.buffer_rgba())[..., :3]
        out = io.BytesIO()
        Image.fromarray(pixels).save(out, format="png", compress_level=1)
        self.image.value = out.getvalue()
        self.caption(self.said)

    def caption(self, text: str) -> None:
        """A sentence below the drawing, with what marks in it stand for."""
        self.said = text
        self.words.value = html.escape(text + explained(self.marks))
