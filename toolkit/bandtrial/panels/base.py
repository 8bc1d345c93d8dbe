"""What every panel is made of: a box that keeps its keys, labelled controls, messages, tables, a plot in a picture.

Panels hold no arithmetic: they read controls, call the package, and show what it says.

A picture is redrawn in place, much faster than drawing into the output of a cell: its margins are measured at the first
drawing and then kept, and it is drawn once, not twice as `savefig` does, so that a slider is followed within 0.2 s. A
mark says what it is when it is pointed at, or reached by arrow keys: the script `keyguard.js` reads it from a clear
layer over the picture.
"""

import html
import io
import math
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import ipywidgets as widgets
import numpy as np
from IPython.display import Javascript, display

from bandtrial import units
from bandtrial.panels.session import address
from bandtrial.plots.marks import Words, explained, layer, written
from bandtrial.plots.style import SETTINGS
from bandtrial.published.tables import CAUTIONS
from bandtrial.words import RULED, list_html, table_html

TEMPLATES = Path(__file__).parents[1] / "templates"
LABELS = {"description_width": "9.5rem"}
EXAMPLES = {
    "thickness": {"us": "3/4 in", "metric": "40 mm"},
    "deviation": {"us": "0.01 in", "metric": "0.2 mm"},
    "area": {"us": "6000 in2", "metric": "40000 cm2"},
}
"""What may be typed, in each system of units."""


def _wide() -> widgets.Layout:
    """Each control has a layout of its own, so that hiding one hides no other."""
    return widgets.Layout(width="22rem")


class Panel(widgets.VBox):
    """A box of controls and answers. Show it as the last line of a cell, or with `display`."""

    def __init__(self, children: Sequence[widgets.Widget] = (), **layout: Any) -> None:
        super().__init__(children, **layout)
        self.add_class("bandtrial-panel")

    def _ipython_display_(self, **_: Any) -> None:
        display(self._repr_mimebundle_(), raw=True)
        display(Javascript((TEMPLATES / "keyguard.js").read_text("utf-8")))  # keys of a control are its own


class Says(widgets.HTML):
    """A line or list that says how things stand; what is wrong starts with a word, not with a colour only."""

    def __init__(self) -> None:
        super().__init__()
        self.add_class("bandtrial-says")

    def note(self, text: str = "") -> None:
        """A plain sentence; nothing clears what was said."""
        self.value = f"<div>{html.escape(text)}</div>" if text else ""

    def saved(self, file: str | Path, then: str) -> None:
        """A file that was saved, as a link where the browser can open it, and what to do with it."""
        name, at = html.escape(str(file)), address(file)
        link = f"<a href='{at}' target='_blank' style='text-decoration:underline'>{name}</a>" if at else name
        self.value = f"<div>Saved {link}; {html.escape(then)}</div>"

    def problems(self, texts: Iterable[object], look_again: Iterable[object] = ()) -> None:
        """What has to be mended, and what may be right but is worth a second look."""
        self.value = _listed("To mend:", texts, "#D55E00") + _listed("Look again:", look_again, "#0072B2")

    def done(self, text: str, look_again: Iterable[object] = ()) -> None:
        """What was done, and what of it may be worth a second look."""
        self.value = f"<div>{html.escape(text)}</div>" + _listed("Look again:", look_again, "#0072B2")

    def not_yet(self, reason: str, would_help: Iterable[str]) -> None:
        """A question that the study can't answer, and the trial cuts that would."""
        self.value = _listed("Not yet:", [reason], "#D55E00") + _listed("What would help:", would_help, "#0072B2")

    def problem(self, text: str) -> None:
        """One thing to mend, in a whole sentence."""
        self.problems([text])


def _listed(head: str, texts: Iterable[object], colour: str) -> str:
    items, style = list_html(texts, "margin:0"), f"border-left:4px solid {colour};padding-left:.6rem"
    return f"<div style='{style}'><b>{head}</b>{items}</div>" if items else ""


def guarded(says: Says, action: Callable[[], None]) -> Callable[..., None]:
    """`action` as a callback that clears `says` and puts what went wrong there, never a traceback."""

    def call(*_: Any) -> None:
        try:
            says.note()
            action()
        except KeyboardInterrupt:
            says.note("Stopped; nothing was changed.")
        except Exception as error:
            if isinstance(error, ValueError) or type(error).__module__.startswith("bandtrial"):
                says.problems(getattr(error, "problems", None) or [error])  # whole sentences for people
                return
            if os.environ.get("BANDTRIAL_DEBUG") == "1":
                raise
            what = f"{type(error).__name__}: {error}"
            says.problem(f"This is a fault in bandtrial, not in your entry ({what}).")

    return call


def choice(label: str, options: Sequence[Any], value: Any = None) -> widgets.Dropdown:
    """A drop-down of values, or of (words, value) pairs; the first is chosen unless said.

    No value may be None (ValueError): to ipywidgets that is no choice, and with some hash seeds the drop-down comes up
    blank, so that the first arrow key is lost.
    """
    if any(option is None or (isinstance(option, tuple) and option[-1] is None) for option in options):
        raise ValueError(f"{label}: a choice needs a value, which None is not")
    box = widgets.Dropdown(description=label, options=options, layout=_wide(), style=LABELS)
    if value is not None:
        box.value = value
    return box


def text(label: str, value: str = "", hint: str = "") -> widgets.Text:
    """A line to type in; the hint stands there while it is empty."""
    return widgets.Text(description=label, value=value, placeholder=hint, layout=_wide(), style=LABELS)


def named(things: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Materials, machines or band stock of a study as choices: the name people use, and the id it stands for.

    Two with one name keep their ids, so that they can be told apart.
    """
    names = [getattr(one, "name", "") or id for id, one in things.items()]
    return [(name if names.count(name) == 1 else id, id) for name, id in zip(names, things, strict=True)]


def job_controls(study: Any, job: Mapping[str, str]) -> dict[str, widgets.Widget]:
    """Machine, band stock, material and work thickness of a study, opened on a job; by name, as `session.job_of`."""
    return {
        "machine": choice("machine", list(study.machines), job["machine"]),
        "stock": choice("band stock", list(study.band_stock), job["stock"]),
        "material": choice("material", named(study.materials), job["material"]),
        "thickness": text("work thickness", job["thickness"]),
    }


def slider(label: str, low: float, high: float, step: float, value: float) -> widgets.FloatSlider:
    """A slider; a value outside its ends is brought to the nearer one. It reads with the digits of its step."""
    places = next((n for n in range(3) if math.isclose(step, round(step, n))), 2)
    return widgets.FloatSlider(
        description=label, min=low, max=high, step=step, value=min(max(value, low), high), layout=_wide(),
        style=LABELS, readout_format=f".{places}f",
    )  # fmt: skip


def button(label: str, tooltip: str = "", main: bool = False) -> widgets.Button:
    """A button as wide as its label; the main one of a panel stands out."""
    return widgets.Button(
        description=label,
        tooltip=tooltip or label,
        button_style="primary" if main else "",
        layout=widgets.Layout(width="auto"),
    )


def show(widget: widgets.Widget, there: bool) -> None:
    """Show a part of a panel, or take it away, place and all."""
    widget.layout.display = None if there else "none"


def thickness_of(box: widgets.Text, machine: Any, system: str) -> float:
    """The work thickness typed into a box [mm]; ValueError where it is empty or does not fit under the machine's
    guide.
    """
    thickness = read(box, "length", units.display_unit("length", system))
    if thickness is None:
        raise ValueError(f'{box.description}: empty; give one with its unit, as "{EXAMPLES["thickness"][system]}".')
    if thickness > machine.throat and not math.isclose(thickness, machine.throat, rel_tol=1e-3):  # as `check` asks
        throat = units.show(machine.throat, "length", system)
        raise ValueError(f'{box.description}: "{box.value.strip()}" is more than the throat of {machine.id}, {throat}.')
    return thickness


def read(box: widgets.Text, kind: str, unit: str | None = None) -> float | None:
    """The quantity typed into a box, inside unit; None if empty. UnitError names the box."""
    if not box.value.strip():
        return None
    try:
        return units.read(box.value, kind, unit)
    except units.UnitError as error:
        raise units.UnitError(f"{box.description}: {error}") from None


def table(heads: Sequence[str], rows: Iterable[Sequence[Any]], caption: str = "") -> str:
    """An HTML table, everything escaped; numbers come already written with their digits."""
    return table_html(heads, rows, caption, RULED)


def spaced(shown: str) -> str:
    """HTML of an answer, set as tight as the panels' own tables."""
    return f"<div style='line-height:1.35'>{shown}</div>"


def cautions(columns: int = 1) -> widgets.HTML:
    """The cautions that stand wherever somebody is told to cut; in columns where they must leave room."""
    style = "border:1px solid #888;padding:.3rem .8rem;margin:.4rem 0;line-height:1.35"
    head = "<summary style='cursor:pointer'><b>Before you cut</b></summary>"
    size = f"columns:{columns};font-size:.85em;line-height:1.25;padding-left:1.2rem;" if columns > 1 else ""
    return widgets.HTML(f"<details open style='{style}'>{head}{list_html(CAUTIONS, f'{size}margin:.2rem 0')}</details>")


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
