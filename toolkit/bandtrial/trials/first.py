"""The first plan of a shop without cuts of the work, and what is tried before anything is known."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import sawing, units
from bandtrial.recommend.limits import LEAST_CHIP, in_ranges
from bandtrial.recommend.others import nearest_speed
from bandtrial.recommend.others import part as step_part
from bandtrial.recommend.proven import LOST, hardness_of_cut, power_limit
from bandtrial.recommend.remarks import LIGHTER
from bandtrial.recommend.tried import FEW, NOTHING, SAME, USUAL_TRAVEL
from bandtrial.trials.run import CHIPS, Aim, Run, most_chip, run_at

if TYPE_CHECKING:
    from bandtrial.recommend.job import Job

    Bite = Callable[[float], float]


SPEEDS = (0.6, 0.78, 1.0)
"""Band speeds tried, as shares of the published start."""
LIGHTEST = 0.4
"""Least chip load [um] of a light weight feed: a band sawed 1,096 in2 with chips of 0.4 to 4 um (a shop's log)."""
BREAK_IN, BREAK_IN_FORCE = 0.5, 0.65
"""Feed, and feed force, of a new band's first cut as a share of the normal one (model_priors.csv: 0.2 to 0.5)."""
LIGHT = 0.8
"""First feed force, as a share of the one meant to give the lightest chip of a first plan: much lighter may rub."""
STEEPEST, MOST_FORCE = 1.7, 2.0
"""Power with which a chip load may grow with the feed force (model_priors.csv: 0.7 to 1.7), and the greatest factor
from one of those cuts to the next."""
ENERGY = 7.8
"""Cutting energy reckoned with before any power is logged [J/mm3]: the middle of the published 3 to 9, half worn."""
FORCE_SHARE = 0.45
"""Feed force over cutting force reckoned with before any cut at a set force; common practice, no source."""
EDGE_FORCE = 5.0
"""Feed force that a new edge takes for itself [N per mm of kerf]; no source."""
HARD, HARD_UNTIL = 1.25, (0.45, 0.92)
"""Step of each run by hand feed that is to show a band's life, the first of chip load and the next of speed: a step of
a trial; and the share of the minutes that is used by its end."""
SPREAD = 1.5
"""Least factor between the lightest and the heaviest chip load tried."""
HAND_MOTOR = 750.0
"""Motor power [W] of a hand-fed saw that names none: it saws no more than that; common practice, no source."""
LONG = 30.0
"""Minutes from which a band is used hard."""


def first_runs(
    job: Job,
    minutes: float,
    seed: int,
    ids: Any,
    travel: float = USUAL_TRAVEL,
    bite: Bite | None = None,
    mounted: str = "",
) -> list[Run]:
    """Runs for a shop with no cuts of this work, or with those of `next_force` only.

    A 3 x 3 grid over band speed and chip load in three blocks of a Latin square: every band meets each speed and
    each chip load once, so that a band's own wear rate does not pass for an effect of the setting. Each band opens
    with a break-in cut. The first band goes from the safe side up; the others take their runs in random order.

    By hand, where no reading of power or of time tells how a band dulls, three gentle bands would tell nothing of their
    life: one band takes the three settings of its block, and then is used hard, fast and heavy, in two steps towards
    its end. At a set force nobody knows yet what chip a force gives: that comes first, by `next_force`.

    bite : the bite that gives a chip load, once it is known; mounted : the band on the machine, which is then the first
    """
    if job.feed == "hand":
        return _first_by_hand(job, minutes, ids, travel)
    rng = np.random.default_rng(seed)
    speeds = speed_levels(job)
    chips = [chip_levels(job, V, bite) for V in speeds]
    bands = 3 if minutes >= 60 else 2 if minutes >= 30 else 1
    each = 0.92 * minutes / (3 * bands)
    runs: list[Run] = []
    for band in range(bands):
        name = next(ids) if band or not mounted else mounted
        block = _block(band, speeds, chips, rng)
        i, j = block[0]
        if name != mounted:
            runs.append(_break_in(job, name, speeds[i], chips[i][j], travel, bite))
        for at, (i, j) in enumerate(block):
            runs.append(run_at(job, name, _aim(job, speeds[i], chips[i][j], bite), each, travel, _why(i, j, at, band)))
    return runs


def _block(band: int, speeds: np.ndarray, chips: list[np.ndarray], rng: np.random.Generator) -> list[tuple[int, int]]:
    """Places of speed and chip load that one band meets: the first from the safe side up, others in random order."""
    block = [(i, (i + band) % 3) for i in range(3)]
    block.sort(key=lambda ij: speeds[ij[0]] ** 6 * chips[ij[0]][ij[1]])
    if band:
        rng.shuffle(block)
    return block


def next_force(job: Job, rows: Any, ends: dict[str, str], ids: Any, travel: float, mounted: str) -> list[Run]:
    """One cut that shows what chip a feed force gives, which is a guess before it, off by a factor of three either way.

    The first is light. The next are meant for the lightest chip of a first plan, then for the middle one, by what the
    last cut gave and h ~ F^1.7: the steepest that prior knowledge has, so that the chip comes out rather too thin. A
    guess that was far too light would else be paid for with an hour of rubbing. After a cut that cost a band its teeth,
    its line or its weld the next is lighter.

    rows : cuts so far (`tried.rows_of`); ends : how each band ended, by its name
    """
    name = mounted or next(ids)
    V, chips, n = speed_levels(job)[0], chip_levels(job), len(rows["band"])
    wanted, why = float(chips[min(max(n - 1, 0), 1)]), "shows what chip a feed force gives"
    bite = LIGHT * float(bite_for(job, wanted))
    if n:
        was, got = float(rows["feed_force"][-1] / rows["teeth_in_cut"][-1]), float(rows["chip_load"][-1])
        bite = was * float(np.clip((wanted / got) ** (1 / STEEPEST), 1 / MOST_FORCE, MOST_FORCE))
        lost = ends.get(rows["band"][-1]) in LOST
        bite = min(bite, LIGHTER * was) if lost else bite
        change = f"{step_part(abs(bite / was - 1))} {'more' if bite > was else 'less'} feed force than the last cut"
        change = change if abs(bite / was - 1) > NOTHING else "the feed force of the last cut again"
        of = "which ended its band" if lost else f"whose chip was {units.show(got, 'chip_load', job.system)}"
        why = f"{change}, {of}: {why}"
    if not mounted:
        why = f"break-in of a new band, to be called {name}, light: {why}"
    return [run_at(job, mounted or "new", Aim(V, _held(job, bite), wanted), 0.0, travel, why)]


def only_forces(job: Job, rows: Any) -> bool:
    """Whether the cuts so far are those of `next_force`: at a set force, few, at one speed."""
    few = float(rows["pieces"].sum()) < FEW and float(np.ptp(np.log(rows["band_speed"]))) < np.log(SAME)
    return job.feed == "force" and few


def _break_in(job: Job, name: str, V: float, h: float, travel: float, bite: Bite | None = None) -> Run:
    """The first cut of a new band, lighter but not so light that it rubs."""
    light, words = break_in(BREAK_IN, h, LEAST_CHIP)
    why = f"break-in of a new band, to be called {name}: {words}, one cut"
    return run_at(job, "new", _aim(job, V, light * h, bite), 0.0, travel, why)


def break_in(share: float, usual: float, least: float) -> tuple[float, str]:
    """Share of the usual feed that a break-in cut takes, never below the least that is known to cut, and its words.

    >>> break_in(0.5, 18.0, 5.0), break_in(0.5, 8.0, 5.0), break_in(0.5, 5.2, 5.0)
    ((0.5, 'half the feed'), (0.625, '62 % of the feed'), (1.0, 'the same feed, as less would rub'))
    """
    light = max(share, min(least / usual, 1.0))
    if light > 0.9:
        return 1.0, "the same feed, as less would rub"
    return light, "half the feed" if light == 0.5 else f"{100 * light:.0f} % of the feed"


def _first_by_hand(job: Job, minutes: float, ids: Any, travel: float) -> list[Run]:
    name, speeds = next(ids), speed_levels(job)
    chips = [chip_levels(job, V) for V in speeds]
    each = 0.07 * minutes if minutes >= LONG else 0.3 * minutes
    runs = [_break_in(job, name, speeds[0], chips[0][0], travel)]
    runs += [run_at(job, name, _aim(job, speeds[i], chips[i][i]), each, travel, _why(i, i, i, 0)) for i in range(3)]
    V, usual = speeds[-1], float(chips[-1][-1])
    h = min(HARD * usual, most_chip(job))
    steps = ((V, f"{step_part(h / usual - 1)} heavier"), (HARD * V, f"{step_part(HARD - 1)} faster"))
    for end, (V, step) in zip(HARD_UNTIL if minutes >= LONG else (), steps, strict=False):
        left = end * minutes - sum(run.minutes for run in runs)
        V, was = nearest_speed(job, V), runs[-1]
        further = max(V / was.band_speed, h / was.chip_load) > 1 + NOTHING
        why = f"hard on purpose{f', {step} than the run before' * further}: towards the band's end, to show its life"
        runs.append(run_at(job, name, _aim(job, V, h), left, travel, f"{why}; stop when it is dull, crooked or loud"))
    return runs


def speed_levels(job: Job) -> np.ndarray:
    """Three true band speeds [m/min] about the published start that the machine has, slow to fast."""
    V = job.published_speed * np.array(SPEEDS)
    ends = np.array([end for pair in job.machine.band_speed_ranges for end in pair])
    ok = in_ranges(job, V)
    if not ok.all():
        true = np.asarray(job.machine.true_speed(ends), float)
        V = np.where(ok, V, true[np.argmin(np.abs(np.log(true[None] / V[:, None])), axis=1)])
    return np.sort(V)


def chip_levels(job: Job, V: float | None = None, bite: Bite | None = None) -> np.ndarray:
    """Three chip loads [um] that gullet, motor and feed range allow at a true band speed V [m/min], the fastest of
    those tried if not given, light to heavy.

    bite : the bite that gives a chip load, once it is known
    """
    V = float(speed_levels(job)[-1]) if V is None else V
    per_um = sawing.cutting_rate(sawing.feed_rate(V, 1.0, job.stock.tooth_spacing), job.thickness)
    power = sawing.cutting_power(1000 * ENERGY, per_um, job.kerf) / job.machine.drive_efficiency
    rated = power_limit(job)
    most = min(CHIPS[1], most_chip(job), (HAND_MOTOR if job.feed == "hand" and rated == np.inf else rated) / power)
    if bite is not None:
        can = [h for h in np.geomspace(LIGHTEST, most, 60) if bite(h) * job.teeth <= job.feed_range()[1]]
        most = can[-1] if can else LIGHTEST
        return np.geomspace(min(CHIPS[0], most * CHIPS[0] / CHIPS[1]), most, 3)
    if job.feed != "force":
        most = min(most, job.feed_range()[1] / sawing.feed_rate(V, 1.0, job.stock.tooth_spacing))
    most = max(most, LEAST_CHIP)
    return np.geomspace(max(min(CHIPS[0], most / SPREAD), LEAST_CHIP), most, 3)


def bite_for(job: Job, chip_load: Any) -> Any:
    """The bite meant to give a chip load: itself at a set rate, else a force per tooth [N] from Kienzle's law.

    F = r kc1.1 h^(1 - mc) b + edge, mc 0.2: a start only, the first cuts show what the force gives.
    """
    if job.feed != "force":
        return chip_load
    chip = sawing.kienzle(hardness_of_cut(job), 0.2, chip_load) * np.asarray(chip_load) / 1000
    return (FORCE_SHARE * chip + EDGE_FORCE) * job.kerf


def _aim(job: Job, V: float, h: float, bite: Bite | None = None) -> Aim:
    at = bite(h) if bite else bite_for(job, h)
    return Aim(V, _held(job, float(at)), float(h))


def _held(job: Job, bite: float) -> float:
    """A bite that the machine can give where a force is set."""
    if job.feed != "force":
        return bite
    lo, hi = job.feed_range()
    return float(np.clip(bite, lo / job.teeth, hi / job.teeth))


def _why(i: int, j: int, at: int, band: int) -> str:
    speed = ("slow", "middle", "published")[i]
    chip = ("light", "middle", "heavy")[j]
    order = "safe side first" if band == 0 and at == 0 else "in order of severity" if band == 0 else "random order"
    return f"{speed} speed, {chip} chip: so that each band meets slow and fast, light and heavy ({order})"
