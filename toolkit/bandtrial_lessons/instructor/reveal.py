"""The truth of a virtual shop, told once the student has handed in: what was best, and everybody's regret."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from bandtrial import sawing, words

from bandtrial_lessons import record
from bandtrial_lessons.budget import BudgetedTrial
from bandtrial_lessons.instructor import rivals
from bandtrial_lessons.instructor.rivals import Choice
from bandtrial_lessons.own_trial import OwnTrial
from bandtrial_lessons.reading import nice, show_answer
from bandtrial_lessons.trial_shop import MACHINE, TrialJob


@dataclass(frozen=True)
class Reveal:
    """Choices with their true costs; the best there is comes last."""

    job: TrialJob
    system: str
    choices: tuple[Choice, ...]
    bands: str = ""
    """How fast the student's bands wore, in words."""

    def regrets(self) -> dict[str, float]:
        """By choice: true cost over the least there is, less 1 [-]; nan where there is no setting."""
        return {choice.name: rivals.regret(self.job, choice) for choice in self.choices}

    def rows(self) -> list[tuple[str, ...]]:
        """Choice, true speed, feed, chip load, cost, how much dearer than the best, remarks."""
        return [self._row(choice) for choice in self.choices]

    def _row(self, choice: Choice) -> tuple[str, ...]:
        if not choice.usable:
            return (choice.name, "", "", "", "", "", choice.note)
        currency, s = self.job.shop.config.currency, self.system
        V = true_speed(self.job, choice)
        h = float(sawing.chip_load(V, choice.feed_rate, self.job.shop.stock.tooth_spacing))
        broken = rivals.broken(self.job, choice) if choice.name != rivals.BEST else []
        remarks = [choice.note] if choice.note else []
        remarks += [f"breaks a limit: {', '.join(broken)}"] if broken else []
        return (
            choice.name,
            show_answer(V, "speed", s),
            show_answer(choice.feed_rate, "feed_rate", s),
            show_answer(h, "chip_load", s),
            show_answer(rivals.true_cost(self.job, choice), "cost", s, currency),
            percent(rivals.regret(self.job, choice)),
            "; ".join(remarks),
        )

    HEADS = ("setting", "true speed", "feed rate", "chip load", "true cost", "dearer than the best", "remarks")

    def marks(self) -> list[tuple[str, float, float]]:
        """Name, true speed [m/min] and true cost [currency/cm2] of each choice that is a setting."""
        return [(one.name, true_speed(self.job, one), rivals.true_cost(self.job, one))
                for one in self.choices if one.usable]  # fmt: skip

    def curve(self, n: int) -> tuple[np.ndarray, np.ndarray]:
        """Speeds (n,) [m/min] about those of the choices, and the true cost there (n,) [currency/cm2] at the chip load
        and the change-out area that are best."""
        speeds = [mark[1] for mark in self.marks()]
        V = np.geomspace(0.8 * min(speeds), 1.15 * max(speeds), n)
        best = rivals.best_of(self.job)
        return V, np.array([
            float(self.job.shop.true_cost(speed, best.feed * speed / best.band_speed,
                                          work_thickness=self.job.thickness, machine=MACHINE,
                                          change_after=best.change_after))
            for speed in V
        ])  # fmt: skip

    def picture(self) -> Any:
        """What each setting truly costs, drawn, for a notebook."""
        from bandtrial_lessons.instructor.truth_picture import TRUTH, true_cost_over_speed
        from bandtrial_lessons.pictures import picture_of

        return picture_of(self, true_cost_over_speed, TRUTH)

    def card(self) -> list[tuple[str, str]]:
        """What nobody in the shop could know."""
        job, s, best = self.job, self.system, rivals.best_of(self.job)
        shop, law = job.shop, job.shop.config.materials[0].law
        shown = float(shop.indicated_speed(best.band_speed, MACHINE))
        after = best.change_after
        change = show_answer(nice(after, "area", s), "area", s) if after else "run it to its end"
        return [
            ("kind of shop", KINDS_IN_WORDS[shop.config.kind]),
            ("speed exponent 1/n of the metal", f"{words.shown(law.slope)} at its reference speed, bent "
                                                f"elsewhere"),
            ("chip load that doubles the wear by chipping", show_answer(law.strip_chip_load, "chip_load", s)),
            ("chip load that doubles it by rubbing", show_answer(law.rub_chip_load, "chip_load", s)),
            ("this machine wears bands", f"{words.shown(shop.config.machines[0].wear_factor)} times as fast "
                                         f"as a typical one"),
            ("your bands wore", self.bands),
            ("best speed on the dial", show_answer(shown, "speed", s)),
            ("change the band after", change),
        ]  # fmt: skip

    def __str__(self) -> str:
        from bandtrial.recommend.wording import table_text

        truth = "\n".join(f"{head}: {text}" for head, text in self.card())
        lines = [(row[0], " | ".join(row[1:6]), row[6]) for row in self.rows()]
        return f"{table_text(lines)}\n\nThe truth\n{truth}"

    def _repr_html_(self) -> str:
        from bandtrial.panels.base import table

        return table(self.HEADS, self.rows(), "What each setting truly costs") + table(
            ("", ""), self.card(), "The truth about your shop"
        )


KINDS_IN_WORDS = {
    "any": "wear by abrasion and heat, edges that rub and chip",
    "bent_life": "much abrasion: log life bends against log speed",
}


def reveal(job: TrialJob, trial: BudgetedTrial, system: str, own: Choice | None = None, fit: Any = None) -> Reveal:
    """The truth beside the published start, the textbook's two speeds, the toolkit on the student's cuts, and the
    student's own setting."""
    choices = [rivals.published_choice(job), rivals.textbook_choice(job)]
    if trial.runs:
        choices.append(rivals.toolkit_choice(job, trial, fit))
    if own is not None:
        choices.append(own)
    return Reveal(job, system, (*choices, rivals.best_choice(job)), wear_rates(trial.shop))


def reveal_of(lesson: OwnTrial, setting: Mapping[str, float] | None = None) -> Reveal:
    """The truth of a lesson 4, with the student's trial and setting as they are kept, or another setting.

    setting : dial_m_min, feed_rate_mm_min
    """
    setting = setting or record.read(lesson).get("setting")
    own = None
    if setting:
        V = float(lesson.work.shop.machine.true_speed(setting["dial_m_min"]))
        own = Choice(rivals.OWN, V, setting["feed_rate_mm_min"])
    return reveal(lesson.work, lesson.trial, lesson.system, own)


def truths(folder: str | Path) -> list[str]:
    """The truth of every lesson 4 that was handed in, in words; ValueError if there is none."""
    said = []
    for file in sorted(Path(folder).rglob("lesson_4_*.json")):
        kept = record.read_file(file)
        if kept and kept.get("handed_in"):
            lesson = OwnTrial(str(kept["name"]), str(kept["units"]), file.parent, str(kept.get("code", "")))
            said.append(f"{lesson.name}\n{reveal_of(lesson)}")
    if not said:
        raise ValueError(f'"{folder}" holds no lesson 4 that was handed in.')
    return said


def true_speed(job: TrialJob, choice: Choice) -> float:
    """What truly runs when a choice is set on the dial [m/min]."""
    if choice.name == rivals.BEST:
        return choice.band_speed
    return float(job.shop.true_speed(job.shop.machine.indicated_speed(choice.band_speed), MACHINE))


def wear_rates(shop: Any) -> str:
    """How fast each band of a kind wears, in words."""
    rates = [f"{id} {band.rate:.2f}" for id, band in shop.bands.items()]
    return ", ".join(rates) + " times as fast as a typical one" if rates else "no band was fitted"


def percent(share: float) -> str:
    """A share with its sign, whole percents.

    >>> percent(0.123), percent(-0.001)
    ('+12 %', '0 %')
    """
    whole = round(100 * share)
    return f"{whole:+d} %" if whole else "0 %"
