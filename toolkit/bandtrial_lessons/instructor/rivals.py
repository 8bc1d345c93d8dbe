"""What a student's setting is measured against: the published start, a textbook's two-speed trial, the "
"toolkit, the best."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from bandtrial import sawing

from bandtrial_lessons import costs
from bandtrial_lessons.budget import MINUTES, TRAVEL, BudgetedTrial
from bandtrial_lessons.own_trial import DRAWS
from bandtrial_lessons.shop import Best
from bandtrial_lessons.trial_shop import MACHINE, PUBLISHED_CHIP, TrialJob, feed_for, reachable

if TYPE_CHECKING:
    from bandtrial.wear.fit import Fit

PUBLISHED, TEXTBOOK, TOOLKIT = "published start", "textbook, two speeds", "toolkit, your cuts"
OWN, BEST = "your own setting", "the best there is"
FASTER = 1.25
"""The textbook's second speed over its first."""
DULL_POWER = 1.5
"""Motor power over that of a band broken in at which the textbook calls it dull; common practice, no "
  "source."""
FAR = 1.5
"""Beyond the two speeds tried by more than this factor, no textbook reader would go."""
BREAK_IN_SHARE = 0.15
"""First part of the textbook's readings that is left out [-]."""


@dataclass(frozen=True)
class Choice:
    """A setting and where it comes from. band_speed: true [m/min]; feed_rate [mm/min]; change_after [cm2] "
    "or None."""

    name: str
    band_speed: float
    feed_rate: float
    change_after: float | None = None
    note: str = ""

    @property
    def usable(self) -> bool:
        return bool(np.isfinite(self.band_speed) and np.isfinite(self.feed_rate))


@lru_cache(maxsize=64)
def best_of(job: TrialJob) -> Best:
    """The setting of least true cost in a job's shop, which nobody in it can know."""
    return job.shop.best_setting(work_thickness=job.thickness, machine=MACHINE)


def published_choice(job: TrialJob) -> Choice:
    """The published speed that the machine has, at 10 um."""
    return Choice(PUBLISHED, *job.published)


def best_choice(job: TrialJob) -> Choice:
    """What nobody in the shop can know."""
    best = best_of(job)
    return Choice(BEST, best.band_speed, best.feed, best.change_after)


def textbook_choice(job: TrialJob) -> Choice:
    """Two new bands, half of the minutes each, at the published speed and a quarter faster, 10 um; the growth of
    the power drawn on to the mark gives two lives, these n and C, these the speed of the lowest cost.

    Where the two lives give no n between 0 and 1, or a speed far from both, the published start is kept.
    """
    trial = BudgetedTrial(job)
    first = job.published[0]
    speeds = [first, reachable(job.shop, FASTER * first)]
    lives = [_drawn_on(trial, V) for V in speeds]
    try:
        n, C = costs.taylor_from_two_points(speeds[0], lives[0], speeds[1], lives[1])
        prices = job.shop.costs
        V = costs.minimum_cost_speed(
            n, C, prices["band_change_minutes"], job.shop.stock.price, prices["machine_and_labor_per_hour"]
        )
    except ValueError:
        V = np.nan
    said = f"lives {lives[0]:.0f} and {lives[1]:.0f} min"
    if not speeds[0] / FAR < V < speeds[1] * FAR:  # nan too
        return Choice(TEXTBOOK, *job.published, note=f"{said} give no usable n: kept the published start")
    V = reachable(job.shop, float(V))
    return Choice(TEXTBOOK, V, feed_for(job.shop, V, PUBLISHED_CHIP), note=f"{said}, n = {n:.2f}")


def _drawn_on(trial: BudgetedTrial, V: float) -> float:
    """Life [min] of a new band at V [m/min]: its end, or its power drawn on in a straight line to the "
    "mark."""
    shop, feed = trial.job.shop, feed_for(trial.job.shop, V, PUBLISHED_CHIP)
    cuts = trial.cuts_in(MINUTES / 2, feed)
    while cuts * float(sawing.cut_time(TRAVEL, feed)) > trial.left + 0.5:
        cuts -= 1
    band = trial.next_band
    log = trial.make(band, float(shop.machine.indicated_speed(V)), feed, cuts)
    minutes = log["cut_time"].cumsum().to_numpy(float)
    if trial.ended(band):
        return float(minutes[-1])
    later = minutes > BREAK_IN_SHARE * minutes[-1]
    slope, level = np.polyfit(minutes[later], log["motor_power"].to_numpy(float)[later], 1)
    fresh_power = level + slope * BREAK_IN_SHARE * minutes[-1]
    return float((DULL_POWER * fresh_power - level) / slope) if slope > 0 else np.nan


def toolkit_choice(job: TrialJob, trial: BudgetedTrial, fit: Fit | None = None) -> Choice:
    """What the toolkit recommends from the trial's cuts; a setting of nan and the reason where it says not yet.

    fit : of those cuts, if it is there already
    """
    from bandtrial import recommend, wear

    study = trial.study()
    try:
        fit = fit or wear.fit(study, draws=DRAWS)
        found = recommend.recommend(fit, study, **job.names)
    except (wear.FitError, recommend.NotYet) as no:
        return Choice(TOOLKIT, np.nan, np.nan, note=f"not yet: {getattr(no, 'reason', str(no))}")
    s = found.setting
    return Choice(TOOLKIT, s.band_speed, s.feed, s.change_after)


def true_cost(job: TrialJob, choice: Choice) -> float:
    """True long-run cost per area of a choice [currency/cm2]; nan if it is none. A choice of the shop is set on its
    dial, and runs at what the dial truly gives."""
    if not choice.usable:
        return float("nan")
    V = choice.band_speed
    if choice.name != BEST:
        V = float(job.shop.true_speed(job.shop.machine.indicated_speed(V), MACHINE))
    return float(job.shop.true_cost(V, choice.feed_rate, work_thickness=job.thickness, machine=MACHINE,
                                    change_after=choice.change_after))  # fmt: skip


def regret(job: TrialJob, choice: Choice) -> float:
    """True cost over the least there is, less 1 [-]; below 0 only by grid and rounding of `best_setting`."""
    return true_cost(job, choice) / best_of(job).cost - 1.0


def broken(job: TrialJob, choice: Choice) -> list[str]:
    """Limits that a choice truly breaks."""
    V = float(job.shop.true_speed(job.shop.machine.indicated_speed(choice.band_speed), MACHINE))
    kept = job.shop.within_limits(V, choice.feed_rate, work_thickness=job.thickness, machine=MACHINE)
    return [name.replace("_", " ") for name, ok in kept.items() if not ok]
