"""What the shop has tried for this job, how much evidence that is, and how far beyond it a setting may go."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import words
from bandtrial.recommend.job import Job
from bandtrial.recommend.longrun import names
from bandtrial.sawing import BROKEN, WORN, Numbers

from .job import NotYet
from .proven import Proven, held, last_of_band, proven, stripped_at, went_well

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit


STEP, THIN_STEP = 1.12, 1.06
"""Factor beyond the tried speeds and feeds per tooth that a recommended setting may go, and where fewer than FEW cuts
were made, or all at about one speed or one feed per tooth; our choice. Trial cuts go further, see `trials`."""
FEW = 6
ALIKE = 0.05  # of the logs of speed and bite, in steps of which settings count as one
SAME = 1.1  # settings within this factor count as one
LEAST_CUTS = 3  # below which an answer is rough
BROKEN_IN = 0.05  # wear used of a new band that is broken in: at a set force it cuts the thickest chips
MOST = 12  # settings looked at one by one
NUMBERS = (
    "band_speed", "published_band_speed", "chip_load", "feed_force", "teeth_in_cut",
    "work_thickness", "cut_area", "cut_time", "pieces", "set_feed_rate",
)  # fmt: skip
UNSURE_LIFE = 1.2
"""Standard deviation of log life at the tried settings above which an answer is rough: 80 % are a factor 22. It stays
inside what was tried then, as averages over such lives are those of their least likely draws."""
ROUGH_LIFE = 0.8  # the same above which an answer is called rough, though looked for as any other: 80 %, a factor 8
UNLIKE = 2.0  # factor in speed or feed per tooth beyond anything tried from which nothing is foretold; our choice
USUAL_TRAVEL = 100.0  # cut travel where the study has no cut of the material that is fed alike [mm]
NOTHING = 0.01  # share beyond that is none
A_DIAL = 1.02  # how far beyond what was tried a dial may need to go: a rough answer no further, others come back


@dataclass(frozen=True)
class Tried:
    """Tried settings of a material on a machine, in log(V/V*) and log bite, and the evidence behind them.

    speed, bite : least and greatest log, each (2,); step : log of how far beyond a setting may go, each (2,);
    centre : their middle; thickness : thinnest and thickest tried [mm]; borrowed : from other machines;
    heaviest : chip load cut so far [um]; proven : what those cuts say of limits; settings (k, 2) : band speed [m/min]
    and bite of those most used. All of cuts that went well. stripped : log of the bite at which a band was stripped;
    no setting goes beyond it, whatever the step.
    """

    speed: np.ndarray
    bite: np.ndarray
    step: np.ndarray
    centre: tuple[float, float]
    thickness: tuple[float, float]
    borrowed: bool
    evidence: dict[str, Any]
    heaviest: float = np.inf
    proven: Proven = field(default_factory=Proven)
    settings: np.ndarray = field(default_factory=lambda: np.zeros((0, 2)))
    stripped: float = np.inf

    def outside(self, job: Job, band_speed: Numbers, bite: Numbers) -> np.ndarray:
        """How far outside the tried region, as a share of what is allowed: 0 inside, 1 at the limit."""
        past = self._past(job, band_speed, bite)
        share = np.hypot(past[0] / self.step[0], past[1] / self.step[1])
        return np.where(np.log(np.asarray(bite, float)) <= self.stripped + 1e-6, share, np.inf)

    def unlike(self, job: Job, band_speed: float, bite: float) -> bool:
        """Whether a setting is so far outside that no cut tells what it would cost."""
        return bool(np.max(self._past(job, band_speed, bite)) > np.log(UNLIKE))

    def dials_beyond(self, job: Job, band_speed: Numbers, bite: Numbers) -> np.ndarray:
        """How many of speed and bite are beyond what was tried (n,)."""
        past = np.array(self._past(job, band_speed, bite))
        return np.asarray(np.sum(past > np.log1p(NOTHING), axis=0))

    def _past(self, job: Job, band_speed: Numbers, bite: Numbers) -> tuple[np.ndarray, np.ndarray]:
        """How far outside in the log of the speed and of the bite."""
        x, y = np.log(np.asarray(band_speed, float) / job.published_speed), np.log(np.asarray(bite, float))
        far = [np.maximum(np.maximum(lo - z, z - hi), 0.0) for z, (lo, hi) in ((x, self.speed), (y, self.bite))]
        return far[0], far[1]

    def brought_back(self, job: Job, band_speed: float, bite: float) -> tuple[float, float]:
        """A setting with its speed and its bite at the edge of what was tried, each where it is beyond by A_DIAL."""
        at = np.log(band_speed / job.published_speed), np.log(bite)
        kept = [np.clip(x, *edge) for x, edge in zip(at, (self.speed, self.bite), strict=True)]
        V, h = (np.exp(k if abs(x - k) <= np.log(A_DIAL) else x) for x, k in zip(at, kept, strict=True))
        return float(job.published_speed * V), float(h)

    def kept_inside(self) -> Tried:
        """The same, a setting kept inside what was tried but for what a dial needs."""
        return replace(self, step=np.minimum(self.step, np.log(A_DIAL)))

    def heaviest_chip(self, job: Job) -> float:
        """Chip load [um] that a broken-in band may be given: at a set force a setting tried on dull bands only cut
        thinner chips than a new band will. Inf where a feed rate is set, whose chips do not change."""
        return self.heaviest * float(np.exp(self.step[1])) if job.feed == "force" else np.inf

    def window(self, job: Job) -> tuple[tuple[float, float], tuple[float, float]]:
        """Band speeds [m/min] and bites within the step of the tried ones: ((lo, hi), (lo, hi))."""
        out = np.array([-1.0, 1.0])
        V = job.published_speed * np.exp(self.speed + self.step[0] * out)
        return tuple(V), tuple(np.exp(np.minimum(self.bite + self.step[1] * out, self.stripped)))


def tried(fit: Fit, study: Study, job: Job) -> Tried:
    """What was tried for the job and went well; NotYet where no cut of it was made, or none went well."""
    cuts, borrowed = rows_of(fit.data, job)
    evidence = evidence_of(cuts, study)
    where = f"{job.material.id} on {job.machine.id}"
    if not evidence["cuts"]:
        raise NotYet(f"no usable cut of {where} is logged yet.", [_spread_advice(job)], evidence)
    ends = dict(zip(study.bands["band"], study.bands["end"], strict=True))
    good = went_well(fit.data, ends)[cuts["row"]]
    if not good.any():
        raise NotYet(
            f"of {words.count(len(good), 'cut')} of {where} none went well: each ended its band or was not finished.",
            ["a lighter and slower cut than any of these."],
            evidence,
        )
    rows = {name: values[good] for name, values in cuts.items()}
    x = np.log(rows["band_speed"] / rows["published_band_speed"])
    y = np.log(bites(rows, job))
    L, stripped = rows["work_thickness"], float(np.log(stripped_at(bites(cuts, job), cuts, ends)))
    return Tried(
        np.array([x.min(), x.max()]),
        np.minimum(_held_by_hand(y, rows) if job.feed == "hand" else np.array([y.min(), y.max()]), stripped),
        np.array([_step(z, borrowed) for z in (x, y)]), (float(np.median(x)), float(np.median(y))),
        (float(L.min()), float(L.max())), borrowed, evidence, float(rows["chip_load"].max()),
        proven(cuts, job, good, borrowed), most_used(rows, job, x, y), stripped,
    )  # fmt: skip


def _held_by_hand(y: Any, rows: Any) -> Any:
    """Least and greatest log chip load that was held by hand, but for the strays of the pace; all of it where so few
    were cut that what three held at least lies above what three held at most."""
    return np.sort([-held(-y, rows["pieces"]), held(y, rows["pieces"])])


def down_to_new_bands(fit: Fit, job: Job, region: Tried) -> Tried:
    """At a set force: the region down to the force at which a new band cuts the heaviest chip that was cut.

    Where every force was tried on dull bands only, a new one would cut heavier chips at all of them; at this one none.
    """
    if job.feed != "force":
        return region
    bite = np.exp(region.bite[0]) * np.geomspace(0.1, 1.0, 30)
    V = np.full(len(bite), job.published_speed * np.exp(region.centre[0]))
    h = fit.chip_load_at_force(job.feed_of(V, bite), V, job.thickness, wear_used=BROKEN_IN, **names(job))
    fits = np.median(h, axis=0) <= region.heaviest
    if fits[-1] or not fits.any():
        return region
    return replace(region, bite=np.array([float(np.log(bite[fits].max())), region.bite[1]]))


def most_used(rows: dict[str, np.ndarray], job: Job, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Band speed [m/min] and bite (k, 2) of the settings that have sawn most, MOST at most."""
    mine = most_first(np.column_stack([x, y]) / ALIKE, rows["cut_area"] * rows["pieces"])[:MOST]
    return np.array([[job.published_speed * np.exp(np.median(x[own])), np.exp(np.median(y[own]))] for own in mine])


def most_first(key: np.ndarray, weights: np.ndarray) -> list[np.ndarray]:
    """Masks (n,) of the rows of a key (n, k) that are alike, rounded to whole numbers; those that weigh most first."""
    _, code = np.unique(np.round(key), axis=0, return_inverse=True)
    totals = np.bincount(code.ravel(), weights=weights)
    return [code.ravel() == group for group in np.argsort(-totals, kind="stable")]


def rows_of(cuts: pd.DataFrame, job: Job) -> tuple[dict[str, np.ndarray], bool]:
    """Cuts of the job's material on its machine, else on machines fed alike: (band, row, NUMBERS by name; borrowed?).

    Arrays, not a table: picking rows of a table takes as long as a part of the answer.
    """

    def column(name: str) -> np.ndarray:
        return cuts[name].to_numpy()

    force = job.feed == "force"
    use = (column("material") == job.material.id) & (column("operation") == "sawing") & (column("exclude") == "")
    use &= (column("feed_mode") == "force") == force
    use &= (column("band_speed") > 0) & (column("feed_force" if force else "chip_load") > 0)
    own = use & (column("machine") == job.machine.id)
    borrowed = bool(own.sum() < LEAST_CUTS and use.sum() > own.sum())
    at = np.flatnonzero(use if borrowed else own)
    power = cuts["motor_power"].to_numpy(float) if "motor_power" in cuts else np.full(len(use), np.nan)
    beside = {"row": at, "motor_power": power[at], "last": last_of_band(column("band"))[at]}
    beside["complete"] = column("complete")[at].astype(bool)
    numbers = {name: column(name)[at].astype(float) for name in NUMBERS}
    return {"band": column("band")[at], **beside, **numbers}, borrowed


@dataclass(frozen=True)
class Piece:
    """The piece that the job is counted in. area [cm2]; travel [mm]; logged : it was cut at this thickness, else it is
    a cut of the usual travel at the thickness asked for."""

    area: float
    travel: float
    logged: bool


def piece_of(cuts: pd.DataFrame | None, job: Job) -> Piece:
    """The piece cut most at the job's thickness, of this machine if it cut any; else the usual travel of its cuts. One
    that was not finished counts only where there is no other."""
    rows = rows_of(cuts, job)[0] if cuts is not None else {}
    if cuts is None or not len(rows["band"]):
        return Piece(USUAL_TRAVEL * job.thickness / 100, USUAL_TRAVEL, False)
    here, whole = np.isclose(rows["work_thickness"], job.thickness, rtol=0.02), rows["complete"]
    travel = cuts["cut_travel"].to_numpy(float)[rows["row"]]
    use = next(mask for mask in (here & whole, here, whole, ~whole) if mask.any())
    sizes = np.column_stack([rows["cut_area"], travel])[use]
    area, long = sizes[most_first(1000 * sizes, rows["pieces"][use])[0]][0]
    return Piece(float(area if here.any() else long * job.thickness / 100), float(long), bool(here.any()))


def bites(cuts: Any, job: Job) -> np.ndarray:
    """Chip load [um] of each cut, or feed force per tooth [N] where a force is set."""
    return np.asarray(cuts["feed_force"] / cuts["teeth_in_cut"] if job.feed == "force" else cuts["chip_load"])


def evidence_of(cuts: Any, study: Study) -> dict[str, Any]:
    """Counts behind an answer: cuts, bands, failed, censored, minutes of cutting."""
    end_of = dict(zip(study.bands["band"], study.bands["end"], strict=True))
    bands = set(cuts["band"])
    failed = sum(end_of.get(band) in (*WORN, *BROKEN) for band in bands)
    return {
        "cuts": len(cuts["band"]),
        "bands": len(bands),
        "failed": failed,
        "censored": len(bands) - failed,
        "minutes": round(float(np.nansum(cuts["cut_time"] * cuts["pieces"])), 1),
    }


def log_life(fit: Fit, job: Job, region: Tried, missed: bool = False) -> np.ndarray:
    """Log of a typical band's wear life (S,) at the middle of what was tried, as the law has it; missed: with what the
    law may miss, of which no cut tells."""
    h = median_chip_load(fit, job, region)
    at = np.array([job.published_speed * np.exp(region.centre[0])]), np.array([h]), job.thickness
    return np.asarray(fit.log_tau(*at, coolant=job.coolant, missed=missed, **names(job))[:, 0])


def life_known(fit: Fit, job: Job, region: Tried) -> bool:
    """Whether the life at the tried settings is known well enough to go beyond them."""
    return life_spread(fit, job, region) <= UNSURE_LIFE


def life_spread(fit: Fit, job: Job, region: Tried) -> float:
    """Standard deviation of the log life at the middle of what was tried."""
    return float(np.std(log_life(fit, job, region)))


def how_little(fit: Fit, job: Job, region: Tried) -> str:
    """How little is known of the life at the tried settings, as a sentence."""
    factor = np.exp(2 * 1.2816 * float(np.std(log_life(fit, job, region, missed=True))))
    times = f"{factor:.0f} only" if factor < 1000 else "over 1,000"
    few = "too few bands have" if region.evidence["failed"] else "no band has"
    return (
        f"band life in {job.material.id} on {job.machine.id} is known to a factor of {times}: {few} "
        "worn out, and what was logged does not show yet how fast they dull"
    )


def median_chip_load(fit: Fit, job: Job, region: Tried) -> float:
    """Chip load [um] at the middle of what was tried."""
    bite = float(np.exp(region.centre[1]))
    if job.feed != "force":
        return bite
    V = job.published_speed * np.exp(region.centre[0])
    h = fit.chip_load_at_force(
        np.array([job.feed_of(V, bite)]),
        np.array([V]),
        job.thickness,
        wear_used=0.3,
        **names(job),
    )
    return float(np.median(h))


def _step(z: np.ndarray, borrowed: bool) -> float:
    thin = borrowed or len(z) < FEW or np.ptp(z) < np.log(SAME)
    return float(np.log(THIN_STEP if thin else STEP))


def _spread_advice(job: Job) -> str:
    feeds = "feed forces" if job.feed == "force" else "chip loads"
    return (
        f"{FEW} or more cuts of {job.material.id} on {job.machine.id} at two band speeds and two {feeds}; "
        f"`bandtrial plan` lays them out."
    )
