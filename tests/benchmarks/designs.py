"""Ways of choosing trial cuts: by `plan`, over a factorial, at random."""

from __future__ import annotations

import numpy as np
from bandtrial import sawing, trials
from bandtrial.recommend import NotYet, recommend
from bandtrial.recommend.job import job_of
from bandtrial.trials.first import chip_levels, speed_levels
from bandtrial_lessons.shop.as_study import study_of

LEAST = 4.0
"""Minutes below which no further run is planned."""


def by_plan(shop, start: float, step: float, until: float, seed: int = 1):
    """Runs chosen by `plan`: the first plan of `start` minutes, then `step` minutes at a time. Yields after each."""
    first = trials.plan(None, study_of(shop.shop), **shop.job, minutes=start, seed=seed)
    make(shop, first)
    while True:
        fit, study = shop.fit()
        yield fit, study
        left = until - shop.minutes
        if left < LEAST:
            return
        plan = trials.plan(fit, study, **shop.job, minutes=min(step, left), seed=seed, horizon_cm2=1e9)
        if plan.stop:
            return
        make(shop, plan)


def make(shop, plan) -> None:
    """Make the runs of a plan, each for the minutes planned at most: a first feed force is a guess, and so is its time.

    A band that has ended is replaced for the runs that were to follow on it.
    """
    now = {}
    for run in plan.runs:
        name = "" if run.band == "new" else now.get(run.band, run.band)
        most = run.minutes if shop.machine.feed == "force" else np.inf
        used = shop.cut(name, run.indicated, run.feed, run.cuts, most)
        now[run.band] = used


def answer(fit, study, shop):
    """The recommendation, or None where the tool says not yet."""
    try:
        return recommend(fit, study, **shop.job)
    except NotYet:
        return None


def grid_settings(shop):
    """The 3 x 3 settings of the first plan: (true speed, chip load)."""
    job = job_of(study_of(shop.shop), *shop.job.values())
    return [(V, h) for V in speed_levels(job) for h in chip_levels(job)]


def in_blocks(shop, settings, each: float, until: float):
    """Runs of `each` minutes at settings in turn, three bands taken in rotation. Yields after each run."""
    bands = ["", "", ""]
    for i, (V, h) in enumerate(settings):
        V = shop.reachable(V)
        cuts = max(1, round(each / float(sawing.cut_time(100.0, sawing.feed_rate(V, h, shop.stock.tooth_spacing)))))
        at = i % 3
        bands[at] = shop.cut(bands[at], float(shop.machine.indicated_speed(V)), shop.feed(V, h), cuts)
        if i >= 2:
            yield shop.fit()
        if shop.minutes >= until:
            return


def factorial(shop, each: float, until: float, seed: int = 1):
    """The 3 x 3 grid over and over, each time in a new random order."""
    rng, grid = np.random.default_rng(seed), grid_settings(shop)
    order = (grid[i] for _ in range(50) for i in rng.permutation(len(grid)))
    return in_blocks(shop, order, each, until)


def random_settings(shop, each: float, until: float, seed: int = 1):
    """Settings even in the logarithms over the same region."""
    rng, grid = np.random.default_rng(seed), np.log(grid_settings(shop))
    low, high = grid.min(axis=0), grid.max(axis=0)
    return in_blocks(shop, (np.exp(rng.uniform(low, high)) for _ in range(500)), each, until)
