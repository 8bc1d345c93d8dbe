"""Lesson 6: chips, signs and safety: what a saw shows, what it means, what is done about it, and what is never done."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from bandtrial import published, sawing

from bandtrial_lessons.bench import BenchCut, BenchSaw, BenchWork
from bandtrial_lessons.bench.setting import GEARS
from bandtrial_lessons.bench_task import best_on_grid
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.prediction import Prediction
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.shop import Shop
from bandtrial_lessons.shown_table import Table
from bandtrial_lessons.teaching import own_random, teaching_shop

CHIPS = (10.0, 8.0, 7.0, 6.0)
"""Chip loads of a sound saw that a fault is looked for at, until it shows alone [um]."""
FAULTS = 4
"""Saws that each student looks at."""


@dataclass(frozen=True)
class Fault:
    """A fault: sign: what the bench shows; change: what makes it; cure; wrong: other cures -> why not; beside: signs
    that may show with it."""

    sign: str
    change: dict[str, Any]
    cure: str
    wrong: dict[str, str]
    because: str
    beside: tuple[str, ...] = ()


POOL = (
    Fault("rub", {"feed_rate": 0.3}, "More feed: the teeth rub, they don't cut",
          {"Less feed, to spare the edges": "The chip is thinner than the edge is round already.",
           "More speed, to cut the powder away": "More speed at the same feed makes the chip thinner still."},
          "A chip under the rounding of the edge, 5 to 15 µm, is rubbed off."),
    Fault("blue", {"speed": 2.0}, "Less speed: the edge is too hot",
          {"Less feed, as the chip is too thick": "The chip is not thick; it is hot, and heat goes with speed.",
           "A finer pitch, to share the heat": "More teeth rub and heat as well; the speed is what is wrong."},
          "Life falls with a high power of the speed, as in lesson 1; coolant helps, slower helps more."),
    Fault("packed", {"pitch": 10.0, "feed_rate": 1.6, "thick": 4.0}, "A coarser pitch: the gullets are too small",
          {"A finer pitch, so that each tooth takes less": "Finer teeth have smaller gullets yet.",
           "More feed, to push the chips out": "More feed makes more chip for the same gullet."},
          "One gullet carries all its tooth peels along the thickness, and it needs 3 times the room loose.",
          ("stall", "wander", "many")),
    Fault("wander", {"guide": 90.0}, "Guide down, then less feed if it still runs off",
          {"Push the work sideways to bring it back": "The band twists, and breaks; the cause stays.",
           "More feed, so that it has no time to wander": "The feed force is what bends it."},
          "A free band bends with the cube of its length; a dull or one-sided set pulls it over as well.", ("bare",)),
    Fault("strip", {"pitch": 3.0, "thin": 5.0}, "A finer pitch: too few teeth are in the work",
          {"Less speed, to hit more softly": "Each tooth still has the whole wall to catch on.",
           "A wider band, which stands more": "The back does not strip; the teeth do."},
          "Under 2 or 3 teeth in the cut the work drops between them."),
    Fault("slip", {"tension": 95.0}, "More tension, with the machine isolated",
          {"Less feed and carry on": "A loose band also wanders, and comes off the wheels.",
           "Rosin on the wheel": "Then it grips, and pulls on a tension that is still too low."},
          "The screw carries two strands; the machine's own gauge or the band maker's figure says how much."),
    Fault("stall", {"feed_rate": 3.2, "pitch": 4.0}, "Stop, back off at rest, then start with less feed",
          {"Press on, until it pulls through": "A band that stands under load strips or breaks as it lets go.",
           "Pull the work free with the motor on": "The band grabs it, and what holds it."},
          "Force grows with every tooth's chip; power is force times speed."),
    Fault("crack", {"tension": 300.0}, "Less tension, and look over the band before it breaks",
          {"Weld the cracks and run on": "A band cracked at its gullets breaks beside the weld.",
           "More speed, so that it bends less often": "More speed bends it more often, not less."},
          "Each turn bends the band twice round a wheel; bending and tension add up to fatigue."),
)  # fmt: skip


class ChipsAndSigns(Lesson):
    number = 6
    title = "Chips, signs and safety"
    aims = (
        "read chips, sound and the cut itself, and say what they mean",
        "say what is done first when a band stalls, breaks or has to be changed",
        "answer the safety questions that open every saw of these lessons",
    )

    @cached_property
    def shop(self) -> Shop:
        """The student's shop."""
        return teaching_shop(self.drawn, 25.0)

    @cached_property
    def saw(self) -> BenchSaw:
        """The bench, a plate on it."""
        return BenchSaw(self.drawn, BenchWork(25.0))

    @cached_property
    def faults(self) -> list[tuple[Fault, BenchSaw, BenchCut]]:
        """The saws that this student looks at: the fault, its saw, what it shows."""
        order = own_random(self.drawn, 60).permutation(len(POOL))
        made = (self._faulty(POOL[i]) for i in order)
        return [one for one in made if one is not None][:FAULTS]

    def _faulty(self, fault: Fault) -> tuple[Fault, BenchSaw, BenchCut] | None:
        """A sound saw with one thing wrong that shows alone; None where it does not, in this metal."""
        change = fault.change
        thickness = change.get("thin", 25.0 * change.get("thick", 1.0))
        saw = self.saw if thickness == 25.0 else BenchSaw(self.drawn, BenchWork(thickness))
        band = replace(best_on_grid(self.saw), edge="bimetal", form="regular", pitch=6.0, tension=170.0, guide=5.0)
        band = replace(band, **{name: change[name] for name in ("pitch", "guide", "tension") if name in change})
        V = float(np.clip(change.get("speed", 0.8) * saw.published_speed("bimetal"), 12.0, 215.0))
        band = replace(band, speed=V, gear="low" if GEARS["low"][1] > V else "high")
        for chip in CHIPS:
            feed = float(sawing.feed_rate(V, chip * change.get("feed_rate", 1.0), saw.mechanics_of(band).spacing))
            cut = saw.cut(replace(band, feed_rate=float(np.clip(feed, 2.0, 400.0))), 0.3)
            shows = {sign.id for sign in cut.signs}
            if fault.sign in shows and shows <= {fault.sign, *fault.beside}:
                return fault, saw, cut
        return None

    def start_of_shop(self) -> published.Start:
        return published.start(self.shop.material.group, 25.0, "bimetal", system=self.system)

    def job(self) -> str:
        """What is looked at."""
        return in_lines(f"Four saws in {self.shop.material.name}, each with one thing wrong. Look at chips, cut "
                        "and numbers "
                        "before you say what you would do.")  # fmt: skip

    def look(self, number: int) -> Any:
        """Saw 1 to 4, running, with what it shows."""
        from bandtrial_lessons.bench.look import Look

        return Look(self, *self.faults[number - 1][1:])

    def bench(self) -> Any:
        """What signs mean, and the saw, to make them come and go."""
        import ipywidgets as widgets

        from bandtrial_lessons.bench.panel import Bench

        saw = Bench(self, self.saw, replace(best_on_grid(self.saw), edge="bimetal"))
        return widgets.VBox([widgets.HTML(self.signs()._repr_html_()), saw])

    def signs(self) -> Table:
        """Signs, what they mean, what is done."""
        rows = (
            ("fine powder, squeal", "the edge rubs: chip thinner than its rounding", "more feed"),
            ("curled chips, warm", "it cuts", "leave it"),
            ("blue, burnt chips", "too hot for the edge", "less speed, more coolant"),
            ("lumps, packed gullets", "no room for the chip", "coarser pitch, less feed"),
            (
                "cut runs off the line",
                "guide high, band dull or narrow, set worn on one side, feed too heavy",
                "find which",
            ),
            ("slow, force climbing", "dull", "change the band before it breaks"),
            ("rhythmic knock", "the weld: high, or not ground", "stop, look at it"),
        )
        return Table(("sign", "means", "do"), rows)

    def make_predictions(self) -> list[Prediction]:
        return [
            Prediction(
                "6P", "the feed of a saw is turned down to a quarter, to be gentle with the band. What do its chips "
                "become?", ("long thin curls", "fine powder", "the same chips, fewer"), self.bench, "fine powder",
                "Set the feed low on the bench, look at the tooth, and say why gentle is not gentle.",
            ),
        ]  # fmt: skip

    def make_questions(self) -> list[Question]:
        seen = [self._seen(i, *one) for i, one in enumerate(self.faults)]
        return [*seen, self._power(), self._change(), self._coil(), self._tracking(), self._weld()]

    def _seen(self, i: int, fault: Fault, saw: BenchSaw, cut: BenchCut) -> Question:
        return self.choose(
            f"6{'abcd'[i]}", f"Saw {i + 1}: what do you do?", right=fault.cure, wrong=fault.wrong,
            how="look at its chip, gullet, force and line; which of them is out of order?", because=fault.because,
            source="which sign means what: common practice, no source; how much: our saw's own setting",
        )  # fmt: skip

    def _power(self) -> Question:
        random = own_random(self.drawn, 61)
        F = self.nice(float(random.uniform(500.0, 1500.0)), "force")
        V = self.nice(float(random.uniform(30.0, 90.0)), "speed")
        P = F * V / 60.0
        return self.ask_for(
            "6e", f"A band runs at {self.show(V, 'speed')} under a cutting force of {self.show(F, 'force')}. "
                  "What power is "
                  "that at the band?", "power", P, source="power = force x speed",
            nudge="Power is force times speed; in which units does that give watts?",
            how="F V / 60 with F in N and V in m/min is the power in W (1 lbf = 4.448 N, 1 ft = 0.3048 m, 1 hp = "
                "746 W).",
            because="A stall is this, more than the motor has.",
            slips=(Slip(F * V, "The minute went in as a second: divide by 60."),
                   Slip(F * V / 3600.0, "Divided by 60 twice."), Slip(F / V, "Force times speed, not over it.")),
        )  # fmt: skip

    def _change(self) -> Question:
        return self.choose(
            "6f", "In which order is a band changed?",
            right="Isolate, lock off, gloves, guards open, slack, off",
            wrong={
                "Guards open, stop the motor, slack, band off, then gloves": "The motor is stopped and locked "
                                                                             "off before a "
                    "guard is touched.",
                "Slack off while it coasts, guards open, band off": "Nothing is touched while it coasts.",
                "Isolate, guards open, slack, band lifted off by bare hand": "A band springs and cuts: gloves for "
                                                                      "handling, off "
                    "before it runs.",
            },
            how="what could start it, what could cut you, what holds the band, in that order.",
            because="And the other way round to start: tension, turn by hand, track, guards shut, gloves off, "
                    "then power.",
            source="common practice, no source",
        )  # fmt: skip

    def _coil(self) -> Question:
        return self.choose(
            "6g", "A new band comes coiled in a box, tied. How is it opened?",
            right="Gloves, glasses, others away, at arm's length",
            wrong={
                "Cut the tie over the table and catch it as it opens": "It springs to its full size at once, "
                                                                       "teeth first.",
                "On the floor, with a foot on it, no gloves needed": "A boot does not hold a spring of steel.",
            },
            how="think of what a coiled spring with teeth does when its tie is cut.",
            because="Gloves are for carrying and uncoiling; off they come before the band runs.",
            source="common practice, no source",
        )  # fmt: skip

    def _tracking(self) -> Question:
        return self.choose(
            "6h", "A new band is on and tensioned. How is it tracked?",
            right="By hand, wheel tilted until it stays, then a run",
            wrong={
                "Run at full speed, tilting until it stays in place": "A band that comes off at speed comes off "
                                                                      "the machine.",
                "By pushing it with the guides until it stays": "Guides steer it in the cut; the wheels carry it.",
            },
            how="where must the band lie before the motor may turn it?",
            because="Guides are set afterwards: beside the band, clear of its set, the back-up just behind it.",
            source="common practice, no source",
        )  # fmt: skip

    def _weld(self) -> Question:
        return self.choose(
            "6i", "A band was welded through a hole in the work and breaks at the weld within minutes. Most "
                  "likely why?",
            right="It was not annealed: it stayed hard and brittle",
            wrong={
                "It was annealed: heat takes the strength out of steel": "Heat in the right measure takes the "
                                                                         "brittleness "
                    "out; a hard weld cracks as it bends.",
                "The feed was too light for a weld to set": "A weld does not set in the cut; it bends round two "
                                                            "wheels.",
                "It was ground flush on both sides": "Grinding the flash off flush is right, or it jams in the guides.",
            },
            how="what happens to steel that is heated and cools quickly, and then is bent round a wheel?",
            because="A weld is heated again and cooled slowly, then ground flush, then bent by hand to see.",
            source="common practice, no source",
        )  # fmt: skip
