"""What a shop knows of itself, drawn from the seed: machine, band, work, prices. Nothing of its physics is in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bandtrial import published, sawing

KINDS = ("rate", "force_power", "force", "hand")
"""Set feed rate; set feed force with power readings; set feed force without; hand feed (pace held to 10 %)."""
FORCES = {"aluminum": 0.35, "brass": 0.4, "bronze": 0.45, "copper": 0.5, "iron": 0.5, "titanium": 0.8, "nickel": 1.25}
"""Cutting force over that of steel, by a word of the group; all others 1. No source."""
STEEL_FORCE = 50.0
"""Cutting force of a sharp tooth at 10 um in steel [N per mm of kerf]; common practice, no source."""
PITCHES = (2, 3, 4, 6, 8, 10, 14, 18)
LEAST_ROOM = 14.0
"""Least chip load that the gullet of a band chosen for the work holds [um]."""
TRAVEL = 100.0
"""Cut travel of a trial cut [mm]."""


@dataclass(frozen=True)
class Work:
    """One material in one thickness [mm]: published group and speed [m/min], metal (0 the job's own, 1, 2 others),
    guess of the force of a tooth at 10 um [N per mm of kerf]."""

    name: str
    metal: int
    group: str
    thickness: float
    speed: float
    force: float


@dataclass(frozen=True)
class Sheet:
    """What is written down in study.toml, and the job. Lengths mm, speeds m/min as indicated, power W, money EUR."""

    seed: int
    kind: str
    works: tuple[Work, ...]
    pitch: float
    edge: str
    kerf: float
    band_length: float
    wheel: float
    ranges: tuple[tuple[float, float], ...]
    feed_range: tuple[float, float]
    motor: float
    per_minute: float
    change_minutes: float
    price: float
    scrap: float
    checked: bool
    """Whether the speed check is in study.toml."""

    @property
    def job(self) -> Work:
        return self.works[0]

    @property
    def thickness(self) -> float:
        return self.job.thickness

    @property
    def force_set(self) -> bool:
        return self.kind.startswith("force")

    @property
    def power_read(self) -> bool:
        return self.kind in ("rate", "force_power")

    @property
    def spacing(self) -> float:
        return 25.4 / self.pitch

    @property
    def gullet(self) -> float:
        return float(sawing.gullet_area_estimate(self.spacing, "regular"))


def draw_sheet(seed: int, kind: str) -> Sheet:
    """The sheet of a seed."""
    if kind not in KINDS:
        raise ValueError(f'kind "{kind}" is not one of {", ".join(KINDS)}')
    rng = np.random.default_rng([seed, KINDS.index(kind), 1])
    edge = str(rng.choice(["bimetal", "carbide", "carbon"], p=[0.75, 0.15, 0.1]))
    L = _log_even(rng, 15.0, 80.0)
    teeth = _log_even(rng, 6.0, 14.0)
    fit = [tpi for tpi in PITCHES if _full_gullet(25.4 / tpi, L) >= LEAST_ROOM] or [PITCHES[0]]
    pitch = min(fit, key=lambda tpi: abs(np.log(tpi * L / 25.4 / teeth)))
    works = _works(rng, L, edge)
    kerf, V = float(rng.uniform(0.9, 1.9)), works[0].speed
    forced = kind.startswith("force")
    teeth = L * pitch / 25.4
    power = works[0].force * teeth * kerf * V / 60 / 0.8
    feed = works[0].force * teeth * kerf if forced else 10.0 * V * pitch / 25.4
    return Sheet(
        seed, kind, works, float(pitch), edge, round(kerf, 2),
        band_length=round(_log_even(rng, 2500, 5500)),
        wheel=round(_log_even(rng, 350, 700)),
        ranges=_ranges(rng, V),
        feed_range=(_round(feed / 12), _round(feed * 6)),
        motor=_round(power * _log_even(rng, 1.6, 4.0)),
        per_minute=float(rng.uniform(40, 110)) / 60,
        change_minutes=round(_log_even(rng, 5, 20), 1),
        price=_round(_log_even(rng, 40, 150) * (2.0 if edge == "carbide" else 1.0)),
        scrap=_round(_log_even(rng, 2, 60)),
        checked=bool(rng.random() < 0.5),
    )  # fmt: skip


def force_guess(group: str) -> float:
    """Cutting force of a sharp tooth at 10 um [N per mm of kerf], by the group's name."""
    return STEEL_FORCE * next((share for word, share in FORCES.items() if word in group), 1.0)


def _works(rng: np.random.Generator, L: float, edge: str) -> tuple[Work, ...]:
    """The job, the same metal thinner, two other metals."""
    groups = [str(g) for g in rng.permutation(published.groups())[:3]]
    out = []
    for name, metal, share in (("job", 0, 1.0), ("job", 0, 0.7), ("other_a", 1, 0.85), ("other_b", 2, 1.15)):
        thick = round(float(L * share), 1)
        V = published.band_speed(groups[metal], thick, edge)
        out.append(Work(name, metal, groups[metal], thick, float(V), force_guess(groups[metal])))
    return tuple(out)


def _ranges(rng: np.random.Generator, V: float) -> tuple[tuple[float, float], ...]:
    """One wide range, two with a gap, or one that ends little above the published speed."""
    way = rng.random()
    if way < 0.6:
        return ((_round(0.3 * V), _round(3.0 * V)),)
    if way < 0.85:
        gap = float(rng.uniform(0.5, 1.3))
        return ((_round(0.25 * V), _round(0.92 * gap * V)), (_round(1.08 * gap * V), _round(3.0 * V)))
    return ((_round(0.3 * V), _round(1.3 * V)),)


def _full_gullet(p: float, L: float) -> float:
    return float(sawing.chip_load_at_full_gullet(L, sawing.gullet_area_estimate(p, "regular")))


def _log_even(rng: np.random.Generator, low: float, high: float) -> float:
    return float(low * (high / low) ** rng.random())


def _round(x: float) -> float:
    """To two figures, as people write."""
    return float(f"{x:.2g}")
