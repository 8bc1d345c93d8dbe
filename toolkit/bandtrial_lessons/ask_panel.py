"""One question as a panel: its words, a box, what there is to say to the answer. Enter checks; no mouse needed."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial.panels import base

from bandtrial_lessons.question import Question, Verdict

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

RIGHT, NOT_YET = "#009E73", "#D55E00"


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
        self.says.value = said(self.lesson.check(self.asked.id, self.box.value))


def said(verdict: Verdict) -> str:
    """A verdict as HTML; it starts with a word, so that colour is not the only sign."""
    if verdict.right:
        return marked(RIGHT, [("Right:", verdict.text.removeprefix("Right, "))])
    if verdict.state == "not_yet":
        return marked(NOT_YET, [("Not yet:", verdict.text), ("How:", verdict.how)])
    return f"<div>{html.escape(verdict.text)}</div>"


def marked(colour: str, lines: list[tuple[str, str]]) -> str:
    """Lines of (head, text) beside a coloured bar."""
    items = "".join(f"<div><b>{html.escape(head)}</b> {html.escape(text)}</div>" for head, text in lines)
    return (
        f"<div style='border-left:4px solid {colour};padding-left:.6rem;line-height:1.4;max-width:46rem'>{items}</div>"
    )


def words(question: Question) -> str:
    """The question as HTML, its choices as a list."""
    items = "".join(f"<div><b>{key}</b>&ensp;{html.escape(text)}</div>" for key, text in question.choices.items())
    text = html.escape(question.text)
    return f"<div style='line-height:1.4;max-width:46rem'><b>{question.id}</b>&ensp;{text}{items}</div>"
