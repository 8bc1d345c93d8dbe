"""A signal's own level on each band, placed about what the band's readings say once all else is known.

Given the other parameters and the wear, n readings of a band whose mean is off by r from what is expected, each of
information i, tell its own level g ~ N(0, s^2) to

    g = f r + z / P^(1/2),   P = n i + 1/s^2,   f = n i / P,   z ~ N(0, 1).

Chains that move z instead of g are not led along the thin, curved ridge on which the readings' mean holds the level,
the break-in and the dulling to each other, and no funnel is left where the spread or the noise is small.
"""

from dataclasses import dataclass

import numpy as np


@dataclass
class Placed:
    """Levels g of z, the readings' means r (`off`), f (`share`) and P: all (m, N)."""

    g: np.ndarray
    z: np.ndarray
    off: np.ndarray
    share: np.ndarray
    precision: np.ndarray

    @property
    def volume(self):
        """Log of the volume (N,) that z takes in g."""
        return -0.5 * np.log(self.precision).sum(axis=0)

    def carried(self, by_g):
        """Slopes with z (m, N), with the mean r (m, N), with the log of the readings' information and with log s (N,),
        from those with g (m, N); those of the log volume are in the last two."""
        root = 1 / np.sqrt(self.precision)
        rest = 1 - self.share  # the spread's share of the precision
        along, across = by_g * self.off * self.share * rest, 0.5 * (by_g * self.z * root + 1)
        by_information = np.sum(along - across * self.share, axis=0)
        by_spread = np.sum(2 * (along + across * rest), axis=0)
        return by_g * root, by_g * self.share, by_information, by_spread


def place(z, off, n, information, own):
    """`Placed` levels: off (m, N), n (m, 1), information of a reading and 1/s^2 of the levels (N,)."""
    precision = n * information + own
    share = n * information / precision
    return Placed(share * off + z / np.sqrt(precision), z, off, share, precision)
