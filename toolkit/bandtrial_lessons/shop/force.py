"""Forces on a tooth that does not exist: chip, edge, and how both answer to wear.

Per millimetre of kerf a tooth needs K h^(1 - mc) for the chip (Kienzle's law: thin chips cost more per
volume) and an edge force for the ploughing of its rounded edge, which grows as the edge wears. Mechanistic
force models split chip from edge force in the same way (Altintas, Manufacturing Automation, from memory).
"""

import numpy as np
from bandtrial import sawing
from bandtrial.sawing import Numbers

CREEP = 0.05
"""A stalled tooth still creeps: softness of the corner at zero chip force, as a share of the thrust given."""


def edge_growth(E: Numbers, break_in: float, break_in_wear: float, dulling: float, late: float) -> Numbers:
    """Growth W of the edge force, 0 for a new band: j (1 - exp(-E/e)) + k (E + l E^3) [-].

    Fast first wear, a long even stretch, faster again towards the end: the three stages of a wear curve
    (form: Groover, Fundamentals of Modern Manufacturing, from memory; first stage read in jia_2024).

    E : wear used [-]
    break_in, break_in_wear : j [-] and e [-]
    dulling, late : k [-] and l [-]
    """
    return break_in * -np.expm1(-E / break_in_wear) + dulling * (E + late * E**3)


def chip_force(h: Numbers, kc11: Numbers, mc: Numbers) -> Numbers:
    """Chip force kc1.1 h^(1 - mc) per mm of kerf [N/mm]; h [um] is taken in mm inside (Kienzle).

    C45 steel at 20 um, 3839 N/mm2 of CHECKS D5 times 0.020 mm:

    >>> chip_force(20.0, 2220.0, 0.14)
    76.78
    """
    return sawing.kienzle(kc11, mc, h) * h / 1000.0


def chip_load_of_force(force: Numbers, kc11: Numbers, mc: Numbers) -> Numbers:
    """Chip load h [um] of a chip force [N/mm]. Inverse of `chip_force`.

    >>> chip_load_of_force(76.78, 2220.0, 0.14)
    20.0
    """
    return 1000.0 * (force / kc11) ** (1.0 / (1.0 - mc))


def chip_load_at_thrust(
    thrust: Numbers, edge_thrust: Numbers, thrust_ratio: Numbers, kc11: Numbers, mc: Numbers
) -> Numbers:
    """Chip load [um] that a thrust per tooth and mm of kerf [N/mm] leaves after the edge has had its share.

    thrust = r kc1.1 h^(1 - mc) + edge thrust, solved for h. Near zero the chip's share is rounded off,
    (x + sqrt(x^2 + (CREEP thrust)^2)) / 2 for x, so that a dull band slows down instead of standing still.

    thrust : feed force per tooth and mm of kerf [N/mm]
    edge_thrust : what the edge takes of it, wear included [N/mm]
    thrust_ratio : feed force over cutting force of the chip r [-]
    kc11, mc : Kienzle's constants [N/mm2], [-]
    """
    left = thrust - edge_thrust
    left = (left + np.sqrt(left**2 + (CREEP * thrust) ** 2)) / 2.0
    return chip_load_of_force(left / thrust_ratio, kc11, mc)
