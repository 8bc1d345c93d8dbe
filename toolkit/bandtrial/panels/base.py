"""What every panel is made of: a box that keeps its keys, labelled controls, messages, tables, a quick picture.

Panels hold no arithmetic: they read controls, call the package, and show what it says.
"""

import html
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import ipywidgets as W
from IPython.display import display

from bandtrial.panels.keyguard import keep_keys

WIDE = W.Layout(width="22rem")
LABELS = {"description_width": "9.5rem"}


class Panel(W.VBox):
    """A box of controls and answers. Show it as the last line of a cell, or with `display`."""

    def _ipython_display_(self, **_: Any) -> None:
        display(self._repr_mimebundle_(), raw=True)
        keep_keys()


class Says(W.HTML):
    """One line or list that says how things stand; what went wrong starts with a word, not with a colour only."""

    def __init__(self) -> None:
        super().__init__()
        self.add_class("bandtrial-says")

    def note(self, text: str = "") -> None:
        self.value = f"<div>{html.escape(text)}</div>" if text else ""

    def problems(self, texts: Iterable[str]) -> None:
        items = "".join(f"<li>{html.escape(str(text))}</li>" for text in texts)
        style = "border-left:4px solid #D55E00;padding-left:.6rem"
        self.value = f"<div style='{style}'><b>To mend:</b><ul style='margin:0'>{items}</ul></div>" if items else ""

    def problem(self, text: str) -> None:
        self.problems([text])


def guarded(says: Says, action: Callable[[], None]) -> Callable[..., None]:
    """`action` as a callback that clears `says` and puts what went wrong there, never a traceback."""

    def call(*_: Any) -> None:
        try:
            says.note()
            action()
        except ValueError as error:  # the package's own errors: whole sentences for people
            says.problems(getattr(error, "problems", None) or [error])
        except Exception as error:
            says.problem(f"This is a fault in bandtrial, not in your entry ({type(error).__name__}: {error}).")

    return call


def choice(label: str, options: Sequence[Any], value: Any = None) -> W.Dropdown:
    return W.Dropdown(description=label, options=options, value=value, layout=WIDE, style=LABELS)


def text(label: str, value: str = "", hint: str = "") -> W.Text:
    return W.Text(description=label, value=value, placeholder=hint, layout=WIDE, style=LABELS)


def button(label: str, tooltip: str = "", main: bool = False) -> W.Button:
    style = "primary" if main else ""
    return W.Button(description=label, tooltip=tooltip or label, button_style=style, layout=W.Layout(width="auto"))


def read(box: W.Text, kind: str, unit: str | None = None) -> float | None:
    """The quantity typed into a box, inside unit; None if empty. UnitError names the box."""
    from bandtrial import units

    if not box.value.strip():
        return None
    try:
        return units.read(box.value, kind, unit)
    except units.UnitError as error:
        raise units.UnitError(f"{box.description}: {error}") from None


def table(heads: Sequence[str], rows: Iterable[Sequence[Any]], caption: str = "") -> str:
    """An HTML table, everything escaped; numbers come already written with their digits."""
    cell = "padding:.15rem .7rem .15rem 0;text-align:left;vertical-align:top;border-bottom:1px solid #ccc"
    head = "".join(f"<th scope='col' style='{cell}'>{html.escape(str(name))}</th>" for name in heads)
    body = "".join(
        "<tr>" + "".join(f"<td style='{cell}'>{html.escape(str(item))}</td>" for item in row) + "</tr>"
        for row in rows
    )
    title = f"<caption style='text-align:left;font-weight:bold'>{html.escape(caption)}</caption>" if caption else ""
    return f"<table style='border-collapse:collapse;line-height:1.35'>{title}<tr>{head}</tr>{body}</table>"


def cautions() -> W.HTML:
    """The cautions that stand wherever somebody is told to cut."""
    from bandtrial.published import CAUTIONS

    items = "".join(f"<li>{html.escape(text)}</li>" for text in CAUTIONS)
    style = "border:1px solid #888;padding:.3rem .8rem;margin:.4rem 0;line-height:1.35"
    return W.HTML(f"<div style='{style}'><b>Before you cut</b><ul style='margin:.2rem 0'>{items}</ul></div>")
