"""The band as a loop: its length, the time its teeth spend in the work, the bends it goes through."""

import math

import numpy as np

from bandtrial.sawing.types import Numbers


def equal_wheels_band_length(wheel_diameter: Numbers, centres: Numbers) -> Numbers:
    """Band length 2 c + pi D [mm] on two equal wheels: diameter D [mm], distance of centres c [mm].

    Source: Navy NAVEDTRA 14345, p. 4-10. Wheels of 14 in, centres 30 in, all in inches:

    >>> equal_wheels_band_length(14.0, 30.0)
    103.982
    """
    return 2.0 * centres + math.pi * wheel_diameter


def band_length(d1: Numbers, d2: Numbers, centres: Numbers) -> Numbers:
    """Length of an open band over two wheels [mm]: 2 c cos a + pi (d1 + d2) / 2 + a (d1 - d2).

    sin a = (d1 - d2) / (2 c) is the slope of the straight runs. Geometry; at d1 = d2 the equal-wheel rule.

    d1, d2 : wheel diameters [mm]
    centres : distance of the wheel centres c [mm], at least half the difference of the diameters

    >>> float(band_length(14.0, 14.0, 30.0))
    103.982
    >>> float(band_length(400.0, 300.0, 1000.0))
    3102.06
    """
    a = np.arcsin((d1 - d2) / (2.0 * centres))
    return 2.0 * centres * np.cos(a) + math.pi * (d1 + d2) / 2.0 + a * (d1 - d2)


def contact_minutes(cut_time: Numbers, L: Numbers, band_length: Numbers) -> Numbers:
    """Contact minutes t L / B [min]: how long one tooth worked, of a cut that took t.

    A tooth is in the work for L of each turn of B.

    cut_time : t [min]
    L : work thickness [mm]
    band_length : B [mm]

    >>> contact_minutes(10.0, 50.0, 4000.0)
    0.125
    """
    return cut_time * L / band_length


def bend_cycles(V: Numbers, t: Numbers, band_length: Numbers, wheels: int = 2) -> Numbers:
    """Bending cycles w V t / B [-]: each turn bends the band once over each wheel.

    V : true band speed [m/min]
    t : running time [min]
    band_length : B [mm]
    wheels : w, 2 unless the machine has more

    >>> bend_cycles(50.0, 8.0, 4000.0)
    200.0
    """
    return wheels * 1000.0 * V * t / band_length
