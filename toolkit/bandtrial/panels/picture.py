"""A plot in a picture widget, redrawn in place: much faster than drawing into a cell's output.

The margins are measured at the first drawing and then kept, and the picture is drawn once, not twice as
`savefig` does, so that a slider is followed within 0.2 s. A mark says what it is when it is pointed at, or
reached by arrow keys: the script `keyguard.js` reads it from a clear layer over the picture.
"""

import html
import io
from collections.abc import Callable
from typing import Any

import ipywidgets as widgets

from bandtrial.plots.marks import Words, layer
from bandtrial.plots.scripts import explained, written
from bandtrial.plots.style import SETTINGS

DPI = 130  # sharp at the width of a page, and still quick
PLAIN = {"text.parse_math": False}  # a dollar sign in a name of the study is a dollar sign
SIDES = ("left", "right", "bottom", "top", "wspace")
TALL = 66  # % of the window's height
ASK = "Point at a mark to read what it is; by keyboard: Tab to the picture, then the arrow keys."
STYLE = (
    "<style>.bandtrial-marks svg{display:block;width:100%}"
    ".bandtrial-marks p{margin:0;height:40px;line-height:20px;overflow:auto}"
    ".bandtrial-marks [data-asked]{stroke:#000;stroke-width:1.6}.bandtrial-picture img{height:auto}</style>"
)
LAYER = "<div class='bandtrial-marks'><p aria-live='polite'>{}</p>{}</div>"
ROOM = "40px 0 0 0"  # for the two lines of that
WHOLE = {"width": "100%", "height": "auto", "margin": "0", "grid_area": "1 / 1", "align_self": "flex-start"}


class Picture(widgets.VBox):
    """`draw(f)` calls f(ax), or f(axes) where there are several columns, on a clean figure [in] and shows it.

    caption: what the picture shows, in words below it, which a screen reader reads for the picture.
    words: what its named marks say (`plots.marks.Words`); None: they say nothing.
    """

    def __init__(
        self, caption: str, width: float = 9.6, height: float = 4.0, columns: int = 1, words: Words | None = None
    ) -> None:
        self.image = widgets.Image(format="png", layout=widgets.Layout(**WHOLE))
        self.layer = widgets.HTML(layout=widgets.Layout(**WHOLE))
        self.words, self.say = widgets.HTML(), words
        drawing = widgets.GridBox([self.image, self.layer], layout=widgets.Layout(width="100%"))
        drawing.layout.max_width = f"{TALL * width / height:.0f}vh"  # all of it in view at any width
        super().__init__([drawing, self.words], layout=widgets.Layout(width="100%"))
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
            over = layer(figure, self.say) if self.say else ""
        pixels = np.asarray(canvas.buffer_rgba())[..., :3]
        out = io.BytesIO()
        Image.fromarray(pixels).save(out, format="png", compress_level=1)
        self.image.value = out.getvalue()
        self.layer.value = STYLE + LAYER.format(ASK, over) if over else ""
        self.image.layout.margin = ROOM if over else "0"
        self.caption(self.said)

    def caption(self, text: str) -> None:
        """A sentence below the drawing, with what marks in it stand for."""
        self.said = text
        self.words.value = html.escape(text + explained(self.marks))
