"""Which cuts are worth making: what they are worth, which are chosen, why, and which would tell most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import units
from bandtrial.recommend.others import IN_STEPS, beyond, nearest_speed, step_words
from bandtrial.recommend.remarks import LIGHTER
from bandtrial.recommend.tried import NOTHING, Tried, log_life, piece_of, tried
from bandtrial.trials.board import NEW, Board, Options, lay, options
from bandtrial.trials.first import BREAK_IN, BREAK_IN_FORCE, break_in
from bandtrial.trials.run import TRIAL_STEP, Aim, Run, Seen, extended, new_ids, run_at
from bandtrial.words import rounded

if TYPE_CHECKING:
    from bandtrial.recommend.job import Job
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


SHRINK = 0.02
"""Added to the variance of every reading, as a share: keeps chance correlations of the draws small."""


def told(target: Any, shown: Any, errors: Any) -> float:
    """Part of the variance of `target` (S,) that the readings tell, by the same regression."""
    y, t = shown - shown.mean(axis=0), target - target.mean()
    R = errors + np.diag(SHRINK * y.var(axis=0))
    c = y.T @ t / len(t)
    return float(c @ np.linalg.solve(y.T @ y / len(t) + R, c)) if len(c) else 0.0


def least_after(
    cost: np.ndarray, shown: np.ndarray, errors: np.ndarray, open_now: np.ndarray, rng: np.random.Generator
) -> float:
    """Expectation of the least expected cost after readings are seen: of `foretold`, over its draws.

    open_now (n,) settings that may be chosen; rng for the errors of the readings.
    """
    return float(np.mean(foretold(cost[:, open_now], shown, errors, rng.standard_normal(shown.shape)).min(axis=1)))


def foretold(cost: np.ndarray, shown: np.ndarray, errors: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Costs (S, n) that are expected once readings are seen, by draw.

    Logs of costs follow readings by linear regression, scaled so that each setting's mean cost stays what it is: costs
    are skew, and a line through them foretells costs below nothing.

    Parameters: cost (S, n) of settings by draw, above 0; shown (S, d) noise-free readings; errors (d, d) their
    covariance; noise (S, d) standard normals.
    """
    middle = cost.mean(axis=0)
    if not shown.shape[1]:
        return np.broadcast_to(middle, cost.shape)
    y, log = shown - shown.mean(axis=0), np.log(cost)
    R = errors + np.diag(SHRINK * y.var(axis=0))
    B = np.linalg.solve(y.T @ y / len(y) + R, y.T @ (log - log.mean(axis=0)) / len(y))
    seen = y + noise @ np.linalg.cholesky(errors).T
    then = np.exp((seen - seen.mean(axis=0)) @ B)
    return np.asarray(then * (middle / then.mean(axis=0)))


def gained(cost: np.ndarray, seen: Seen, then: Seen, open_now: np.ndarray, open_then: np.ndarray) -> np.ndarray:
    """What choosing anew after the last run gains by draw (S,) [of cost]: over the setting that was chosen before it.

    seen, then : readings before and after the run, the former first in the latter; open_now, open_then (n,) settings
    that may be chosen.
    """
    noise = np.random.default_rng(7).standard_normal(then.shown.shape[::-1]).T  # the same for the readings of both
    known = foretold(cost, seen.shown, seen.errors, noise[:, : seen.shown.shape[1]])
    after = foretold(cost, then.shown, then.errors, noise)
    was = np.argmin(np.where(open_now, known, np.inf), axis=1)
    best = np.where(open_then, after, np.inf).min(axis=1)
    return np.asarray(np.maximum(after[np.arange(len(after)), was] - best, 0.0))


LONGEST = 16.0
"""Greatest minutes of a run."""


def choices(
    board: Board, left: float, travel: float, tried_too: Sequence[Any] = (), only: list[int] | None = None
) -> Options | None:
    """Runs that may be made next, of all the minutes left up to LONGEST and of half of that."""
    whole = min(left, LONGEST)
    made = [options(board, minutes, travel, tried_too, only) for minutes in (whole, whole / 2)]
    return Options.joined([some for some in made if some])


def beside(board: Board, choice: Options) -> np.ndarray:
    """Minutes (m,) a run costs beside its cutting: the change to another band and the break-in cut of a new one, the
    band it uses up, the piece that may be lost with it."""
    prices = board.job.prices
    used = np.minimum(choice.used, 1.0).mean(axis=0) * prices.band / prices.per_minute
    lost = choice.ends * prices.scrapped_piece / prices.per_minute
    light = np.where(choice.band == NEW, choice.minutes / choice.cuts / BREAK_IN, 0.0)
    return np.asarray(used + lost + light + prices.change_minutes * (choice.band != board.mounted))


def runs_of(board: Board, choice: Options, i: int, name: str, travel: float, why: str, region: Tried) -> list[Run]:
    """Option i as a run, on a new band after a break-in cut, and climbed to where it is far beyond what was tried.

    region : what was tried, the runs before it in the plan included
    """
    at, job = choice.at[i], board.job
    V, bite, h = board.V[at], board.bite[at], choice.chip_load[i]
    runs = climb(board, region, name, V, bite, h, travel)
    runs.append(run_at(job, name, Aim(V, bite, h), choice.minutes[i], travel, why))
    if choice.band[i] != NEW:
        return runs
    share = BREAK_IN if job.feed != "force" else BREAK_IN_FORCE
    light, words = break_in(share, float(bite), float(np.exp(board.region.bite[0])))
    first = f"break-in of a new band, to be called {name}: {words}, one cut"
    return [run_at(job, NEW, Aim(V, light * bite, light * h), 0.0, travel, first), *runs]


def climb(board: Board, region: Tried, name: str, V: float, bite: float, h: float, travel: float) -> list[Run]:
    """Single cuts by which a feed far beyond what was tried is come to: none is a greater step than TRIAL_STEP."""
    job, top = board.job, float(np.exp(region.bite[1]))
    steps = int(np.ceil(np.log(bite / top) / np.log(1.02 * TRIAL_STEP)))
    made = []
    for k in range(1, steps):
        at = top * (bite / top) ** (k / steps)
        words = step_words(job, region, nearest_speed(job, V), at)
        why = f"{ON_THE_WAY} to the next run: {words}; go on only if it cuts well"
        made.append(run_at(job, name, Aim(V, at, h * at / bite), 0.0, travel, why))
        region = extended(region, job, V, at, h * at / bite)
    return made


MUCH, ON_THE_WAY = 1.08, "on the way"
SLIGHT = 0.01  # share of the greatest gain that is none


FIRST_CUTS = "no cuts of this work yet: spread the first ones out"
FEW_CUTS = "few cuts of this work yet: spread the next ones out"
AGAIN = "make this run, log it, then plan again"
FIRST_FORCE = f"what chip a feed force gives here is not known yet: {AGAIN}"
NO_ANSWER = f"no setting near those tried holds every limit yet: {AGAIN}"
LIFE_UNKNOWN = f"band life is too little known yet for more than a rough recommendation: {AGAIN}"
SHOWS_LIFE = "shows most of how fast bands dull, which is hardly known yet"
TO_THE_END = "; the band may well end: no reading tells its life sooner. Stop when it is dull, crooked or loud"
WAY_OUT = "leads towards settings that hold every limit"
BROKEN = f"what was cut so far breaks a limit: {AGAIN}"
MUCH_CAREFUL = "lighter than what was cut so far, which breaks a limit"
USED_UP = "no minutes are left for trial cuts"


def reason_to_run(board: Board, choice: Options, i: int, best: int, saving: Any, region: Tried) -> str:
    """What the run shows that is not known yet, how far it goes, and what it is expected to save.

    saving : over the work ahead, expected and by draw (S,)
    region : what was tried, the runs before it in the plan included
    """
    job = board.job
    at = choice.at[i]
    speed, bite = board.V[at] / board.V[best], board.bite[at] / board.bite[best]
    feed = "feed force" if job.feed == "force" else "feed per tooth"
    turned = ((speed, "faster", "slower"), (bite, f"with more {feed}", f"with less {feed}"))
    ways = [more if x > MUCH else less for x, more, less in turned
            if not 1 / MUCH <= x <= MUCH]  # fmt: skip
    parts = ["at about the best setting known: shows its band life and its readings more surely"]
    if ways:
        parts = [
            f"{' and '.join(ways)} than the best setting known: shows whether it cuts well so, and how fast it wears"
        ]
    parts += step_said(board, at, region)
    if choice.used[:, i].mean() > 0.15:
        parts.append(f"uses about {100 * min(choice.used[:, i].mean(), 1.0):.0f} % of a band's wear life")
    gain = f"{rounded(saving[0])} {job.currency} over the work ahead, on average, its own cost aside"
    return "; ".join([*parts, f"what it shows should save {gain}: {how_often(*saving)}"])


def how_often(saving: float, gains: np.ndarray) -> str:
    """How often a run finds a setting that saves what makes its mean, and how much in 80 of 100 of these cases.

    >>> how_often(180.0, np.array([0.0] * 16 + [600.0, 900.0, 900.0, 1200.0]))
    '20 times in 100 it finds a setting that saves about 900 (690 to 1,100), else none'
    """
    found = gains[gains > SLIGHT * gains.max(initial=0.0)]
    share = len(found) / len(gains)
    if not share:
        return "it seldom finds a setting that saves more"
    low, high = np.quantile(found, [0.1, 0.9]) * saving / gains.mean()
    worth = f"a setting that saves about {rounded(saving / share)} ({rounded(low)} to {rounded(high)})"
    if share >= 0.995:
        return f"it all but surely finds {worth}"
    often = f"{100 * share:.0f} times in 100" if share >= 0.015 else "once in 100 times or less"
    return f"{often} it finds {worth}, else none"


def step_said(board: Board, at: int, region: Tried) -> list[str]:
    """The size of the step beyond what was tried, where it is one."""
    words = beyond(board.job, region, nearest_speed(board.job, float(board.V[at])), float(board.bite[at]))
    return [words] if words else []


def reason_to_stop(job: Job, now: float, after: float, horizon: float, minutes: float, any_runs: bool) -> str:
    """Why the plan goes on or stops."""
    area = units.show(horizon, "area", job.system)
    saving = (now - after) * horizon
    if any_runs:
        share = 100 * (now - after) / now
        return (
            f"expected to bring the cost down by {share:.1f} % ({saving:,.0f} {job.currency} over {area} of this work)"
        )
    cost = minutes * job.prices.per_minute
    return (
        f"no run of these minutes is expected to save more than it costs: over {area} of this work the best saves "
        f"less than its machine time ({cost:,.0f} {job.currency} for {minutes:g} minutes)"
    )


MINUTES = 30.0
"""Of the run that is named beside a rough answer."""
HARD = 45.0
"""Greatest minutes of a run that may end its band."""
RISK = 0.2
"""Chance that a band ends in a run from which it is said."""


def telling_run(fit: Fit, study: Study, job: Job) -> Run | None:
    """The run that tells most of what a rough answer for the job lacks; None where none can be made."""
    board = lay(fit, study, job, tried(fit, study, job), np.random.default_rng(1))
    runs = life_run(board, MINUTES, piece_of(fit.data, job).travel, new_ids(study)) if board else ()
    if not runs:
        return None
    run = replace(runs[-1], band=NEW) if any(run.band == NEW for run in runs) else runs[-1]
    return replace(run, why=f"{run.why}; {IN_STEPS}") if any(one.why.startswith(ON_THE_WAY) for one in runs) else run


def life_run(board: Board, minutes: float, travel: float, ids: Any) -> tuple[Run, ...]:
    """The run that tells most of a band's life per minute: where nothing but a rough answer can be given, as life is
    hardly known. () where no run can be made. Of the life in the middle of what was tried; at a set force, where light
    chips, which thin most, would draw that middle after them, at the best setting.

    Where no band has ended in this work yet, a band may be run towards its end: it is the plainest reading of all, and
    where no signal is logged the only one. Then the run that most likely comes to it is taken: what so small a chance
    tells of life would be the chance of few draws.
    """
    choice = _choices(board, minutes, travel)
    if choice is None:
        return ()
    best = np.log(board.V[board.best] / board.job.published_speed), np.log(board.bite[board.best])
    region = replace(board.region, centre=best) if board.typical else board.region
    life = log_life(board.fit, board.job, region)
    none, tells = Seen.nothing(len(board.cost)), np.where(_gentler(board, choice), 0.0, choice.ends)
    if board.signals:
        then = [none.and_then(choice, i, str(choice.band[i])) for i in range(len(choice.at))]
        tells = np.array([told(life, one.shown, one.errors) for one in then])
    i = int(np.argmax(tells / (choice.minutes + beside(board, choice))))
    name = next(ids) if choice.band[i] == NEW else str(choice.band[i])
    why = "; ".join([SHOWS_LIFE, *step_said(board, choice.at[i], board.region)])
    return tuple(runs_of(board, choice, i, name, travel, why + TO_THE_END * bool(choice.ends[i] > RISK), board.region))


def _gentler(board: Board, choice: Options) -> np.ndarray:
    """Runs (m,) slower or lighter than all that was tried: a band that ends so has rubbed, which tells nothing of bands
    that cut."""
    V, bite = board.V[choice.at] / board.job.published_speed, board.bite[choice.at]
    least = np.exp([board.region.speed[0], board.region.bite[0]]) * (1 - NOTHING)
    return np.asarray((least[0] > V) | (bite < least[1]))


def _choices(board: Board, minutes: float, travel: float) -> Options | None:
    gentle = choices(board, minutes, travel)
    if board.region.evidence["failed"]:
        return gentle
    long = [options(board, min(minutes, most), travel, to_the_end=True) for most in (LONGEST, HARD)]
    if not board.signals:  # nothing but an end tells: no use in short and gentle runs
        return long[-1]
    return Options.joined([some for some in (gentle, *long) if some])


def careful_run(job: Job, region: Tried, travel: float, ids: Any) -> tuple[Run, ...]:
    """One cut lighter than any that was made, on a new band: where what was cut breaks a limit."""
    V = nearest_speed(job, job.published_speed * float(np.exp(region.speed[0])))
    bite = LIGHTER * float(np.exp(region.bite[0]))
    h = bite if job.feed != "force" else LIGHTER * region.proven.lightest
    why = f"{MUCH_CAREFUL}: {step_words(job, region, V, bite)}; a new band, to be called {next(ids)}"
    return (run_at(job, NEW, Aim(V, bite, h), 0.0, travel, why),)
