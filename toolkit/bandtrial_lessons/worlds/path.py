"""A study's log as arrays for the ideal observer: bands one after the other, each row with the work it was made in."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from bandtrial.study import cut_table, open_study
from numpy.typing import NDArray

from bandtrial_lessons.worlds.latent import Array
from bandtrial_lessons.worlds.sheet import Sheet


@dataclass(frozen=True)
class Log:
    """Rows (R,) sorted by band, in their order; bands (B,). NaN: not logged. First and last row of each band.

    published, thickness, guess, metal : of the row's work; feed_rate achieved [mm/min]; minutes of all pieces
    """

    indicated: Array
    feed_rate: Array
    feed_force: Array
    minutes: Array
    thickness: Array
    published: Array
    guess: Array
    metal: Array
    power: Array
    deviation: Array
    band: NDArray[np.intp]
    first: NDArray[np.intp]
    last: NDArray[np.intp]
    end: tuple[str, ...]
    dial: float
    """Log of true over indicated speed, NaN where no speed check says it."""


def read_log(folder: str | Path, sheet: Sheet, dial: float) -> Log:
    """The log of a study folder; dial: true over indicated speed, known where the sheet has its speed check."""
    study = open_study(folder)
    cuts = cut_table(study)
    works = {(work.name, round(work.thickness, 3)): work for work in sheet.works}
    names = [str(name) for name in study.bands["band"]]
    used = [name for name in names if (cuts["band"] == name).any()]
    number = cuts["band"].map({name: i for i, name in enumerate(used)}).to_numpy(np.intp)
    order = np.argsort(number, kind="stable")
    rows = cuts.iloc[order]
    own = [works[(str(m), round(float(L), 3))] for m, L in zip(rows["material"], rows["work_thickness"], strict=True)]
    band = number[order].astype(np.intp)
    first = np.flatnonzero(np.diff(band, prepend=-1)).astype(np.intp)
    ends = dict(zip(names, study.bands["end"], strict=True))

    def column(name: str) -> Array:
        return rows[name].to_numpy(float)

    return Log(
        column("indicated_band_speed"), column("feed_rate"), column("feed_force"),
        column("cut_time") * column("pieces"),
        np.array([work.thickness for work in own]), np.array([work.speed for work in own]),
        np.array([work.force for work in own]), np.array([work.metal for work in own]),
        column("motor_power"), column("deviation"), band, first, np.append(first[1:], len(band)) - 1,
        tuple(str(ends[name]) for name in used), float(np.log(dial)) if sheet.checked else float("nan"),
    )  # fmt: skip
