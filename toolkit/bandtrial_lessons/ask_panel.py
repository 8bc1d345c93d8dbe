"""One question as a panel: its words, a box, what there is to say to the answer. Enter checks; no mouse needed."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial.panels import base

from bandtrial_lessons import record
from bandtrial_lessons.question import Question, Verdict

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

RIGHT, NOT_YET = "#009E73", "#D55E00"


class Ask(base.Panel):
    """A question; Enter or the button checks what is typed, and keeps it. It opens as it was left."""

    def __init__(self, lesson: Lesson, id: str) -> None:
        self.lesson, self.id = lesson, id
        version, _, _ = lesson.standing(id)
        question = lesson.question(id, version)
        hint = "" if question.kind == "setting" else f'as "{question.example}"'
        self.box = base.text(f"answer {id}", hint=hint)
        self.box.continuous_update = False
        self.box.style.description_width = "5.5rem"
        self.press = base.button(f"Check {id}", "check the answer; Enter does the same", main=True)
        self.says, self.words = base.Says(), widgets.HTML()
        entry = [] if question.kind == "setting" else [widgets.HBox([self.box, self.press])]
        super().__init__([self.words, *entry, self.says])
        self.show(question, version)
        self.restore()
        check = base.guarded(self.says, self.check)
        self.box.observe(check, "value")
        self.press.on_click(check)

    def show(self, question: Question, version: int) -> None:
        self.words.value = words(question, version)

    def restore(self) -> None:
        """What was said to the last answer, after a restart."""
        entry = record.last(self.lesson, "answer", self.id)
        if entry is None:
            return
        self.box.value = entry["given"]
        self.says.value = said(self.lesson.question(self.id, entry["version"]).judge(entry["given"], entry["level"]))

    def check(self) -> None:
        before, _, done = self.lesson.standing(self.id)
        verdict = self.lesson.check(self.id, self.box.value)
        self.says.value = said(verdict, kept_note(self.lesson, done))
        version, _, _ = self.lesson.standing(self.id)
        if version != before:
            self.show(self.lesson.question(self.id, version), version)


def kept_note(lesson: Lesson, done: bool) -> str:
    """Why an answer counts no more, "" if it does."""
    if record.read(lesson).get("handed_in"):
        return "Handed in; this is not kept any more."
    return "For yourself only: this question is settled." if done else ""


def said(verdict: Verdict, note: str = "") -> str:
    """A verdict as HTML; it starts with a word, so that colour is not the only sign."""
    lines = [("Source:", verdict.source)] if verdict.source else []
    lines += [("Note:", note)] if note else []
    if verdict.right:
        return marked(RIGHT, [("Right:", verdict.text.removeprefix("Right, ")), *lines])
    if verdict.state == "not_yet":
        how = [("Told:" if verdict.told else "How:", verdict.how)] if verdict.how else []
        return marked(NOT_YET, [("Not yet:", verdict.text), *how, *lines])
    return f"<div>{html.escape(verdict.text)}</div>"


def marked(colour: str, lines: list[tuple[str, str]]) -> str:
    """Lines of (head, text) beside a coloured bar."""
    items = "".join(f"<div><b>{html.escape(head)}</b> {html.escape(text)}</div>" for head, text in lines)
    return (
        f"<div style='border-left:4px solid {colour};padding-left:.6rem;line-height:1.4;max-width:46rem'>{items}</div>"
    )


def words(question: Question, version: int = 0) -> str:
    """The question as HTML, its choices as a list; with new numbers, what is given comes first."""
    items = "".join(f"<div><b>{key}</b>&ensp;{html.escape(text)}</div>" for key, text in question.choices.items())
    new = f"<div><b>New numbers.</b> {html.escape(question.given)}</div>" if version else ""
    text = html.escape(question.text)
    return f"<div style='line-height:1.4;max-width:46rem'>{new}<b>{question.id}</b>&ensp;{text}{items}</div>"
