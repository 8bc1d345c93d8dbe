"""A saw that does not exist: for teaching, for tests and for benchmarks. Everything it makes is invented.

>>> from bandtrial_lessons.shop import Shop
>>> shop = Shop(7, kind="bent_life")
>>> band = shop.new_band()
>>> row = shop.cut(band, 40.0, 80.0, work_thickness=50.0, cut_travel=120.0)
>>> row["complete"]
True
"""

from bandtrial_lessons.shop.best import Best, NoSettingError
from bandtrial_lessons.shop.config import (
    Costs,
    Noise,
    Scatter,
    ShopConfig,
    VirtualMachine,
    VirtualMaterial,
    VirtualStock,
)
from bandtrial_lessons.shop.kinds import KINDS, random_shop
from bandtrial_lessons.shop.limits import Limits
from bandtrial_lessons.shop.long_run import LongRun
from bandtrial_lessons.shop.metals import METALS
from bandtrial_lessons.shop.settings import ShopError
from bandtrial_lessons.shop.shop import Shop, seed_of
from bandtrial_lessons.shop.wear_rate import WearLaw

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
