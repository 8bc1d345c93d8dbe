"""Where no setting holds every limit with the probability asked: the one that comes nearest, of what went well."""

from __future__ import annotations

import numpy as np

from bandtrial import units

from .job import NotYet
from .limits import SURE, Figure, figures
from .optimise import AGES, Wish, coarse_grid, gated, scan
from .others import nearest_speed, stay
from .rounding import dial_settings
from .steps import step_words
from .wording import percent, setting_words

LIKELY = 0.5
"""Probability below which a limit counts as broken by what was cut."""
LIGHTER = 0.8
"""Feed per tooth of the cut that is asked for then, as a share of the lightest tried."""
WISHES = {"deviation": ("a deviation of {}", "length"), "band life": ("a life of {}", "area")}


def least_unsure(fit, data, job, region, wish: Wish):
    """((band speed [m/min], bite), age) of the setting whose least sure limit is the surest; of those as sure, the one
    of least expected loss. NotYet where a limit is more likely broken than not at every one of them.

    Looked for among the settings that hold every limit but a wish, if there are any, else among those cut so far.
    """
    found = _grid(fit, job, region, wish)
    limits: list[Figure] = []
    if found is None:
        V, bite = region.settings.T
        can = np.all([f.holds for f in figures(fit, job, region, V, bite) if f.kind == "machine"], axis=0)
        if can.any():
            V, bite = V[can], bite[can]
        found, limits = scan(fit, job, wish, V, bite), list(figures(fit, job, region, V, bite))
    p, names = _least_sure(found, limits)
    i, j = np.unravel_index(np.argmax(np.round(p, 2) - 1e-3 * _rank(found.expected)), p.shape)
    if p[i, j] < LIKELY:
        at = float(found.V[i]), float(found.bite[i])
        raise _refusal(data, job, region, wish, str(names[i, j]), float(p[i, j]), at)
    return (float(found.V[i]), float(found.bite[i])), int(j)


def _grid(fit, job, region, wish):
    V, bite = coarse_grid(job, region)
    return gated(fit, job, region, wish, np.repeat(V, len(bite)), np.tile(bite, len(V)), AGES)


def _least_sure(found, limits):
    """Probability (n, J) of the least sure limit, and its name (n, J)."""
    rows = [(name, p) for name, p in found.probability.items()]
    for one in limits:
        if one.kind != "shown":
            rows.append((one.name, np.repeat(one.probability[:, None], found.expected.shape[1], axis=1)))
    p = np.stack([row for _, row in rows])
    worst = np.argmin(p, axis=0)
    return p.min(axis=0), np.array([name for name, _ in rows], object)[worst]


def _rank(expected):
    """Expected loss (n, J) as a share of 1, least 0."""
    flat = np.argsort(np.argsort(expected, axis=None)).reshape(expected.shape)
    return flat / max(expected.size, 1)


def _refusal(data, job, region, wish: Wish, name: str, p: float, at) -> NotYet:
    """Why nothing is said, and what to do instead: a runnable cut, or stay."""
    where = f"{job.material.id} on {job.machine.id}"
    sure = f"{percent(p)} probability; {100 * SURE:.0f} % is asked"
    if name in WISHES:
        asked = _asked(job, wish)
        reason = f"no setting near those tried in {where} holds {asked}: the nearest holds it with {sure}."
        return NotYet(reason, [f"ask for less than {asked}, or {stay(data, job)}."], region.evidence)
    reason = f"what was cut of {where} breaks a limit: at the most careful of its settings, {name} holds with {sure}."
    V, bite = nearest_speed(job, at[0]), LIGHTER * float(np.exp(region.bite[0]))
    round_V, round_bite = dial_settings(job, V, bite)
    cut = f"one cut at {setting_words(job, float(round_V[0]), float(round_bite[0]))}, "
    return NotYet(reason, [cut + step_words(job, region, V, bite) + "; log it, then ask again."], region.evidence)


def _asked(job, wish: Wish) -> str:
    """What is wished for, in the study's units."""
    asked = {"deviation": wish.deviation, "band life": wish.life_at_least}
    said = [WISHES[name][0].format(units.show(x, WISHES[name][1], job.system)) for name, x in asked.items() if x]
    return " and ".join(said)
