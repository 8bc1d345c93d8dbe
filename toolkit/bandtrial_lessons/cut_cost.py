"""Lesson 3: what a cut costs: the least-cost and the greatest-output speed, and why they differ."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from bandtrial import published, sawing
from bandtrial.sawing import Numbers

from bandtrial_lessons import costs, motor_questions
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.prediction import Prediction
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.shop import Shop
from bandtrial_lessons.teaching import Prices, cutting_life, own_random, prices_of, teaching_shop

CHIP_LOAD = 8.0
"""[um]"""


class CutCost(Lesson):
    number = 3
    title = "What a cut costs"
    aims = (
        "work out the life, and from it the speed, of the greatest output and of the lowest cost",
        "say why the two speeds differ, and which prices move them",
        "put a price on a wrong speed",
    )

    @cached_property
    def shop(self) -> Shop:
        """The student's shop."""
        return teaching_shop(self.drawn, self.thickness)

    @cached_property
    def thickness(self) -> float:
        """Of the work [mm]."""
        return self.nice(float(own_random(self.drawn, 4).uniform(25.0, 50.0)), "length")

    @cached_property
    def law(self) -> costs.TaylorLaw:
        """Of the shop's bands in cutting minutes, three digits: n [-] and C [m/min]."""
        material = self.shop.config.materials[0]
        V, n = material.law.reference_speed, float(f"{1 / material.law.slope:.3g}")
        C = V * cutting_life(self.shop, V, CHIP_LOAD, self.thickness) ** n
        return costs.TaylorLaw(n, self.nice(C, "speed", 3))

    @property
    def prices(self) -> Prices:
        """An hour and a band [currency], a change [min]."""
        return prices_of(self.drawn)

    @cached_property
    def lives(self) -> tuple[float, float]:
        """Of the greatest output and of the lowest cost [min]."""
        p, n = self.prices, self.law.n
        return (
            float(costs.maximum_output_life(n, p.change)),
            float(costs.minimum_cost_life(n, p.change, p.band, p.hour)),
        )

    @cached_property
    def speeds(self) -> tuple[float, float]:
        """Of the greatest output and of the lowest cost [m/min]."""
        output, cost = (float(costs.taylor_speed(T, *self.law)) for T in self.lives)
        return output, cost

    def rate(self, V: Numbers) -> Numbers:
        """Cutting rate at a speed V [m/min], the lesson's chip load and thickness [cm2/min]."""
        return sawing.cutting_rate(sawing.feed_rate(V, CHIP_LOAD, self.shop.stock.tooth_spacing), self.thickness)

    def cost(self, V: Numbers, hour: float | None = None, band: float | None = None) -> Numbers:
        """Cost per area at a speed V [m/min], prices of the shop unless given [currency/cm2]."""
        p = self.prices
        T = costs.taylor_life(V, *self.law)
        return costs.cost_per_area(self.rate(V), T, hour or p.hour, p.change, p.band if band is None else band)

    def output(self, V: Numbers) -> Numbers:
        """Area per minute at a speed V [m/min], changes counted [cm2/min]."""
        return costs.output_rate(self.rate(V), costs.taylor_life(V, *self.law), self.prices.change)

    def start_of_shop(self) -> published.Start:
        return published.start(self.shop.material.group, self.thickness, self.shop.stock.edge, system=self.system)

    def job(self) -> str:
        """What is known, in a sentence."""
        p, (n, C) = self.prices, self.law
        return in_lines(
            f"{self.shop.material.name.capitalize()}, {self.show(self.thickness, 'length')} thick, "
            f"chip load {self.show(CHIP_LOAD, 'chip_load')} with a {self.shop.stock.pitch_tpi:g} tpi band. "
            f"Bands last by V T^n = C with n = {n:g} and C = {self.show(C, 'speed')}, T in minutes of "
            f"cutting. "
            f"An hour of machine and labor costs {p.hour:g} {self.currency}, a band {p.band:g} "
            f"{self.currency}, and changing it takes {p.change:g} min."
        )

    def prices_panel(self) -> Any:
        """Cost and output over speed, with sliders for the prices."""
        from bandtrial_lessons.price_panel import Prices

        return Prices(self)

    @cached_property
    def cutting_force(self) -> float:
        """On the band, half worn, at the lesson's chip load [N]; the same at every speed."""
        machine, V = self.shop.config.machines[0], self.speeds[0]
        power = float(self.shop.mechanics().motor_power(V, CHIP_LOAD, self.thickness, 0.5))
        return self.nice(60.0 * power * machine.sheet.drive_efficiency / V, "force", 3)

    @cached_property
    def motor(self) -> float:
        """Of this lesson's saw [W]: too weak or strong enough for the greatest output, from the student's draw."""
        needed = self.power(self.speeds[0])
        share = float(own_random(self.drawn, 9).choice([0.7, 0.8, 1.4, 1.8]))
        return float(np.round(needed * share, -2))

    def power(self, V: float) -> float:
        """Motor power at a speed V [m/min]: F V / 60 over the drive's efficiency [W]."""
        return self.cutting_force * V / 60.0 / float(self.shop.machine.drive_efficiency)

    def make_predictions(self) -> list[Prediction]:
        return [
            Prediction(
                "3P", "the cost of an area and the output are drawn over the speed. Where is the lowest cost, beside "
                "the greatest output?", ("at a slower speed", "at the same speed", "at a faster speed"),
                self.prices_panel, "at a slower speed",
                "Move one price at a time. Which of them moves which of the two speeds, and why?",
            ),
        ]  # fmt: skip

    def make_questions(self) -> list[Question]:
        return [*self._lives_and_speeds(), *self._money(), *self._why(), *motor_questions.checks(self)]

    @property
    def _given(self) -> str:
        """What the job says, for whoever is asked with new numbers."""
        return " ".join(self.job().split())

    def _lives_and_speeds(self) -> list[Question]:
        p, (n, C), (To, Tc), (Vo, Vc) = self.prices, self.law, self.lives, self.speeds
        given = {"given": self._given, "source": "groover"}
        hour_slip = (1 / n - 1) * (p.change + p.band / p.hour)
        return [
            self.ask_for(
                "3a", "How long does a band last at the speed of the greatest output?", "time", To,
                nudge="Which minutes are lost whenever a band is done?", **given,
                how="T = (1/n - 1) x the minutes of a change.",
                because="The greatest output knows nothing of prices: it weighs cutting time against "
                        "changing time.",
                slips=(
                    Slip(p.change / n, "You have 1/n; it is 1/n - 1."),
                    Slip(Tc, "That is the life of the lowest cost; the greatest output leaves the price of "
                             "the band out."),
                    Slip((1 - n) * p.change, "That is 1 - n; it is 1/n - 1."),
                ),
            ),
            self.ask_for(
                "3b", "And that speed?", "speed", Vo,
                nudge="The law turns a life into a speed.", **given,
                how="V = C / T^n with the life of 3a in minutes.",
                because="At a constant chip load the cutting rate goes with the speed, so this speed saws "
                        "the most in a shift.",
                slips=(
                    Slip(Vc, "That is the speed of the lowest cost: put in the life of 3a."),
                    Slip(C * To**n, "You multiplied by T^n; a longer life wants a slower band: divide."),
                    Slip(C / (To / 60) ** n, "The life went in as hours; C belongs to minutes."),
                ),
            ),
            self.ask_for(
                "3c", "How long does a band last at the speed of the lowest cost?", "time", Tc,
                nudge="Beside its minutes, what else does a change of band cost, in minutes of the machine?", **given,
                how="T = (1/n - 1)(change + band price / cost of a minute), the cost of a minute being that "
                    "of an hour / 60.",
                because="The price of the band counts like extra minutes of changing it.",
                slips=(
                    Slip(To, "That is the life of the greatest output: the price of the band is still to "
                             "come in."),
                    Slip(hour_slip, "The band was divided by the cost of an hour; take a minute: hour / 60."),
                    Slip((1 / n - 1) * 60 * p.band / p.hour, "The minutes of the change are missing "
                                                                   "beside the band."),
                    Slip((p.change + 60 * p.band / p.hour) / n, "You have 1/n; it is 1/n - 1."),
                ),
            ),
            self.ask_for(
                "3d", "And that speed?", "speed", Vc,
                nudge="As in 3b, with another life.", **given,
                how="V = C / T^n with the life of 3c in minutes.",
                because="It is slower than the greatest output, always: a band that costs nothing is the "
                        "only exception.",
                slips=(
                    Slip(Vo, "That is the speed of the greatest output: put in the life of 3c."),
                    Slip(C * Tc**n, "You multiplied by T^n; a longer life wants a slower band: divide."),
                ),
            ),
        ]  # fmt: skip

    def _money(self) -> list[Question]:
        p, (Vo, Vc), given = self.prices, self.speeds, {"given": self._given, "source": "groover"}
        V = self.nice(1.15 * Vc, "speed")
        T, Z = float(costs.taylor_life(V, *self.law)), float(self.rate(V))
        minute, cost = p.hour / 60, float(self.cost(V))
        times = float(self.cost(Vo) / self.cost(Vc))
        return [
            self.ask_for(
                "3e", f"What does an area cost to saw at {self.show(V, 'speed')}? The cutting rate there is "
                      f"{self.show(Z, 'rate')}.",
                "cost", cost, why_tolerance="the life of three digits",
                nudge="What is paid in each minute of cutting, and what once for each band?", **given,
                how="a minute costs c = hour / 60; an area takes 1/Z minutes; each minute of cutting also "
                    "carries "
                "(c x change + band) / T: cost = (c + (c x change + band) / T) / Z.",
                because="A share of every minute pays for the next band: at this speed not a small one.",
                slips=(
                    Slip(minute / Z, "That is the cutting alone; bands and their changes are still to be "
                                     "paid."),
                    Slip((minute + p.band / T) / Z, "The band is in, the minutes to change it are not."),
                    Slip((minute + minute * p.change / T) / Z, "The change is in, the band itself is "
                                                                  "not."),
                    Slip(cost * Z, "That is the cost of a minute of cutting; divide it by the area sawn in "
                                   "a minute."),
                ),
            ),
            self.ask_for(
                "3f", "How many times as much does an area cost at the speed of the greatest output as at "
                      "that of the lowest cost?",
                "number", times, tolerance=0.01, why_tolerance="a ratio of two costs of three digits",
                nudge="The cost of an area twice, at two speeds.", **given,
                how="work out the cost per area at the speeds of 3b and 3d as in 3e, and divide.",
                because="Near the best speed cost is flat; beyond it, it climbs: that is what a late job is "
                        "charged.",
                slips=(
                    Slip(float(self.output(Vo) / self.output(Vc)), "That is how many times the output; the "
                                                                   "question is about cost."),
                    Slip(times - 1, "That is how much more; how many times is 1 and that."),
                    Slip(1 / times, "The two costs changed places: the greatest output is the dearer one."),
                ),
            ),
        ]  # fmt: skip

    def _why(self) -> list[Question]:
        p = self.prices
        V2 = self.show(float(costs.minimum_cost_speed(*self.law, p.change, p.band, 2 * p.hour)), "speed")
        return [
            self.choose(
                "3g", "Why is the speed of the lowest cost the slower one?",
                right="Bands are paid for, and last longer when slow",
                wrong={
                    "A slower band saws more area in every minute": "At a constant chip load it saws less in a minute: "
                        "the rate goes with the speed.",
                    "A change of band takes longer when the saw runs fast": "A change takes the same minutes at any "
                        "speed; it only comes more often.",
                    "The motor draws less when the band runs slowly": "True, but power is not among these costs.",
                },
                given=self._given, source="groover", how="look at what stands in 3c and not in 3a.",
                because="Set the price of the band to 0 in the panel above: the two speeds meet.",
            ),
            self.choose(
                "3h", "The hour becomes twice as dear. Where does the speed of the lowest cost go?",
                right="Faster, towards the greatest output",
                wrong={
                    "Nowhere: every cost on the bill just scales": "Only time became dearer, not bands; the balance "
                        "between the two moves.",
                    "Slower, so that fewer bands are used up": "Bands became cheap beside time; what is saved by going "
                        "slower is now the lesser thing.",
                },
                given=self._given, source="groover",
                how="put twice the hour into 3c, or move its slider in the panel above.",
                because=f"It becomes {V2}: when time is dear, bands are spent to save it.",
            ),
        ]  # fmt: skip
