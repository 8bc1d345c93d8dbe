"""The job a setting is asked for, with its costs; whether a fit carries an answer; an estimate with its interval."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import sawing

if TYPE_CHECKING:
    from bandtrial.sawing import Numbers
    from bandtrial.study.model import Study
    from bandtrial.wear.fit import Fit
    from bandtrial.wear.trust import Trust

LB = 4.4482216152605  # N per lbf
FT, INCH = 0.3048, 25.4  # m per ft, mm per in


class NotYet(Exception):  # noqa: N818 - it says what it is
    """The study can't support the answer asked for. `reason` why; `would_help` the trial cuts that would;
    `has` what there is of evidence."""

    def __init__(self, reason: str, would_help: Sequence[Any] = (), has: Any = None) -> None:
        self.reason, self.would_help, self.has = reason, list(would_help), dict(has or {})
        super().__init__(str(self))

    def __str__(self) -> str:
        lines = [f"Not yet: {self.reason}"]
        if self.has:
            lines.append("The study has " + ", ".join(_counted(*one) for one in self.has.items()) + ".")
        lines += [f"What would help: {text}" for text in self.would_help]
        return "\n".join(lines)


def _counted(name: str, value: float) -> str:
    """A number of things named by their plural.

    >>> _counted("bands", 1), _counted("cuts", 24), _counted("failed", 1)
    ('1 band', '24 cuts', '1 failed')
    """
    return f"{value:g} {name.removesuffix('s') if value == 1 else name}"


@dataclass(frozen=True)
class Prices:
    """Costs in the study's currency: a minute of machine and labor, a band, a lost piece."""

    per_minute: float
    change_minutes: float
    band: float
    scrapped_piece: float


@dataclass(frozen=True)
class Job:
    """What is asked for. Thickness [mm]; `published_speed` V* [m/min] for the job's coolant."""

    machine: Any
    stock: Any
    material: Any
    thickness: float
    coolant: str
    published_speed: float
    prices: Prices
    system: str
    currency: str

    @property
    def feed(self) -> str:
        """How the machine is fed: "rate", "force" or "hand"."""
        return str(self.machine.feed)

    @property
    def teeth(self) -> float:
        """Teeth in the cut L/p [-]."""
        return float(sawing.teeth_in_cut(self.thickness, self.stock.tooth_spacing))

    @property
    def gullet_area(self) -> float:
        """Gullet area of the stock [mm2], estimated from spacing and tooth form where none is given."""
        given = self.stock.gullet_area
        if given is not None and np.isfinite(given):
            return float(given)
        return float(sawing.gullet_area_estimate(self.stock.tooth_spacing, self.stock.tooth_form))

    @property
    def kerf(self) -> float:
        """Width of the cut [mm]; 1.3 times the band thickness, or 1.3 mm, where none is given: our choice."""
        given, thick = self.stock.kerf, self.stock.thickness
        return float(given) if np.isfinite(given) else 1.3 * float(thick if np.isfinite(thick) else 1.0)

    def feed_of(self, band_speed: Numbers, bite: Numbers) -> Numbers:
        """The setting of the feed: feed rate h V/p [mm/min], or feed force of all teeth in the cut [N].

        bite: chip load h [um] where a rate is set, feed force per tooth [N] where a force is.
        """
        if self.feed == "force":
            return np.asarray(bite, float) * self.teeth
        return sawing.feed_rate(band_speed, bite, self.stock.tooth_spacing)

    def bite_of(self, band_speed: Numbers, feed: Numbers) -> Numbers:
        """Inverse of `feed_of`."""
        if self.feed == "force":
            return np.asarray(feed, float) / self.teeth
        return sawing.chip_load(band_speed, feed, self.stock.tooth_spacing)

    def feed_range(self) -> tuple[float, float]:
        """Range of the feed's setting the machine gives, (0, inf) where the study names none."""
        given = self.machine.feed_force_range if self.feed == "force" else self.machine.feed_rate_range
        return (0.0, np.inf) if given is None else (float(given[0]), float(given[1]))

    def step(self) -> tuple[float, float]:
        """What a dial and a feed knob hold, and for a hand, which has none, what a stopwatch tells apart: (band speed
        [m/min], feed [mm/min or N])."""
        if self.system == "us":
            return 5.0 * FT, {"force": LB, "hand": 0.01 * INCH}.get(self.feed, 0.1 * INCH)
        return 1.0, {"force": 5.0, "hand": 0.2}.get(self.feed, 1.0)


def job_of(study: Study, machine: str, stock: str, material: str, thickness: float, coolant: str = "flood") -> Job:
    """The job by names; ValueError naming all that is unknown, NotYet where no cost can be worked out."""
    from bandtrial.published.speeds import band_speed  # the tables: not for who needs a `Value` or a `NotYet` only

    unknown = [
        f'{what} "{name}" is not in study.toml; there are: {", ".join(sorted(known)) or "none"}'
        for what, name, known in (
            ("machine", machine, study.machines),
            ("band stock", stock, study.band_stock),
            ("material", material, study.materials),
        )
        if name not in known
    ]
    if not (np.isfinite(thickness) and thickness > 0):
        unknown.append(f"work thickness {thickness:g} mm is not a thickness; give one above 0 mm")
    if unknown:
        raise ValueError("\n".join(unknown))
    saw, band, metal = study.machines[machine], study.band_stock[stock], study.materials[material]
    star = band_speed(metal.group, thickness, band.edge, coolant)
    return Job(
        saw, band, metal, float(thickness), coolant, float(star), _prices(study, band), study.units, study.currency,
    )  # fmt: skip


def _prices(study: Any, stock: Any) -> Prices:
    per_hour, missing = study.costs.get("machine_and_labor_per_hour"), []
    if not per_hour:
        missing.append("machine_and_labor_per_hour under [costs]")
    if not stock.price:
        missing.append(f"price under [band_stock.{stock.id}]")
    if missing:
        raise NotYet(
            "a cost can't be worked out without " + " and ".join(missing) + " in study.toml.",
            ["no trial cut: write the figures into study.toml."],
        )
    return Prices(
        float(per_hour) / 60,
        float(study.costs.get("band_change_minutes") or 0.0),
        float(stock.price),
        float(study.costs.get("scrapped_piece") or 0.0),
    )


MEND = "look through the log for slips (`bandtrial check`; readings that never change or jump), then fit again."


def trust_of(fit: Fit) -> Trust:
    """What the fit, or the one it was thinned from, says of itself: usable, grade, reasons, contradictions, widen
    (`wear.trust`)."""
    whole: Trust = (getattr(fit, "_whole", None) or fit).trust
    return whole


def must_carry(fit: Fit, stay: str = "") -> Trust:
    """`trust_of` the fit; NotYet where its draws can't carry an answer.

    stay : what to do meanwhile, as a sentence
    """
    trust = trust_of(fit)
    if not trust.usable:
        reason = " ".join(trust.reasons) or "the sampler did not settle on this log."
        raise NotYet(reason, [MEND, *([stay] if stay else [])])
    return trust


def widened(draws: np.ndarray, trust: Trust) -> np.ndarray:
    """Positive draws (S, ...), their log widened by the trust's factor about the median over the draws."""
    if trust.widen <= 1.0:
        return draws
    middle = np.median(draws, axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        out = middle * (draws / middle) ** trust.widen
    return np.where(np.isfinite(out), out, draws)


def said(trust: Trust) -> tuple[str, ...]:
    """Warnings that an answer has to carry."""
    return (*trust.reasons, *trust.contradictions)


@dataclass(frozen=True)
class Value:
    """An estimate with its 80 % interval."""

    value: float
    low: float
    high: float

    def times(self, factor: float) -> Value:
        """The same of so many times as much; factor above 0."""
        return Value(self.value * factor, self.low * factor, self.high * factor)

    def turned(self) -> Value:
        """The same in the other direction: what is lost for what is gained."""
        return Value(-self.value, -self.high, -self.low)


def of_draws(draws: Any, rough: bool = False) -> Value:
    """Mean of the draws (S,), median where they are rough, in the 0.1 to 0.9 quantiles."""
    low, middle, high = (float(x) for x in np.quantile(draws, [0.1, 0.5, 0.9]))
    return Value(middle if rough else float(np.clip(np.mean(draws), low, high)), low, high)


def as_value(draws: np.ndarray, trust: Trust, rough: bool = False) -> Value:
    """`of_draws` of positive draws (S,), as wide as their trust asks."""
    return of_draws(widened(np.asarray(draws, float), trust), rough)


def of_differences(draws: Any, trust: Trust, rough: bool = False) -> Value:
    """`of_draws` of differences (S,), widened about their median by the trust's factor."""
    middle = np.median(draws)
    return of_draws(middle + (np.asarray(draws, float) - middle) * max(trust.widen, 1.0), rough)
