"""What a campaign in a world is measured against, in the same world: settings that need no trial, other trials."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

import numpy as np
from bandtrial_lessons.worlds import World

SPEEDS, CHIPS = (0.6, 0.78, 1.0), (8.0, 12.0, 18.0)
"""Shares of the published speed, chip loads [um] that a factorial and random cuts are made over."""
BLIND = 0.72, 16.0
RUN, WORN, LONGEST = 8.0, 0.5, 3000.0
"""Minutes of a run; growth of a reading at which a ruler calls a band worn; life where it does not grow [min]."""


def asked_for(world: World) -> list[str]:
    """The job, as a command takes it."""
    job = world.job
    return ["--machine", job["machine"], "--stock", job["stock"], "--material", job["material"],
            "--thickness", f"{job['thickness_mm']} mm"]  # fmt: skip


def book(world: World) -> tuple[float, float]:
    """The published speed, 10 um."""
    return at(world, 1.0, 10.0)


def blind(world: World) -> tuple[float, float]:
    """0.72 of the published speed, 16 um, whatever the work."""
    return at(world, *BLIND)


def at(world: World, share: float, h: float) -> tuple[float, float]:
    """Indicated speed and feed of a share of the published speed and a chip load, within what the machine has."""
    V = world.reachable(share * world.sheet.job.speed)
    return V, float(np.clip(world.feed_for(V, h), *world.sheet.feed_range))


def factorial(world: World, minutes: float, seed: int) -> None:
    """The 3 x 3 grid in random order, over and over, three bands in turn."""
    rng, grid = np.random.default_rng([seed, 5]), [(V, h) for V in SPEEDS for h in CHIPS]
    in_turn(world, minutes, (grid[i] for _ in range(50) for i in rng.permutation(9)))


def random_cuts(world: World, minutes: float, seed: int) -> None:
    """Settings even in the logarithms over the same region."""
    rng = np.random.default_rng([seed, 6])
    ends = np.log([(SPEEDS[0], CHIPS[0]), (SPEEDS[-1], CHIPS[-1])])
    in_turn(world, minutes, (np.exp(rng.uniform(*ends)) for _ in range(400)))


def in_turn(world: World, minutes: float, settings) -> None:
    """Runs at settings, three bands in turn."""
    bands = ["new"] * 3
    for i, (share, h) in enumerate(settings):
        if world.minutes >= minutes - 1:
            return
        bands[i % 3] = world.run(bands[i % 3], *at(world, share, h), 999, min(RUN, minutes - world.minutes)).band


def gaussian_process(world: World, minutes: float, seed: int) -> tuple[float, float]:
    """scikit-optimize's Gaussian process on the cost that each of ten runs seems to have; the best of its runs."""
    from skopt import Optimizer

    search = Optimizer([tuple(np.log([0.4, 1.4])), tuple(np.log([6.0, 45.0]))], random_state=seed, n_initial_points=4)
    seen, band = [], "new"
    while world.minutes < minutes - 1:
        point = search.ask()
        setting = at(world, *np.exp(point))
        cost, band = seeming_cost(world, setting, minutes / 10, band if len(seen) % 3 else "new")
        search.tell(point, float(np.log(cost)))
        seen.append((cost, setting))
    return min(seen)[1]


def seeming_cost(world: World, setting, minutes: float, band: str) -> tuple[float, str]:
    """Cost per area of a setting, life by a ruler through the readings of one run; and the band it was on."""
    rows = len(world.rows)
    made = world.run(band, *setting, 999, minutes)
    mine, sheet = world.rows[rows:], world.sheet
    t = np.cumsum([row["cut_time"] / 60 for row in mine])
    Z = sheet.thickness * sum(row["cut_travel"] for row in mine) / 100 / t[-1]
    name = "cut_time" if sheet.force_set else "motor_power" if sheet.power_read else "deviation"
    signal = np.array([row.get(name, np.nan) for row in mine])
    life = LONGEST
    if made.ended:
        life = t[-1]
    elif len(t) > 2 and np.isfinite(signal).all():
        slope = np.polyfit(t, np.log(np.maximum(signal, 1e-6)), 1)[0]
        life = float(np.clip(np.log1p(WORN) / max(slope, 1e-9), 5.0, LONGEST))
    cost = (sheet.per_minute * (life + sheet.change_minutes) + sheet.price + sheet.scrap) / (Z * life)
    return float(cost), "new" if made.ended else made.band


RIVALS = {"book": book, "blind": blind, "factorial": factorial, "random": random_cuts, "gp": gaussian_process}


def play(name: str, seed: int, args, folder: Path, out, judge, recommended) -> None:
    """One rival in the same world, made anew: its regret in `out`, and its coverage where bandtrial answers."""
    if name == "book" or (name == "gp" and not find_spec("skopt")):
        return
    world = World(seed, args.kind, folder / "study", args.leave_out)
    world.truth = world.best()
    if name == "blind":
        judge(world, out, name, *blind(world))
    elif name == "gp":
        judge(world, out, name, *gaussian_process(world, args.minutes, seed))
    else:
        RIVALS[name](world, args.minutes, seed)
        refused, crashed = out.refused, out.crashed
        recommended(world, out, name)
        out.refused, out.crashed = refused, crashed
