"""What one tooth does: how many are in the cut, how thick a layer each takes, how full its gullet gets."""

from bandtrial.sawing.types import Numbers

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


def pitch_tpi(p: Numbers) -> Numbers:
    """Pitch 25.4 / p [teeth per inch], from the tooth spacing p [mm].

    >>> pitch_tpi(6.35)
    4.0
    """
    return 25.4 / p


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
