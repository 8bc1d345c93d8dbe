"""The ideal observer: knows the generator, not the world. What a log tells at most, and what to set by it.

Tempered particles over forms, constants and bands at once (P. Del Moral, A. Doucet and A. Jasra, Sequential Monte Carlo
samplers, J. R. Statist. Soc. B 68 (2006)), moved by differences of other particles, by fresh forms and by steps that
keep the standard normal; then the setting of least expected cost, within limits that hold with 90 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from bandtrial_lessons.worlds.best import Best, Box, bite, settings, whole_box
from bandtrial_lessons.worlds.latent import Array
from bandtrial_lessons.worlds.laws import CONSTANTS
from bandtrial_lessons.worlds.likelihood import dimensions, log_likelihood, physics_of
from bandtrial_lessons.worlds.limits import kept
from bandtrial_lessons.worlds.longrun import long_run
from bandtrial_lessons.worlds.path import Log
from bandtrial_lessons.worlds.physics import Physics
from bandtrial_lessons.worlds.sheet import Sheet

PARTICLES, MOVES, LAST, DRAWS, SURE = 800, 15, 100, 160, 0.9
FIRST = 8
"""Times as many points are drawn to begin with: what is lost early is hard to find again."""
WAYS = 5
FORMS_AT = [i for i, name in enumerate(CONSTANTS.laws) if name.endswith("_form")]


@dataclass(frozen=True)
class Told:
    """The setting, its expected cost as `best.cost`, and the 80 % interval of that cost."""

    best: Best
    low: float
    high: float


def observe(log: Log, sheet: Sheet, seed: int = 1, particles: int = PARTICLES, moves: int = MOVES) -> Physics:
    """Worlds that a log leaves, equally likely (`particles` of them)."""
    rng = np.random.default_rng([seed, 9])
    density = partial(log_likelihood, log=log, sheet=sheet)
    u = rng.standard_normal((FIRST * particles, dimensions(log)))
    like, heat, size = np.concatenate([density(some) for some in np.split(u, FIRST)]), 0.0, 0.3
    while heat < 1.0:
        step = _next_heat(like, heat, particles)
        weight = np.exp((step - heat) * (like - like.max()))
        heat = step
        at = np.searchsorted(np.cumsum(weight / weight.sum()), (np.arange(particles) + rng.random()) / particles)
        at = np.minimum(at, particles - 1)
        u, like = u[at], like[at]
        for turn in range(moves if heat < 1.0 else LAST):
            new, change = _proposal(rng, u, turn, size)
            new_like = density(new)
            take = np.log(rng.random(particles)) < heat * (new_like - like) + change
            u, like = np.where(take[:, None], new, u), np.where(take, new_like, like)
            if turn % WAYS == 0:
                size = float(np.clip(size * np.exp(0.6 * (take.mean() - 0.25)), 0.02, 1.0))
    return physics_of(u, log, sheet)


def _next_heat(like: Array, heat: float, particles: int) -> float:
    """Where 0.6 of as many as there are to be still count."""
    low, high = heat, 1.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        weight = np.exp((middle - heat) * (like - like.max()))
        enough = weight.sum() ** 2 / (weight**2).sum() > 0.6 * particles
        low, high = (middle, high) if enough else (low, middle)
    return 1.0 if low > 0.999 else max(low, heat + 1e-6)


def _proposal(rng: np.random.Generator, u: Array, turn: int, size: float) -> tuple[Array, Any]:
    """New points, and the log ratio of their prior over that of the old where the move does not keep it."""
    n, d = u.shape
    way, fresh = turn % WAYS, rng.standard_normal((n, d))
    if way == 1:  # along the difference of two others
        a, b = rng.permutation(n), rng.permutation(n)
        far = rng.choice([1.0, 1.19 / np.sqrt(d), 0.5 / np.sqrt(d)], size=(n, 1), p=[0.1, 0.5, 0.4])
        new = u + far * (u[a] - u[b]) + 0.01 * fresh
        return new, 0.5 * (u**2 - new**2).sum(axis=1)
    if way == 0:  # a step that keeps the normal, in some of the coordinates or all
        some = rng.random((n, d)) < rng.choice([0.1, 0.3, 1.0], size=(n, 1))
        return np.where(some, np.sqrt(1 - size**2) * u + size * fresh, u), 0.0
    some = rng.random((n, d)) < rng.choice([1.0, 2.0, 5.0], size=(n, 1)) / d
    some[np.arange(n), rng.integers(d, size=n)] = True
    if way == 2:  # a few coordinates anew
        return np.where(some, fresh, u), 0.0
    if way == 3:  # a form anew, and a few constants with it
        some[np.arange(n), rng.choice(FORMS_AT, size=n)] = True
        return np.where(some, fresh, u), 0.0
    far = rng.choice([0.1, 0.3, 0.6], size=(n, 1))  # a step in a few
    return np.where(some, np.sqrt(1 - far**2) * u + far * fresh, u), 0.0


def decide(worlds: Physics, box: Box | None = None, size: int = 18) -> Told:
    """The setting of least expected cost in a box of indicated speeds and bites (all of it if not given)."""
    sheet = worlds.sheet
    box = box or whole_box(sheet)
    some = worlds.take(np.linspace(0, len(worlds) - 1, DRAWS).astype(int))
    low, high = np.log(box).T
    at, span, found = 0.5 * (low + high), high - low, None
    for count in (size, size // 2):
        near = (np.clip((a - s / 2, a + s / 2), lo, hi) for a, s, lo, hi in zip(at, span, low, high, strict=True))
        V, feed = settings(sheet, *(np.exp(np.linspace(pair[0], pair[1], count)) for pair in near))
        sure = np.mean(np.all(list(kept(some, V, feed).values()), axis=0), axis=0)
        run = long_run(some, V, feed)
        loss = np.where((sure >= min(SURE, sure.max()))[:, None], run.cost.mean(axis=0), np.inf)
        i, j = np.unravel_index(np.argmin(loss), loss.shape)
        if found is None or loss[i, j] < found.best.cost:
            ends = np.quantile(run.cost[:, i, j], [0.1, 0.9])
            best = Best(float(V[i]), float(feed[i]), float(run.age[0, i, j]), float(loss[i, j]))
            found = Told(best, float(ends[0]), float(ends[1]))
        at = np.log([found.best.indicated, float(bite(sheet, found.best.indicated, found.best.feed))])
        span = span * 3 / size
    assert found is not None
    return found
