"""The watch's own record: what was foretold of each band, and what came of it.

`forecasts.csv` in the study's folder has a line for each band in service whenever it has made a tenth more pieces than
at its last line. When a band has ended by itself, what was said of it is held against what it did.
"""

from __future__ import annotations

import csv
import io
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from bandtrial.disk import save
from bandtrial.sawing import BROKEN, WORN
from bandtrial.wear.calibration import at_most
from bandtrial.wear.terms import LEVEL

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial.study.model import Study
    from bandtrial.watch.state import Watch
    from bandtrial.wear.fit import Fit


FILE = "forecasts.csv"
HEAD = ("band", "after_cut", "pieces_done", "pieces_left", "pieces_left_low", "pieces_left_high", "piece_area [cm2]")
MORE = 10, 11
"""Pieces made at a band's last line, and by now, from which it gets a new one."""
SHARES = {"a quarter": 0.25, "half": 0.5, "three quarters": 0.75}
NEAR = 0.13
"""Share of a life by which a line may lie off the share it stands for."""
TOO_RARE = 0.05
"""Chance, if the intervals were right, below which as few or as many held is said to be no chance."""


@dataclass(frozen=True)
class Line:
    """One line of the record: pieces of piece_area [cm2] that a band was said to have left after a cut."""

    band: str
    after_cut: str
    pieces_done: int
    pieces_left: int
    pieces_left_low: int
    pieces_left_high: int
    piece_area: float


@dataclass(frozen=True)
class Past:
    """A forecast and what came: share of the life used when it was made, pieces said with the 80 % interval, and the
    pieces that the band still made."""

    band: str
    share: float
    said: int
    low: int
    high: int
    came: float

    @property
    def held(self) -> bool:
        """Whether the interval held; half a piece is none."""
        return self.low - 0.5 <= self.came <= self.high + 0.5


@dataclass(frozen=True)
class Score:
    """How past forecasts did. past: of the bands that ended by themselves; waiting: bands with lines, still running;
    taken_off: bands with lines that were taken off sound, and so tell nothing of their end."""

    past: tuple[Past, ...]
    waiting: int = 0
    taken_off: int = 0

    def at(self, share: float) -> list[Past]:
        """Of each band the forecast nearest to a share of its life, if one is near."""
        found: dict[str, Past] = {}
        for one in self.past:
            off = abs(one.share - share)
            if off <= NEAR and (one.band not in found or off < abs(found[one.band].share - share)):
                found[one.band] = one
        return list(found.values())

    def say(self) -> str:
        """In a sentence or two; "" where nothing was written down yet."""
        half = self.at(0.5)
        if not half:
            none = "No band has ended yet of those foretold at half life; their score will stand here."
            return none if self.past or self.waiting or self.taken_off else ""
        held, n = sum(one.held for one in half), len(half)
        if n == 1:
            return f"One band ended; it {'did' if held else 'did not'} within the interval said at half life."
        did = f"Of {n} bands that ended, {held} did within the interval said at half life (4 in 5 should)"
        return f"{did}{self._verdict(held, n)}."

    def _verdict(self, held: int, n: int) -> str:
        if at_most(held, n) < TOO_RARE:
            return ": trust the intervals less than they say"
        return ": too few yet to judge by" if n < 5 else ""

    def rows(self) -> list[list[str]]:
        """A row for each share of life: forecasts, held, width and how much too long they were said, in lives."""
        out = []
        for name, share in SHARES.items():
            mine = self.at(share)
            if not mine:
                out.append([name, "0", "–", "–", "–"])
                continue
            life = np.array([one.came / (1 - one.share) for one in mine])
            width = np.median([one.high - one.low for one in mine] / life)
            over = np.median([one.said - one.came for one in mine] / life)
            held = f"{sum(one.held for one in mine)} of {len(mine)}"
            out.append([name, f"{len(mine)}", held, f"{width:.2f}", f"{over:+.2f}"])
        return out

    def to_json(self) -> dict[str, Any]:
        """For `bandtrial watch --json`."""
        half = self.at(0.5)
        return {
            "bands_ended": len(half),
            "held": sum(one.held for one in half),
            "level": LEVEL,
            "waiting": self.waiting,
            "taken_off_sound": self.taken_off,
            "past": [asdict(one) | {"held": one.held} for one in self.past],
        }


ROWS = ("said at", "forecasts", "interval held", "its width, in lives", "said too long by, in lives")


def lines(folder: str | Path) -> list[Line]:
    """The lines of a study's record; none where there is none. What can't be read is passed over."""
    try:
        text = (Path(folder) / FILE).read_text(encoding="utf-8-sig", errors="replace")
    except OSError:
        return []
    found = []
    for row in csv.DictReader(io.StringIO(text)):
        try:
            done, left, low, high = (int(row[name]) for name in HEAD[2:6])
            found.append(Line(row["band"], row["after_cut"], done, left, low, high, float(row[HEAD[6]])))
        except (KeyError, TypeError, ValueError):
            continue
    return found


def keep(watch: Watch, study: Study) -> int:
    """Write down what a `Watch` foretells, a line for each band that has made a tenth more pieces than at its last one.

    Returns how many lines are new. Raises disk.NotWrittenError, and then nothing changed.
    """
    old = lines(study.path)
    last = {line.band: line.pieces_done for line in old}
    new = [
        Line(b.band, b.last_cut, b.pieces_done, b.pieces_left, b.pieces_left_low, b.pieces_left_high, b.piece_area)
        for b in watch.bands
        if MORE[0] * b.pieces_done >= MORE[1] * last.get(b.band, 0) and b.piece_area > 0
    ]
    if new:
        out = io.StringIO()
        table = csv.writer(out, lineterminator="\n")
        table.writerow(HEAD)
        names = [field.name for field in fields(Line)]
        table.writerows([getattr(line, name) for name in names] for line in [*old, *new])
        save(Path(study.path) / FILE, out.getvalue())
    return len(new)


def score(study: Study, cuts: pd.DataFrame, bands: pd.DataFrame, fit: Fit | None = None) -> Score | None:
    """`Score` of a study's record; None where it has none. Tables as of study.cut_table and study.band_table.

    fit : of the study. Where a band's work changed after a forecast, what it still did is counted in pieces of the work
    at the forecast by the wear that the fit ascribes to each cut; by area without a fit.
    """
    every = lines(study.path)
    if not every:
        return None
    end = dict(zip(bands["band"].astype(str), bands["end"], strict=True))
    said: dict[str, list[Line]] = {}
    for line in every:
        said.setdefault(line.band, []).append(line)
    by_level = taken_off_by_level(study, bands)
    ended = [band for band in said if end.get(band) in (*WORN, *BROKEN) or band in by_level]
    own = dict(iter(cuts[cuts["band"].isin(ended)].groupby("band", sort=False)))
    if fit is not None:
        wear = fit.density.exposure(np.median(fit.theta, axis=0)[:, None]).step[:, 0]
        by_cut = dict(zip(fit.data["cut"].astype(str), wear, strict=True))
        own = {band: mine.assign(wear=mine["cut"].astype(str).map(by_cut).fillna(0.0)) for band, mine in own.items()}
    past = [one for band in ended if band in own for line in said[band] for one in _held_against(line, own[band])]
    return Score(
        tuple(past),
        waiting=sum(end.get(band) == "in_service" for band in said),
        taken_off=sum(end.get(band) == "removed_sound" and band not in by_level for band in said),
    )


def taken_off_by_level(study: Study, bands: Any) -> set[str]:
    """Bands taken off sound where the shop's own level says when: that was the end that is foretold for them."""
    found = set()
    for row in bands[bands["end"] == "removed_sound"].itertuples():
        sources = (study.machines.get(row.machine), study.band_stock.get(row.stock))
        if any(one is not None and one.levels for one in sources):
            found.add(str(row.band))
    return found


def _held_against(line: Line, cuts: pd.DataFrame) -> list[Past]:
    """The forecast against the cuts of its band; none where its cut is gone, or wore nothing."""
    here = np.flatnonzero(cuts["cut"].astype(str).to_numpy() == line.after_cut)
    area = (cuts["cut_area"] * cuts["pieces"]).to_numpy(float)
    wear = cuts["wear"].to_numpy(float) if "wear" in cuts else area
    if not len(here) or not wear[here[-1]] > 0:
        return []
    to_come = wear[here[-1] + 1 :].sum()
    came = to_come / wear[here[-1]] * area[here[-1]] / line.piece_area
    return [Past(line.band, float(1 - to_come / wear.sum()), line.pieces_left, line.pieces_left_low,
                 line.pieces_left_high, float(came))]  # fmt: skip
