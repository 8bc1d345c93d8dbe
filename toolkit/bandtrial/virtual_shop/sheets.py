"""Machine, BandStock and Material sheets until the study package has its own (same fields)."""

from dataclasses import dataclass

import numpy as np

from bandtrial.sawing.types import Numbers


@dataclass(frozen=True)
class Machine:
    """What the shop knows of a machine."""

    id: str
    kind: str
    feed: str
    band_speed_ranges: tuple[tuple[float, float], ...]
    wheel_diameter: float
    band_length: float
    motor_power: float
    drive_efficiency: float = 0.8
    throat: float | None = None
    feed_rate_range: tuple[float, float] | None = None
    feed_force_range: tuple[float, float] | None = None
    speed_check: tuple[tuple[float, float], ...] = ()

    def true_speed(self, indicated: Numbers) -> Numbers:
        """True band speed of an indicated one [m/min]."""
        return along(indicated, self.speed_check)

    def indicated_speed(self, true: Numbers) -> Numbers:
        """Indicated band speed of a true one [m/min]."""
        return along(true, tuple((y, x) for x, y in self.speed_check))


@dataclass(frozen=True)
class BandStock:
    """What the shop knows of a kind of band."""

    id: str
    pitch_tpi: float
    tooth_spacing: float
    tooth_form: str
    set: str
    edge: str
    width: float
    thickness: float
    kerf: float
    gullet_area: float | None
    price: float


@dataclass(frozen=True)
class Material:
    """What the shop knows of a material."""

    id: str
    name: str
    group: str
    hardness: float | None = None


def along(x: Numbers, points: tuple[tuple[float, float], ...]) -> Numbers:
    """Straight lines through the points, proportional outside them."""
    if not points:
        return x
    a, b = np.array(sorted(points)).T
    x = np.asarray(x, dtype=float)
    return np.where(x < a[0], x * b[0] / a[0], np.where(x > a[-1], x * b[-1] / a[-1], np.interp(x, a, b)))
