"""Runs that may be made next, what each costs beside its cutting, and how it is made."""

from __future__ import annotations

import numpy as np

from bandtrial.recommend.steps import step_words

from .board import NEW, TRIAL_STEP, Board, Options, extended, options
from .first import BREAK_IN, BREAK_IN_FORCE, break_in
from .run import Run, run_at

LONGEST = 16.0
"""Greatest minutes of a run."""


def choices(board: Board, left: float, travel: float, tried_too=(), only=None) -> Options | None:
    """Runs that may be made next, of all the minutes left up to LONGEST and of half of that."""
    whole = min(left, LONGEST)
    made = [options(board, minutes, travel, tried_too, only) for minutes in (whole, whole / 2)]
    return Options.joined([some for some in made if some])


def beside(board: Board, choice: Options):
    """Minutes (m,) a run costs beside its cutting: the change to another band, the band it uses up, the piece that may
    be lost with it."""
    prices = board.job.prices
    used = np.minimum(choice.used, 1.0).mean(axis=0) * prices.band / prices.per_minute
    lost = choice.ends * prices.scrapped_piece / prices.per_minute
    return used + lost + prices.change_minutes * (choice.band != board.mounted)


def runs_of(board: Board, choice: Options, i: int, name: str, travel: float, why: str, region) -> list[Run]:
    """Option i as a run, on a new band after a break-in cut, and climbed to where it is far beyond what was tried.

    region : what was tried, the runs before it in the plan included
    """
    at, job = choice.at[i], board.job
    V, bite, h = board.V[at], board.bite[at], choice.chip_load[i]
    runs = climb(board, region, name, V, bite, h, travel)
    runs.append(run_at(job, name, V, bite, h, choice.minutes[i], travel, why))
    if choice.band[i] != NEW:
        return runs
    share = BREAK_IN if job.feed != "force" else BREAK_IN_FORCE
    light, words = break_in(share, float(bite), float(np.exp(board.region.bite[0])))
    first = f"break-in of a new band, to be called {name}: {words}, one cut"
    return [run_at(job, NEW, V, light * bite, light * h, 0.0, travel, first), *runs]


def climb(board: Board, region, name: str, V: float, bite: float, h: float, travel: float) -> list[Run]:
    """Single cuts by which a feed far beyond what was tried is come to: none is a greater step than TRIAL_STEP."""
    job, top = board.job, float(np.exp(region.bite[1]))
    steps = int(np.ceil(np.log(bite / top) / np.log(1.02 * TRIAL_STEP)))
    made = []
    for k in range(1, steps):
        at = top * (bite / top) ** (k / steps)
        words = step_words(job, region, V, at)
        why = f"on the way to the next run: {words}; go on only if it cuts well"
        made.append(run_at(job, name, V, at, h * at / bite, 0.0, travel, why))
        region = extended(region, job, V, at, h * at / bite)
    return made
