"""A plot in a picture widget, redrawn in place: much faster than drawing into a cell's output.

The margins are measured at the first drawing and then kept, and the picture is drawn once, not twice as
`savefig` does, so that a slider is followed within 0.2 s.
"""

import io
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from bandtrial.plots.style import SETTINGS

DPI = 100
SIDES = ("left", "right", "bottom", "top", "wspace")


class Picture(widgets.Image):
    """`draw(f)` calls f(ax), or f(axes) where there are several columns, on a clean figure [in] and shows it.

    tooltip: what the picture shows, for the mouse and for a screen reader.
    """

    def __init__(self, tooltip: str, width: float = 7.6, height: float = 4.0, columns: int = 1) -> None:
        layout = widgets.Layout(max_width="100%", object_fit="contain")
        super().__init__(format="png", tooltip=tooltip, layout=layout)
        self.columns = columns
        self.margins: dict[str, float] = {}
        self.size = (width, height)

    def draw(self, paint: Callable[[Any], Any]) -> None:
        import matplotlib as mpl
        import numpy as np
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from PIL import Image

        with mpl.rc_context(SETTINGS):
            figure = Figure(figsize=self.size, dpi=DPI)  # quicker than to clear one
            canvas = FigureCanvasAgg(figure)
            paint(figure.subplots(1, self.columns, gridspec_kw=self.margins))
            if not self.margins:
                figure.tight_layout()
                self.margins = {side: getattr(figure.subplotpars, side) for side in SIDES}
            canvas.draw()
        pixels = np.asarray(canvas.buffer_rgba())[..., :3]
        out = io.BytesIO()
        Image.fromarray(pixels).save(out, format="png", compress_level=1)
        self.value = out.getvalue()
