"""Lesson 4: plan your own trial. A hundred minutes, a shop that is like a real one, and the truth "
"afterwards."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, Any

from bandtrial import published, sawing, units, words

from bandtrial_lessons import record
from bandtrial_lessons.budget import MINUTES, BudgetedTrial, BudgetError, follow, not_on
from bandtrial_lessons.lesson import Lesson, in_lines
from bandtrial_lessons.question import Question, Slip
from bandtrial_lessons.reading import AnswerError, read_answer
from bandtrial_lessons.run_rows import run_rows
from bandtrial_lessons.teaching import own_random
from bandtrial_lessons.trial_shop import PUBLISHED_CHIP, TrialJob, feed_range, trial_job

if TYPE_CHECKING:
    from bandtrial.trials import Plan
    from bandtrial.wear.fit import Fit

    from bandtrial_lessons.prediction import Prediction

DRAWS = 800
"""Of the posterior: enough for a recommendation, and quick."""
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
        "say what the trial cost, and why its answer is worth that",
    )

    @cached_property
    def work(self) -> TrialJob:
        """The student's shop and work."""
        return trial_job(self.drawn, self.drawn_units)

    @cached_property
    def trial(self) -> BudgetedTrial:
        """The student's trial, its runs of earlier days made again."""
        try:
            return BudgetedTrial(self.work, record.read(self).get("runs"), self.system)
        except (BudgetError, TypeError, ValueError):
            return BudgetedTrial(self.work, system=self.system)

    @property
    def shop(self) -> Any:
        return self.work.shop

    def start_of_shop(self) -> published.Start:
        shop = self.work.shop
        return published.start(shop.material.group, self.work.thickness, shop.stock.edge, system=self.system)

    def job(self) -> str:
        """What is known, in a sentence."""
        shop, prices = self.work.shop, self.work.shop.costs
        return in_lines(
            f"{shop.material.name.capitalize()}, {self.show(self.work.thickness, 'length')} thick, a "
            f"{shop.stock.pitch_tpi:g} tpi {shop.stock.edge} band; the motor has "
            f"{self.show(shop.machine.motor_power or 0.0, 'power')}. An hour costs "
            f"{prices['machine_and_labor_per_hour']:g} {self.currency}, a band {shop.stock.price:g} {self.currency}, a "
            f"change {prices['band_change_minutes']:g} min, a piece lost when a band dies in it "
            f"{prices['scrapped_piece']:g} {self.currency}. You have {MINUTES:g} minutes of cutting; bands, "
            "changes and "
            f"lost pieces of the trial are paid for. In a year {self.show(self.work.yearly, 'area')} are sawn at what "
            "you find."
        )

    def dial(self, V: float) -> float:
        """Indicated speed for a true speed V, by the speed check [m/min]."""
        return float(self.work.shop.machine.indicated_speed(V))

    def speed_check(self) -> Any:
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
            f"{self.show(PUBLISHED_CHIP, 'chip_load')}."
        )

    def cut_panel(self) -> Any:
        """The panel in which trial cuts are made."""
        from bandtrial_lessons.trial_panel import TrialCuts

        return TrialCuts(self)

    def hand_in_panel(self) -> Any:
        """The panel in which a setting is handed in; it is final."""
        from bandtrial_lessons.trial_panel import HandInSetting

        return HandInSetting(self)

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
        self.demand_cutting()
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
            self._fitted = (key, wear.fit(self.trial.study(), draws=DRAWS))
        made: Fit = self._fitted[1]
        return made

    def _fit_or_none(self) -> Fit | None:
        from bandtrial import wear

        try:
            return self._fit() if self.trial.runs else None
        except wear.FitError:
            return None

    def demand_cutting(self) -> None:
        """Raises ValueError where no cut may be made: the gate is shut, or the trial is handed in."""
        self.gate.demand()
        if record.read(self).get("handed_in"):
            raise BudgetError("This trial is handed in; no more cuts are made.")

    def stand(self) -> str:
        """Minutes used and left, bands and their ends, the bill, in a sentence."""
        trial, bill = self.trial, self.trial.bill
        ends = ", ".join(
            f"{id} {'kinked by a stall' if trial.stalled(id) else band.end.replace('_', ' ')}"
            for id, band in trial.shop.bands.items()
        )
        return (
            f"{trial.minutes:.1f} min of cutting used, {max(0.0, trial.left):.1f} left. Bands: {ends or 'none yet'}. "
            f"The trial has cost {bill.total:.0f} {self.currency}: time {bill.time:.0f}, bands {bill.bands:.0f}, lost "
            f"pieces {bill.pieces:.0f}."
        )

    def run_rows(self) -> list[tuple[str, ...]]:
        """Each run in words: number, band, dial, feed, chip load, cuts, minutes, motor power, how the band "
        "is."""
        return run_rows(self)

    def keep_runs(self) -> None:
        """Keep the runs for the next day and for the instructor."""
        record.keep(self, runs=self.trial.settings())

    def keep_setting(self, dial: str, feed_rate: str) -> None:
        """Keep the setting that is stood up for, as "60 m/min" and "120 mm/min", and the trial as a study.

        Raises ValueError where one can't be read or can't be set, or where no trial cut was made.
        """
        if not self.trial.runs:
            raise BudgetError("There are no trial cuts yet; a setting is handed in with the cuts it stands on.")
        V, F = self._read("band speed on the dial", dial, "speed"), self._read("feed rate", feed_rate, "feed_rate")
        record.keep(self, runs=self.trial.settings(), setting={"dial_m_min": V, "feed_rate_mm_min": F})
        if self.folder is not None and len(self.trial.shop.cuts):
            name = record.file_of(self).stem
            self.trial.shop.write(self.folder / name, author=self.name, units=self.system, name=f"Trial of {self.name}")

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

    def make_predictions(self) -> list[Prediction]:
        from bandtrial_lessons.trial_predictions import trial_predictions

        return trial_predictions(self)

    def make_questions(self) -> list[Question]:
        return [self._dial(), self._feed(), self._blocks()]

    @cached_property
    def _slower(self) -> float:
        """A true speed below the published start that is well on the dial [m/min]."""
        ranges = self.work.shop.machine.band_speed_ranges
        tried = [self.nice(share * self.work.published[0], "speed") for share in SHARES]
        return next(V for V in tried if any(low < self.dial(V) < high for low, high in ranges))

    @property
    def _check_in_words(self) -> str:
        """The speed check, for whoever is asked with new numbers."""
        pairs = self.work.shop.machine.speed_check
        return (
            "; ".join(f"{self.show(x, 'speed')} on the dial, {self.show(y, 'speed')} measured" for x, y in pairs) + "."
        )

    def _dial(self) -> Question:
        machine, V = self.work.shop.machine, self._slower
        return self.ask_for(
            "4a", f"You want a true band speed of {self.show(V, 'speed')}. What do you set on the dial?", "speed",
            self.dial(V), tolerance=0.01, digits=3, given=self._check_in_words, source="arithmetic",
            why_tolerance="the check's nearest line, or a straight line between two; the dial is 4 % off or more",
            nudge="Does this dial show too much or too little?",
            how="take the check's line nearest to it: the dial's figure is to the measured one as yours is to the true "
                "speed.",
            because="A dial a few percent off is a life tens of percent off: life goes with a high power of the speed.",
            slips=(
                Slip(V, "That is the true speed; this dial does not show it. Look at the speed check."),
                Slip(float(machine.true_speed(V)), "The correction went the wrong way: that is what runs when the dial "
                                                   "shows the figure asked for."),
            ),
        )  # fmt: skip

    def _feed(self) -> Question:
        p, V = self.work.shop.stock.tooth_spacing, self._slower
        h = self.nice(float(own_random(self.drawn, 7).uniform(11.0, 14.0)), "chip_load")
        F, wrong = (float(sawing.feed_rate(speed, h, p)) for speed in (V, self.dial(V)))
        return self.ask_for(
            "4b", f"And which feed rate for a chip load of {self.show(h, 'chip_load')} there?", "feed_rate", F,
            tolerance=0.015, digits=3, why_tolerance="three digits, and closer than the dial is off",
            given=f"A {self.work.shop.stock.pitch_tpi:g} tpi band at a true {self.show(V, 'speed')}.",
            nudge="Which of the two speeds do the teeth go by at?", source="arithmetic",
            how="F = h V / p with the true speed; p = 25.4 mm / tpi.",
            because="Feed and speed are set together: one alone changes the chip load as well.",
            slips=(
                Slip(wrong, "You took the speed on the dial; teeth go by at the true speed."),
                Slip(h * V, "That is h V; it has still to be divided by the tooth spacing."),
                Slip(h * V / self.work.shop.stock.pitch_tpi, "You used the pitch for the spacing: p = 25.4 mm / tpi."),
            ),
        )  # fmt: skip

    def _blocks(self) -> Question:
        return self.choose(
            "4c", "Three bands, three speeds, 100 minutes. Which plan tells most about speed?",
            right="Each band at every speed, in changing order",
            wrong={
                "Each band at a speed of its own until the minutes end": "If the fast band wears sooner, was it the "
                    "speed or the band? This plan can't tell.",
                "All at the published speed, as that is what will be run": "One speed says nothing about any other, "
                    "however long it is cut.",
            },
            how="lives of bands of one kind scatter by 25 to 45 %. In which plan can a bad band not pass for a bad "
                "speed?",
            because="Each band is compared with itself. That wear adds up over the speeds is assumed, as in lesson 1.",
            source="scatter: Machinery's Handbook, 31st ed., p. 139; design: common practice of trials",
        )  # fmt: skip

    def cuts_of(self, minutes: float, feed_rate: float) -> int:
        return self.trial.cuts_in(minutes, feed_rate)

    def in_unit(self, value: float, kind: str) -> str:
        """A value as it is typed into a box, with its unit."""
        return f"{words.shown(float(units.from_inside(value, kind, self.unit(kind))))} {self.unit(kind)}"
