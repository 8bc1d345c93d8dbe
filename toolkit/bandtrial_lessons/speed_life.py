"""Lesson 1: speed against life. Two bands, two speeds, V T^n = C, and what it says about mixed work."""

from __future__ import annotations

from functools import cached_property
from itertools import zip_longest
from typing import Any

import numpy as np
from bandtrial import published, words

from bandtrial_lessons import costs, doubt_questions
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.prediction import Prediction
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.shop import Shop
from bandtrial_lessons.shown_table import Table
from bandtrial_lessons.teaching import own_random, teaching_shop
from bandtrial_lessons.wear_run import WearRun, mark_of_dull, run_to_the_end

CHIP_LOAD = 8.0
"""[um]"""
SPEEDS = (0.85, 1.2)
"""Of the two trials, as shares of the published start."""
RISES = (0.10, 0.15, 0.20)
"""Of the speed, one of which leaves well more or well less than half of the life: lost and kept differ then [-]."""
SHARES_OF_LIFE = {"about 7/10 is left": 0.7, "about half is left": 0.5, "about a fifth is left": 0.2,
                  "a tenth or less is left": 0.07}  # fmt: skip
SHIFT = 480.0
"""Life asked for of a band at the published start [min]: eight hours, so that it is too slow as often as too fast."""
READ_OFF = {"tolerance": 0.015, "why_tolerance": "reading off a table or a drawing"}


class SpeedAndLife(Lesson):
    number = 1
    title = "Speed against life"
    aims = (
        "read a band's life off its cutting force",
        "find n and C of V T^n = C from two speeds, and say what n means",
        "add up wear over mixed work",
        "say what two bands can't tell",
    )

    @cached_property
    def shop(self) -> Shop:
        """The student's shop."""
        return teaching_shop(self.drawn, self.thickness)

    @cached_property
    def thickness(self) -> float:
        """Of the work [mm]."""
        return self.nice(float(own_random(self.drawn, 1).uniform(25.0, 50.0)), "length")

    @cached_property
    def speeds(self) -> tuple[float, float]:
        """Of the two trials [m/min]."""
        start = published.band_speed(self.shop.material.group, self.thickness, self.shop.stock.edge)
        return self.nice(SPEEDS[0] * start, "speed"), self.nice(SPEEDS[1] * start, "speed")

    @cached_property
    def runs(self) -> tuple[WearRun, WearRun]:
        """Two new bands, each run to its end."""
        slow, fast = (run_to_the_end(self.shop, V, CHIP_LOAD, self.thickness, self.drawn_units) for V in self.speeds)
        return slow, fast

    @cached_property
    def mark(self) -> float:
        """Cutting force at which a band is called dull here [N]."""
        return mark_of_dull(self.shop, self.runs, CHIP_LOAD, self.thickness, self.drawn_units)

    @cached_property
    def lives(self) -> tuple[float, float]:
        """Of the two bands [min]."""
        slow, fast = (run.life(self.mark) for run in self.runs)
        return slow, fast

    @cached_property
    def law(self) -> costs.TaylorLaw:
        """Through the two trials."""
        return costs.taylor_from_two_points(self.speeds[0], self.lives[0], self.speeds[1], self.lives[1])

    def start_of_shop(self) -> published.Start:
        shop = self.shop
        return published.start(shop.material.group, self.thickness, shop.stock.edge, system=self.system)

    def readings(self) -> Table:
        """Readings of both bands, side by side."""
        unit = self.unit("force")
        slow, fast = (run.rows(self.system) for run in self.runs)
        heads = ("band 1 [min]", f"force of band 1 [{unit}]", "band 2 [min]", f"force of band 2 [{unit}]")
        return Table(heads, tuple((*one, *other) for one, other in zip_longest(slow, fast, fillvalue=("", ""))))

    def job(self) -> str:
        """The trial in a sentence."""
        slow, fast = (self.show(V, "speed") for V in self.speeds)
        L, h, mark = (
            self.show(self.thickness, "length"),
            self.show(CHIP_LOAD, "chip_load"),
            self.show(self.mark, "force"),
        )
        return in_lines(
            f"{self.shop.material.name.capitalize()}, {L} thick, chip load {h}. Band 1 ran at {slow}, band 2 at "
            f"{fast}, each new and run to its end. A band is called dull when its cutting force reaches {mark}."
        )

    def edges(self) -> Table:
        """n by edge, with what is known of it."""
        known = "groover, kalpakjian, taylor_1907; from memory, none measured on bands"
        return Table(("edge", "usual n", "source"), tuple((edge, f"{n:g}", known) for edge, n in doubt_questions.EDGES))

    def both_bands(self) -> Any:
        """Cutting force of both bands over time, a picture each, on plain axes; the readings below."""
        import ipywidgets as widgets
        from bandtrial.panels.base import Picture

        from bandtrial_lessons.pictures import force_over_time

        picture = Picture("Cutting force of each band over its cutting time, and the mark for dull", 8.4, 3.4, 2)
        picture.draw(lambda axes: force_over_time(axes, self))
        return widgets.VBox([picture, widgets.HTML(self.readings()._repr_html_())])

    def life_picture(self) -> Any:
        """Both lives on log axes, with the line through them and the published start."""
        from bandtrial_lessons.pictures import life_over_speed, picture_of

        return picture_of(
            self, life_over_speed, "Life of both bands over band speed on log axes: V T^n = C is a straight line"
        )

    def make_predictions(self) -> list[Prediction]:
        faster, kept = self.speeds[1] / self.speeds[0] - 1, self.lives[1] / self.lives[0]
        near_to = min(SHARES_OF_LIFE, key=lambda said: abs(np.log(SHARES_OF_LIFE[said] / kept)))
        return [
            Prediction(
                "1P", f"band 2 ran {100 * faster:.0f} % faster than band 1. What became of its life?",
                tuple(SHARES_OF_LIFE), self.both_bands, near_to,
                "How can a little more speed cost so much of a life?",
            ),
            Prediction(
                "1Q", "both lives are drawn over speed on log axes, with the published start. Where is that start "
                f"for a band that is to last {SHIFT:g} min of cutting?", ("too slow", "about right", "too fast"),
                self.life_picture, self._start_for(SHIFT),
                "What does the published figure not know about this shop?",
            ),
        ]  # fmt: skip

    def _start_for(self, minutes: float) -> str:
        """How the published start stands to the speed of a life [min]."""
        start = published.band_speed(self.shop.material.group, self.thickness, self.shop.stock.edge)
        over = start / float(costs.taylor_speed(minutes, *self.law))
        return "too slow" if over < 0.93 else "too fast" if over > 1.07 else "about right"

    def make_questions(self) -> list[Question]:
        return [*self._reading_lives(), *self._the_law(), *self._using_it(), *doubt_questions.doubt_and_edge(self)]

    def _reading_lives(self) -> list[Question]:
        return [self._read_life(id, i) for i, id in enumerate(("1a", "1b"))]

    def _read_life(self, id: str, i: int) -> Question:
        run, mark = self.runs[i], self.show(self.mark, "force")
        before, after = run.around(self.mark)
        readings = ", ".join(f"{words.shown(t, 4)} min {self.show(f, 'force')}" for t, f in zip(run.minutes, run.force,
                                                                                             strict=True))  # fmt: skip
        return self.ask_for(
            id,
            f"How many minutes of cutting did band {i + 1} last until its force reached {mark}?",
            "time",
            self.lives[i],
            given=f"Readings: {readings}.",
            nudge="The band was dull at no reading, but between two of them.",
            how=f"find the two readings on either side of {mark} and go between them on a straight line.",
            source="straight lines between readings: common practice, no source",
            because="A life is read between readings, and is no better than they are close together.",
            slips=(
                Slip(before, f"That is the last reading before {mark}; the band was not dull yet. Go on from it."),
                Slip(after, f"That is the first reading beyond {mark}; the band was dull before it. Go back a little."),
            ),
            **READ_OFF,
        )

    @property
    def both(self) -> str:
        """The two lives, for whoever is asked with new numbers."""
        return " ".join(f"Band {i + 1}: {self.show(V, 'speed')}, {words.shown(T, 4)} min." for i, (V, T) in
                        enumerate(zip(self.speeds, self.lives, strict=True)))  # fmt: skip

    def _the_law(self) -> list[Question]:
        V1, T1, (n, C) = self.speeds[0], self.lives[0], self.law
        return [
            self.ask_for(
                "1c", "What is n of V T^n = C through your two bands? Give three digits.", "number", float(n),
                given=self.both, digits=3, source="taylor_1907",
                nudge="C is the same for both bands; write the law twice, and divide.",
                how="V1 T1^n = V2 T2^n; take logarithms and solve: n = log(V2 / V1) / log(T1 / T2).",
                because=f"On log axes life falls {1 / n:.1f} decades for each decade of speed: a small n is a steep "
                        "line.",
                slips=(
                    Slip(1 / n, "That is 1/n, how steeply life falls with speed. The law as written has n on the "
                                "life."),
                ),
            ),
            self.ask_for(
                "1d", "And C, the speed of a life of one minute?", "speed", float(C), given=self.both,
                nudge="One band is enough, now that n is known.", source="taylor_1907",
                how="put either band into V T^n, with T in minutes.",
                because="C lies far outside what was tried: it places the line, no band is meant to run there.",
                tolerance=0.03, why_tolerance="n to three digits, raised to a long life",
                slips=(
                    Slip(V1 * T1, "That is V T: the exponent n belongs on the life."),
                    Slip(V1 / T1**n, "You divided by T^n; the law multiplies: C is faster than any speed tried."),
                    Slip(V1**n * T1, "The exponent went to the speed; in V T^n it belongs to the life."),
                ),
            ),
        ]  # fmt: skip

    def _using_it(self) -> list[Question]:
        return [self._faster(), self._wanted_life(), self._mixed_work()]

    def _wanted_life(self) -> Question:
        (V1, V2), (T1, T2), (n, C) = self.speeds, self.lives, self.law
        goal = self.nice(float(np.sqrt(T1 * T2)), "time")
        straight = V1 + (V2 - V1) * (T1 - goal) / (T1 - T2)
        return self.ask_for(
            "1f", f"At what speed does a band last {self.show(goal, 'time')}?", "speed",
            float(costs.taylor_speed(goal, n, C)), given=self.both, source="taylor_1907",
            nudge="Which letter of V T^n = C is the unknown one now?",
            how="V = C / T^n, T in minutes; on log axes it is on the straight line through your two bands.",
            because="It lies between your two speeds, where the law may be trusted most.",
            slips=(
                Slip(straight, "That is a straight line on plain axes, too fast; go straight on log axes."),
                Slip(C / (goal / 60) ** n, "The life went in as hours; C belongs to minutes."),
            ),
        )  # fmt: skip

    def _mixed_work(self) -> Question:
        (V1, V2), (T1, T2) = self.speeds, self.lives
        done = self.nice(0.4 * T1, "time")
        left = float(costs.remaining_life_linear_damage([done], [T1], T2))
        return self.ask_for(
            "1g",
            f"A new band cuts {self.show(done, 'time')} at {self.show(V1, 'speed')}, then goes on at "
            f"{self.show(V2, 'speed')}. How many minutes has it left there, if wear adds up?",
            "time", left, given=self.both, source="linear damage (Nelson's cumulative exposure): an assumption",
            nudge="What share of its life has the band used by then?",
            how="the first part used the share t1 / T1 of the life; what remains of the share lasts (1 - t1 / T1) T2.",
            because="That wear adds up in any order is an assumption, a useful one: an edge chipped when it was new "
                    "may well remember it. Where it holds, a band of mixed work is as good a trial as any.",
            slips=(
                Slip(T2 - done, "Minutes at different speeds don't subtract: they use up different shares of a life."),
                Slip(T1 - done, "That is what is left at the first speed; the band now runs faster."),
                Slip(T2 * done / T1, "That is the life used, told in minutes of the second speed; what is left is "
                                     "the rest."),
            ),
        )  # fmt: skip

    def _faster(self) -> Question:
        n = self.law.n
        more = next(x for x in RISES if abs((1 + x) ** (-1 / n) - 0.5) > 0.06)
        kept, percents = (1 + more) ** (-1 / n), f"{100 * more:g} %"
        return self.ask_for(
            "1e", f"The speed goes up by {percents}. What share of its life does a band keep?", "percent", kept,
            given=f"n = {n:.3f}.", source="taylor_1907",
            nudge="Life changes by a power of the speed; which power?",
            how=f"T is proportional to V^(-1/n): put {1 + more:g} for V.",
            because="Output goes with the speed; life goes with a high power of it.",
            slips=(
                Slip((1 + more) ** -n, "The exponent is 1/n, not n: life answers to speed much more than that."),
                Slip(1 / (1 + more), "That is life in proportion to 1/V, n = 1. Use the n of your own bands."),
                Slip((1 + more) ** (1 / n), "By that life grows with speed; the exponent has a minus."),
                Slip(1 - kept, "That is the share that is lost; the question is what is kept."),
                Slip(1 - more / n, f"That is the slope at the start taken for {percents}; use the power itself."),
            ),
        )  # fmt: skip
