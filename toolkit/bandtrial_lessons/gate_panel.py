"""The cautions, and the safety questions that open the saws."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial.panels import base

from bandtrial_lessons import record
from bandtrial_lessons.gate import SafetyQuestion

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

OPEN = "The saws are open to you."


class GatePanel(base.Panel):
    """Cautions first; below them five questions, each until it is right."""

    def __init__(self, lesson: Lesson) -> None:
        self.lesson, self.says = lesson, base.Says()
        self.asked = [AskSafety(self, question) for question in lesson.gate.questions]
        super().__init__([base.cautions(2), *([] if lesson.gate.open else self.asked), self.says])
        self.tell()

    def tell(self) -> None:
        gate = self.lesson.gate
        passed = gate.passed()
        left = sum(question.id not in passed for question in gate.questions)
        if not left:
            self.says.note(OPEN)
            return
        self.says.note(f"{left} of {len(gate.questions)} safety questions are open; no saw cuts before. "
                       "What they ask is the trade's common practice, no source.")  # fmt: skip


class AskSafety(widgets.VBox):
    """One safety question with its choices."""

    def __init__(self, panel: GatePanel, question: SafetyQuestion) -> None:
        self.panel, self.question = panel, question
        self.box = base.choice(f"safety: {question.id}", [("choose ...", ""),
                               *((words, words) for words in panel.lesson.gate.choices(question))])  # fmt: skip
        self.box.layout.width = "38rem"
        self.says = base.Says()
        super().__init__([widgets.HTML(f"<div>{html.escape(question.text)}</div>"), self.box, self.says])
        if question.id in panel.lesson.gate.passed():
            self.box.value = question.right
            self.says.note("Right.")
        self.box.observe(base.guarded(self.says, self.check), "value")

    def check(self) -> None:
        if not self.box.value:
            return
        with record.LOCK:  # what is told last is told of all answers
            why = self.panel.lesson.gate.check(self.question, self.box.value)
            self.panel.tell()
        self.says.note(f"No. {why}" if why else "Right.")
