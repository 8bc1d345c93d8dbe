"""What stops the next faster and the next heavier setting, and what rules the published start out, with its figure.

Either a limit does, or it costs more; then what it would cost and what it would do to the bands is said.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from .limits import REACH, SURE, Limit
from .optimise import to_the_end
from .steps import step_words
from .wording import feed_words, limit_words, percent, setting_words


@dataclass(frozen=True)
class Stop:
    """What speaks against a setting: a limit, or what it costs beside the choice.

    name : faster, heavier or published_start; band_speed true, indicated [m/min]; feed : rate [mm/min] or force [N]
    limit : the limit that rules it out, or None; costs_more, lives_longer : expected, as shares of the choice's
    """

    name: str
    band_speed: float
    indicated: float
    feed: float
    limit: Limit | None
    costs_more: float
    lives_longer: float
    setting: str
    said: str

    def to_json(self) -> dict[str, Any]:
        """Plain types."""
        return {**asdict(self), "limit": self.limit.to_json() if self.limit else None}


def stops(job, region, chosen, goal: str) -> dict[str, Stop]:
    """By name, what stops the settings that the choice is compared with."""
    published = chosen.scan, chosen.figures
    at = {"faster": (chosen.beside, 0), "heavier": (chosen.beside, 1), "published_start": (published, None)}
    own = chosen.scan.expected[chosen.at, chosen.age], np.median(chosen.scan.run.area[:, chosen.at, chosen.age])
    return {
        name: _stop(job, region, of, chosen.places["published"] if i is None else i, name, own, goal)
        for name, (of, i) in at.items()
    }


def _stop(job, region, of, i: int, name: str, own, goal: str) -> Stop:
    scan, figures = of
    end = scan.loss.shape[2] - 1
    j = end if name == "published_start" else to_the_end(scan.expected[i])
    more = float(scan.expected[i, j] / own[0] - 1)
    longer = float(np.median(scan.run.area[:, i, j]) / own[1] - 1)
    V, bite = float(scan.V[i]), float(scan.bite[i])
    limit = binding(scan, figures, i)
    said = _limit_said(job, limit) if limit else _cost_said(more, longer, goal)
    if limit and limit.name == REACH and bite > np.exp(region.stripped):
        at = feed_words(job, float(job.feed_of(V, np.exp(region.stripped))))
        said = f"ruled out: a band was stripped at a feed per tooth that is {at} at this speed"
    elif limit and limit.name == REACH:
        said = f"ruled out: {step_words(job, region, V, bite)}, {limit.value:.1f} times the step that the cuts defend"
    shown = float(job.machine.indicated_speed(V))
    words = setting_words(job, V, bite)
    return Stop(name, V, shown, float(job.feed_of(V, bite)), limit, more, longer, words, said)


def binding(scan, figures, i: int) -> Limit | None:
    """The limit that holds least surely at setting i, if it is not sure enough."""
    asked = [f.at(i) for f in figures if f.kind != "shown"]
    for name, p in scan.probability.items():
        asked.append(Limit(name, float("nan"), float("nan"), "", True, round(float(p[i].max()), 3), "as asked"))
    broken = [limit for limit in asked if limit.probability < SURE]
    return min(broken, key=lambda limit: limit.probability, default=None)


def _limit_said(job, limit: Limit) -> str:
    sure = "" if limit.probability == 0 else f", only {percent(limit.probability)} sure"
    if limit.value != limit.value:
        return f"ruled out: {limit.name}, {percent(limit.probability)} sure"
    value, bound, unit = limit_words(limit, job.system)
    side = "at most" if limit.at_most else "at least"
    return f"ruled out: {limit.name} {value}, {side} {bound} {unit}".rstrip() + sure


def _cost_said(more: float, longer: float, goal: str) -> str:
    what = "cost" if goal == "lowest-cost" else "take"
    change = f"{abs(100 * more):.1f} % {'more' if more >= 0 else 'less'}"
    how = "longer" if longer > 0 else "less"
    return f"no limit: it would {what} {change}, bands last {abs(100 * longer):.0f} % {how}"
