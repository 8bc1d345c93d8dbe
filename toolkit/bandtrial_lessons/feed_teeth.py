"""Lesson 2: feed, chip load, teeth in the cut and pitch: rubbing, chipped edges, packed gullets."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons.feed_run import HEAVY, FeedRun, band_at_each_feed
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.teaching import own_random, teaching_shop

PITCHES = (3, 4, 6, 8, 10, 14, 18, 24)
"""Offered in the question on pitch [tpi]; common in band stock, no source."""
LEAST_TEETH = 3.0
"""Teeth in the cut; the stricter of two published rules (published, teeth)."""


class FeedAndTeeth(Lesson):
    number = 2
    title = "Feed, chip load, teeth in the cut"
    aims = (
        "work out teeth in the cut, chip load and feed rate, each from the others",
        "see a band rubbed away by a light feed and chipped by a heavy one",
        "choose a pitch for a thin section and a feed for a thick one",
    )

    @cached_property
    def shop(self):
        """The student's shop."""
        return teaching_shop(self.name, self.thickness)

    @cached_property
    def drawn(self) -> dict[str, float]:
        """The numbers of this student's questions, inside units."""
        random = own_random(self.name, 2)
        wall = self.nice(float(random.uniform(3.3, 7.0)), "length")
        while abs(np.array(PITCHES) * wall / 25.4 / LEAST_TEETH - 1.0).min() < 0.04:  # too near to the rule
            wall = self.nice(float(random.uniform(3.3, 7.0)), "length")
        V = self.nice(published.band_speed(self._group, 20.0), "speed")
        given = float(sawing.feed_rate(V, random.uniform(11.0, 16.0), self._spacing))
        return {
            "wall": wall,
            "speed": V,
            "plate": self.nice(float(random.uniform(19.6, 24.4)), "length"),
            "feed": self.nice(given, "feed_rate"),
            "goal": self.nice(float(random.uniform(6.0, 9.0)), "chip_load"),
            "block": self.nice(float(random.uniform(170.0, 290.0)), "length"),
        }

    @cached_property
    def thickness(self) -> float:
        """Of the work of the trial [mm]."""
        return self.nice(float(own_random(self.name, 3).uniform(35.0, 55.0)), "length")

    @property
    def _group(self) -> str:
        return teaching_shop(self.name).material.group

    @property
    def _spacing(self) -> float:
        return teaching_shop(self.name).stock.tooth_spacing

    @cached_property
    def gullet(self) -> float:
        """Gullet area of the band stock, in three figures of the student's unit [mm2]."""
        return self.nice(self.shop.mechanics().gullet_area, "gullet_area", 3)

    @cached_property
    def run(self) -> FeedRun:
        """One new band at each chip load, run to its end."""
        return band_at_each_feed(self.shop, self.drawn["speed"], self.thickness, self.system)

    def start_of_shop(self) -> published.Start:
        return published.start(self.shop.material.group, self.thickness, self.shop.stock.edge, system=self.system)

    def job(self) -> str:
        """The trial in a sentence."""
        V, L = self.show(self.drawn["speed"], "speed"), self.show(self.thickness, "length")
        return in_lines(
            f"{self.shop.material.name.capitalize()}, {L} thick, at {V} with a {self.shop.stock.pitch_tpi:g} tpi band: "
            "seven new bands, each at a feed of its own, each run to its end."
        )

    def bands(self):
        """What the seven bands did."""
        return self.run.table(self.system)

    def feed_picture(self):
        """Area of a band over chip load."""
        from bandtrial_lessons.pictures import area_over_chip_load, picture_of

        return picture_of(self, area_over_chip_load, "Area a band sawed and minutes it cut, over its chip load")

    def make_questions(self) -> list[Question]:
        return [*self._one_tooth(), *self._seven_bands(), self._gullet(), self._pitch()]

    def _one_tooth(self) -> list[Question]:
        d, p, tpi = self.drawn, self._spacing, self.shop.stock.pitch_tpi
        V, F, L, h = d["speed"], d["feed"], d["plate"], d["goal"]
        teeth, load, rate = sawing.teeth_in_cut(L, p), sawing.chip_load(V, F, p), sawing.feed_rate(V, h, p)
        return [
            self.ask_for(
                "2a", f"How many teeth of a {tpi:g} tpi band are in the cut in a plate "
                      f"{self.show(L, 'length')} thick?",
                "number", teeth,
                how="the tooth spacing p is 1 in / tpi = 25.4 mm / tpi; the teeth in the cut are L / p.",
                because="Each of them takes its share of the feed force; too few and each takes too much.",
                slips=(
                    Slip(p / L, "That is p / L: the part of the spacing that the work covers. Turn it over."),
                    Slip(L * tpi, "Teeth per inch met millimetres: bring the thickness to inches first."),
                    Slip(L / tpi, "The pitch counts teeth, so more of it is more teeth: multiply, after "
                                  "bringing mm to inches."),
                    Slip(L / 25.4 / tpi, "The pitch counts teeth in an inch, so more of it is more teeth: "
                                         "multiply."),
                ),
            ),
            self.ask_for(
                "2b", f"The band runs at {self.show(V, 'speed')} and the work feeds at "
                      f"{self.show(F, 'feed_rate')}. "
                "What chip load does each tooth take?", "chip_load", load,
                how="while one tooth follows the other, p / V, the work moves on by h = F p / V.",
                because="A few thousandths of a millimetre: about a tenth of a hair, and comparable to the "
                        "edge's own rounding.",
                slips=(
                    Slip(F / V, "That is F / V; it still has to be multiplied by the tooth spacing p."),
                    Slip(F * tpi / V, "You used the pitch for the spacing: p = 25.4 mm / tpi."),
                    Slip(load * teeth, "That is shared once too little: each tooth removes its own layer, F "
                                       "p / V."),
                    Slip(load / teeth, "The teeth in the cut don't share one layer: each takes its own, at "
                                       "its own place."),
                ),
            ),
            self.ask_for(
                "2c", f"What feed rate gives a chip load of {self.show(h, 'chip_load')} at that "
                      f"speed?", "feed_rate", rate,
                how="turn h = F p / V round: F = h V / p.",
                because="A chip load is kept by raising feed and speed together; the machine knows only the "
                        "feed.",
                slips=(
                    Slip(h * V, "That is h V; it has still to be divided by the tooth spacing."),
                    Slip(h * V / tpi, "You used the pitch for the spacing: p = 25.4 mm / tpi."),
                    Slip(h * V / p * teeth, "Each tooth takes its own layer: the number in the cut does not "
                                            "come in."),
                    Slip(h * p / V, "p and V changed places: more speed at the same chip load needs more "
                                    "feed."),
                ),
            ),
        ]  # fmt: skip

    def _seven_bands(self) -> list[Question]:
        run = self.run
        best, longest = int(run.area.argmax()), int(run.minutes.argmax())
        (i, j), h = HEAVY, run.chip_load
        (Ti, Tj), (Ai, Aj) = run.minutes[list(HEAVY)], run.area[list(HEAVY)]
        q = float(np.log(Ti / Tj) / np.log(h[j] / h[i]))
        return [
            self.ask_for(
                "2d", "Which chip load gave the most area for a band?", "chip_load", float(h[best]),
                tolerance=0.01, why_tolerance="one of the seven",
                how="compare the areas, not the minutes: what is paid for is area.",
                because="It is neither the lightest nor the heaviest: rubbing eats bands on one side, "
                        "chipped edges on the other.",
                slips=(
                    Slip(float(h[longest]), "That band cut for the longest time, but little in each minute. "
                                            "Compare areas."),
                    Slip(float(h[0]), "The lightest feed is not the gentlest: the edges rub instead of "
                                      "cutting."),
                    Slip(float(h[-1]), "The heaviest feed saws fastest, and its edges chip: the band is "
                                       "soon gone."),
                ),
            ),
            self._light_feed(),
            self.ask_for(
                "2f", f"From the bands at {self.show(h[i], 'chip_load')} and "
                      f"{self.show(h[j], 'chip_load')}: if life in minutes "
                "falls as chip load to the power q, what is q?", "number", q, tolerance=0.03,
                why_tolerance="two lives of three digits",
                how="T1 h1^q = T2 h2^q; take logarithms: q = log(T1 / T2) / log(h2 / h1).",
                because="It holds between these two only: on the light side of the best feed life falls the "
                        "other way.",
                slips=(
                    Slip(1 / q, "That is 1/q: the logarithm of the lives goes on top."),
                    Slip(float(np.log(Ai / Aj) / np.log(h[j] / h[i])), "That comes of the areas; the "
                                                                      "question is about the life in "
                                                                      "minutes."),
                    Slip(float((Ti / Tj) / (h[j] / h[i])), "That is a ratio of ratios; q is a ratio of "
                                                           "their logarithms."),
                ),
            ),
        ]  # fmt: skip

    def _light_feed(self) -> Question:
        return self.ask_for(
            "2e", "Why did the band with the lightest feed saw so little before it was worn "
                  "out?", "letter", "a",
            choices={
                "a": "Its edges, rounded by 5 to 15 µm, rubbed and slid more than they cut.",
                "b": "Its gullets packed with chips.",
                "c": "Its teeth took too much each, and stripped.",
            },
            how="compare the chip load with the rounding of a cutting edge: what does an edge do that is "
                "blunter than its chip?",
            because="Below its own rounding an edge ploughs and rubs: all of the wear, little of the chip "
            "(edge rounding of 5 to 15 µm: sarwar_2010).",
            slips=(
                Slip("b", "Gullets pack under a heavy feed in thick work; here the chips were the thinnest "
                          "of all."),
                Slip("c", "Teeth strip when each takes too much; here each took the least of all."),
            ),
        )  # fmt: skip

    def _gullet(self) -> Question:
        L, A = self.drawn["block"], self.gullet
        full, thinner = (float(sawing.chip_load_at_full_gullet(x, A)) for x in (L, self.thickness))
        return self.ask_for(
            "2g", f"A block {self.show(L, 'length')} thick, gullet area {self.show(A, 'gullet_area')}; a "
                  f"loose chip needs 3 times "
            "the room of the metal it was. What is the greatest chip load the gullet "
            "holds?", "chip_load", full,
            how="one tooth peels h L of the side area; loose, that is 3 h L, and it has to fit into the "
                "area A.",
            because="In thick work the gullet, not the edge, limits the feed; a coarser pitch has the "
                    "greater gullet.",
            slips=(
                Slip(3 * full, "That leaves no room between the curls: loose chips need 3 times their "
                               "metal."),
                Slip(9 * full, "The swelling went to the wrong side: chips need more room, not less."),
                Slip(thinner, "That is for the work of the trial; the block is thicker."),
                Slip(full * L / self.shop.stock.tooth_spacing, "One gullet collects along the whole of L, "
                                                               "not along one spacing."),
            ),
        )  # fmt: skip

    def _pitch(self) -> Question:
        wall = self.drawn["wall"]
        teeth = np.array(PITCHES) * wall / 25.4
        at = int(np.flatnonzero(teeth >= LEAST_TEETH)[0])
        slips = tuple(Slip(float(tpi), too_few(n) if n < LEAST_TEETH else too_many(n))
                      for tpi, n in zip(PITCHES, teeth, strict=True) if tpi != PITCHES[at])  # fmt: skip
        return self.ask_for(
            "2h", f"A tube has a wall of {self.show(wall, 'length')}. Which is the coarsest pitch out of "
            f"{', '.join(map(str, PITCHES))} tpi with at least 3 teeth in the wall?", "pitch", float(PITCHES[at]),
            tolerance=0.01, why_tolerance="one of the list",
            how="teeth in the cut = wall x pitch, with the wall in inches (mm / 25.4); go up the list until "
                "it is 3.",
            because="One source asks for 3 teeth, others for 2: where they disagree, the tougher rule costs "
                    "little.",
            slips=slips,
        )  # fmt: skip


def too_few(teeth: float) -> str:
    """Hint on too coarse a pitch."""
    return f"That leaves {teeth:.1f} teeth in the wall, under 3: a tooth can drop in front of the edge and strip."


def too_many(teeth: float) -> str:
    """Hint on too fine a pitch."""
    return (
        f"That has {teeth:.1f} teeth in the wall, more than it needs, and the smaller gullets for it; "
        "is there a coarser one that will do?"
    )
