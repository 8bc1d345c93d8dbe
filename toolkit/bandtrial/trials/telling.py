"""The one run that tells most of a band's life, and the one that is more careful than all that was cut."""

from __future__ import annotations

import numpy as np

from bandtrial.recommend.others import nearest_speed
from bandtrial.recommend.steps import step_words
from bandtrial.recommend.tried import log_life, tried
from bandtrial.recommend.unsure import LIGHTER

from .board import NEW, Board, Options, lay, options
from .choice import LONGEST, beside, choices, runs_of
from .run import Run, new_ids, run_at, usual_travel
from .seen import Seen
from .value import told
from .why import MUCH_CAREFUL, SHOWS_LIFE, TO_THE_END, step_said

MINUTES = 30.0
"""Of the run that is named beside a rough answer."""
HARD = 45.0
"""Greatest minutes of a run that may end its band."""
RISK = 0.2
"""Chance that a band ends in a run from which it is said."""


def telling_run(fit, study, job) -> Run | None:
    """The run that tells most of what a rough answer for the job lacks; None where none can be made."""
    board = lay(fit, study, job, tried(fit, study, job), np.random.default_rng(1))
    runs = life_run(board, MINUTES, usual_travel(fit.data, job), new_ids(study)) if board else ()
    return runs[-1] if runs else None


def life_run(board: Board, minutes: float, travel: float, ids) -> tuple[Run, ...]:
    """The run that tells most of a band's life per minute: where nothing but a rough answer can be given, as life is
    hardly known. () where no run can be made.

    Where no band has ended in this work yet, a band may be run towards its end: it is the plainest reading of all.
    """
    choice = _choices(board, minutes, travel)
    if choice is None:
        return ()
    life, none = log_life(board.fit, board.job, board.region), Seen.nothing(len(board.cost))
    then = [none.and_then(choice, i, str(choice.band[i])) for i in range(len(choice.at))]
    tells = np.array([told(life, one.shown, one.errors) for one in then])
    i = int(np.argmax(tells / (choice.minutes + beside(board, choice))))
    name = next(ids) if choice.band[i] == NEW else str(choice.band[i])
    why = "; ".join([SHOWS_LIFE, *step_said(board, choice.at[i], board.region)])
    return tuple(runs_of(board, choice, i, name, travel, why + TO_THE_END * bool(choice.ends[i] > RISK), board.region))


def _choices(board: Board, minutes: float, travel: float) -> Options | None:
    gentle = choices(board, minutes, travel)
    if board.region.evidence["failed"]:
        return gentle
    long = [options(board, min(minutes, most), travel, to_the_end=True) for most in (LONGEST, HARD)]
    if not board.signals:  # nothing but an end tells: no use in short and gentle runs
        return long[-1]
    return Options.joined([some for some in (gentle, *long) if some])


def careful_run(study, job, region, travel: float, ids) -> tuple[Run, ...]:
    """One cut lighter than any that was made, on a new band: where what was cut breaks a limit."""
    V = nearest_speed(job, job.published_speed * float(np.exp(region.speed[0])))
    bite = LIGHTER * float(np.exp(region.bite[0]))
    h = bite if job.feed != "force" else LIGHTER * region.proven.lightest
    why = f"{MUCH_CAREFUL}: {step_words(job, region, V, bite)}; a new band, to be called {next(ids)}"
    return (run_at(job, NEW, V, bite, h, 0.0, travel, why),)
