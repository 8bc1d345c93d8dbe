"""Logs that are there before any plan: a fixed narrow trial, and old bands of mixed work."""

from __future__ import annotations

import numpy as np

from bandtrial_lessons.worlds.world import World

SPEEDS, NARROW = (0.65, 0.82, 1.0), (8.0, 11.0, 14.0)


def narrow_trial(world: World, minutes: float = 100.0) -> None:
    """Three bands, chips of 8 to 14 um, 0.65 to 1 of the published speed: each band meets each once."""
    each = minutes / 9
    for turn in range(3):
        band = "new"
        for i in (0, 1, 2):
            V = world.reachable(SPEEDS[i] * world.sheet.job.speed)
            band = world.run(band, V, world.feed_for(V, NARROW[(i + turn) % 3]), 999, each).band


def old_bands(world: World, count: int = 4) -> None:
    """Bands of mixed work, three metals in runs of some pieces; half of them to their end, the others taken off."""
    rng = np.random.default_rng([world.sheet.seed, 3])
    minutes, world.holding = world.minutes, True
    for number in range(count):
        band, wear = world.new_band(), np.inf if number % 2 == 0 else float(rng.uniform(0.4, 0.8))
        for _ in range(400):
            work = world.sheet.works[int(rng.integers(len(world.sheet.works)))]
            V = world.reachable(float(rng.uniform(0.6, 1.0)) * work.speed)
            h = float(rng.uniform(7.0, 15.0))
            world.run(band, V, world.feed_for(V, h, work), 1, work=work, pieces=int(rng.integers(4, 25)))
            if world.bands[band].end != "in_service" or world.bands[band].wear > wear:
                break
        world.take_off(band)
    world.minutes, world.holding = minutes, False
    world.save()
