"""Lines of the log as they were typed, for a mark in a drawing that is asked what it is."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

import numpy as np

from bandtrial import units
from bandtrial.study import reading
from bandtrial.study.cells import with_unit
from bandtrial.study.files import RawTable
from bandtrial.study.model import Study
from bandtrial.study.problems import Problems
from bandtrial.words import count

MOST = 100_000
"""Cuts of a log whose file is read once more; of a longer one only the numbers of cuts are said."""


class Lines:
    """What stands in the log of a study for some cuts or bands; its file is read once more when it is first asked."""

    def __init__(self, study: Study) -> None:
        self.study = study

    @cached_property
    def raw(self) -> RawTable | None:
        """The log as it lies in its file; None where it is long, or has changed since the study was opened."""
        if len(self.study.cuts) > MOST:
            return None
        found = reading.raw_tables(self.study.path, Problems(), ("cuts",)).get("cuts")
        return found if found is not None and len(found.rows) == len(self.study.cuts) else None

    @cached_property
    def places(self) -> dict[str, int]:
        """Place of each cut in the log."""
        return {str(cut): at for at, cut in enumerate(self.study.cuts["cut"])}

    def of(self, cuts: Iterable[object]) -> list[str]:
        """For each cut its number, its row as a spreadsheet counts it, and every cell of it as typed."""
        asked, raw = [str(cut) for cut in cuts], self.raw
        if raw is None:
            return [f"cut {cut}" for cut in asked]
        at = np.array([self.places[cut] for cut in asked], dtype=np.intp)
        cells: list[list[str]] = [[] for _ in asked]
        for n, (name, unit) in enumerate(map(units.head, raw.heads)):
            if name in ("", "cut"):
                continue
            for mine, cell in zip(cells, raw.cells[n].to_numpy(object)[at], strict=True):
                if cell is not None and (typed := with_unit(cell, unit)):
                    mine.append(f"{name.replace('_', ' ')} {typed}")
        rows = zip(asked, raw.rows[at], cells, strict=True)
        return [f"cut {cut}, row {row} of {raw.file}: {'; '.join(mine)}" for cut, row, mine in rows]

    def of_bands(self, bands: Iterable[object]) -> list[str]:
        """For each band how it ended, which cuts of the log it made, and the note on it."""
        made = self.study.cuts.groupby("band", sort=False)["cut"]
        known = {row["band"]: row for row in self.study.bands.to_dict("records")}
        said = []
        for band in bands:
            cuts, row = made.get_group(band).tolist(), known[band]
            many = f"{count(len(cuts), 'row')} of cuts, from {cuts[0]} to {cuts[-1]}"
            note = f"; {row['note']}" if row["note"] else ""
            said.append(f"band {band}, {row['end'].replace('_', ' ')}: {many}{note}")
        return said
