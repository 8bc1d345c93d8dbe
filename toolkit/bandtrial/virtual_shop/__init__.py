"""A saw that does not exist: for teaching, for tests and for benchmarks. Everything it makes is invented.

>>> from bandtrial.virtual_shop import Shop
>>> shop = Shop(7, kind="bent_life")
>>> band = shop.new_band()
>>> row = shop.cut(band, 40.0, 80.0, work_thickness=50.0, cut_travel=120.0)
>>> row["complete"]
True
"""

from bandtrial.virtual_shop.best import Best, NoSettingError
from bandtrial.virtual_shop.config import (
    Costs,
    Noise,
    Scatter,
    ShopConfig,
    VirtualMachine,
    VirtualMaterial,
    VirtualStock,
)
from bandtrial.virtual_shop.kinds import KINDS, random_shop
from bandtrial.virtual_shop.limits import Limits
from bandtrial.virtual_shop.long_run import LongRun
from bandtrial.virtual_shop.metals import METALS
from bandtrial.virtual_shop.settings import ShopError
from bandtrial.virtual_shop.shop import Shop, seed_of
from bandtrial.virtual_shop.wear_rate import WearLaw

__all__ = [
    "KINDS",
    "METALS",
    "Best",
    "Costs",
    "Limits",
    "LongRun",
    "NoSettingError",
    "Noise",
    "Scatter",
    "Shop",
    "ShopConfig",
    "ShopError",
    "VirtualMachine",
    "VirtualMaterial",
    "VirtualStock",
    "WearLaw",
    "random_shop",
    "seed_of",
]
