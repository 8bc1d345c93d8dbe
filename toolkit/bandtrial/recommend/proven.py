"""What went well on the shop's own machine: the evidence that moves a published or assumed limit.

A cut went well if it was finished and its band lived on, or came off dull with the cut done. What such cuts held is
never refused on a figure from a book (DESIGN section 10).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

THRICE = 3.0
"""Cuts that must have held a figure before it moves a limit: one may have been a slip of the hand or of the pen."""
LOST = ("crooked", "stripped", "broken", "weld_broken")
"""Ends of a band that its last cut may have caused."""


@dataclass(frozen=True)
class Proven:
    """Of the cuts of a job's material that went well, what at least three of them held: lightest and heaviest chip load
    [um], greatest chip area h L [um mm], fewest teeth in the cut. Of those on the job's own machine: greatest cutting
    rate [cm2/min], greatest feed force times band speed [N m/min], 0 where there is none; whether its motor power was
    read.

    usual_chip, usual_area : chip load and chip area of most of them, by pieces
    ratios : logs of feed force over cutting force (n,) that the machine's power readings at a set force show, and the
    band of each
    """

    lightest: float = np.inf
    heaviest: float = 0.0
    chip_area: float = 0.0
    teeth: float = np.inf
    rate: float = 0.0
    push: float = 0.0
    power_read: bool = False
    ratios: tuple[float, ...] = ()
    ratio_bands: tuple[str, ...] = ()
    usual_chip: float = 0.0
    usual_area: float = 0.0


def went_well(cuts, ends) -> np.ndarray:
    """Whether each cut of a table in each band's own order (n,) was finished on a band that lived on.

    cuts : columns band and complete, as arrays; ends : how each band ended, by its name
    """
    band = np.asarray(cuts["band"])
    complete = np.asarray(cuts["complete"]).astype(bool)
    lost = np.array([ends.get(name) in LOST for name in band], bool)
    return complete & ~(last_of_band(band) & lost)


def last_of_band(band) -> np.ndarray:
    """Whether each cut (n,) is the last of its band."""
    last = np.zeros(len(band), bool)
    _, from_end = np.unique(band[::-1], return_index=True)
    last[len(band) - 1 - from_end] = True
    return last


def proven(rows, job, good, borrowed: bool) -> Proven:
    """`Proven` of a job's rows (`tried.rows_of`), those that went well marked by `good` (n,)."""
    if not good.any():
        return Proven()
    h, L = rows["chip_load"][good], rows["work_thickness"][good]
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.nan_to_num((rows["cut_area"] / rows["cut_time"])[good], posinf=0.0)
        push = np.nan_to_num((rows["feed_force"] * rows["band_speed"])[good], posinf=0.0)
    own = 0.0 if borrowed else 1.0
    ratios, bands = force_ratios(rows, job) if job.feed == "force" else ((), ())
    n = rows["pieces"][good]
    return Proven(
        -held(-h, n),
        held(h, n),
        held(h * L, n),
        -held(-rows["teeth_in_cut"][good], n),
        own * held(rate, n),
        own * held(push, n) * (job.feed == "force"),
        not borrowed and bool(np.isfinite(rows["motor_power"]).any()),
        ratios,
        bands,
        usual(h, n),
        usual(h * L, n),
    )


def held(values, pieces) -> float:
    """The greatest value that at least THRICE pieces held, or all of them where there are fewer.

    >>> held(np.array([5.0, 9.0, 7.0, 6.0]), np.ones(4)), held(np.array([5.0, 9.0]), np.array([1.0, 40.0]))
    (6.0, 9.0)
    """
    order = np.argsort(-values)
    enough = min(THRICE, float(pieces.sum()))
    return float(values[order][np.searchsorted(np.cumsum(pieces[order]), enough)])


def usual(values, pieces) -> float:
    """Median of values by pieces."""
    order = np.argsort(values)
    return float(values[order][np.searchsorted(np.cumsum(pieces[order]), pieces.sum() / 2)])


def stripped_at(bites, rows, ends) -> float:
    """The lightest bite at which a band was stripped; inf where none was.

    Of a cut that was not finished, time and travel say little: the three before it on its band say what was fed.
    bites (n,) of rows (`tried.rows_of`, with `last` the last cut of its band); ends : how each band ended, by its name
    """
    lost = rows["last"] & np.array([ends.get(name) == "stripped" for name in rows["band"]], bool)
    found = [np.inf]
    for i in np.flatnonzero(lost).tolist():
        before = [k for k in range(max(i - 3, 0), i) if rows["band"][k] == rows["band"][i]]
        found.append(float(bites[i] if rows["complete"][i] or not before else np.median(bites[before])))
    return min(found)


def force_ratios(rows, job):
    """log r = log(F V / (60 eta P)) of each power reading at a set force, and the bands they were read on."""
    with np.errstate(divide="ignore", invalid="ignore"):
        P = rows["motor_power"]
        r = rows["feed_force"] * rows["band_speed"] / (60 * job.machine.drive_efficiency * P)
    ok = np.isfinite(r) & (r > 0)
    return tuple(np.log(r[ok]).tolist()), tuple(rows["band"][ok])
