"""Lesson 5: setting up a contour machine: width for a radius, form and set, range, tension, guides, file bands."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons.bench import BenchSaw, BenchSetting, BenchWork
from bandtrial_lessons.bench.saw import smallest_radius, thickness_of
from bandtrial_lessons.bench.setting import GEARS, WIDTHS
from bandtrial_lessons.bench_task import BenchTask
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.prediction import Prediction
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.shop import Shop
from bandtrial_lessons.shown_table import Table
from bandtrial_lessons.teaching import own_random, teaching_shop

SOURCE = "contour chart: common practice, from memory"
STRESS = 170.0
"""Tension stress asked for [N/mm2]; our saw's own setting, no source."""
PITCHES = (3, 4, 6, 8, 10, 14, 18)
WANTED_TEETH = 6.0
"""Least teeth of the best range in solids (common practice, memory)."""


class SetUp(Lesson):
    number = 5
    title = "Setting up a contour machine"
    aims = (
        "choose width, pitch, form and set of a band for a curve in a plate",
        "work out band length, tension and the range of speeds, and say what the guides do",
        "set up a saw so that it cuts without a sign of trouble, at a price that can be stood up for",
    )

    @cached_property
    def numbers(self) -> dict[str, float]:
        """Of this student's job, inside units."""
        random = own_random(self.drawn, 50)
        width = WIDTHS[int(random.integers(1, 5))]
        radius, wider = smallest_radius(width), smallest_radius(WIDTHS[WIDTHS.index(width) + 1])
        thickness = self.nice(float(random.uniform(14.0, 32.0)), "length")
        while abs(np.array(PITCHES) * thickness / 25.4 / WANTED_TEETH - 1.0).min() < 0.04:
            thickness = self.nice(float(random.uniform(14.0, 32.0)), "length")
        wheel = self.nice(float(random.uniform(400.0, 750.0)), "length", 3)
        return {
            "width": width,
            "radius": self.nice(radius * (wider / radius) ** float(random.uniform(0.25, 0.7)), "length"),
            "thickness": thickness,
            "wheel": wheel,
            "centres": self.nice(float(wheel * random.uniform(1.5, 2.1)), "length", 3),
            "high": self.nice(float(random.uniform(35.0, 60.0)), "length"),
        }

    @cached_property
    def shop(self) -> Shop:
        """The student's shop."""
        return teaching_shop(self.drawn, self.numbers["thickness"])

    @cached_property
    def saw(self) -> BenchSaw:
        """The bench with this job's plate on it."""
        n = self.numbers
        return BenchSaw(self.drawn, BenchWork(n["thickness"], n["radius"]))

    @cached_property
    def first(self) -> BenchSetting:
        """How the last shift left the saw: wrong in most of what can be wrong."""
        return BenchSetting(pitch=2.0, form="hook", set="straight", width=25.4, edge="carbon", gear="low", speed=50.0,
                            feed="weight", weight=600.0, guide=60.0, tension=100.0, broken_in=False)  # fmt: skip

    def start_of_shop(self) -> published.Start:
        return published.start(self.shop.material.group, self.numbers["thickness"], "bimetal", system=self.system)

    def job(self) -> str:
        """The work in a sentence."""
        n = self.numbers
        return in_lines(
            f"{self.shop.material.name.capitalize()}, {self.show(n['thickness'], 'length')} thick. A closed "
            "shape is sawn "
            f"out of the inside of it; its tightest curve has a radius of {self.show(n['radius'], 'length')}."
        )

    def chart(self) -> Table:
        """Width of a band and the smallest radius it follows."""
        known = SOURCE.partition(": ")[2]
        rows = tuple((self.show(w, "length"), self.show(smallest_radius(w), "length"), known) for w in WIDTHS)
        return Table(("band width", "smallest radius", "source"), rows)

    def bench(self) -> Any:
        """The saw as the last shift left it; set it up."""
        from bandtrial_lessons.bench.panel import Bench

        return Bench(self, self.saw, self.first, task="5j")

    def make_predictions(self) -> list[Prediction]:
        return [
            Prediction(
                "5P", "the chart of widths opens next. A band of half the width: what radius does it follow?",
                ("the same", "about half", "a quarter or less"), self.chart, "a quarter or less",
                "What of a band, beside its width, has to get round the curve?",
            ),
        ]  # fmt: skip

    def make_questions(self) -> list[Question]:
        return [
            self._width(), self._hole(), self._pitch(), self._form(), self._set(), self._length(), self._tension(),
            self._guide(), self._range(), BenchTask.of(self, "5j"), self._file(),
        ]  # fmt: skip

    def _width(self) -> Question:
        n = self.numbers
        hints = {w: f"It follows {self.show(smallest_radius(w), 'length')} and no less: it binds in this curve."
                 if w > n["width"] else "It gets round, but a wider one does too, and keeps "
                                        "straighter." for w in WIDTHS}  # fmt: skip
        return self.ask_for(
            "5a", "Which is the widest band of the chart that follows the tightest curve?", "length", n["width"],
            given=f"A tightest radius of {self.show(n['radius'], 'length')}.", tolerance=0.02,
            why_tolerance="one of the chart, as it is shown", source=SOURCE,
            nudge="Which column has the radius of the drawing in it?",
            how="go down the chart until the smallest radius is more than the curve's; the one before is the widest.",
            because="As wide as the curve lets it be: a wide band is stiffer, stays on the line and takes more feed.",
            slips=tuple(Slip(w, hint) for w, hint in hints.items() if w != n["width"]),
        )  # fmt: skip

    def _hole(self) -> Question:
        return self.choose(
            "5b", "The shape is sawn out of the inside. How does the band get there?",
            right="Drill a hole, cut the band, pass it through, weld, anneal, grind",
            wrong={
                "Saw in from the edge and weld the slot up when it is done": "That spoils the outer part and its "
                    "strength; the band can be cut and welded instead.",
                "Drill a hole, and start the cut with the band bent into it": "A band can't be bent into a hole; "
                                                                              "it has "
                    "to run through it on both sides of the work.",
                "Plunge in from above, as deep as the teeth let it go": "A band is a loop: it has no end to "
                                                                        "plunge with.",
            },
            how="a band is a loop, and the shape has no way in from outside.",
            because="The hole is wider than the band, in the waste, its side on the line. A weld is brittle "
                    "until it is "
                    "annealed, and its flash is ground off, or it jams in the guides.",
            source="common practice, no source",
        )  # fmt: skip

    def _pitch(self) -> Question:
        L = self.numbers["thickness"]
        teeth = np.array(PITCHES) * L / 25.4
        at = int(np.flatnonzero(teeth >= WANTED_TEETH)[0])
        hints = {float(z): f"That has {n:.1f} teeth in the cut, under 6." if n < WANTED_TEETH else
                 f"That has {n:.1f} teeth in the cut; a coarser one will "
                 "do." for z, n in zip(PITCHES, teeth, strict=True)}  # fmt: skip
        return self.ask_for(
            "5c", f"Which is the coarsest of {', '.join(map(str, PITCHES))} tpi with at least 6 teeth in the plate?",
            "pitch", float(PITCHES[at]), given=f"A plate {self.show(L, 'length')} thick.", tolerance=0.01,
            why_tolerance="one of the list", source="6 to 12 teeth in solids: common practice, from memory",
            nudge="How many teeth of each are in the thickness?",
            how="teeth = thickness x pitch, with the thickness in inches (mm / 25.4).",
            because="Enough teeth that none takes too much, few enough that each gets a chip.",
            slips=tuple(Slip(z, hint) for z, hint in hints.items() if z != PITCHES[at]),
        )  # fmt: skip

    def _form(self) -> Question:
        soft = bool(own_random(self.drawn, 51).random() < 0.5)
        metal = "aluminum plate" if soft else f"this {self.shop.material.name}"
        regular, skip = "Regular: even teeth, a full gullet to each", "Skip or hook: wide gullets, teeth that dig in"
        return self.choose(
            "5d", f"Which tooth form for {metal}?", right=skip if soft else regular,
            wrong={
                regular if soft else skip: "Look at which metals the source names for each form.",
                "Any of them: the form only changes the noise it makes": "The form is the room for the chip and "
                                                                         "the rake of "
                    "the edge.",
            },
            how="regular for ferrous metals, hard bronze and brass; skip or hook for softer, non-ferrous ones.",
            because="Soft metal makes much chip and lets a tooth dig in; iron and steel do not.",
            source="textbook_gw, read",
        )  # fmt: skip

    def _set(self) -> Question:
        tube = bool(own_random(self.drawn, 52).random() < 0.5)
        work = "a bundle of thin tubes" if tube else "this solid plate"
        raker, wave = "Raker: left, right, straight, and again", "Wave: groups of teeth left, groups right"
        return self.choose(
            "5e", f"Which set for {work}?", right=wave if tube else raker,
            wrong={
                raker if tube else wave: "One of the two is for solids, the other for thin and changing thickness.",
                "Straight: no set, for the smoothest cut there is": "Without set the sides of the band rub in "
                                                                    "the cut; it is little "
                    "used on metal.",
            },
            how="look up set in the books above: solid sections, or tube and thin work.",
            because="Set makes the cut wider than the band, so that it runs free and can turn.",
            source="navy_14119, navy_14345, read",
        )  # fmt: skip

    def _length(self) -> Question:
        D, c = self.numbers["wheel"], self.numbers["centres"]
        B = float(sawing.equal_wheels_band_length(D, c))
        return self.ask_for(
            "5f", f"Two equal wheels of {self.show(D, 'length')}, centres {self.show(c, 'length')} apart. How "
                  "long is the "
                  "band?", "length", B, tolerance=0.006, why_tolerance="three digits", source="navy_14345, read",
            nudge="Draw it: two straight parts, and how much of each wheel?",
            how="two straight parts of the centre distance, and half of each wheel's rim: 2 c + pi D.",
            because="Cut to that with the tensioning wheel near the low end of its travel, and the weld's loss added.",
            slips=(
                Slip(2 * c + 2 * np.pi * D, "That takes both wheels whole; the band goes round half of each."),
                Slip(2 * c + np.pi * D / 2, "That is half of one wheel; there are two."),
                Slip(c + np.pi * D, "There are two straight parts, up and down."),
                Slip(2 * c + D * 2, "Round the wheels the band follows the rim: pi D, not 2 D."),
            ),
        )  # fmt: skip

    def _tension(self) -> Question:
        w = self.numbers["width"]
        t, per = thickness_of(w), self.show(STRESS, "number")
        F = 2.0 * STRESS * w * t
        return self.ask_for(
            "5g", f"The band is {self.show(w, 'length')} wide and {self.show(t, 'length')} thick, and is to be "
                  f"under {per} "
                  "N/mm² (1 N/mm² = 145 psi). With what force does the screw have to pull the upper wheel "
                  "up?", "force", F,
            source=f"arithmetic; {per} N/mm² is our saw's own setting", nudge="How many strands of band hang on "
                                                                              "the wheel?",
            how="stress x width x thickness is the pull in one strand; the wheel carries two.",
            because="Too little, and it slips and wanders; too much, and it cracks at the gullets.",
            slips=(
                Slip(F / 2, "That is the pull in one strand; two strands hang on the wheel."),
                Slip(F / 2 / t, "The thickness is missing: stress is force over width times thickness."),
                Slip(2 * F, "Twice too often: two strands, no more."),
            ),
        )  # fmt: skip

    def _guide(self) -> Question:
        L, high = self.numbers["thickness"], self.numbers["high"]
        ratio = ((L + high) / (L + 5.0)) ** 3
        return self.ask_for(
            "5h", f"The upper guide stands {self.show(high, 'length')} above the work instead of "
                  f"{self.show(5.0, 'length')}. "
                  "A bare band bends like a beam, with the cube of its free length. How many times as far does "
                  "it bend?",
            "number", ratio, given=f"A plate {self.show(L, 'length')} thick.",
            source="beam held at both ends: strength of materials; 1/8 to 1/4 in: common practice, no source",
            nudge="How long is the free band in the two cases, from the table to the guide?",
            how="free length = thickness + guide above the work; take the ratio of the two, to the third power.",
            because="The guide costs nothing to lower, and keeps fingers out: 3 to 6 mm (1/8 to 1/4 in) above "
                    "the work.",
            slips=(
                Slip((L + high) / (L + 5.0), "That is the ratio of the lengths; bending goes with its cube."),
                Slip((high / 5.0) ** 3, "The thickness of the work belongs to the free band too."),
                Slip(high / 5.0, "That is the guide alone; the free band runs through the work as well, and goes "
                                 "with the cube."),
                Slip(((L + high) / (L + 5.0)) ** 2, "That is the square; a beam's bend goes with the cube."),
            ),
        )  # fmt: skip

    def _range(self) -> Question:
        V = self.saw.published_speed("bimetal")
        low, high = GEARS["low"], GEARS["high"]
        only_high, only_low = low[1] < V, high[0] > V
        words = ", ".join(
            f"{self.show(ends[0], 'speed')} to {self.show(ends[1], 'speed')} {name}" for name, ends in GEARS.items()
        )
        up, down = "The high range, changed to at rest", "The low range, changed to at rest"
        both = "Either; the low one, as it pulls harder"
        right = up if only_high else down if only_low else both
        return self.choose(
            "5i", f"The saw's ranges: {words}. The published start for a bimetal band here is {self.show(V, 'speed')}. "
                  "Which range, and how do you change?", right=right,
            wrong={
                (down if right == up else up): "Compare the speed with the ends of both ranges.",
                "The high range, changed to while it runs slowly": "Gears of most such drives are changed at "
                                                                   "rest only; "
                    "the machine's maker says.",
            },
            how="find the range that has the speed in it; see the caution on changing ranges.",
            because="Change the speed range only as the machine's maker says, and set the dial from its low end up.",
            source="published speed: see the books above; ranges: our saw's own setting",
        )  # fmt: skip

    def _file(self) -> Question:
        return self.choose(
            "5k", f"The sawn edge of this {self.shop.material.name} gets a file band. Which file, which speed?",
            right="12 to 24 teeth per inch, slower than it was sawn",
            wrong={
                "10 or 11 teeth per inch, as fast as it was sawn": "That file is for softer metals, and filing "
                                                                   "is slower "
                    "than sawing.",
                "12 to 24 teeth per inch, twice as fast as sawn": "Filing is slower than sawing the same metal; fast "
                    "files clog and dull.",
            },
            how="coarseness by metal stands in the source; so does that filing is slower.",
            because="Medium pressure: heavy pressure clogs the file, breaks it or stalls the machine. A polishing band "
                    "follows, with grit 50 to 150.",
            source="coarseness: army_od1646, read; pressure and speed: army_tc9524, read; grit: memory, unsure",
        )  # fmt: skip
