"""Lesson 3's panel: cost and output over speed, as the prices are moved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from bandtrial.panels import base
from bandtrial.panels.base import Picture

from bandtrial_lessons import costs
from bandtrial_lessons.pictures import cost_and_output_over_speed

if TYPE_CHECKING:
    from bandtrial_lessons.cut_cost import CutCost


class Prices(base.Panel):
    """Sliders for an hour, a band and a change; the shop's own prices to begin with."""

    def __init__(self, lesson: CutCost) -> None:
        self.lesson, p = lesson, lesson.prices
        self.hour = base.slider(f"an hour [{lesson.currency}]", 5, 4 * p.hour, 5, p.hour)
        self.band = base.slider(f"a band [{lesson.currency}]", 0, 4 * p.band, 1, p.band)
        self.change = base.slider("a change [min]", 1, 40, 1, p.change)
        for slider in (self.hour, self.band, self.change):
            slider.readout_format = ".0f"
        self.says = base.Says()
        self.picture = Picture(
            "Cost per area and output over band speed at these prices; marks at their best", 8.4, 3.6, 2
        )
        super().__init__([self.hour, self.band, self.change, self.says, self.picture])
        update = base.guarded(self.says, self.update)
        for slider in (self.hour, self.band, self.change):
            slider.observe(update, "value")
        self.update()

    def update(self) -> None:
        lesson, hour, band, change = self.lesson, self.hour.value, self.band.value, self.change.value
        output = float(costs.maximum_output_speed(*lesson.law, change))
        cheap = float(costs.minimum_cost_speed(*lesson.law, change, band, hour))
        self.says.note(compared(cheap, output))
        V = np.geomspace(0.6 * lesson.speeds[1], 1.35 * lesson.speeds[0], 60)
        self.picture.draw(
            lambda axes: cost_and_output_over_speed(axes, lesson, V, (hour, band, change), (cheap, output))
        )


def compared(cheap: float, output: float) -> str:
    """The speed of the lowest cost beside that of the greatest output [m/min each], without giving either away.

    >>> compared(90.0, 100.0), compared(100.0, 100.0)
    ('The lowest cost is 10 % slower than the greatest output.', 'Lowest cost and greatest output are at one speed.')
    """
    slower = round(100 * (1 - cheap / output))
    if slower == 0:
        return "Lowest cost and greatest output are at one speed."
    return f"The lowest cost is {slower} % slower than the greatest output."
