"""What a study holds: machines, band stock, materials, and the two tables. All values in inside units."""

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial.study.problems import Problem

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.study.reading import Lines

NOT_GIVEN = float("nan")


@dataclass(frozen=True)
class Machine:
    """A band machine. Speeds in `band_speed_ranges` are as the dial shows them."""

    id: str
    kind: str
    feed: str
    band_speed_ranges: tuple[tuple[float, float], ...]
    """(least, greatest) indicated band speed of each range [m/min]"""
    band_length: float
    """[mm]"""
    wheel_diameter: float = NOT_GIVEN
    """[mm]"""
    motor_power: float = NOT_GIVEN
    """[W]"""
    drive_efficiency: float = 0.8
    """Power at the teeth over motor power above idle [-]"""
    throat: float = NOT_GIVEN
    """[mm]"""
    feed_rate_range: tuple[float, float] | None = None
    """[mm/min]"""
    feed_force_range: tuple[float, float] | None = None
    """[N]"""
    speed_check: tuple[tuple[float, float], ...] = ()
    """(indicated, measured) band speed [m/min], in rising order"""
    band_speeds: tuple[float, ...] = ()
    """Indicated band speeds [m/min] of a machine with steps, as pulleys give; each is a range of its own too"""
    levels: tuple[tuple[str, float], ...] = ()
    """Readings at which the shop takes its bands off, in inside units (`settings.LEVELS`)"""

    @property
    def only_speed(self) -> float:
        """Indicated band speed [m/min] of a machine that has a single one; NaN for any other."""
        lowest, highest = self.band_speed_ranges[0][0], self.band_speed_ranges[-1][1]
        return lowest if lowest == highest else NOT_GIVEN

    def true_speed(self, indicated: Any) -> Any:
        """True band speed [m/min] of an indicated one [m/min].

        Straight lines through the speed check's points; proportional below the first and above the last.
        """
        return _through(self.speed_check, indicated)

    def indicated_speed(self, true: Any) -> Any:
        """Indicated band speed [m/min] that gives a true one [m/min]; undoes `true_speed`."""
        return _through(tuple((measured, dial) for dial, measured in self.speed_check), true)


@dataclass(frozen=True)
class BandStock:
    """A band as it comes off the coil."""

    id: str
    pitch_tpi: float
    """Mean pitch [teeth per inch]"""
    tooth_form: str
    set: str
    edge: str
    price: float
    """Per welded band, in the study's currency"""
    width: float = NOT_GIVEN
    """[mm]"""
    thickness: float = NOT_GIVEN
    """[mm]"""
    kerf: float = NOT_GIVEN
    """[mm]"""
    gullet_area: float | None = None
    """[mm2]; None: not measured, to be estimated from the pitch"""
    written_pitch: str = ""
    """The pitch as people say it, 6/10 tpi; empty: that of pitch_tpi"""
    levels: tuple[tuple[str, float], ...] = ()
    """Readings at which the shop takes such bands off, as of Machine"""

    @property
    def pitch(self) -> str:
        """The pitch as people say it, with its unit: 6 tpi, or as written, 6/10 tpi."""
        return self.written_pitch or f"{self.pitch_tpi:g} tpi"

    @property
    def tooth_spacing(self) -> float:
        """[mm]"""
        return 25.4 / self.pitch_tpi


@dataclass(frozen=True)
class Material:
    """A material of the shop and the published group it belongs to."""

    id: str
    name: str
    group: str
    """A published group or grade, or the name of a start of its own: `none (hardness 240 HB)` (published.own_starts)"""
    hardness: float = NOT_GIVEN
    """[HB]"""
    start_speed: float = NOT_GIVEN
    """The shop's own starting speed, a true one [m/min]"""
    deviation_at_most: float | None = None
    """[mm]"""
    pieces_per_month: float | None = None


@dataclass(frozen=True)
class Study:
    """An opened study: checked, in inside units, speeds as indicated."""

    path: Path
    info: dict[str, Any]
    costs: dict[str, float]
    machines: dict[str, Machine]
    band_stock: dict[str, BandStock]
    materials: dict[str, Material]
    bands: "pd.DataFrame" = field(repr=False)
    cuts: "pd.DataFrame" = field(repr=False)
    problems: tuple[Problem, ...] = field(default=(), repr=False)
    """What was found and does not stop the study: warnings."""

    @property
    def name(self) -> str:
        """What people call this study; that of its folder where study.toml has none."""
        return str(self.info.get("name") or self.path.name)

    @property
    def units(self) -> str:
        """System people read this study in: us or metric."""
        return str(self.info["units"])

    @cached_property
    def lines(self) -> "Lines":
        """The log as it was typed."""
        from bandtrial.study.reading import Lines

        return Lines(self)

    @property
    def currency(self) -> str:
        """What prices and costs of the study are in."""
        return str(self.info["currency"])


def _through(points: tuple[tuple[float, float], ...], x: Any) -> Any:
    """y of x on straight lines through (0, 0) and rising points (x, y); y/x of the last point beyond it."""
    if not points:
        return x
    at, y = np.array([(0.0, 0.0), *points]).T
    beyond = np.asarray(x, dtype=float) * (y[-1] / at[-1])
    result = np.where(np.asarray(x) > at[-1], beyond, np.interp(x, at, y))
    return float(result) if np.ndim(x) == 0 else result
