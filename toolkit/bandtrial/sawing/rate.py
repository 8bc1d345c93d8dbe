"""How fast metal is sawn: cutting rate, cut time, and the pace of a hand feed."""

from bandtrial.sawing.types import Numbers


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


def hand_feed_rate(seconds: Numbers) -> Numbers:
    """Feed rate 60 x 25.4 / s [mm/min] of a hand pace of s seconds per inch. Inverse of `seconds_per_inch`.

    >>> hand_feed_rate(20.0)
    76.2
    """
    return 60.0 * 25.4 / seconds
