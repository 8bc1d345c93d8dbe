"""Lesson 3: what a cut costs: the least-cost and the greatest-output speed, and why they differ."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons import costs
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.teaching import cutting_life, own_random, teaching_shop

CHIP_LOAD = 8.0
"""[um]"""
DEARER = (0.4, 0.9)
"""Cost of a band over that of an hour of machine and labor, drawn between [-]; so that the two speeds "
  "differ."""


class CutCost(Lesson):
    number = 3
    title = "What a cut costs"
    aims = (
        "work out the life, and from it the speed, of the greatest output and of the lowest cost",
        "say why the two speeds differ, and which prices move them",
        "put a price on a wrong speed",
    )

    @cached_property
    def shop(self):
        """The student's shop."""
        return teaching_shop(self.name, self.thickness)

    @cached_property
    def thickness(self) -> float:
        """Of the work [mm]."""
        return self.nice(float(own_random(self.name, 4).uniform(40.0, 90.0)), "length")

    @cached_property
    def law(self) -> costs.TaylorLaw:
        """Of the shop's bands in cutting minutes, three digits: n [-] and C [m/min]."""
        material = self.shop.config.materials[0]
        V, n = material.law.reference_speed, float(f"{1 / material.law.slope:.3g}")
        C = V * cutting_life(self.shop, V, CHIP_LOAD, self.thickness) ** n
        return costs.TaylorLaw(n, self.nice(C, "speed", 3))

    @cached_property
    def prices(self) -> dict[str, float]:
        """An hour and a band [currency], a change [min]."""
        random = own_random(self.name, 5)
        hour = float(random.integers(40, 96))
        price = float(np.round(hour * random.uniform(*DEARER)))
        return {"hour": hour, "change": float(random.integers(8, 19)), "band": price}

    @cached_property
    def lives(self) -> tuple[float, float]:
        """Of the greatest output and of the lowest cost [min]."""
        p, n = self.prices, self.law.n
        return (
            float(costs.maximum_output_life(n, p["change"])),
            float(costs.minimum_cost_life(n, p["change"], p["band"], p["hour"])),
        )

    @cached_property
    def speeds(self) -> tuple[float, float]:
        """Of the greatest output and of the lowest cost [m/min]."""
        output, cost = (float(costs.taylor_speed(T, *self.law)) for T in self.lives)
        return output, cost

    def rate(self, V):
        """Cutting rate at a speed V [m/min], the lesson's chip load and thickness [cm2/min]."""
        return sawing.cutting_rate(sawing.feed_rate(V, CHIP_LOAD, self.shop.stock.tooth_spacing), self.thickness)

    def cost(self, V, hour: float | None = None, band: float | None = None):
        """Cost per area at a speed V [m/min], prices of the shop unless given [currency/cm2]."""
        p = self.prices
        T = costs.taylor_life(V, *self.law)
        return costs.cost_per_area(self.rate(V), T, hour or p["hour"], p["change"], p["band"] if band is None else band)

    def output(self, V):
        """Area per minute at a speed V [m/min], changes counted [cm2/min]."""
        return costs.output_rate(self.rate(V), costs.taylor_life(V, *self.law), self.prices["change"])

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
            f"An hour of machine and labor costs {p['hour']:g} {self.currency}, a band {p['band']:g} "
            f"{self.currency}, and changing it takes {p['change']:g} min."
        )

    def prices_panel(self):
        """Cost and output over speed, with sliders for the prices."""
        from bandtrial_lessons.price_panel import Prices

        return Prices(self)

    def make_questions(self) -> list[Question]:
        return [*self._lives_and_speeds(), *self._money(), *self._why()]

    def _lives_and_speeds(self) -> list[Question]:
        p, (n, C), (To, Tc), (Vo, Vc) = self.prices, self.law, self.lives, self.speeds
        hour_slip = (1 / n - 1) * (p["change"] + p["band"] / p["hour"])
        return [
            self.ask_for(
                "3a", "How long does a band last at the speed of the greatest output?", "time", To,
                how="T = (1/n - 1) x the minutes of a change.",
                because="The greatest output knows nothing of prices: it weighs cutting time against "
                        "changing time.",
                slips=(
                    Slip(p["change"] / n, "You have 1/n; it is 1/n - 1."),
                    Slip(Tc, "That is the life of the lowest cost; the greatest output leaves the price of "
                             "the band out."),
                    Slip((1 - n) * p["change"], "That is 1 - n; it is 1/n - 1."),
                ),
            ),
            self.ask_for(
                "3b", "And that speed?", "speed", Vo,
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
                how="T = (1/n - 1)(change + band price / cost of a minute), the cost of a minute being that "
                    "of an hour / 60.",
                because="The price of the band counts like extra minutes of changing it.",
                slips=(
                    Slip(To, "That is the life of the greatest output: the price of the band is still to "
                             "come in."),
                    Slip(hour_slip, "The band was divided by the cost of an hour; take a minute: hour / 60."),
                    Slip((1 / n - 1) * 60 * p["band"] / p["hour"], "The minutes of the change are missing "
                                                                   "beside the band."),
                    Slip((p["change"] + 60 * p["band"] / p["hour"]) / n, "You have 1/n; it is 1/n - 1."),
                ),
            ),
            self.ask_for(
                "3d", "And that speed?", "speed", Vc,
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
        p, (Vo, Vc) = self.prices, self.speeds
        V = self.nice(1.15 * Vc, "speed")
        T, Z = float(costs.taylor_life(V, *self.law)), float(self.rate(V))
        minute, cost = p["hour"] / 60, float(self.cost(V))
        times = float(self.cost(Vo) / self.cost(Vc))
        return [
            self.ask_for(
                "3e", f"What does an area cost to saw at {self.show(V, 'speed')}? The cutting rate there is "
                      f"{self.show(Z, 'rate')}.",
                "cost", cost, why_tolerance="the life of three digits",
                how="a minute costs c = hour / 60; an area takes 1/Z minutes; each minute of cutting also "
                    "carries "
                "(c x change + band) / T: cost = (c + (c x change + band) / T) / Z.",
                because="A share of every minute pays for the next band: at this speed not a small one.",
                slips=(
                    Slip(minute / Z, "That is the cutting alone; bands and their changes are still to be "
                                     "paid."),
                    Slip((minute + p["band"] / T) / Z, "The band is in, the minutes to change it are not."),
                    Slip((minute + minute * p["change"] / T) / Z, "The change is in, the band itself is "
                                                                  "not."),
                    Slip(cost * Z, "That is the cost of a minute of cutting; divide it by the area sawn in "
                                   "a minute."),
                ),
            ),
            self.ask_for(
                "3f", "How many times as much does an area cost at the speed of the greatest output as at "
                      "that of the lowest cost?",
                "number", times, tolerance=0.01, why_tolerance="a ratio of two costs of three digits",
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
        V2 = self.show(
            float(
                costs.minimum_cost_speed(*self.law, self.prices["change"], self.prices["band"], 2 * self.prices["hour"])
            ),
            "speed",
        )
        return [
            self.ask_for(
                "3g", "Why is the speed of the lowest cost the slower one?", "letter", "c",
                choices={
                    "a": "A slower band cuts more in a minute.",
                    "b": "Changing a band takes longer at high speed.",
                    "c": "It has to pay for bands, and bands last longer when slow.",
                },
                how="look at what stands in 3c and not in 3a.",
                because="Set the price of the band to 0 in the panel above: the two speeds meet.",
                slips=(
                    Slip("a", "At a constant chip load it cuts less in a minute: the rate goes with the "
                              "speed."),
                    Slip("b", "A change takes the same minutes at any speed; it only comes more often."),
                ),
            ),
            self.ask_for(
                "3h", "The hour becomes twice as dear. Where does the speed of the lowest cost "
                      "go?", "letter", "a",
                choices={
                    "a": "Faster, towards the greatest output.",
                    "b": "It stays: all costs scale.",
                    "c": "Slower, to save on bands.",
                },
                how="put twice the hour into 3c, or move its slider in the panel above.",
                because=f"It becomes {V2}: when time is dear, bands are spent to save it.",
                slips=(
                    Slip("b", "Only time became dearer, not bands; the balance between the two moves."),
                    Slip("c", "Bands became cheap beside time; what is saved by going slower is now the "
                              "lesser thing."),
                ),
            ),
        ]  # fmt: skip
