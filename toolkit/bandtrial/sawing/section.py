"""Sections: mean work thickness over a cut, and the area the cut sweeps.

The mean work thickness of a cut is its area over its travel, so that area = thickness x travel always holds.
A round or tube is fed through by its whole diameter.
"""

import math

from bandtrial.sawing.types import Numbers


def cut_area_rectangular(L: Numbers, D: Numbers) -> Numbers:
    """Area L D / 100 [cm2] of a cut through plate or bar: work thickness L [mm], cut travel D [mm].

    >>> cut_area_rectangular(20.0, 150.0)
    30.0
    """
    return L * D / 100.0


def cut_area_round(diameter: Numbers) -> Numbers:
    """Area pi d^2 / 4 / 100 [cm2] of a cut through a solid round of diameter d [mm].

    >>> cut_area_round(100.0)
    78.54
    """
    return math.pi * diameter**2 / 4.0 / 100.0


def cut_area_tube(diameter: Numbers, wall: Numbers) -> Numbers:
    """Area pi (d - w) w / 100 [cm2] of a cut through a tube: outside diameter d [mm], wall w [mm].

    It is the ring pi (d^2 - (d - 2w)^2) / 4; at w = d / 2 the tube is a solid round.

    >>> cut_area_tube(100.0, 10.0)
    28.27
    """
    return math.pi * (diameter - wall) * wall / 100.0


def mean_thickness_round(diameter: Numbers) -> Numbers:
    """Mean work thickness pi d / 4 [mm] of a solid round of diameter d [mm].

    >>> mean_thickness_round(100.0)
    78.54
    """
    return math.pi * diameter / 4.0


def mean_thickness_tube(diameter: Numbers, wall: Numbers) -> Numbers:
    """Mean work thickness pi (d - w) w / d [mm] of a tube, both walls together: diameter d [mm], wall w [mm].

    The pitch of the band must suit a single wall, not this sum: at mid height a tooth meets only w.

    >>> mean_thickness_tube(100.0, 10.0)
    28.27
    """
    return math.pi * (diameter - wall) * wall / diameter
