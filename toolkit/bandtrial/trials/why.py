"""Why a run is worth making, or why trying should stop, in words."""

from __future__ import annotations

from bandtrial import units
from bandtrial.recommend.steps import INSIDE, step_words

MUCH = 1.08


FIRST_CUTS = "no cuts of this work yet: spread the first ones out"
AGAIN = "make this run, log it, then plan again"
NO_ANSWER = f"no setting near those tried holds every limit yet: {AGAIN}"
LIFE_UNKNOWN = f"band life is too little known yet for more than a rough recommendation: {AGAIN}"
SHOWS_LIFE = "shows most of how fast bands dull, which is hardly known yet"
TO_THE_END = "; the band may well end: no reading tells its life sooner. Stop when it is dull, crooked or loud"
WAY_OUT = "leads towards settings that hold every limit"
BROKEN = f"what was cut so far breaks a limit: {AGAIN}"
MUCH_CAREFUL = "lighter than what was cut so far, which breaks a limit"
USED_UP = "no minutes are left for trial cuts"


def reason_to_run(board, choice, i: int, best: int, saving: float, region) -> str:
    """What the run shows that is not known yet, how far it goes, and what it is expected to save.

    region : what was tried, the runs before it in the plan included
    """
    job = board.job
    at = choice.at[i]
    speed, bite = board.V[at] / board.V[best], board.bite[at] / board.bite[best]
    parts = []
    if speed > MUCH:
        parts.append(f"{speed - 1:.0%} faster than the best setting known: shows how life falls with speed")
    elif speed < 1 / MUCH:
        parts.append(f"{1 - speed:.0%} slower than the best setting known: shows how life grows when it is slower")
    if bite > MUCH:
        parts.append(f"{bite - 1:.0%} heavier feed per tooth: shows what a thicker chip costs in life")
    elif bite < 1 / MUCH:
        parts.append(f"{1 - bite:.0%} lighter feed per tooth: shows what a thinner chip gains in life")
    if not parts:
        parts.append("at about the best setting known: firms its life and its signals")
    parts += step_said(board, at, region)
    if choice.used[:, i].mean() > 0.15:
        parts.append(f"uses about {min(choice.used[:, i].mean(), 1.0):.0%} of a band's wear life")
    return "; ".join(parts) + f"; expected to save {saving:,.0f} {job.currency} over the work ahead"


def step_said(board, at: int, region) -> list[str]:
    """The size of the step beyond what was tried, where it is one."""
    words = step_words(board.job, region, float(board.V[at]), float(board.bite[at]))
    return [] if words == INSIDE else [words]


def reason_to_stop(job, now: float, after: float, horizon: float, minutes: float, any_runs: bool) -> str:
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
