"""What a virtual shop is made of. The `sheet` of each thing is what the shop knows; the rest stays hidden."""

from dataclasses import dataclass, field

from bandtrial_lessons.shop.sheets import BandStock, Machine, Material
from bandtrial_lessons.shop.wear_rate import WearLaw

HEAT: dict[str, float] = {"flood": 1.0, "mist": 1.06, "air": 1.14, "dry": 1.18}
"""Factor of the temperature rise by coolant: dry at 0.6 of the speed is as hot as flood, 0.6^-0.333 = 1.18.
0.6 is the middle of the handbook's 30 to 50 % lower speed (handbook_31); the others are chosen between."""


EDGE_METAL = 2000.0
"""kc1.1 of the metal that edge forces are stated for [N/mm2]; in others they follow it, as chip forces do."""


@dataclass(frozen=True)
class VirtualMachine:
    """A machine: its sheet, and how its dial lies, its drive idles and its frame shakes the bands."""

    sheet: Machine
    dial: float = 0.96
    """True speed over indicated speed in the middle of the range [-]."""
    dial_bend: float = 0.01
    """Change of that factor from the middle to either end of the range [-]."""
    idle_power: float = 15.0
    """Drawn above the cutting power for each 100 m/min of band speed, as the load grows the friction [W]."""
    wear_factor: float = 1.0
    """Wear of bands on this machine over that on a typical one [-]."""
    compliance: float = 0.02
    """Deviation of a new band for each 100 N of feed force at a guide span of 50 mm [mm]."""
    signals: tuple[str, ...] = ("motor_power", "deviation")
    """What is measured at each cut beside the time."""


@dataclass(frozen=True)
class VirtualStock:
    """A kind of band: its sheet, and what its edges and its back stand."""

    sheet: BandStock
    edge_force: float = 8.0
    """Cutting force of a new edge [N per mm of kerf] in a metal of kc1.1 `EDGE_METAL`, whatever the chip."""
    edge_thrust: float = 4.0
    """Feed force of a new edge [N per mm of kerf] in such a metal."""
    break_in: float = 0.5
    """Growth of the edge force in the break-in [-]."""
    break_in_wear: float = 0.04
    """Wear used in which 63 % of the break-in is done [-]."""
    dulling: float = 3.0
    """Growth of the edge force for each unit of wear used [-]."""
    late_dulling: float = 0.2
    """Extra of that growth at a wear used of 1, with its cube [-]."""
    drift: float = 0.35
    """Growth of the deviation with the growth of the edge force [-]."""
    bending_life: float = 4.0e4
    """Characteristic life in bending cycles at a thickness of 1/500 of the wheel [-]."""
    bending_exponent: float = 4.0
    """Of the bending strain in that life (Basquin) [-]."""
    bending_shape: float = 2.0
    """Weibull shape of the breaks [-]."""
    weld_share: float = 0.35
    """Share of breaks in the weld [-]."""


@dataclass(frozen=True)
class VirtualMaterial:
    """A metal: its sheet, its chip (Kienzle) and its wear."""

    sheet: Material
    kc11: float
    """[N/mm2]"""
    mc: float
    law: WearLaw
    thrust_ratio: float = 0.45
    """Feed force over cutting force of the chip [-]."""


@dataclass(frozen=True)
class Scatter:
    """How bands of one kind differ."""

    wear_shape: float = 3.0
    """Weibull shape of the wear used at which a band is worn [-]."""
    batch: float = 0.12
    """Standard deviation of the log wear rate between batches [-]."""
    band: float = 0.10
    """Standard deviation of the log wear rate between bands of a batch [-]."""
    batch_size: int = 5
    crooked: float = 0.2
    """Share of worn bands that run off the line first [-]."""


@dataclass(frozen=True)
class Noise:
    """What the measuring does to the truth: standard deviations of logs, outliers, least counts."""

    cut_time: float = 0.01
    forced_time: float = 0.03
    """Of the cut time at a set feed force, where the pressure wanders [-]."""
    motor_power: float = 0.06
    deviation: float = 0.20
    roughness: float = 0.10
    outlier_share: float = 0.02
    outlier_size: float = 4.0
    """Standard deviations of an outlier, in those of the signal."""
    stopwatch: float = 1.0 / 60.0
    """Least count of the stopwatch [min]."""
    power_step: float = 1.0
    """[W]"""
    deviation_step: float = 0.01
    """[mm]"""
    roughness_step: float = 0.1
    """[um]"""


@dataclass(frozen=True)
class Costs:
    """What an hour, a change and a lost piece cost, in the shop's currency; `[costs]` of a study."""

    machine_and_labor_per_hour: float = 66.0
    band_change_minutes: float = 12.0
    scrapped_piece: float = 30.0


@dataclass(frozen=True)
class ShopConfig:
    """A whole shop. Everything random in it follows from `seed`."""

    kind: str
    seed: int
    machines: tuple[VirtualMachine, ...]
    stock: tuple[VirtualStock, ...]
    materials: tuple[VirtualMaterial, ...]
    costs: Costs = field(default_factory=Costs)
    scatter: Scatter = field(default_factory=Scatter)
    noise: Noise = field(default_factory=Noise)
    units: str = "metric"
    currency: str = "EUR"
