"""Two studies compared, before and after a change of coolant, band or bar supplier: what changed, and how sure.

Each study has its own fit, and both are asked the same question at one common setting. The posterior draws of two
studies are independent, so the ratio of a quantity is the ratio of draw to draw,

    log ratio_d = log after_d - log before_d,

with its median, its 80 % interval and the probabilities that it is above 1, and above or below it by a share that
matters: a difference smaller than that is none. Both fits lean on the same priors where
their cuts say little, which makes the intervals of those quantities wider than they need be, never narrower.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from bandtrial.recommend.job import NotYet, job_of, must_carry, said, trust_of, widened
from bandtrial.recommend.longrun import evaluate
from bandtrial.report import words
from bandtrial.words import table_text

if TYPE_CHECKING:
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


LIKELY, SURE = 0.8, 0.95  # probabilities from which a change is called likely, and sure
MATTERS = 0.03  # share below which a change is none, unless the caller says; our choice
EVEN_WEAR = 0.5  # wear used at which signals are compared: half way through a band's life
NAMES = {"band life": "longer", "cost per area": "higher", "cutting rate": "higher"}
FEWEST = 3  # cuts of a job that each study needs


@dataclass(frozen=True)
class Ratio:
    """After over before of one quantity at the common setting: median, 80 % interval, probability above 1.

    higher, lower : probabilities that it is up, or down, by the share `matters` or more
    """

    quantity: str
    ratio: float
    low: float
    high: float
    above: float
    higher: float
    lower: float
    matters: float = MATTERS

    @property
    def verdict(self) -> str:
        """How sure the direction of the change is, in words."""
        up = NAMES.get(self.quantity, "higher")
        down = {"longer": "shorter", "higher": "lower"}[up]
        size = share(self.matters)
        same = 1 - self.higher - self.lower
        p, way = max((self.higher, up), (self.lower, down), (same, f"no change of {size} or more"))
        if p >= SURE:
            return f"surely {way} ({words.percent(p)})"
        if p >= LIKELY:
            return f"likely {way} ({words.percent(p)})"
        return f"can't be told ({words.percent(self.higher)} that it is {up} by {size} or more)"


@dataclass(frozen=True)
class JobChange:
    """One machine and material in both studies: what differs in words, the common setting, the ratios."""

    machine: str
    material: str
    differs: tuple[str, ...]
    band_speed: float  # m/min, true
    chip_load: float  # um
    feed_force: float | None  # N, where a force is set
    work_thickness: float  # mm
    cuts: tuple[int, int]
    ratios: tuple[Ratio, ...]


@dataclass(frozen=True)
class Change:
    """Two studies compared. `missing` says which jobs could not be compared, and why."""

    before: str
    after: str
    system: str
    jobs: tuple[JobChange, ...]
    missing: tuple[str, ...]
    matters: float = MATTERS
    warnings: tuple[str, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain types, inside units."""
        return asdict(self)

    def fields(self) -> list[tuple[str, str, str]]:
        """(what, after over before with its 80 % interval, how sure) of every line."""
        rows = []
        for job in self.jobs:
            rows.append((f"{job.material} on {job.machine}", setting_words(job, self.system), differs_words(job)))
            rows += ratio_rows(job)
        rows += [("not compared", "", text) for text in self.missing]
        return rows + [("warning", "", text) for text in self.warnings]

    def __str__(self) -> str:
        head = f"{self.after} against {self.before}: change with its 80 % interval, and how sure its direction is"
        return "\n".join([head, *table_text(self.fields()), said_of(self.matters), CAVEAT])


CAVEAT = (
    "Whatever else changed between the two studies (bar, operator, season) counts in these figures as well; only "
    "trials in turn, before and after mixed, can tell it apart."
)


def share(matters: float) -> str:
    """A share in per cent.

    >>> share(0.03), share(0.125)
    ('3 %', '12.5 %')
    """
    return f"{100 * matters:g} %"


def said_of(matters: float) -> str:
    """What counts as a change, as a sentence."""
    return f"A change below {share(matters)} counts as none (our choice; --matters sets it)."


def change(
    before: Study, after: Study, fits: tuple[Fit, ...] | None = None, draws: int = 1000, matters: float = MATTERS
) -> Change:
    """Compare two studies, opened with `study.open_study`, over every machine and material that both have cut.

    fits : (fit before, fit after) where they are at hand; else both studies are fitted
    draws : posterior draws used; matters : share below which a change counts as none

    Raises wear.FitError for a study that can't be fitted, NotYet where the draws of one can carry no answer.
    """
    from bandtrial import wear

    fits = fits or tuple(wear.fit(study) for study in (before, after))
    studies = (before, after)
    trusts = tuple(must_carry(fit) for fit in fits)
    few = tuple(fit.thinned(draws) for fit in fits)
    groups = tuple(_groups(fit) for fit in fits)
    jobs, missing = [], []
    for key in sorted(set(groups[0]) | set(groups[1])):
        own = tuple(group.get(key) for group in groups)
        if any(rows is None or len(rows) < FEWEST for rows in own):
            have = " and ".join(f"{0 if rows is None else len(rows)}" for rows in own)
            missing.append(f"{key[1]} on {key[0]}: {have} cuts before and after, {FEWEST} are needed in each")
            continue
        jobs.append(_compare(studies, few, own, matters, *key))
    named = tuple(f"{study.name}: {text}" for study, trust in zip(studies, trusts, strict=True) for text in said(trust))
    return Change(before.name, after.name, after.units, tuple(jobs), tuple(missing), matters, named)


def _groups(fit: Fit) -> dict[str, Any]:
    cuts = fit.data[fit.data["exclude"] == ""]
    pairs: Any = cuts.groupby(["machine", "material"])
    return dict(tuple(pairs))


def _compare(studies: Any, fits: Any, rows: Any, matters: Any, machine: Any, material: Any) -> JobChange:
    both = pd.concat(rows)
    force = float(both["feed_force"].median()) if (both["feed_mode"] == "force").all() else None
    speed, chip, thickness = (float(both[name].median()) for name in ("band_speed", "chip_load", "work_thickness"))
    setting = {"band_speed": speed, "chip_load": chip, "work_thickness": thickness}
    before, after = (
        {name: widened(draws, trust_of(fit)) for name, draws in
         _quantities(study, fit, own, machine, material, setting, force).items()}
        for study, fit, own in zip(studies, fits, rows, strict=True)
    )  # fmt: skip
    ratios = [_ratio(name, before[name], after[name], matters) for name in before if name in after]
    counts = (len(rows[0]), len(rows[1]))
    return JobChange(machine, material, tuple(_differences(studies, rows, machine)), speed, chip, force, thickness,
                     counts, tuple(ratios))  # fmt: skip


def _quantities(
    study: Study, fit: Fit, rows: Any, machine: Any, material: Any, setting: Any, force: Any
) -> dict[str, np.ndarray]:
    """Draws (n_draws,) of every quantity of one study at the common setting, by name."""
    stock, coolant = _usual(rows, "stock"), _usual(rows, "coolant")
    names = {"machine": machine, "material": material, "stock": stock}
    V, L = setting["band_speed"], setting["work_thickness"]
    h = np.full(fit.n_draws, setting["chip_load"])
    found = {}
    if force is not None and "chip_load" in fit.signals:
        h = fit.chip_load_at_force(force, V, L, **names, wear_used=EVEN_WEAR)[:, 0]
        found["cutting rate"] = h
    found["band life"] = np.exp(fit.log_tau(V, float(np.median(h)), L, **names, coolant=coolant, missed=False)[:, 0])
    for signal in fit.signals:
        if signal != "chip_load":
            at = (V, float(np.median(h)), L)
            found[signal.replace("_", " ")] = fit.signal(signal, *at, **names, wear_used=EVEN_WEAR)[:, 0]
    try:
        job = job_of(study, machine, stock, material, L, coolant)
    except NotYet:
        return found
    bite = force / job.teeth if force is not None else setting["chip_load"]
    if job.feed != "force" or force is not None:
        found["cost per area"] = evaluate(fit, job, V, bite).cost(job.prices)[:, 0, :].min(axis=1)
    return found


def _ratio(name: Any, before: Any, after: Any, matters: float = MATTERS) -> Ratio:
    """The ratio of independent draws: those of `after` in another order, as equal seeds may have drawn both alike."""
    n = min(len(before), len(after))
    after = after[np.random.default_rng(1).permutation(len(after))]
    with np.errstate(divide="ignore", invalid="ignore"):
        log = np.nan_to_num(np.log(after[:n]) - np.log(before[:n]))
    median, low, high = np.exp(np.quantile(log, [0.5, 0.1, 0.9]))
    size = np.log1p(matters)
    higher, lower = float(np.mean(log >= size)), float(np.mean(log <= -size))
    above = float(np.mean(log > 0) + np.mean(log == 0) / 2)
    return Ratio(name, float(median), float(low), float(high), above, higher, lower, matters)


def _usual(cuts: Any, column: str) -> str:
    """What most of the cuts have."""
    return str(cuts[column].mode().iloc[0])


def _differences(studies: Any, rows: Any, machine: Any) -> Iterator[Any]:
    """What the two studies say differs: band stock, coolant, prices, hourly cost, the speed check."""
    for name in ("stock", "coolant"):
        usual = [_usual(own, name) for own in rows]
        if usual[0] != usual[1]:
            yield f"{'band stock' if name == 'stock' else name}: {usual[0]}, then {usual[1]}"
    stocks = [study.band_stock[_usual(own, "stock")] for study, own in zip(studies, rows, strict=True)]
    if stocks[0].price != stocks[1].price:
        yield f"price per band: {stocks[0].price:g}, then {stocks[1].price:g}"
    hours = [study.costs.get("machine_and_labor_per_hour") for study in studies]
    if hours[0] != hours[1]:
        yield f"machine and labor per hour: {hours[0]:g}, then {hours[1]:g}"
    checks = [study.machines[machine].speed_check for study in studies]
    if checks[0] != checks[1]:
        yield "the speed check of the machine"


def ratio_rows(job: JobChange) -> list[tuple[str, str, str]]:
    """(quantity, change with its 80 % interval, how sure) of a job."""
    rows = []
    for r in job.ratios:
        percent, low, high = (100 * (x - 1) for x in (r.ratio, r.low, r.high))
        change = words.between(percent, low, high, "%")
        rows.append((r.quantity, change if percent <= 0 else f"+{change}", r.verdict))
    return rows


def setting_words(job: JobChange, system: str) -> str:
    """The common setting in a study's units, and the cuts on either side."""
    speed = words.quantity(job.band_speed, "speed", system)
    thickness = words.quantity(job.work_thickness, "length", system)
    kind, value = ("chip_load", job.chip_load) if job.feed_force is None else ("force", job.feed_force)
    counts = f"{job.cuts[0]} and {job.cuts[1]} cuts"
    return f"at {speed} true, {words.quantity(value, kind, system)}, {thickness}; {counts}"


def differs_words(job: JobChange) -> str:
    """What the two studies say differs."""
    return f"differs: {'; '.join(job.differs)}" if job.differs else "the studies name no difference"
