"""A saw that runs, to be looked at: the tooth in its work, what is seen and heard, the numbers. Nothing to set."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial.panels import base

from bandtrial_lessons.bench import picture
from bandtrial_lessons.bench.panel import NUMBERS, signs_html
from bandtrial_lessons.bench.saw import MOTOR, BenchCut, BenchSaw

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

SEEN = ("teeth", "chip_load", "gullet_fill", "force", "power", "deviation")


class Look(base.Panel):
    """One saw as it runs."""

    def __init__(self, lesson: Lesson, saw: BenchSaw, cut: BenchCut) -> None:
        rows = [(words, lesson.show(getattr(cut, name), kind)) for words, name, kind in NUMBERS if name in SEEN]
        rows += [("motor", lesson.show(MOTOR, "power")), ("band speed", lesson.show(cut.setting.speed, "speed")),
                 ("guide above work", lesson.show(cut.setting.guide, "length")),
                 ("tension", f"{cut.setting.tension:.0f} N/mm²")]  # fmt: skip
        shown = widgets.HTML(picture.tooth_picture(cut, 0.3, True, lesson.system))
        beside = widgets.VBox([widgets.HTML(signs_html(cut)), widgets.HTML(base.table(("", ""), rows))])
        super().__init__([widgets.HBox([shown, beside])])
