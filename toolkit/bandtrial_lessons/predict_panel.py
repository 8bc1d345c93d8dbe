"""Predict, try, explain: a choice that is kept before the picture opens, and a sentence after it."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial.panels import base

from bandtrial_lessons import record
from bandtrial_lessons.prediction import Prediction

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

WORDS = 5
"""Least words of an explanation."""


class Predict(base.Panel):
    """A prediction; the first one kept stands, then what it is about is shown."""

    def __init__(self, lesson: Lesson, prediction: Prediction) -> None:
        self.lesson, self.asked = lesson, prediction
        id = prediction.id
        text = html.escape(prediction.text)
        self.asks = widgets.HTML(
            f"<div style='line-height:1.4;max-width:46rem'><b>{id}</b>&ensp;Before you look: {text}</div>"
        )
        choices = [("choose ...", ""), *((words, words) for words in prediction.choices)]
        self.box = base.choice(f"I expect {id}", choices)
        self.box.layout.width = "34rem"
        self.keep = base.button(f"Keep it and look {id}", "your prediction is kept, then the picture opens", main=True)
        self.says = base.Says()
        self.why = base.text(f"because {id}", hint="in one sentence")
        self.why.layout.width, self.why.continuous_update = "46rem", False
        self.explained = base.Says()
        self.row = widgets.HBox([self.box, self.keep])
        super().__init__([self.asks, self.row, self.says])
        self.keep.on_click(base.guarded(self.says, self.predict))
        self.why.observe(base.guarded(self.explained, self.explain), "value")
        if entry := record.last(lesson, "prediction", id):
            self.show(entry["given"])

    def predict(self) -> None:
        if not self.box.value:
            raise ValueError("Choose what you expect first; a wrong guess costs nothing.")
        came = self.asked.came
        record.add(self.lesson, "prediction", self.asked.id, self.box.value,
                   "right" if self.box.value == came else "not_yet")  # fmt: skip
        self.show(self.box.value)

    def show(self, given: str) -> None:
        self.row.layout.display = "none"
        self.says.note(f"You expected: {given}. It came: {self.asked.came}.")
        asks = widgets.HTML(f"<div><b>Explain.</b> {html.escape(self.asked.why)}</div>")
        if entry := record.last(self.lesson, "explanation", self.asked.id):
            self.why.value = entry["given"]
        opened = self.asked.opens()
        shown = opened if isinstance(opened, widgets.Widget) else widgets.HTML(html_of(opened))
        self.children = (self.asks, self.says, shown, asks, self.why, self.explained)

    def explain(self) -> None:
        said = " ".join(self.why.value.split())
        if len(said.split()) < WORDS:
            raise ValueError(f"Write {WORDS} words or more: why did it come so?")
        record.add(self.lesson, "explanation", self.asked.id, said, "given")
        self.explained.note("Kept.")


def html_of(shown: object) -> str:
    """What a cell would show of a table."""
    made = getattr(shown, "_repr_html_", None)
    return str(made()) if made else f"<pre>{html.escape(str(shown))}</pre>"
