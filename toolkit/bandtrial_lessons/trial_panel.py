"""Lesson 4's panels: make trial cuts within the minutes, and hand a setting in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import ipywidgets as widgets
from bandtrial import units
from bandtrial.panels import base
from bandtrial.panels.picture import Picture

from bandtrial_lessons.pictures import TRUTH, power_over_minutes, true_cost_over_speed
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
    """Band, speed on the dial, feed, number of cuts; each run is kept at once and can be taken back."""

    def __init__(self, lesson: OwnTrial) -> None:
        self.lesson = lesson
        V, feed = lesson.work.published
        self.band = base.choice("band", [NEW])
        self.dial = base.text("speed on the dial", lesson.in_unit(lesson.dial(V), "speed"))
        self.feed = base.text("feed rate", lesson.in_unit(feed, "feed_rate"))
        self.cuts = base.text("cuts", str(lesson.cuts_of(5.0, feed)))
        self.go = base.button("Cut", "make these cuts", main=True)
        self.undo = base.button("Take back last run", "as if it had not been made")
        self.says, self.stand = base.Says(), base.Says()
        self.picture = Picture("Motor power of each band over its cutting time", 7.6, 3.2)
        self.table = widgets.HTML()
        fields = (self.band, self.dial, self.feed, self.cuts)
        buttons = widgets.HBox([self.go, self.undo])
        super().__init__([*fields, buttons, self.says, self.stand, self.picture, self.table, base.cautions()])
        self.go.on_click(base.guarded(self.says, self.cut))
        self.undo.on_click(base.guarded(self.says, self.take_back))
        self.show()

    def cut(self) -> None:
        lesson = self.lesson
        dial = read_answer(self.dial.value, "speed", lesson.system)
        feed = read_answer(self.feed.value, "feed_rate", lesson.system)
        cuts = int(units.number(self.cuts.value))
        log = lesson.trial.make(self.band.value, float(dial), float(feed), cuts)
        lesson.keep_runs()
        band = lesson.trial.runs[-1].band
        end = lesson.trial.ended(band)
        self.show(NEW if end else band)
        tale = f"Band {band} ended: {end}." if end else ""
        self.says.note(f"{len(log)} cuts made on band {band}. {tale}".strip())

    def take_back(self) -> None:
        run = self.lesson.trial.take_back()
        self.lesson.keep_runs()
        self.show()
        self.says.note(f"The last run, {run.cuts} cuts on band {run.band}, was not made.")

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


class HandIn(base.Panel):
    """The setting a student stands up for; then the truth."""

    def __init__(self, lesson: OwnTrial) -> None:
        self.lesson = lesson
        self.dial = base.text("speed on the dial", "", f'as "{lesson.in_unit(50.0, "speed")}"')
        self.feed = base.text("feed rate", "", f'as "{lesson.in_unit(115.0, "feed_rate")}"')
        self.go = base.button("Hand in and see the truth", "keep this setting, then show what it costs", main=True)
        self.says, self.truth = base.Says(), widgets.HTML()
        self.picture = Picture(TRUTH, 7.6, 3.6)
        self.picture.layout.display = "none"
        super().__init__([self.dial, self.feed, widgets.HBox([self.go]), self.says, self.picture, self.truth])
        self.go.on_click(base.guarded(self.says, self.hand_in))

    def hand_in(self) -> None:
        self.says.note("Working out what it costs ...")
        found = self.lesson.hand_in(self.dial.value, self.feed.value)
        self.truth.value = found._repr_html_()
        self.picture.draw(lambda ax: true_cost_over_speed(ax, found))
        self.picture.layout.display = None
        self.says.note("Handed in; it is kept with your trial.")
