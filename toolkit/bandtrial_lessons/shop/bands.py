"""Bands that do not exist: each with its own wear rate and its own two ends, drawn from the seed alone.

Band i of a kind is the same whatever was cut before it, so that two trials of one shop can be compared.
"""

from dataclasses import dataclass

import numpy as np

from bandtrial_lessons.shop.config import Scatter, VirtualStock
from bandtrial_lessons.shop.wear_path import END

BATCH, BAND = 1, 2


@dataclass
class Band:
    """One band: its hidden fate, and how far it has come."""

    id: str
    stock: str
    machine: str
    rate: float
    """Wear rate over that of a typical band [-]."""
    wear_limit: float
    """Wear used at which it is worn [-]: Weibull of scale 1."""
    cycle_limit: float
    """Bending cycles at which it breaks [-]: Weibull; damage adds up by the cycle (Palmgren and Miner)."""
    lot: tuple[float, float, float]
    """Uniform numbers that decide how the end looks: stripped, crooked, in the weld."""
    wear_used: float = 0.0
    chipped: float = 0.0
    """The part of the wear used that is chipped edges [-]."""
    cycles: float = 0.0
    minutes: float = 0.0
    """Cutting time so far [min]."""
    area: float = 0.0
    """Sawn so far [cm2]."""
    end: str = "in_service"
    fitted: str = ""
    removed: str = ""

    @property
    def alive(self) -> bool:
        return self.end == "in_service"


def draw_band(
    numbers: tuple[int, int, int],
    id: str,
    machine: str,
    stock: VirtualStock,
    scatter: Scatter,
    bending_life: float,
) -> Band:
    """A new band: log wear rate = batch + own scatter, both normal; Weibull limits of wear and cycles.

    numbers : seed of the shop, number of the stock, number of the band among those of the stock
    bending_life : scale of the limit of bending cycles [-]
    """
    seed, stock_number, number = numbers
    batch = np.random.default_rng([seed, BATCH, stock_number, number // scatter.batch_size])
    own = np.random.default_rng([seed, BAND, stock_number, number])
    log_rate = scatter.batch * batch.standard_normal() + scatter.band * own.standard_normal()
    wear, cycles = own.exponential(size=2) ** (1.0 / np.array([scatter.wear_shape, stock.bending_shape]))
    stripped, crooked, weld = own.random(3).tolist()
    return Band(
        id=id,
        stock=stock.sheet.id,
        machine=machine,
        rate=float(np.exp(log_rate)),
        wear_limit=min(float(wear), END),
        cycle_limit=float(cycles) * bending_life,
        lot=(stripped, crooked, weld),
    )


def end_of(band: Band, scatter: Scatter, weld_share: float, broke: bool) -> str:
    """How the end of a band is written down; the chance of stripped is half the chipped share squared."""
    stripped, crooked, weld = band.lot
    if broke:
        return "weld_broken" if weld < weld_share else "broken"
    if stripped < 0.5 * (band.chipped / band.wear_used) ** 2:
        return "stripped"
    return "crooked" if crooked < scatter.crooked else "dull"
