"""Lesson 2: feed, chip load, teeth in the cut and pitch: rubbing, chipped edges, packed gullets, and what is paid."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from bandtrial import published, sawing
from numpy.typing import NDArray

from bandtrial_lessons import costs, tooth_questions
from bandtrial_lessons.feed_run import FeedRun, band_at_each_feed
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.prediction import Prediction
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.shop import Shop
from bandtrial_lessons.teaching import Prices, own_random, prices_of, teaching_shop

SOUND_CHIPS = (8.0, 7.0, 6.0, 5.2)
"""Chip loads [um], at the first of which the bench runs well it begins."""


class FeedAndTeeth(Lesson):
    number = 2
    title = "Feed, chip load, teeth in the cut"
    aims = (
        "work out teeth in the cut, chip load and feed rate, each from the others",
        "tell what a light and a heavy feed do to a band, and which of them is paid for",
        "say when the band on the saw is the wrong one, and which to fit",
    )

    @cached_property
    def shop(self) -> Shop:
        """The student's shop."""
        return teaching_shop(self.drawn, self.thickness)

    @cached_property
    def numbers(self) -> dict[str, float]:
        """The numbers of this student's questions, inside units."""
        random = own_random(self.drawn, 2)
        wall = tooth_questions.clear_wall(random, lambda mm: self.nice(mm, "length"))
        V = self.nice(published.band_speed(self.group, 20.0), "speed")
        given = float(sawing.feed_rate(V, random.uniform(11.0, 16.0), self.spacing))
        return {
            "wall": wall,
            "speed": V,
            "plate": self.nice(float(random.uniform(19.6, 24.4)), "length"),
            "feed": self.nice(given, "feed_rate"),
            "goal": self.nice(float(random.uniform(6.0, 9.0)), "chip_load"),
            "block": tooth_questions.clear_block(random, lambda mm: self.nice(mm, "length")),
        }

    @cached_property
    def thickness(self) -> float:
        """Of the work of the trial [mm]."""
        return self.nice(float(own_random(self.drawn, 3).uniform(27.0, 50.0)), "length")

    @property
    def group(self) -> str:
        """Published group of the metal."""
        return teaching_shop(self.drawn).material.group

    @property
    def spacing(self) -> float:
        """Tooth spacing p of the band [mm]."""
        return teaching_shop(self.drawn).stock.tooth_spacing

    @property
    def prices(self) -> Prices:
        return prices_of(self.drawn)

    @cached_property
    def gullet(self) -> float:
        """Gullet area of the band stock, in three figures of the student's unit [mm2]."""
        return self.nice(self.shop.mechanics().gullet_area, "gullet_area", 3)

    @cached_property
    def run(self) -> FeedRun:
        """One new band at each chip load, run to its end."""
        return band_at_each_feed(self.shop, self.numbers["speed"], self.thickness, self.drawn_units)

    @cached_property
    def costs_of_area(self) -> NDArray[np.float64]:
        """Of each of the seven bands [currency/cm2]."""
        p, run = self.prices, self.run
        rate = sawing.cutting_rate(run.feed_rate, self.thickness)
        return np.asarray(costs.cost_per_area(rate, run.minutes, p.hour, p.change, p.band))

    def start_of_shop(self) -> published.Start:
        return published.start(self.shop.material.group, self.thickness, self.shop.stock.edge, system=self.system)

    def job(self) -> str:
        """The trial in a sentence."""
        V, L, p = self.show(self.numbers["speed"], "speed"), self.show(self.thickness, "length"), self.prices
        return in_lines(
            f"{self.shop.material.name.capitalize()}, {L} thick, at {V} with a {self.shop.stock.pitch_tpi:g} tpi band: "
            f"seven new bands, each at a feed of its own, each run to its end. An hour of machine and labor costs "
            f"{p.hour:g} {self.currency}, a band {p.band:g} {self.currency}, and changing it takes {p.change:g} min."
        )

    def bands(self) -> Any:
        """What the seven bands did."""
        return self.run.table(self.system)

    def feed_picture(self) -> Any:
        """Area of a band, and cost of an area, over chip load."""
        from bandtrial.panels.base import Picture

        from bandtrial_lessons.pictures import area_over_chip_load

        picture = Picture("Area that a band sawed, and what an area cost, over its chip load", 8.4, 3.4, 2)
        picture.draw(lambda axes: area_over_chip_load(axes, self))
        return picture

    def bench(self) -> Any:
        """A tooth of this band in this work, to look at."""
        from bandtrial_lessons.bench import BenchSaw, BenchSetting, BenchWork
        from bandtrial_lessons.bench.panel import Bench

        saw, V = BenchSaw(self.drawn, BenchWork(self.thickness)), self.numbers["speed"]
        feeds = [min(float(sawing.feed_rate(V, h, self.spacing)), 400.0) for h in SOUND_CHIPS]
        tried = [BenchSetting(speed=V, gear="low" if V < 60.0 else "high", feed_rate=feed) for feed in feeds]
        return Bench(self, saw, next((one for one in tried if saw.cut(one).sound), tried[-1]))

    def make_predictions(self) -> list[Prediction]:
        most, cheap = int(self.run.area.argmax()), int(self.costs_of_area.argmin())
        came = ("the same feed", "a heavier feed") if cheap >= most else ("a lighter feed",)
        words = came[0] if cheap == most else came[-1]
        return [
            Prediction(
                "2P", "seven bands at seven feeds, light to heavy. Which sawed the most before it was worn out?",
                ("the lightest", "one in between", "the heaviest"), self.bands, "one in between",
                "What wears the band at the light end, and what at the heavy end?",
            ),
            Prediction(
                "2Q", "you know the feed that gave the most area for a band. Where is an area cheapest?",
                ("a lighter feed", "the same feed", "a heavier feed"), self.feed_picture, words,
                "What is paid for beside the band?",
            ),
        ]  # fmt: skip

    def make_questions(self) -> list[Question]:
        from_trial = [self._most_area(), self._cost_there(), self._cheapest(), self._light_share(), self._light_feed()]
        teeth = tooth_questions
        return [*teeth.one_tooth(self), *from_trial, teeth.gullet(self), teeth.block(self), teeth.wall(self)]

    @property
    def _table(self) -> str:
        """The seven bands in words, for whoever is asked with new numbers."""
        run, p = self.run, self.prices
        rows = "; ".join(
            f"{self.show(h, 'chip_load')}: {self.show(F, 'feed_rate')}, {self.show(t, 'time')}, {self.show(A, 'area')}"
            for h, F, t, A in zip(run.chip_load, run.feed_rate, run.minutes, run.area, strict=True)
        )
        return (
            f"Work {self.show(self.thickness, 'length')} thick; chip load: feed rate, life, area of each band: {rows}. "
            f"An hour {p.hour:g} {self.currency}, a band {p.band:g} {self.currency}, a change {p.change:g} min."
        )

    def _most_area(self) -> Question:
        run, h = self.run, self.run.chip_load
        best, longest = int(run.area.argmax()), int(run.minutes.argmax())
        return self.ask_for(
            "2d", "Which chip load gave the most area for a band?", "chip_load", float(h[best]),
            given=self._table, tolerance=0.01, why_tolerance="one of the seven", source="our saw's own setting, "
                                                                                        "no source",
            also=as_good(h, -run.area), nudge="Which column is area?",
            how="compare the areas, not the minutes.",
            because="Neither the lightest nor the heaviest: edges rub on one side and chip on the other. It is the "
                    "feed that spares bands; whether it is cheap is the next question.",
            slips=(
                *(() if longest in (best, 0) else
                  (Slip(float(h[longest]), "That band cut for the longest time, but little in each minute."),)),
                Slip(float(h[0]), "The lightest feed is not the gentlest: the edges rub instead of cutting."),
                Slip(float(h[-1]), "The heaviest feed saws fastest, and its edges chip: the band is soon gone."),
            ),
        )  # fmt: skip

    def _cost_there(self) -> Question:
        run, p = self.run, self.prices
        i = int(run.area.argmax())
        T, Z = float(run.minutes[i]), float(sawing.cutting_rate(run.feed_rate[i], self.thickness))
        c, cost = p.hour / 60.0, float(self.costs_of_area[i])
        return self.ask_for(
            "2e", f"What did an area cost with the band of 2d? It sawed {self.show(Z, 'rate')}.", "cost", cost,
            given=self._table, why_tolerance="a life of three digits", source="groover",
            nudge="Three things are paid: minutes of cutting, minutes of changing, the band. Over which area?",
            how="c = hour / 60. One band costs c x (life + change) + its price; divide by the area it sawed.",
            because=f"The minutes of cutting are {100 * c / Z / cost:.0f} % of it, the band and its change the rest.",
            slips=(
                Slip(c * T / (Z * T), "That is the cutting alone; the band and its change are still to be paid."),
                Slip((c * T + p.band) / (Z * T), "The band is in, the minutes to change it are not."),
                Slip((c * p.change + p.band) / (Z * T), "That is the band and its change; the minutes of cutting are "
                                                        "missing."),
            ),
        )  # fmt: skip

    def _cheapest(self) -> Question:
        h, cost = self.run.chip_load, self.costs_of_area
        most, cheap = int(self.run.area.argmax()), int(cost.argmin())
        dearer = f"{100 * (cost[most] / cost[cheap] - 1):.0f} %"
        differ = f"The feed of most area costs {dearer} more. " if most != cheap else ""
        other = () if most == cheap else (
            Slip(float(h[most]), "That band sawed the most, but slowly: the minutes are paid for too."),)  # fmt: skip
        return self.ask_for(
            "2f", "At which of the seven chip loads was an area cheapest?", "chip_load", float(h[cheap]),
            given=self._table, tolerance=0.01, why_tolerance="one of the seven", source="groover",
            also=as_good(h, cost), nudge="Work 2e out for its neighbours, or read it off the picture.",
            how="work out the cost of an area as in 2e for the feeds on either side, until it rises both ways.",
            because=differ + "What is paid for is area and minutes together.",
            slips=(
                *other,
                *(() if cheap == 0 else (Slip(float(h[0]), "The lightest feed is paid for in minutes."),)),
                *(() if cheap == len(h) - 1 or most == len(h) - 1 else
                  (Slip(float(h[-1]), "It saws fastest, but eats bands: put its life into 2e."),)),
            ),
        )  # fmt: skip

    def _light_share(self) -> Question:
        run, best = self.run, int(self.run.area.argmax())
        feed, life = run.feed_rate[best] / run.feed_rate[0], run.minutes[best] / run.minutes[0]
        return self.ask_for(
            "2g", "From the lightest feed to that of 2d the area of a band grew. By which factor did its life in "
                  "minutes change?", "number", float(life), given=self._table,
            nudge="Area is minutes times area in a minute; which column is which?",
            how="divide the minutes of the band of 2d by those of the lightest feed.",
            because=f"The feed alone brought a factor {feed:.1f}: nearly all of the area that the light feed lacks, it "
                    "lacks because it is slow. What rubbing did is seen in 2h.",
            source="our saw's own setting, no source",
            slips=(
                Slip(float(feed), "That is the factor of the feed, how much more is sawn in a minute."),
                Slip(float(feed * life), "That is the factor of the areas; take the minutes alone."),
                Slip(float(1 / life), "The two lives changed places."),
            ),
        )  # fmt: skip

    def _light_feed(self) -> Question:
        run, best = self.run, int(self.run.area.argmax())
        thinner = f"{run.chip_load[best] / run.chip_load[0]:.1f}"
        return self.choose(
            "2h", f"The teeth of the lightest feed took a layer {thinner} times thinner than those of 2d, and lasted "
                  f"{self.show(float(run.minutes[0]), 'time')} against {self.show(float(run.minutes[best]), 'time')}. "
                  "Why not many times longer?",
            right="Its edges are as round as the chip is thick, and rub",
            wrong={
                "Its gullets pack with chips, which break the teeth out": "Gullets pack under a heavy feed in thick "
                    "work; here the chips were the thinnest of all.",
                "Each tooth takes too much at once and strips": "Teeth strip when each takes too much; here each took "
                    "the least of all.",
                "A light feed makes the band run hotter than a heavy one": "Heat comes of speed, which was the same.",
            },
            given=self._table,
            how="compare the chip load with the rounding of a new edge, 5 to 15 µm.",
            because="Below its own rounding an edge ploughs and rubs: the wear of a cut, little of its chip.",
            source="rounding: sarwar_2010; how much it wears: our saw's own setting",
        )  # fmt: skip


ALIKE = 0.015
"""Difference that three digits and a picture don't tell [-]."""


def as_good(chip_load: NDArray[np.float64], loss: NDArray[np.float64]) -> tuple[float, ...]:
    """Chip loads whose loss is the least for all that can be told, the least itself left out."""
    least = loss.min()
    return tuple(float(h) for h, x in zip(chip_load, loss, strict=True) if least < x <= least + ALIKE * abs(least))
