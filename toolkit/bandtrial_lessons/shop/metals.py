"""Metals a virtual shop may saw.

kc1.1 and mc are from Kienzle tables, from memory (tables differ by 10 to 15 %); the chip load at which edges
chip is ours, lower for harder metal, no source.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Metal:
    """A metal with its published group."""

    id: str
    name: str
    group: str
    hardness: float
    """[HB]"""
    kc11: float
    """[N/mm2]"""
    mc: float
    strip_chip_load: float
    """[um]"""


METALS: dict[str, Metal] = {
    metal.id: metal
    for metal in (
        Metal("mild", "low-carbon plate", "low-carbon steel", 125.0, 1820.0, 0.22, 14.5),
        Metal("medium", "medium-carbon bar", "medium-carbon steel", 200.0, 2220.0, 0.14, 13.5),
        Metal("chromoly", "chromium-molybdenum bar", "chromium-molybdenum steel", 230.0, 2500.0, 0.26, 13.0),
        Metal("bearing", "bearing ring stock", "bearing steel", 200.0, 2300.0, 0.20, 12.5),
        Metal("stainless", "stainless plate", "austenitic stainless steel", 180.0, 2350.0, 0.21, 13.0),
        Metal("iron", "gray iron block", "gray cast iron", 190.0, 1020.0, 0.25, 13.0),
        Metal("aluminum", "aluminum plate", "aluminum alloy", 95.0, 750.0, 0.23, 19.0),
        Metal("brass", "brass bar", "leaded brass", 120.0, 780.0, 0.18, 18.0),
    )
}
