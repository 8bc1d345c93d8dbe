"""Lesson 4's panels: make trial cuts within the minutes, and hand a setting in. A cut made is made."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial import units
from bandtrial.panels import base
from bandtrial.panels.base import Picture

from bandtrial_lessons import record
from bandtrial_lessons.hand_in_panel import HandIn
from bandtrial_lessons.pictures import power_over_minutes
from bandtrial_lessons.reading import read_answer

if TYPE_CHECKING:
    from bandtrial_lessons.own_trial import OwnTrial

NEW = "new"
HEADS = (
    "run",
    "band",
    "on the dial",
    "feed rate",
    "chip load",
    "cuts",
    "minutes",
    "motor power, last cut",
    "band then",
)


class TrialCuts(base.Panel):
    """Band, speed on the dial, feed, number of cuts; each run is kept at once, and paid for."""

    def __init__(self, lesson: OwnTrial) -> None:
        self.lesson = lesson
        V, feed = lesson.work.published
        self.band = base.choice("band", [NEW])
        self.dial = base.text("speed on the dial", lesson.in_unit(lesson.dial(V), "speed"))
        self.feed = base.text("feed rate", lesson.in_unit(feed, "feed_rate"))
        self.cuts = base.text("cuts", str(lesson.cuts_of(5.0, feed)))
        self.go = base.button("Cut", "make these cuts", main=True)
        self.says, self.stand = base.Says(), base.Says()
        self.picture = Picture("Motor power of each band over its cutting time", 7.6, 3.2)
        self.table = widgets.HTML()
        fields = (self.band, self.dial, self.feed, self.cuts)
        buttons = widgets.HBox([self.go])
        super().__init__([*fields, buttons, self.says, self.stand, self.picture, self.table, base.cautions(2)])
        self.go.on_click(base.guarded(self.says, self.cut))
        self.show()

    def cut(self) -> None:
        lesson = self.lesson
        lesson.demand_cutting()
        dial = read_answer(self.dial.value, "speed", lesson.system)
        feed = read_answer(self.feed.value, "feed_rate", lesson.system)
        cuts = int(units.number(self.cuts.value))
        log = lesson.trial.make(self.band.value, float(dial), float(feed), cuts)
        lesson.keep_runs()
        band = lesson.trial.runs[-1].band
        end = lesson.trial.ended(band)
        self.show(NEW if end else band)
        self.says.note(told(lesson, len(log), band, end))

    def show(self, band: str = NEW) -> None:
        trial = self.lesson.trial
        running = [id for id, fitted in trial.shop.bands.items() if fitted.alive]
        self.band.options = [NEW, *running]
        self.band.value = band if band in running else NEW
        self.stand.note(self.lesson.stand())
        self.table.value = base.table(HEADS, self.lesson.run_rows(), "Your runs") if trial.runs else ""
        self.picture.layout.display = None if trial.runs else "none"
        if trial.runs:
            self.picture.draw(lambda ax: power_over_minutes(ax, trial.shop.cuts, self.lesson.unit("power")))


def told(lesson: OwnTrial, cuts: int, band: str, end: str) -> str:
    """What a run came to, in a sentence."""
    trial = lesson.trial
    number = len(trial.runs) - 1
    if number in trial.stalls:
        has = lesson.show(trial.shop.machine.motor_power or 0.0, "power")
        return (
            f"The motor stalled: this takes {lesson.show(trial.stalls[number], 'power')}, and it has {has}. Band "
            f"{band} "
            "is kinked and comes off; nothing was cut."
        )
    return f"{cuts} cuts made on band {band}. {f'Band {band} ended: {end}.' if end else ''}".strip()


class HandInSetting(HandIn):
    """The setting a student stands up for; handing it in is final. The truth is the instructor's to tell."""

    def __init__(self, lesson: OwnTrial) -> None:
        self.dial = base.text("speed on the dial", "", f'as "{lesson.in_unit(50.0, "speed")}"')
        self.feed = base.text("feed rate", "", f'as "{lesson.in_unit(115.0, "feed_rate")}"')
        self.trial = lesson
        super().__init__(lesson)
        self.children = (self.dial, self.feed, widgets.HBox([self.go]), self.says)
        if setting := record.read(lesson).get("setting"):
            self.dial.value = lesson.in_unit(setting["dial_m_min"], "speed")
            self.feed.value = lesson.in_unit(setting["feed_rate_mm_min"], "feed_rate")

    def hand_in(self) -> None:
        self.trial.keep_setting(self.dial.value, self.feed.value)
        super().hand_in()
