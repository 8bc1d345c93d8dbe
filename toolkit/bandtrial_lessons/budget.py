"""Lesson 4's trial: runs of cuts within 100 minutes, kept as settings, so that anyone can make the same "
"cuts again."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from bandtrial import sawing

from bandtrial_lessons.reading import show_answer
from bandtrial_lessons.shop.as_study import study_of
from bandtrial_lessons.trial_shop import MACHINE, TrialJob, fresh

if TYPE_CHECKING:
    import pandas as pd
    from bandtrial.study import Study

MINUTES = 100.0
"""Of cutting, for the whole trial."""
TRAVEL = 100.0
"""Cut travel of each cut [mm]."""
STALL_MINUTES = 3.0
"""Lost by a stalled motor [min]; the band is kinked and comes off. Our saw's own setting, no source."""
MOST_CUTS = 500
ROUNDING = 0.002
"""A setting typed with three digits may lie this much beyond the end of a range that it means [-]."""


class BudgetError(ValueError):
    """A run that can't be made; the message says why, one line a problem."""


@dataclass(frozen=True)
class TrialRun:
    """Cuts at one setting on one band: its id; dial: indicated speed [m/min]; feed_rate [mm/min]; cuts."""

    band: str
    dial: float
    feed_rate: float
    cuts: int


@dataclass(frozen=True)
class Bill:
    """What a trial has cost: machine and labor over cutting and changing, bands fitted, pieces lost [currency]."""

    time: float
    bands: float
    pieces: float

    @property
    def total(self) -> float:
        return self.time + self.bands + self.pieces


class BudgetedTrial:
    """The trial of a student: runs so far, their log, the minutes left."""

    def __init__(self, job: TrialJob, runs: list[dict[str, Any]] | None = None, system: str = "metric") -> None:
        self.job, self.shop, self.system = job, fresh(job), system
        self.runs: list[TrialRun] = []
        self.made: list[int] = []
        """Cuts logged of each run: fewer than asked for where the band ended."""
        self.stalls: dict[int, float] = {}
        """Number of a run in which the motor stalled -> power it would have taken [W]."""
        for run in runs or []:
            self.make(**run)

    @property
    def minutes(self) -> float:
        """Of cutting so far [min]."""
        log = self.shop.cuts
        cutting = float((log["cut_time"] * log["pieces"]).sum()) if len(log) else 0.0
        return cutting + STALL_MINUTES * len(self.stalls)

    @property
    def bill(self) -> Bill:
        """What the trial has cost so far, every band and every change of it paid for."""
        prices, bands = self.shop.costs, len(self.shop.bands)
        minutes = self.minutes + bands * prices["band_change_minutes"]
        lost = sum(band.end not in ("in_service", "removed_sound") for band in self.shop.bands.values())
        hour, price = prices["machine_and_labor_per_hour"], self.shop.stock.price or 0.0
        return Bill(minutes * hour / 60.0, bands * price, lost * prices["scrapped_piece"])

    @property
    def left(self) -> float:
        """Minutes left [min]."""
        return MINUTES - self.minutes

    def make(self, band: str, dial: float, feed_rate: float, cuts: int) -> pd.DataFrame:
        """Make a run; its rows as logged. `BudgetError` where the machine, the minutes or the band forbid it.

        band : the id of a band fitted, as B01, or "new"
        dial : indicated band speed [m/min]; feed_rate [mm/min]; cuts of 100 mm travel
        """
        import pandas as pd

        new = str(band).strip().casefold() in ("new", self.next_band.casefold())
        run = TrialRun(self.next_band if new else str(band).strip().upper(), float(dial), float(feed_rate), int(cuts))
        problems = self._problems(run)
        if problems:
            raise BudgetError("\n".join(problems))
        if new:
            self.shop.new_band(machine=MACHINE)
        self.runs.append(run)
        if (needed := self.would_take(run.band, run.dial, run.feed_rate)) > (self.shop.machine.motor_power or math.inf):
            return self._stall(run, needed)
        row = {"band": run.band, "band_speed": run.dial, "feed_rate": run.feed_rate}
        row |= {"work_thickness": self.job.thickness, "cut_travel": TRAVEL}
        log = self.shop.run(pd.DataFrame([row] * run.cuts))
        self.made.append(len(log))
        return log

    @property
    def next_band(self) -> str:
        """Id of the band that is fitted next."""
        return f"B{len(self.shop.bands) + 1:02d}"

    def ended(self, band: str) -> str:
        """How a band ended, "" if it still cuts or was never fitted."""
        fitted = self.shop.bands.get(band)
        return "" if fitted is None or fitted.alive else fitted.end.replace("_", " ")

    def stalled(self, band: str) -> bool:
        """Whether a band came off because the motor stalled."""
        return any(self.runs[number].band == band for number in self.stalls)

    def would_take(self, band: str, dial: float, feed_rate: float) -> float:
        """Power that a run takes of the motor as it starts [W], with a band as it is, or a new one.

        dial : indicated [m/min]; feed_rate [mm/min]
        """
        fitted = self.shop.bands.get(band)
        V = float(self.shop.true_speed(dial, MACHINE))
        h = float(sawing.chip_load(V, feed_rate, self.shop.stock.tooth_spacing))
        mechanics = self.shop.mechanics(MACHINE)
        return float(mechanics.motor_power(V, h, self.job.thickness, fitted.wear_used if fitted else 0.0))

    def _stall(self, run: TrialRun, power: float) -> pd.DataFrame:
        """The motor stalls as the run begins: minutes are lost, the band is kinked and comes off, nothing is cut."""
        self.stalls[len(self.runs) - 1] = power
        self.shop.remove(run.band)
        self.made.append(0)
        return self.shop.cuts.iloc[:0]

    def settings(self) -> list[dict[str, Any]]:
        """The runs, from which the same trial can be made again."""
        return [asdict(run) for run in self.runs]

    def study(self, **info: str) -> Study:
        """The log as a study."""
        return study_of(self.shop, **info)

    def cuts_in(self, minutes: float, feed_rate: float) -> int:
        """Whole cuts that last about so many minutes [min] at a feed rate [mm/min], at least one."""
        return max(1, round(minutes / float(sawing.cut_time(TRAVEL, feed_rate))))

    def _problems(self, run: TrialRun) -> list[str]:
        machine, found = self.job.shop.machine, []
        if run.band not in (*self.shop.bands, self.next_band):
            found.append(f'band "{run.band[:12]}" was never fitted; there are {", ".join((*self.shop.bands, "new"))}.')
        found += not_on(machine.band_speed_ranges, run.dial, "speed", "band speed on the dial", self.system)
        if machine.feed_rate_range:
            found += not_on((machine.feed_rate_range,), run.feed_rate, "feed_rate", "feed rate", self.system)
        if not 1 <= run.cuts <= MOST_CUTS:
            found.append(f"{run.cuts} cuts: make 1 to {MOST_CUTS}.")
        if found:
            return found
        if end := self.ended(run.band):
            how = "kinked as the motor stalled" if self.stalled(run.band) else end
            return [f"band {run.band} has ended: {how}. Fit a new one."]
        needed = run.cuts * float(sawing.cut_time(TRAVEL, run.feed_rate))
        if needed > self.left + 0.5:
            fit = int(max(0.0, self.left) / float(sawing.cut_time(TRAVEL, run.feed_rate)))
            return [
                f"{run.cuts} cuts take {needed:.1f} min, and {max(0.0, self.left):.1f} min are left: {fit} cuts fit in."
            ]
        return []


def not_on(ranges: Any, value: float, kind: str, what: str, system: str) -> list[str]:
    """A sentence if a setting lies in none of the machine's ranges [inside unit]; nothing if it does."""
    if any(low * (1 - ROUNDING) <= value <= high * (1 + ROUNDING) for low, high in ranges):
        return []
    has = " or ".join(f"{show_answer(a, kind, system)} to {show_answer(b, kind, system)}" for a, b in ranges)
    return [f"{what}: {show_answer(value, kind, system)} can't be set; the machine has {has}."]


def follow(trial: BudgetedTrial, plan: Any) -> None:
    """Make the runs of a plan of `trials.plan` as far as the minutes go; a band that has ended is "
    "replaced."""
    called: dict[str, str] = {}
    fitted = len(trial.shop.bands)
    planned = iter([f"B{fitted + i + 1:02d}" for i in range(len(plan.runs))])
    for run in plan.runs:
        name = next(planned) if run.band == "new" else run.band
        band = "new" if run.band == "new" or trial.ended(called.get(name, name)) else called.get(name, name)
        each = float(sawing.cut_time(TRAVEL, run.feed))
        cuts = min(run.cuts, int((trial.left + 0.5) / each))
        if cuts:
            called[name] = trial.next_band if band == "new" else band
            trial.make(band, run.indicated, run.feed, cuts)
