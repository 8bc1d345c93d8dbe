"""One question as a panel: its words, a box, what there is to say to the answer. Enter checks; no mouse "
"needed."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import ipywidgets as widgets

from bandtrial.lessons.question import Question
from bandtrial.panels import base

if TYPE_CHECKING:
    from bandtrial.lessons.lesson import Lesson


class Ask(base.Panel):
    """A question; Enter or the button checks what is typed, and keeps it for the instructor."""

    def __init__(self, lesson: Lesson, question: Question) -> None:
        self.lesson, self.asked = lesson, question
        self.box = base.text(f"answer {question.id}", hint=f'as "{question.example}"')
        self.box.continuous_update = False
        self.box.style.description_width = "5.5rem"
        self.press = base.button(f"Check {question.id}", "check the answer; Enter does the same", main=True)
        self.says = base.Says()
        row = widgets.HBox([self.box, self.press])
        super().__init__([widgets.HTML(words(question)), row, self.says])
        check = base.guarded(self.says, self.check)
        self.box.observe(check, "value")
        self.press.on_click(check)

    def check(self) -> None:
        verdict = self.lesson.check(self.asked.id, self.box.value)
        if verdict.state == "not_yet":
            self.says.not_yet(verdict.text, [verdict.how])
        elif verdict.state == "unread":
            self.says.note(verdict.text)
        else:
            self.says.value = (
                "<div style='border-left:4px solid #009E73;padding-left:.6rem'>"
                f"<b>Right:</b> {html.escape(verdict.text.removeprefix('Right, '))}</div>"
            )


def words(question: Question) -> str:
    """The question as HTML, its choices as a list."""
    items = "".join(f"<div><b>{key}</b>&ensp;{html.escape(text)}</div>" for key, text in question.choices.items())
    text = html.escape(question.text)
    return f"<div style='line-height:1.4;max-width:46rem'><b>{question.id}</b>&ensp;{text}{items}</div>"
