"""The job a setting is asked for: machine, band stock, material, work thickness, and what things cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial import published, sawing

if TYPE_CHECKING:
    from bandtrial.sawing import Numbers
    from bandtrial.study.model import Study


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
            lines.append("The study has " + ", ".join(f"{value:g} {name}" for name, value in self.has.items()) + ".")
        lines += [f"What would help: {text}" for text in self.would_help]
        return "\n".join(lines)


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
        return self.machine.feed

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
        """What a dial and a feed knob hold: (band speed [m/min], feed [mm/min or N])."""
        if self.system == "us":
            return 5.0 * FT, LB if self.feed == "force" else 0.1 * INCH
        return 1.0, 5.0 if self.feed == "force" else 1.0


def job_of(study: Study, machine: str, stock: str, material: str, thickness: float, coolant: str = "flood") -> Job:
    """The job by names; ValueError naming all that is unknown, NotYet where no cost can be worked out."""
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
    star = published.band_speed(metal.group, thickness, band.edge, coolant)
    return Job(
        saw,
        band,
        metal,
        float(thickness),
        coolant,
        float(star),
        _prices(study, band),
        study.units,
        study.currency,
    )


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
