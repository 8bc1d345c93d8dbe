"""Lesson 4: plan your own trial. A hundred minutes, a shop that is like a real one, and the truth "
"afterwards."""

from __future__ import annotations

from dataclasses import asdict
from functools import cached_property
from typing import TYPE_CHECKING, Any

from bandtrial import published, sawing, units

from bandtrial_lessons import answers, rivals
from bandtrial_lessons.budget import MINUTES, BudgetedTrial, BudgetError, follow, not_on
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.reading import AnswerError, read_answer
from bandtrial_lessons.reveal import Reveal, reveal
from bandtrial_lessons.run_rows import run_rows
from bandtrial_lessons.teaching import own_random
from bandtrial_lessons.trial_shop import TrialJob, feed_range, trial_job

if TYPE_CHECKING:
    from bandtrial.trials import Plan
    from bandtrial.wear.fit import Fit

SHARES = (0.8, 0.84, 0.76, 0.88, 0.72, 0.68, 0.92, 0.64, 0.96)
"""Of the published start, one of which is on any of these dials [-]."""


class Told(str):
    """A sentence that a cell shows as it is, without quotes."""

    def __repr__(self) -> str:
        return str(self)


class OwnTrial(Lesson):
    number = 4
    title = "Plan your own trial"
    aims = (
        "choose trial cuts within 100 minutes that tell speed, feed and band apart",
        "turn them into a setting, with the toolkit and with a judgement of your own",
        "see what it truly costs beside the published start and the textbook's two speeds",
    )

    @cached_property
    def work(self) -> TrialJob:
        """The student's shop and work."""
        return trial_job(self.name, self.system)

    @cached_property
    def trial(self) -> BudgetedTrial:
        """The student's trial, its runs of earlier days made again."""
        try:
            return BudgetedTrial(self.work, answers.read_answers(self).get("runs"), self.system)
        except (BudgetError, TypeError, ValueError):
            return BudgetedTrial(self.work, system=self.system)

    @property
    def shop(self):
        return self.work.shop

    def start_of_shop(self) -> published.Start:
        shop = self.work.shop
        return published.start(shop.material.group, self.work.thickness, shop.stock.edge, system=self.system)

    def job(self) -> str:
        """What is known, in a sentence."""
        shop, prices = self.work.shop, self.work.shop.costs
        return in_lines(
            f"{shop.material.name.capitalize()}, {self.show(self.work.thickness, 'length')} thick, a "
            f"{shop.stock.pitch_tpi:g} tpi "
            f"{shop.stock.edge} band. An hour costs {prices['machine_and_labor_per_hour']:g} "
            f"{self.currency}, a band "
            f"{shop.stock.price:g} {self.currency}, a change {prices['band_change_minutes']:g} min, a piece "
            f"lost when a "
            f"band dies in it {prices['scrapped_piece']:g} {self.currency}. You have {MINUTES:g} minutes of "
            f"cutting."
        )

    def dial(self, V: float) -> float:
        """Indicated speed for a true speed V, by the speed check [m/min]."""
        return float(self.work.shop.machine.indicated_speed(V))

    def speed_check(self):
        """What the speed check measured."""
        import pandas as pd

        rows = [[self.show(x, "speed") for x in pair] for pair in self.work.shop.machine.speed_check]
        return pd.DataFrame(rows, columns=["on the dial", "measured"]).set_index("on the dial")

    def start_in_words(self) -> str:
        """The published start as it is set on this machine."""
        V, feed = self.work.published
        ranges = " and ".join(
            f"{self.show(a, 'speed')} to {self.show(b, 'speed')}" for a, b in self.work.shop.machine.band_speed_ranges
        )
        return in_lines(
            f"The dial goes from {ranges}. Published start: true {self.show(V, 'speed')}, "
            f"{self.show(self.dial(V), 'speed')} on the dial, "
            f"{self.show(feed, 'feed_rate')} for a chip load of "
            f"{self.show(rivals.PUBLISHED_CHIP, 'chip_load')}."
        )

    def cut_panel(self):
        """The panel in which trial cuts are made."""
        from bandtrial_lessons.trial_panel import TrialCuts

        return TrialCuts(self)

    def hand_in_panel(self):
        """The panel in which a setting is handed in and the truth is shown."""
        from bandtrial_lessons.trial_panel import HandIn

        return HandIn(self)

    def plan(self, minutes: float | None = None) -> Plan | str:
        """What the toolkit would cut next, in the minutes given or left."""
        from bandtrial import trials

        left = self.trial.left if minutes is None else min(minutes, self.trial.left)
        if left < 1.0:
            return Told("The minutes are used up.")
        study = self.trial.study()
        fit = self._fit_or_none()
        return trials.plan(fit, study, **self.work.names, minutes=left)

    def follow(self, plan: Any) -> str:
        """Make a plan's runs; how things stand then."""
        if isinstance(plan, str):
            return plan
        follow(self.trial, plan)
        self.keep_runs()
        return self.stand()

    def recommend(self) -> Any:
        """The toolkit's answer from the cuts so far, or why there is none yet."""
        from bandtrial import recommend, wear

        if not self.trial.runs:
            return Told("Not yet: there are no trial cuts. Make some in the panel above, then run this cell again.")
        try:
            return recommend.recommend(self._fit(), self.trial.study(units=self.system), **self.work.names)
        except (recommend.NotYet, wear.FitError) as no:
            return Told(str(no))

    def _fit(self) -> Fit:
        """Of the runs so far; kept until the next run."""
        from bandtrial import wear

        key = tuple(self.trial.runs)
        if getattr(self, "_fitted", (None, None))[0] != key:
            self._fitted = (key, wear.fit(self.trial.study(), draws=rivals.DRAWS))
        return self._fitted[1]

    def _fit_or_none(self) -> Fit | None:
        from bandtrial import wear

        try:
            return self._fit() if self.trial.runs else None
        except wear.FitError:
            return None

    def stand(self) -> str:
        """Minutes used and left, bands and their ends, in a sentence."""
        trial = self.trial
        ends = ", ".join(f"{id} {band.end.replace('_', ' ')}" for id, band in trial.shop.bands.items()) or "none yet"
        return f"{trial.minutes:.1f} min of cutting used, {max(0.0, trial.left):.1f} left. Bands: {ends}."

    def run_rows(self) -> list[tuple[str, ...]]:
        """Each run in words: number, band, dial, feed, chip load, cuts, minutes, motor power, how the band "
        "is."""
        return run_rows(self)

    def keep_runs(self) -> None:
        """Keep the runs for the next day and for the instructor."""
        answers.keep(self, runs=self.trial.settings())

    def reveal(self, dial: float | None = None, feed_rate: float | None = None) -> Reveal:
        """The truth of this shop, and the regret of every way to a setting; nothing is kept.

        dial : own choice, indicated [m/min]; feed_rate [mm/min]
        """
        return reveal(self.work, self.trial, self.system, self._own(dial, feed_rate), self._fit_or_none())

    def hand_in(self, dial: str, feed_rate: str) -> Reveal:
        """Hand in a setting, as "60 m/min" and "120 mm/min": it is kept with the study, and the truth is "
        "shown."""
        own = self._own(
            self._read("band speed on the dial", dial, "speed"), self._read("feed rate", feed_rate, "feed_rate")
        )
        found = reveal(self.work, self.trial, self.system, own, self._fit_or_none())
        toolkit = next((c for c in found.choices if c.name == rivals.TOOLKIT), None)
        answers.keep(
            self,
            runs=self.trial.settings(),
            setting={"dial_m_min": self.dial(own.band_speed), "feed_rate_mm_min": own.feed_rate} if own else None,
            toolkit=asdict(toolkit) if toolkit and toolkit.usable else None,
        )
        if self.trial.runs and self.folder is not None:
            name = answers.file_of(self).stem
            self.trial.shop.write(self.folder / name, author=self.name, units=self.system, name=f"Trial of {self.name}")
        return found

    def _own(self, dial: float | None, feed_rate: float | None) -> rivals.Choice | None:
        if dial is None or feed_rate is None:
            return None
        return rivals.Choice(rivals.OWN, float(self.work.shop.machine.true_speed(dial)), feed_rate)

    def _read(self, what: str, text: str, kind: str) -> float:
        try:
            value = float(read_answer(text, kind, self.system))
        except AnswerError as error:
            raise AnswerError(f"{what}: {error}") from None
        machine = self.work.shop.machine
        ranges = machine.band_speed_ranges if kind == "speed" else (feed_range(self.work.shop),)
        for problem in not_on(ranges, value, kind, what, self.system):
            raise AnswerError(problem)
        return value

    def make_questions(self) -> list[Question]:
        return [self._dial(), self._feed(), self._blocks()]

    @cached_property
    def _slower(self) -> float:
        """A true speed below the published start that is well on the dial [m/min]."""
        ranges = self.work.shop.machine.band_speed_ranges
        tried = [self.nice(share * self.work.published[0], "speed") for share in SHARES]
        return next(V for V in tried if any(low < self.dial(V) < high for low, high in ranges))

    def _dial(self) -> Question:
        machine, V = self.work.shop.machine, self._slower
        dial = self.dial(V)
        return self.ask_for(
            "4a", f"You want a true band speed of {self.show(V, 'speed')}. What do you set on the "
                  f"dial?", "speed", dial,
            tolerance=0.006, why_tolerance="straight lines through the speed check; the dial is 4 % off or "
                                           "more",
            how="take the check's line nearest to it: the dial's figure is to the measured one as yours is "
                "to the true speed.",
            because="A dial a few percent off is a life tens of percent off: life goes with a high power of "
                    "the speed.",
            slips=(
                Slip(V, "That is the true speed; this dial does not show it. Look at the speed check."),
                Slip(float(machine.true_speed(V)), "The correction went the wrong way: that is what runs "
                                                   "when the dial shows the figure asked for."),
            ),
        )  # fmt: skip

    def _feed(self) -> Question:
        p = self.work.shop.stock.tooth_spacing
        V = self._slower
        h = self.nice(float(own_random(self.name, 7).uniform(11.0, 14.0)), "chip_load")
        F = float(sawing.feed_rate(V, h, p))
        wrong = float(sawing.feed_rate(self.dial(V), h, p))
        off = () if abs(wrong / F - 1.0) < 0.025 else (
            Slip(wrong, "You took the speed on the dial; teeth go by at the true speed."),
        )  # fmt: skip
        return self.ask_for(
            "4b", f"And which feed rate for a chip load of {self.show(h, 'chip_load')} "
                  f"there?", "feed_rate", F,
            tolerance=0.015, why_tolerance="three digits, and closer than the dial is off",
            how="F = h V / p with the true speed; p = 25.4 mm / tpi.",
            because="Feed and speed are set together: one alone changes the chip load as well.",
            slips=(
                *off,
                Slip(h * V, "That is h V; it has still to be divided by the tooth spacing."),
                Slip(h * V / self.work.shop.stock.pitch_tpi, "You used the pitch for the spacing: p = 25.4 "
                                                             "mm / tpi."),
            ),
        )  # fmt: skip

    def _blocks(self) -> Question:
        return self.ask_for(
            "4c", "Three bands, three speeds, 100 minutes. Which plan tells most about speed?", "letter", "c",
            choices={
                "a": "Each band at a speed of its own, until the minutes are used.",
                "b": "All at the published speed: it is the one that will be run.",
                "c": "Each band at every speed for a while, in changing order.",
            },
            how="bands of one kind differ by 10 to 20 %. In which plan can a bad band not pass for a bad "
                "speed?",
            because="Each band is compared with itself; wear adds up over the speeds, so a band of mixed "
                    "work loses nothing.",
            slips=(
                Slip("a", "If the fast band wears sooner, was it the speed or the band? This plan can't "
                          "tell."),
                Slip("b", "One speed says nothing about any other, however long it is cut."),
            ),
        )  # fmt: skip

    def cuts_of(self, minutes: float, feed_rate: float) -> int:
        return self.trial.cuts_in(minutes, feed_rate)

    def in_unit(self, value: float, kind: str) -> str:
        """A value as it is typed into a box, with its unit."""
        return f"{units.shown(float(units.from_inside(value, kind, self.unit(kind))))} {self.unit(kind)}"
