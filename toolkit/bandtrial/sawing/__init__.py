"""Sawing arithmetic: pure functions of numbers or arrays, in inside units; arrays broadcast.

`tooth`    spacing, teeth in the cut, chip load, gullet fill
`section`  mean work thickness and cut area of plate, round and tube
`band`     band length, contact minutes, bending cycles
`rate`     cutting rate, cut time, hand pace
`power`    specific cutting energy, Kienzle's cutting force, cutting power
"""

from bandtrial.sawing.band import band_length, bend_cycles, contact_minutes, equal_wheels_band_length
from bandtrial.sawing.power import cutting_power, kienzle, specific_cutting_energy
from bandtrial.sawing.rate import cut_time, cutting_rate, hand_feed_rate, seconds_per_inch
from bandtrial.sawing.section import (
    cut_area_rectangular,
    cut_area_round,
    cut_area_tube,
    mean_thickness_round,
    mean_thickness_tube,
)
from bandtrial.sawing.tooth import (
    GULLET_SHARE,
    SWELLING,
    chip_load,
    chip_load_at_full_gullet,
    feed_rate,
    gullet_area_estimate,
    gullet_fill,
    pitch_tpi,
    teeth_in_cut,
    tooth_spacing,
)

__all__ = [
    "GULLET_SHARE",
    "SWELLING",
    "band_length",
    "bend_cycles",
    "chip_load",
    "chip_load_at_full_gullet",
    "contact_minutes",
    "cut_area_rectangular",
    "cut_area_round",
    "cut_area_tube",
    "cut_time",
    "cutting_power",
    "cutting_rate",
    "equal_wheels_band_length",
    "feed_rate",
    "gullet_area_estimate",
    "gullet_fill",
    "hand_feed_rate",
    "kienzle",
    "mean_thickness_round",
    "mean_thickness_tube",
    "pitch_tpi",
    "seconds_per_inch",
    "specific_cutting_energy",
    "teeth_in_cut",
    "tooth_spacing",
]
