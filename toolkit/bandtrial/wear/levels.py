"""Effects of bands and groups, placed by standard normals z where the data and their own spread hold them.

A signal's own level on each band is placed about what the band's readings say once all else is known.
Given the other parameters and the wear, n readings of a band whose mean is off by r from what is expected, each of
information i, tell its own level g ~ N(0, s^2) to

    g = f r + z / P^(1/2),   P = n i + 1/s^2,   f = n i / P,   z ~ N(0, 1).

Chains that move z instead of g are not led along the thin, curved ridge on which the readings' mean holds the level,
the break-in and the dulling to each other, and no funnel is left where the spread or the noise is small.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np


class Carried(NamedTuple):
    """Slopes with z and with the middle of the effects (m, N); with the information of the data on each (m, N), or with
    its log of all (N,); with the log of their spread, (m, N) or (N,)."""

    by_z: np.ndarray
    by_middle: np.ndarray
    by_information: np.ndarray
    by_spread: np.ndarray


@dataclass
class Placed:
    """Levels g of z, the readings' means r (`off`), f (`share`) and P: all (m, N)."""

    g: np.ndarray
    z: np.ndarray
    off: np.ndarray
    share: np.ndarray
    precision: np.ndarray

    @property
    def volume(self) -> np.ndarray:
        """Log of the volume (N,) that z takes in g."""
        return np.asarray(-0.5 * np.log(self.precision).sum(axis=0))

    def carried(self, by_g: np.ndarray) -> Carried:
        """`Carried` of the slopes with g (m, N), the mean r being the middle; those of the log volume are in the last
        two."""
        root = 1 / np.sqrt(self.precision)
        rest = 1 - self.share  # the spread's share of the precision
        along, across = by_g * self.off * self.share * rest, 0.5 * (by_g * self.z * root + 1)
        by_information = np.sum(along - across * self.share, axis=0)
        by_spread = np.sum(2 * (along + across * rest), axis=0)
        return Carried(by_g * root, by_g * self.share, by_information, by_spread)


def place(z: np.ndarray, off: np.ndarray, n: np.ndarray, information: np.ndarray, own: np.ndarray) -> Placed:
    """`Placed` levels: off (m, N), n (m, 1), information of a reading and 1/s^2 of the levels (N,)."""
    precision = n * information + own
    share = n * information / precision
    return Placed(share * off + z / np.sqrt(precision), z, off, share, precision)


class Shrunk(NamedTuple):
    """Effects (m, N) at z: f middle + z / precision^(1/2), f = data / precision over what it was at the top, precision
    that of the `data` and of their `own` spread."""

    value: np.ndarray
    z: np.ndarray
    middle: np.ndarray
    factor: np.ndarray
    precision: np.ndarray
    data: np.ndarray
    own: np.ndarray

    @classmethod
    def at(
        cls,
        middle: np.ndarray,
        z: np.ndarray,
        data: np.ndarray,
        own: np.ndarray,
        data_then: np.ndarray,
        precision_then: np.ndarray,
    ) -> Shrunk:
        """From the information of the data and of the spread, there and at the top."""
        precision = data + own
        factor = np.where(data_then > 0, data * precision_then / (np.maximum(data_then, 1e-300) * precision), 1.0)
        return cls(factor * middle + z / np.sqrt(precision), z, middle, factor, precision, data, own)

    @property
    def volume(self) -> np.ndarray:
        """Log of the volume (N,) that z takes."""
        return np.asarray(-0.5 * np.log(self.precision).sum(axis=0))

    def carried(self, by: np.ndarray) -> Carried:
        """`Carried` of the slopes with the effects (m, N)."""
        root = 1 / np.sqrt(self.precision)
        by_factor = by * self.factor * self.middle  # with log f
        by_precision = -0.5 * (by * self.z * root + 1)  # with log precision, that of the volume with it
        by_data = by_factor * self.own / np.maximum(self.data * self.precision, 1e-300) + by_precision / self.precision
        by_spread = 2 * self.own / self.precision * (by_factor - by_precision)
        return Carried(by * root, by * self.factor, by_data, by_spread)
