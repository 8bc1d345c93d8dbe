"""Sawing arithmetic: pure functions of numbers or arrays, in inside units; arrays broadcast. And the trade's words."""

import math
from typing import Any, TypeAlias

Numbers: TypeAlias = Any

TOOTH_FORMS = ("regular", "skip", "hook")
SETS = ("raker", "wave", "straight")
EDGES = ("bimetal", "carbon", "carbide")
COOLANTS = ("flood", "mist", "air", "dry")
OPERATIONS = ("sawing", "filing", "polishing")
WORN, BROKEN = ("dull", "crooked", "stripped"), ("broken", "weld_broken")
ENDS = ("in_service", "removed_sound", *WORN, *BROKEN)
"""What a band, its coolant, its work and its end can be, as study.toml, the log and the command line have it."""

GULLET_SHARE = {"regular": 0.24, "skip": 0.20, "hook": 0.28}
"""Gullet area as a share of the tooth spacing squared, by tooth form. An idealised gullet (depth 0.45, 0.30
and 0.45 of the spacing, filled 0.53, 0.67 and 0.62 of its depth x spacing box); no source."""

SWELLING = 3.0
"""Room a loose chip needs over the solid metal it was cut from. Common practice, no source."""


def tooth_spacing(pitch_tpi: Numbers) -> Numbers:
    """Tooth spacing p = 25.4 / pitch [mm], from the pitch [teeth per inch]; by definition of the inch.

    >>> tooth_spacing(10)
    2.54
    """
    return 25.4 / pitch_tpi


def teeth_in_cut(L: Numbers, p: Numbers) -> Numbers:
    """Teeth in the cut L / p [-], from work thickness L [mm] and tooth spacing p [mm].

    A 5/8 in plate and a 10 tpi band:

    >>> teeth_in_cut(15.875, 2.54)
    6.25
    """
    return L / p


def chip_load(V: Numbers, F: Numbers, p: Numbers) -> Numbers:
    """Chip load h = F p / V [um]: the layer each tooth takes.

    While one tooth follows the other past a point, p / V, the work moves F p / V.

    V : true band speed [m/min]
    F : feed rate [mm/min]
    p : tooth spacing [mm]
    (mm/min x mm / (m/min) is um: no factor.)

    250 ft/min, 3.3333 in/min, 4 tpi:

    >>> chip_load(76.2, 84.667, 6.35)
    7.056
    """
    return F * p / V


def feed_rate(V: Numbers, h: Numbers, p: Numbers) -> Numbers:
    """Feed rate F = h V / p [mm/min] that gives chip load h [um]; V [m/min], p [mm]. Inverse of `chip_load`.

    >>> feed_rate(76.2, 7.0556, 6.35)
    84.667
    """
    return h * V / p


def gullet_area_estimate(p: Numbers, tooth_form: str = "regular") -> Numbers:
    """Gullet area g p^2 [mm2] from tooth spacing p [mm]; g from `GULLET_SHARE`. An estimate, no source.

    >>> gullet_area_estimate(3.175, "regular")
    2.42
    """
    if tooth_form not in GULLET_SHARE:
        raise ValueError(
            f'tooth form "{tooth_form}" has no gullet estimate; use one of {", ".join(GULLET_SHARE)}, '
            "or give gullet_area yourself"
        )
    return GULLET_SHARE[tooth_form] * p**2


def gullet_fill(h: Numbers, L: Numbers, gullet_area: Numbers, swelling: Numbers = SWELLING) -> Numbers:
    """Share s h L / A of the gullet that the loose chip of one pass needs [-]; above 1 the gullet packs.

    One tooth peels h L of side area on its way through; kerf fills tooth and gullet alike and cancels.

    h : chip load [um]
    L : work thickness [mm]
    gullet_area : A [mm2]
    swelling : s, loose chip over solid metal [-]

    >>> gullet_fill(8.0, 50.0, 2.4)
    0.5
    """
    return swelling * h / 1000.0 * L / gullet_area


def chip_load_at_full_gullet(L: Numbers, gullet_area: Numbers, swelling: Numbers = SWELLING) -> Numbers:
    """Greatest chip load 1000 A / (s L) [um] that the gullet A [mm2] holds in work L [mm]. See `gullet_fill`.

    >>> chip_load_at_full_gullet(50.0, 2.4)
    16.0
    """
    return 1000.0 * gullet_area / (swelling * L)


ROUND = math.pi / 4
"""Mean work thickness of a round over its diameter, by the area of the circle."""


def cut_area_rectangular(L: Numbers, D: Numbers) -> Numbers:
    """Area L D / 100 [cm2] of a cut through plate or bar: work thickness L [mm], cut travel D [mm].

    >>> cut_area_rectangular(20.0, 150.0)
    30.0
    """
    return L * D / 100.0


def equal_wheels_band_length(wheel_diameter: Numbers, centres: Numbers) -> Numbers:
    """Band length 2 c + pi D [mm] on two equal wheels: diameter D [mm], distance of centres c [mm].

    Source: Navy NAVEDTRA 14345, p. 4-10. Wheels of 14 in, centres 30 in, all in inches:

    >>> equal_wheels_band_length(14.0, 30.0)
    103.982
    """
    return 2.0 * centres + math.pi * wheel_diameter


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


def cutting_rate(F: Numbers, L: Numbers) -> Numbers:
    """Cutting rate Z = F L / 100 [cm2/min], from feed rate F [mm/min] and work thickness L [mm].

    >>> cutting_rate(84.667, 76.2)
    64.516
    """
    return F * L / 100.0


def cut_time(D: Numbers, F: Numbers) -> Numbers:
    """Cut time D / F [min], from cut travel D [mm] and feed rate F [mm/min].

    >>> cut_time(300.0, 60.0)
    5.0
    """
    return D / F


def seconds_per_inch(F: Numbers) -> Numbers:
    """Hand pace 60 x 25.4 / F [s per inch of travel] of feed rate F [mm/min]: what to count while pushing.

    >>> seconds_per_inch(76.2)
    20.0
    """
    return 60.0 * 25.4 / F


def kienzle(kc11: Numbers, mc: Numbers, h: Numbers) -> Numbers:
    """Specific cutting force kc = kc1.1 h^-mc [N/mm2], h taken in mm inside.

    Source: Kienzle's law; kc1.1 is the force of a chip 1 mm thick and 1 mm wide.

    kc11 : kc1.1 [N/mm2]
    mc : exponent of the chip thickness [-]
    h : chip load [um]

    C45 steel, 0.02 mm:

    >>> kienzle(2220.0, 0.14, 20.0)
    3838.9
    """
    return kc11 * (h / 1000.0) ** -mc


def cutting_power(kc: Numbers, Z: Numbers, kerf: Numbers) -> Numbers:
    """Power at the teeth P = kc Z b / 600 [W]. Divide by the drive efficiency for the motor's share.

    kc [N/mm2] times the volume sawn, 100 Z b [mm3/min]; N mm/min is 1/60000 W.

    kc : specific cutting force [N/mm2]
    Z : cutting rate [cm2/min]
    kerf : width of the cut b [mm]

    >>> cutting_power(3000.0, 50.0, 1.2)
    300.0
    """
    return kc * Z * kerf / 600.0
