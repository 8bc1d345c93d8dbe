"""`plan`: which cuts to make next, and whether making more still pays."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from bandtrial import units
from bandtrial.recommend.job import Job, job_of
from bandtrial.recommend.optimise import Wish, nothing_allowed
from bandtrial.recommend.others import usual_coolant
from bandtrial.recommend.tried import LEAST_CUTS, life_known, log_life, rows_of, tried
from bandtrial.recommend.wording import cautions_text, feed_words, table_html, table_text

from .board import NEW, Board, Options, cut_on, lay, options
from .first import BREAK_IN, BREAK_IN_FORCE, first_runs
from .run import Run, new_ids, run_at, usual_travel
from .seen import Seen
from .value import least_after, told
from .why import LIFE_UNKNOWN, NO_ANSWER, SHOWS_LIFE, WAY_OUT, reason_to_run, reason_to_stop

HORIZON_BANDS = 20.0
"""Bands' worth of this work that a saving is counted over, unless the caller says how much will be sawn."""
SHORTEST, LONGEST = 4.0, 16.0
"""Least and greatest minutes of a run. Short ones show little: growth seen in a run of t minutes counts as t^3."""
AHEAD = 30
"""Runs looked at again after the first has been chosen."""


@dataclass(frozen=True)
class Plan:
    """Runs in the order to make them. saving: expected [currency/cm2] of the setting chosen after them;
    stop: whether more trial cutting is a waste; reason in words; horizon [cm2] the saving is counted over."""

    job: Job = field(repr=False)
    runs: tuple[Run, ...]
    saving: float
    stop: bool
    reason: str
    horizon: float = 0.0

    def to_json(self) -> dict[str, Any]:
        """The keys of `bandtrial plan --json`."""
        key = "feed_force_n" if self.job.feed == "force" else "feed_rate_mm_min"
        return {
            "runs": [run.to_json(key) for run in self.runs],
            "expected_saving_per_cm2": self.saving,
            "stop": self.stop,
            "reason": self.reason,
        }

    def fields(self) -> list[tuple[str, str, str]]:
        """(label, value, note) of every line."""
        system = self.job.system
        out = [("status", "STOP: more trial cuts do not pay" if self.stop else "CUT: these runs pay", self.reason)]
        for i, run in enumerate(self.runs, 1):
            setting = f"{units.show(run.indicated, 'speed', system)} on the dial, {feed_words(self.job, run.feed)}"
            count = f"{run.cuts} cut{'s' * (run.cuts != 1)}, {run.minutes:g} min"
            out.append((f"run {i}, {run.band if run.band != NEW else 'new band'}", f"{setting}, {count}", run.why))
        return out

    def __str__(self) -> str:
        return f"{table_text(self.fields())}\n\n{cautions_text()}"

    def _repr_html_(self) -> str:
        return table_html(self.fields(), "Trial cuts to make next")


def plan(
    fit,
    study,
    machine: str,
    stock: str,
    material: str,
    thickness_mm: float,
    minutes: float,
    seed: int = 1,
    horizon_cm2: float | None = None,
) -> Plan:
    """The trial cuts worth making in the minutes given.

    Without cuts of this work: settings spread over speed and chip load, see `first.first_runs`. With them: one
    after the other the run of largest expected saving per minute, until the minutes are used or the next run
    costs more than it is expected to save over the work ahead. Where none pays and `recommend` would still refuse, as
    band life is too little known, the one run that tells most of it.

    fit : of `wear.fit`, or None where the study has no cut that can be fitted
    minutes : free for trial cutting [min]
    horizon_cm2 : area of this work still to be sawn; 20 bands' worth if not given

    Raises ValueError for unknown names, NotYet where costs are missing or no setting near those tried holds the limits.
    """
    if not minutes > 0:
        raise ValueError(f"minutes {minutes:g} leave no time for a cut; give the minutes free, such as 60")
    cuts = fit.data if fit is not None else None
    coolant = usual_coolant(cuts, machine, material) if cuts is not None else "flood"
    job = job_of(study, machine, stock, material, thickness_mm, coolant)
    travel = usual_travel(cuts, job)
    if cuts is None or len(rows_of(cuts, job)[0]["band"]) < LEAST_CUTS:
        runs = first_runs(job, minutes, seed, new_ids(study), travel)
        return Plan(job, tuple(runs), float("nan"), False, "no cuts of this work yet: spread the first ones out")
    rng = np.random.default_rng(seed)
    region = tried(fit, study, job)
    board = lay(fit, study, job, region, rng)
    if board is not None:
        made = next_runs(board, minutes, travel, horizon_cm2, new_ids(study), rng)
        if made.stop and board.answers() and not life_known(fit, job, region):
            first = life_run(board, minutes, travel, new_ids(study))
            made = replace(made, runs=first, stop=False, reason=LIFE_UNKNOWN) if first else made
        if made.runs or board.answers():
            return made
    raise nothing_allowed(fit, job, region, Wish())


def next_runs(board: Board, minutes: float, travel: float, horizon_cm2, ids, rng) -> Plan:
    """Greedy choice of runs by expected saving per minute."""
    job, left = board.job, minutes
    tried_too: list[tuple[float, float, float]] = []
    best, rivals = board.best, board.rivals()
    now = value = float(board.cost.mean(axis=0)[best])
    horizon = horizon_cm2 or HORIZON_BANDS * float(board.life[best])
    runs: list[Run] = []
    seen, only = Seen.nothing(len(board.cost)), None
    while left >= min(SHORTEST, minutes) and (choice := _choice(board, left, travel, tried_too, only)):
        after = np.array([_after(board, choice, i, seen, tried_too, rivals) for i in range(len(choice.at))])
        spent = choice.minutes + _beside(job, choice)
        worth = (value - after) / spent
        stuck = not board.answers(tried_too)
        i = _way_out(board, choice, tried_too, worth) if stuck else int(np.argmax(worth))
        if not stuck and (value - after[i]) * horizon <= spent[i] * job.prices.per_minute:
            break
        name = next(ids) if choice.band[i] == NEW else str(choice.band[i])
        why = WAY_OUT if stuck else reason_to_run(board, choice, i, best, (value - after[i]) * horizon)
        runs += _runs(board, choice, i, name, travel, why)
        seen = seen.and_then(choice, i, name)
        tried_too.append((board.V[choice.at[i]], board.bite[choice.at[i]], choice.chip_load[i]))
        if stuck:  # what it shows decides the next: plan again then
            break
        only = list(dict.fromkeys(choice.at[np.argsort(-worth)][:AHEAD].tolist()))
        board, value, left = cut_on(board, choice, i, name, rng), after[i], left - choice.minutes[i]
    stuck = bool(runs) and not board.answers()
    reason = NO_ANSWER if stuck else reason_to_stop(job, now, value, horizon, minutes, bool(runs))
    return Plan(job, tuple(runs), max(now - value, 0.0), not runs, reason, horizon)


def _way_out(board: Board, choice: Options, tried_too, worth) -> int:
    """Where no setting can be recommended yet: the run of most worth after which one can, else the thickest chip."""
    run = zip(board.V[choice.at], board.bite[choice.at], choice.chip_load, strict=True)
    opens = np.array([board.answers([*tried_too, setting]) for setting in run])
    return int(np.argmax(np.where(opens, worth, -np.inf) if opens.any() else choice.chip_load))


def life_run(board: Board, minutes: float, travel: float, ids) -> tuple[Run, ...]:
    """The run that tells most of a band's life per minute: where none pays by what it saves, and yet nothing can be
    recommended, as life is hardly known. () where no run can be made."""
    choice = _choice(board, minutes, travel, [], None)
    if choice is None:
        return ()
    life, none = log_life(board.fit, board.job, board.region), Seen.nothing(len(board.cost))
    then = [none.and_then(choice, i, str(choice.band[i])) for i in range(len(choice.at))]
    tells = np.array([told(life, one.shown, one.errors) for one in then])
    i = int(np.argmax(tells / (choice.minutes + _beside(board.job, choice))))
    name = next(ids) if choice.band[i] == NEW else str(choice.band[i])
    return tuple(_runs(board, choice, i, name, travel, SHOWS_LIFE))


def _choice(board: Board, left: float, travel: float, tried_too, only) -> Options | None:
    """Runs that may be made next, of all the minutes left up to LONGEST and of half of that."""
    whole = min(left, LONGEST)
    made = [options(board, minutes, travel, tried_too, only) for minutes in (whole, whole / 2)]
    return Options.joined([some for some in made if some])


def _beside(job, choice):
    """Minutes (m,) a run costs beside its cutting: the change to a new band, and the band it uses up."""
    used = choice.used.mean(axis=0) * job.prices.band / job.prices.per_minute
    return used + job.prices.change_minutes * (choice.band == NEW)


def _after(board, choice, i, seen: Seen, tried_too, rivals) -> float:
    at = choice.at[i]
    then_open = board.open([*tried_too, (board.V[at], board.bite[at], choice.chip_load[i])])
    may_choose = rivals & then_open if (rivals & then_open).any() else then_open
    then = seen.and_then(choice, i, str(choice.band[i]))
    return least_after(board.cost, then.shown, then.errors, may_choose, np.random.default_rng(7))


def _runs(board, choice, i: int, name: str, travel: float, why: str) -> list[Run]:
    """Option i as a run, on a new band after a break-in cut."""
    at, job = choice.at[i], board.job
    V, bite, h = board.V[at], board.bite[at], choice.chip_load[i]
    if choice.band[i] != NEW:
        return [run_at(job, name, V, bite, h, choice.minutes[i], travel, why)]
    light = BREAK_IN if job.feed != "force" else BREAK_IN_FORCE
    first = f"break-in of a new band, to be called {name}: half the feed, one cut"
    return [
        run_at(job, NEW, V, light * bite, BREAK_IN * h, 0.0, travel, first),
        run_at(job, name, V, bite, h, choice.minutes[i], travel, why),
    ]
