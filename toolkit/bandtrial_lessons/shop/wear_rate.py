"""How fast a tooth that does not exist wears: abrasion and heat added up, times rubbing and chipping.

Not the fitted model on purpose: log life bends against log speed, and bends both ways against the chip load.
Every rate is relative: 1 at the reference state (speed V0, 10 um, 100 mm, flood).
"""

from dataclasses import dataclass

import numpy as np
from bandtrial.sawing import Numbers

REFERENCE_CHIP_LOAD = 10.0
"""[um]"""
REFERENCE_THICKNESS = 100.0
"""[mm]"""
ROOM = 293.0
"""Temperature of the room [K]."""


@dataclass(frozen=True)
class WearLaw:
    """The hidden constants of wear of one material."""

    reference_speed: float
    """V0, true band speed of the reference state [m/min]."""
    reference_life: float
    """Contact minutes at the reference state after which 63.2 % of bands are worn [min]."""
    slope: float
    """m = -d log(life) / d log(V) at the reference state [-]: 1/n of Taylor's V T^n = C."""
    abrasive_share: float
    """Share of abrasion in the wear at the reference state [-]."""
    pressure_exponent: float = 0.7
    """Of the chip load in the pressure on the edge (with Kienzle, 1 - mc) [-]."""
    temperature: float = 850.0
    """Of the edge at the reference state [K]."""
    heat_speed: float = 0.333
    """Exponent of the speed in the temperature rise [-]: Cook's equation (Groover, from memory)."""
    heat_chip: float = 0.02
    """Exponent of the chip load in the temperature rise [-]; Cook's 0.333 less the size effect."""
    heat_thickness: float = 0.02
    """Exponent of the work thickness in the temperature rise [-]; no source."""
    rub_chip_load: float = 5.0
    """Chip load at which rubbing doubles the wear [um]: half an edge radius of 10 (sarwar_2010: 5 to 15)."""
    rub_most: float = 10.0
    """Extra wear by rubbing where the chip vanishes [-]; no source."""
    strip_chip_load: float = 15.0
    """Chip load at which chipping of edges doubles the wear [um]."""
    strip_exponent: float = 5.0
    pack_exponent: float = 6.0
    """Of the gullet fill: at 1 the packed gullet doubles the wear [-]; no source."""

    @property
    def activation(self) -> float:
        """C2 of Usui's law [K], so that the slope at the reference state is as stated.

        m = s + (1 - s) (1 + C2 c dT / T^2), with c the exponent and dT the rise of the temperature T.
        """
        heat_slope = (self.slope - 1.0) / (1.0 - self.abrasive_share)
        return heat_slope * self.temperature**2 / (self.heat_speed * (self.temperature - ROOM))


def temperature(law: WearLaw, V: Numbers, h: Numbers, L: Numbers, heat: Numbers = 1.0) -> Numbers:
    """Temperature of the edge [K]: room + rise x heat x (V/V0)^c (h/h0)^x (L/L0)^y (form: Cook).

    V [m/min] true, h [um], L [mm]; heat [-] is 1 with flood, more with less coolant.
    """
    rise = (law.temperature - ROOM) * heat
    rise = rise * (V / law.reference_speed) ** law.heat_speed
    rise = rise * (h / REFERENCE_CHIP_LOAD) ** law.heat_chip
    return ROOM + rise * (L / REFERENCE_THICKNESS) ** law.heat_thickness


def abrasion(law: WearLaw, V: Numbers, h: Numbers) -> Numbers:
    """Abrasive wear per contact minute [-]: pressure x sliding distance (Archard); 1 at the reference."""
    return V / law.reference_speed * (h / REFERENCE_CHIP_LOAD) ** law.pressure_exponent


def thermal_wear(law: WearLaw, V: Numbers, h: Numbers, L: Numbers, heat: Numbers = 1.0) -> Numbers:
    """Thermal wear per contact minute [-]: pressure x distance x exp(-C2 / T) (Usui); 1 at the reference."""
    excess = 1.0 / law.temperature - 1.0 / temperature(law, V, h, L, heat)
    return abrasion(law, V, h) * np.exp(law.activation * excess)


def rubbing(law: WearLaw, h: Numbers) -> Numbers:
    """Factor 1 + r^(1 - h / h_rub) [-]: under a light feed the rounded edge rubs and is worn by it.

    1 + r where the chip vanishes, 2 at h_rub. Our own form; that light feed rubs is common practice.
    """
    return 1.0 + law.rub_most ** (1.0 - h / law.rub_chip_load)


def chipping(law: WearLaw, h: Numbers, fill: Numbers) -> Numbers:
    """Extra wear by chipped edges over the even wear [-]: (h / h_strip)^c + fill^q.

    Our own form; that heavy feed and packed gullets break teeth is common practice, no source.
    """
    return (h / law.strip_chip_load) ** law.strip_exponent + np.asarray(fill) ** law.pack_exponent


def even_wear(law: WearLaw, V: Numbers, h: Numbers, L: Numbers, heat: Numbers = 1.0) -> Numbers:
    """Abrasion and heat, with rubbing, per contact minute [1/min], before chipping."""
    s = law.abrasive_share
    mixed = s * abrasion(law, V, h) + (1.0 - s) * thermal_wear(law, V, h, L, heat)
    base = rubbing(law, REFERENCE_CHIP_LOAD) * (1.0 + chipping(law, REFERENCE_CHIP_LOAD, 0.0))
    return mixed * rubbing(law, h) / base / law.reference_life


def wear_rate(law: WearLaw, V: Numbers, h: Numbers, L: Numbers, fill: Numbers = 0.0, heat: Numbers = 1.0) -> Numbers:
    """Wear used per contact minute of a typical band [1/min].

    R = (s A + (1 - s) U) rub(h) (1 + chip(h, fill)), scaled to 1 / reference life at the reference state;
    A abrasion (Archard), U thermal wear (Usui). Rates of two mechanisms add.

    law : the material's constants
    V, h, L : true band speed [m/min], chip load [um], work thickness [mm]
    fill : gullet fill [-]
    heat : factor of the temperature rise for less coolant [-]
    """
    return even_wear(law, V, h, L, heat) * (1.0 + chipping(law, h, fill))
