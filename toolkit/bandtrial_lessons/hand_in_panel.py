"""The button that closes a lesson: what is open, a second press to be sure, and when it was handed in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial import words
from bandtrial.panels import base

from bandtrial_lessons import record

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson


class HandIn(base.Panel):
    """Hands a lesson in; it is final."""

    def __init__(self, lesson: Lesson) -> None:
        self.lesson, self.sure = lesson, False
        self.go = base.button("Hand in", "close this lesson; nothing can be changed afterwards", main=True)
        self.says = base.Says()
        super().__init__([widgets.HBox([self.go]), self.says])
        self.go.on_click(base.guarded(self.says, self.hand_in))
        if when := record.read(lesson).get("handed_in"):
            self.closed(when)

    def hand_in(self) -> None:
        left = open_questions(self.lesson)
        if not self.sure:
            self.sure = True
            still = f"Still open: {', '.join(left)}. " if left else "Everything is answered. "
            self.says.note(f"{still}Press again to hand in; it is final.")
            return
        self.before()
        self.closed(record.hand_in(self.lesson))

    def before(self) -> None:
        """What else is kept as the lesson closes."""

    def closed(self, when: str) -> None:
        self.go.disabled = True
        self.says.note(f"Handed in at {when}. "
                       f"{words.count(len(record.read(self.lesson)['attempts']), 'entry', 'entries')}"
                       " are kept in the folder answers; give that folder to your instructor.")  # fmt: skip


def open_questions(lesson: Lesson) -> list[str]:
    """Ids of questions and predictions without an answer that settles them."""
    questions = [id for id in lesson.questions if not lesson.standing(id)[2]]
    return questions + [id for id in lesson.predictions if record.last(lesson, "prediction", id) is None]
