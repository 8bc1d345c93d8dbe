"""The bench under one's hands: choices on the left, the tooth in its work and the cost beside the numbers."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING, Any

import ipywidgets as widgets
from bandtrial import units
from bandtrial.panels import base

from bandtrial_lessons import record
from bandtrial_lessons.ask_panel import said
from bandtrial_lessons.bench import picture
from bandtrial_lessons.bench.saw import MOTOR, BenchCut, BenchSaw
from bandtrial_lessons.bench.setting import (
    EDGES,
    FEEDS,
    FORMS,
    GEARS,
    PITCHES,
    SETS,
    WIDTHS,
    BenchSetting,
    read_setting,
)
from bandtrial_lessons.reading import show_answer

if TYPE_CHECKING:
    from bandtrial_lessons.lesson import Lesson

NUMBERS = (
    ("teeth in the cut", "teeth", "number"), ("chip load", "chip_load", "chip_load"),
    ("feed rate", "feed_rate", "feed_rate"), ("cutting rate", "cutting_rate", "rate"),
    ("gullet", "gullet_fill", "percent"),
    ("cutting force", "force", "force"), ("motor power", "power", "power"), ("out of line", "deviation", "length"),
    ("life of a band", "life", "time"), ("area of a band", "area", "area"), ("cost per area", "cost", "cost"),
)  # fmt: skip
"""Words, attribute of a cut, kind."""
KEPT = "Bands run"
OURS = ("Teeth in the cut, radius and speeds go by published rules; how much things cost, bend and wear is our saw's "
        "own setting, no source.")  # fmt: skip
HALF_WORN = 0.5
"""Wear used at which a band that is run to its end is looked at [-]."""


class Bench(base.Panel):
    """Every control is followed at once. Locked until the safety questions are answered."""

    def __init__(self, lesson: Lesson, saw: BenchSaw, first: BenchSetting, task: str = "") -> None:
        self.lesson, self.saw, self.task = lesson, saw, task
        self.runs = [saw.cut(setting, HALF_WORN) for setting in settings_of(lesson, ("bench",))]
        self.controls = self._controls((settings_of(lesson) or [first])[-1])
        self.says, self.signs, self.numbers = base.Says(), base.Says(), widgets.HTML()
        self.tooth, self.graph, self.kept = widgets.HTML(), widgets.HTML(), widgets.HTML()
        self.start = base.button("Start the saw", "opens once the safety questions are answered", main=True)
        self.run = base.button("Run a band to its end", "what the band would saw, and what it costs")
        self.keep = base.button("This is my setting", "judge the setting, and keep it", main=True)
        super().__init__([widgets.HBox([self.start]), self.says, base.cautions(2)])
        self.start.on_click(base.guarded(self.says, self.unlock))
        self.run.on_click(base.guarded(self.says, self.run_band))
        self.keep.on_click(base.guarded(self.says, self.hand))

    def _controls(self, s: BenchSetting) -> dict[str, Any]:
        system = self.lesson.system
        inch = [(f"{show_answer(w, 'length', system)}", w) for w in WIDTHS]
        made = {
            "edge": base.choice("edge", EDGES, s.edge),
            "pitch": base.choice("pitch [tpi]", [(f"{one:g}", one) for one in PITCHES], s.pitch),
            "form": base.choice("tooth form", FORMS, s.form),
            "set": base.choice("set", SETS, s.set),
            "width": base.choice("band width", inch, s.width),
            "gear": base.choice("range", list(GEARS), s.gear),
            "speed": self._slider("speed", "band speed", "speed", GEARS[s.gear], s.speed),
            "feed": base.choice("feed by", list(FEEDS), s.feed),
            "feed_rate": self._slider("feed_rate", "feed rate", "feed_rate", (2.0, 400.0), s.feed_rate),
            "weight": self._slider("weight", "weight", "force", (20.0, 1200.0), s.weight),
            "guide": self._slider("guide", "guide above", "length", (2.0, 100.0), s.guide),
            "tension": base.slider("tension [N/mm²]", 60, 330, 5, s.tension),
            "broken_in": widgets.Checkbox(description="broken in first", value=s.broken_in, indent=False),
            "wear": base.slider("wear used", 0.0, 1.0, 0.05, 0.2),
            "moving": widgets.Checkbox(description="moving picture", value=True, indent=False),
        }
        for name, control in made.items():
            control.observe(lambda _, name=name: self.changed(name), "value")
        return made

    def _slider(self, name: str, label: str, kind: str, ends: tuple[float, float], value: float) -> widgets.FloatSlider:
        """A slider in the student's unit."""
        unit = self.lesson.unit(kind)
        low, high, now = (float(units.from_inside(x, kind, unit)) for x in (*ends, value))
        step = float(f"{(high - low) / 200:.0e}")
        slider = base.slider(f"{label} [{unit}]", round(low / step) * step, high, step, now)
        slider.readout_format = ".3g"
        return slider

    def unlock(self) -> None:
        """Start the saw, if the gate is open."""
        self.lesson.gate.demand()
        c = self.controls
        left = widgets.VBox(list(c.values()))
        middle = widgets.VBox([self.tooth, self.graph])
        right = widgets.VBox([self.signs, self.numbers])
        buttons = [self.run, *([self.keep] if self.task else [])]
        saw = widgets.HBox([left, middle, right])
        ours = widgets.HTML(f"<div>{OURS}</div>")
        self.children = (saw, widgets.HBox(buttons), self.says, self.kept, ours, base.cautions(2))
        self.show_runs()
        self.draw()

    def setting(self) -> BenchSetting:
        """What the controls say, inside units."""
        c = self.controls
        inside: dict[str, Any] = {}
        for name, kind in (("speed", "speed"), ("feed_rate", "feed_rate"), ("weight", "force"), ("guide", "length")):
            inside[name] = float(units.convert(c[name].value, self.lesson.unit(kind), kind))
        names = ("edge", "pitch", "form", "set", "width", "gear", "feed", "tension", "broken_in")
        plain: dict[str, Any] = {name: c[name].value for name in names}
        return BenchSetting(**plain, **inside)

    def changed(self, name: str) -> None:
        if name == "gear":
            low, high = (float(units.from_inside(x, "speed", self.lesson.unit("speed"))) for x in
                         GEARS[self.controls["gear"].value])  # fmt: skip
            slider = self.controls["speed"]
            slider.min, slider.max = min(low, slider.min), max(high, slider.max)
            slider.value = min(max(slider.value, low), high)
            slider.min, slider.max = low, high
        if len(self.children) > 3:
            self.draw()

    def draw(self) -> None:
        c, s, wear = self.controls, self.setting(), self.controls["wear"].value
        c["weight"].layout.display = None if s.feed == "weight" else "none"
        c["feed_rate"].layout.display = "none" if s.feed == "weight" else None
        cut = self.saw.cut(s, wear)
        self.tooth.value = picture.tooth_picture(cut, wear, c["moving"].value, self.lesson.system)
        self.graph.value = picture.cost_picture(self.saw, cut, self.lesson.system)
        self.numbers.value = base.table(("", ""), self.rows(cut))
        self.signs.value = signs_html(cut)

    def rows(self, cut: BenchCut) -> list[tuple[str, str]]:
        rows = []
        for words, name, kind in NUMBERS:
            value = getattr(cut, name)
            said = "-" if value != value or (name in ("life", "area") and not value) else self.lesson.show(value, kind)
            rows.append((words, f"{said} of {self.lesson.show(MOTOR, 'power')}" if name == "power" else said))
        return rows

    def run_band(self) -> None:
        """A band to its end at this setting: charged and kept, whatever becomes of it."""
        self.lesson.gate.demand()
        cut = self.saw.cut(self.setting(), HALF_WORN)
        if not record.add(self.lesson, "bench", self.task or "bench", cut.setting.text(), "run"):
            raise ValueError("Nothing new is charged: that band was run just now, or the lesson is handed in.")
        self.runs.append(cut)
        self.show_runs()

    def show_runs(self) -> None:
        """What the bands so far came to."""
        if not self.runs:
            return
        saw, money = self.saw, self.saw.currency
        rows = [(str(i), in_short(one), " ".join(sign.text for sign in one.signs) or f"Ran well, {saw.ending(one)}.",
                 self.lesson.show(one.area, "area") if one.area else "none", f"{saw.bill(one):.0f} {money}")
                for i, one in enumerate(self.runs, 1)]  # fmt: skip
        self.kept.value = base.table(("run", "setting", "what was seen", "area", "bill"), rows, KEPT)
        self.says.note(f"Bands, changes and time so far: {sum(map(saw.bill, self.runs)):.0f} {money}.")

    def hand(self) -> None:
        self.lesson.gate.demand()
        self.says.value = said(self.lesson.check(self.task, self.setting().text()))


def settings_of(lesson: Lesson, kinds: tuple[str, ...] = ("bench", "answer")) -> list[BenchSetting]:
    """Settings kept so far: of bands run, and of those that were judged."""
    texts = [entry["given"] for entry in record.read(lesson)["attempts"] if entry["kind"] in kinds]
    return [read_setting(text) for text in texts if text.startswith("{")]


def in_short(cut: BenchCut) -> str:
    s = cut.setting
    feed = f"{s.weight:.0f} N" if s.feed == "weight" else f"{s.feed} {s.feed_rate:.0f} mm/min"
    return f"{s.edge} {s.pitch:g} tpi {s.form} {s.set} {s.width:.0f} mm, {s.gear} {s.speed:.0f} m/min, {feed}"


def signs_html(cut: BenchCut) -> str:
    """What is seen and heard, the worst first; in words, colour beside them."""
    if cut.sound:
        return (
            "<div style='border-left:4px solid #009E73;padding-left:.6rem'><b>Runs well:</b> curled chips, an even "
            "sound.</div>"
        )
    items = "".join(
        f"<div><b>{'Over:' if one.stops else 'Sign:'}</b> {html.escape(one.text)}</div>" for one in cut.signs
    )
    colour = "#D55E00" if cut.stopped else "#E69F00"
    style = f"border-left:4px solid {colour};padding-left:.6rem;max-width:17rem;line-height:1.35"
    return f"<div style='{style}'>{items}</div>"
