"""What went well on the shop's own machine: the evidence that moves a published or assumed limit.

A cut went well if it was finished and its band lived on, or came off dull with the cut done. What such cuts held is
never refused on a figure from a book (DESIGN section 10).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LOST = ("crooked", "stripped", "broken", "weld_broken")
"""Ends of a band that its last cut may have caused."""


@dataclass(frozen=True)
class Proven:
    """Of the cuts of a job's material that went well: lightest and heaviest chip load [um], greatest chip area
    h L [um mm], fewest teeth in the cut. Of those on the job's own machine: greatest cutting rate [cm2/min], greatest
    feed force times band speed [N m/min], 0 where there is none; whether its motor power was read.

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


def went_well(cuts, ends) -> np.ndarray:
    """Whether each cut of a table in each band's own order (n,) was finished on a band that lived on.

    cuts : columns band and complete, as arrays; ends : how each band ended, by its name
    """
    band = np.asarray(cuts["band"])
    complete = np.asarray(cuts["complete"]).astype(bool)
    last = np.zeros(len(band), bool)
    _, from_end = np.unique(band[::-1], return_index=True)
    last[len(band) - 1 - from_end] = True
    lost = np.array([ends.get(name) in LOST for name in band], bool)
    return complete & ~(last & lost)


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
    return Proven(
        float(h.min()),
        float(h.max()),
        float((h * L).max()),
        float(rows["teeth_in_cut"][good].min()),
        own * float(rate.max(initial=0.0)),
        own * float(push.max(initial=0.0)) * (job.feed == "force"),
        not borrowed and bool(np.isfinite(rows["motor_power"]).any()),
        ratios,
        bands,
    )


def force_ratios(rows, job):
    """log r = log(F V / (60 eta P)) of each power reading at a set force, and the bands they were read on."""
    with np.errstate(divide="ignore", invalid="ignore"):
        P = rows["motor_power"]
        r = rows["feed_force"] * rows["band_speed"] / (60 * job.machine.drive_efficiency * P)
    ok = np.isfinite(r) & (r > 0)
    return tuple(np.log(r[ok]).tolist()), tuple(rows["band"][ok])
