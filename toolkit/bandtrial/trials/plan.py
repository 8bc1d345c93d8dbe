"""`plan`: which cuts to make next, and whether making more still pays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import chain
from typing import TYPE_CHECKING, Any, Required, TypedDict, Unpack

import numpy as np

from bandtrial import units
from bandtrial.published.tables import CAUTIONS
from bandtrial.recommend.job import Job, must_carry, said
from bandtrial.recommend.optimise import DRAWS, Wish
from bandtrial.recommend.others import bite_giving, job_asked, stay
from bandtrial.recommend.proven import went_well
from bandtrial.recommend.remarks import check_signals
from bandtrial.recommend.tried import LEAST_CUTS, life_known, piece_of, rows_of, tried
from bandtrial.recommend.wording import feed_words, table_html, told
from bandtrial.trials.board import NEW, Board, Options, cut_on, lay, mounted
from bandtrial.trials.choice import (
    BROKEN,
    FEW_CUTS,
    FIRST_CUTS,
    FIRST_FORCE,
    LIFE_UNKNOWN,
    NO_ANSWER,
    USED_UP,
    WAY_OUT,
    beside,
    careful_run,
    choices,
    gained,
    least_after,
    life_run,
    reason_to_run,
    reason_to_stop,
    runs_of,
    step_said,
)
from bandtrial.trials.first import first_runs, next_force, only_forces
from bandtrial.trials.run import Run, Seen, extended, new_ids

if TYPE_CHECKING:
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


HORIZON_BANDS = 20.0
"""Bands' worth of this work that a saving is counted over, unless the caller or study.toml says how much is ahead."""
SHORTEST = 4.0
"""Least minutes of a run. Short ones show little: growth seen in a run of t minutes counts as t^3."""
CHEAPEST = 40
"""Settings opened by a run that are looked at beside its rivals: those of least expected cost."""
AHEAD = 30
"""Runs looked at again after the first has been chosen."""


@dataclass(frozen=True)
class Plan:
    """Runs in the order to make them. saving: expected [currency/cm2] of the setting chosen after them;
    stop: whether more trial cutting is a waste; reason in words; horizon [cm2] the saving is counted over, 0 where it
    is not known; horizon_from: where that is from; warnings: what to read with it."""

    job: Job = field(repr=False)
    runs: tuple[Run, ...]
    saving: float
    stop: bool
    reason: str
    horizon: float = 0.0
    horizon_from: str = ""
    warnings: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The keys of `bandtrial plan --json`."""
        key = "feed_force_n" if self.job.feed == "force" else "feed_rate_mm_min"
        return {
            "cautions": list(CAUTIONS),
            "runs": [run.to_json(key) for run in self.runs],
            "expected_saving_per_cm2": self.saving,
            "stop": self.stop,
            "reason": self.reason,
            "work_ahead_cm2": self.horizon or None,
            "work_ahead_from": self.horizon_from,
            "warnings": list(self.warnings),
        }

    def fields(self) -> list[tuple[str, str, str]]:
        """(label, value, note) of every line."""
        system = self.job.system
        out = [("status", "STOP: more trial cuts do not pay" if self.stop else "CUT: these runs pay", self.reason)]
        for i, run in enumerate(self.runs, 1):
            setting = f"{units.show(run.indicated, 'speed', system)} on the dial, {feed_words(self.job, run.feed)}"
            count = f"{run.cuts} cut{'s' * (run.cuts != 1)}, {run.minutes:g} min"
            out.append((f"run {i}, {run.band if run.band != NEW else 'new band'}", f"{setting}, {count}", run.why))
        if self.horizon:
            out.append(("work ahead", units.show(self.horizon, "area", system), self.horizon_from))
        return out + [("warning", text, "") for text in self.warnings]

    def __str__(self) -> str:
        return told(self.fields())

    def _repr_html_(self) -> str:
        return table_html(self.fields(), "Trial cuts to make next")


class Asked(TypedDict, total=False):
    """What a plan is asked for beside its job."""

    minutes: Required[float]
    """Free for trial cutting [min]; none left is a plan to stop"""
    seed: int
    horizon_cm2: float | None
    """Area of this work still to be sawn; `work_ahead` of study.toml, or 20 bands' worth, if not given"""


def plan(
    fit: Any, study: Study, machine: str, stock: str, material: str, thickness_mm: float, **asked: Unpack[Asked]
) -> Plan:
    """The trial cuts worth making in the minutes given.

    Without cuts of this work: settings spread over speed and chip load, see `first.first_runs`; at a set force three
    cuts before them, one at a time, show what chip a force gives. With a cut that went well: one
    after the other the run of largest expected saving per minute, until the minutes are used or the next run
    costs more than it is expected to save over the work ahead. Where band life is hardly known, the one run that tells
    most of it; where what was cut breaks a limit, one that is lighter.

    fit : of `wear.fit`, or None where the study has no cut that can be fitted
    asked : `Asked`, each by its name

    Raises ValueError for unknown names and minutes that are no number, NotYet where costs are missing or the draws of
    the fit can carry no answer.
    """
    minutes, seed = asked["minutes"], asked.get("seed", 1)
    if not np.isfinite(minutes):
        raise ValueError(f"minutes {minutes:g} are no number of minutes; give the minutes free, such as 60")
    cuts = fit.data if fit is not None else None
    job = job_asked(cuts, study, (machine, stock, material), thickness_mm)
    ahead = work_ahead(study, asked.get("horizon_cm2"))
    if minutes <= 0:
        return Plan(job, (), 0.0, True, USED_UP, *ahead)
    travel, ids = piece_of(cuts, job).travel, chain(not_used_yet(study, job), new_ids(study))
    rows, ends, on = _so_far(cuts, study, job)
    if job.feed == "force" and rows["complete"].sum() < LEAST_CUTS:
        return _first(job, next_force(job, rows, ends, ids, travel, on), FIRST_FORCE, ahead)
    if cuts is None or (len(rows["band"]) < LEAST_CUTS and not went_well(cuts, ends)[rows["row"]].any()):
        return _first(job, first_runs(job, minutes, seed, ids, travel), FIRST_CUTS, ahead)
    trust = must_carry(fit, stay=stay(cuts, job) + ".")
    check_signals(fit, job, Wish())
    if only_forces(job, rows):
        bite = partial(bite_giving, fit.thinned(DRAWS), job, job.published_speed)
        return _first(job, first_runs(job, minutes, seed, ids, travel, bite, on), FEW_CUTS, ahead, said(trust))
    return replace(_next(fit, study, job, minutes, travel, ahead, seed), warnings=said(trust))


def _so_far(cuts: Any, study: Study, job: Job) -> tuple[Any, dict[str, str], str]:
    """Cuts of the work (`tried.rows_of`), how each band ended, and the band on the machine if it is of the job's stock
    and has been used in its work."""
    rows = rows_of(cuts, job)[0] if cuts is not None else {"band": np.zeros(0), "complete": np.zeros(0, bool)}
    ends = dict(zip(study.bands["band"], study.bands["end"], strict=True))
    fits = study.bands.loc[study.bands["stock"] == job.stock.id, "band"]
    on = mounted(study, job)
    return rows, ends, on if on in set(fits) & set(rows["band"]) else ""


def _first(
    job: Job, runs: Iterable[Run], reason: str, ahead: tuple[float, str], warnings: tuple[str, ...] = ()
) -> Plan:
    """A plan of runs before which nobody can say what they save."""
    return Plan(job, tuple(runs), float("nan"), False, reason, *ahead, warnings)


def not_used_yet(study: Study, job: Job) -> list[str]:
    """The band of the job's stock that bands.csv has in service on the machine, if it has made no cut yet."""
    cuts, bands = getattr(study, "cuts", None), study.bands
    if cuts is None:
        return []
    on = (bands["machine"] == job.machine.id) & (bands["end"] == "in_service") & (bands["stock"] == job.stock.id)
    return [str(band) for band in bands.loc[on, "band"].tail(1) if band not in set(cuts["band"])]


def work_ahead(study: Study, given: float | None) -> tuple[float, str]:
    """Area of the work ahead [cm2], 0 where nobody has said, and where it is from."""
    if given:
        return float(given), "as asked"
    written = study.costs.get("work_ahead")
    if written:
        return float(written), "work_ahead in study.toml"
    return 0.0, ""


def _next(fit: Fit, study: Study, job: Job, minutes: float, travel: float, ahead: tuple[float, str], seed: int) -> Plan:
    rng, ids = np.random.default_rng(seed), new_ids(study)
    region = tried(fit, study, job)
    board = lay(fit, study, job, region, rng)
    if board is None:
        return Plan(job, careful_run(job, region, travel, ids), 0.0, False, BROKEN, *ahead)
    if not life_known(fit, job, region):
        runs = life_run(board, minutes, travel, ids)
        if runs:
            return _first(job, runs, LIFE_UNKNOWN, ahead)
    return next_runs(board, minutes, travel, ahead, ids, rng)


def next_runs(
    board: Board, minutes: float, travel: float, ahead: tuple[float, str], ids: Any, rng: np.random.Generator
) -> Plan:
    """Greedy choice of runs by expected saving per minute."""
    job, left = board.job, minutes
    tried_too: list[tuple[float, float, float]] = []
    best, rivals = board.best, board.rivals()
    may_choose = np.arange(len(board.V)) == best
    now = value = float(board.mean_cost[best])
    horizon, known_from = ahead if ahead[0] else (HORIZON_BANDS * float(board.life[best]), OUR_HORIZON)
    runs: list[Run] = []
    seen, only, region = Seen.nothing(len(board.cost)), None, board.region
    while left >= min(SHORTEST, minutes) and (choice := choices(board, left, travel, tried_too, only)):
        after = np.array([_after(board, choice, i, seen, tried_too, rivals) for i in range(len(choice.at))])
        spent = choice.minutes + beside(board, choice)
        worth = (value - after) / spent
        stuck = not board.answers(tried_too)
        i = _way_out(board, choice, tried_too, worth) if stuck else int(np.argmax(worth))
        if not stuck and (value - after[i]) * horizon <= spent[i] * job.prices.per_minute:
            break
        name = next(ids) if choice.band[i] == NEW else str(choice.band[i])
        then, then_open = seen.and_then(choice, i, name), _may_choose(board, choice, i, tried_too, rivals)
        gains = gained(board.cost, seen, then, may_choose, then_open)
        saving = (value - after[i]) * horizon, gains * horizon
        why = "; ".join([WAY_OUT, *step_said(board, choice.at[i], region)]) if stuck else reason_to_run(
            board, choice, i, best, saving, region)  # fmt: skip
        runs += runs_of(board, choice, i, name, travel, why, region)
        seen, may_choose = then, then_open
        tried_too.append((board.V[choice.at[i]], board.bite[choice.at[i]], choice.chip_load[i]))
        region = extended(region, job, *tried_too[-1])
        if stuck:  # what it shows decides the next: plan again then
            break
        only = list(dict.fromkeys(choice.at[np.argsort(-worth)][:AHEAD].tolist()))
        board, value, left = cut_on(board, choice, i, name, rng), after[i], left - choice.minutes[i]
    stuck = bool(runs) and not board.answers()
    reason = NO_ANSWER if stuck else reason_to_stop(job, now, value, horizon, minutes, bool(runs))
    return Plan(job, tuple(runs), max(now - value, 0.0), not runs, reason, horizon, known_from)


OUR_HORIZON = (
    f"our assumption, {HORIZON_BANDS:.0f} bands of the mean life, which few long ones lift; --work-ahead AREA, or "
    "work_ahead in study.toml, says how much it is"
)


def _way_out(board: Board, choice: Any, tried_too: Any, worth: Any) -> int:
    """Where no setting can be recommended yet: the run of most worth after which one can, else the thickest chip."""
    run = zip(board.V[choice.at], board.bite[choice.at], choice.chip_load, strict=True)
    opens = np.array([board.answers([*tried_too, setting]) for setting in run])
    return int(np.argmax(np.where(opens, worth, -np.inf) if opens.any() else choice.chip_load))


def _after(
    board: Board, choice: Options, i: int, seen: Seen, tried_too: list[tuple[float, float, float]], rivals: np.ndarray
) -> float:
    then, now_open = seen.and_then(choice, i, str(choice.band[i])), _may_choose(board, choice, i, tried_too, rivals)
    return least_after(board.cost, then.shown, then.errors, now_open, np.random.default_rng(7))


def _may_choose(board: Board, choice: Options, i: int, tried_too: list[Any], rivals: np.ndarray) -> np.ndarray:
    """Which settings may be chosen (n,) after a run: the open among the rivals, and the cheapest that it opens."""
    at = choice.at[i]
    then_open = board.open([*tried_too, (board.V[at], board.bite[at], choice.chip_load[i])])
    may_choose: np.ndarray = rivals & then_open
    cheapest = np.argsort(board.mean_cost + np.where(then_open, 0.0, np.inf))[:CHEAPEST]
    may_choose[cheapest[then_open[cheapest]]] = True
    return may_choose
