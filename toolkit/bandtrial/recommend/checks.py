"""The limits of the chosen setting as a person reads them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from . import limits as lim
from .limits import Limit


def all_limits(fit, job, wish, chosen) -> Iterator[Limit]:
    """Every limit of DESIGN section 6 at the chosen setting."""
    yield from chosen.limits(chosen.at)
    if wish.deviation:
        yield _deviation(fit, job, wish, chosen)
    if wish.life_at_least:
        life = chosen.scan.run.area[:, chosen.at, chosen.age]
        yield lim.figure("band life", life[:, None], [wish.life_at_least], "cm2", False).at(0)


def _deviation(fit, job, wish, chosen) -> Limit:
    V, bite = np.array([chosen.V]), np.array([chosen.bite])
    h = lim.chip_loads(fit, job, V, bite)
    used = np.minimum(np.exp(np.minimum(chosen.scan.run.log_wear[:, chosen.at, chosen.age], 5.0)), 1.0)
    rows = lim.deviations(fit, job, V, np.median(h, axis=0))[:, 0]
    at_end = np.array([np.interp(E, lim.SIGNAL_WEAR, row) for E, row in zip(used, rows, strict=True)])
    note = "when the band comes off"
    return lim.figure("deviation", at_end[:, None], [wish.deviation], "mm", True, note).at(0)
