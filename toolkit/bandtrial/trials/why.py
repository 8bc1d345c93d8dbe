"""Why a run is worth making, or why trying should stop, in words."""

from __future__ import annotations

from bandtrial import units

MUCH = 1.08


NO_ANSWER = "no setting near those tried holds every limit yet: make this run, log it, then plan again"
LIFE_UNKNOWN = "band life is too little known yet for a recommendation: make this run, log it, then plan again"
SHOWS_LIFE = "shows most of how fast bands dull, which is hardly known yet"
WAY_OUT = "leads towards settings that hold every limit; a step beyond what was tried"


def reason_to_run(board, choice, i: int, best: int, saving: float) -> str:
    """What the run shows that is not known yet, and what it is expected to save."""
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
    if board.region.outside(job, board.V[at], board.bite[at]) > 1e-9:
        parts.append("a step beyond what was tried")
    if choice.used[:, i].mean() > 0.15:
        parts.append(f"uses about {choice.used[:, i].mean():.0%} of a band's wear life")
    return "; ".join(parts) + f"; expected to save {saving:,.0f} {job.currency} over the work ahead"


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
