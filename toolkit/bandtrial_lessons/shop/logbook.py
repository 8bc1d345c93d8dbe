"""The log of a virtual shop: what was measured at each cut, in the columns of cuts.csv."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bandtrial_lessons.shop.config import ShopConfig
from bandtrial_lessons.shop.cutting import COLUMNS
from bandtrial_lessons.shop.noise import SIGNALS, UNIFORMS, measure_all
from bandtrial_lessons.shop.work import Work

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[np.float64]
LOG = (
    "cut", "started", "machine", "band", "material", "work_thickness", "cut_travel", "band_speed",
    "feed_rate", "feed_force", "cut_time", "pieces", "coolant", "motor_power", "deviation",
    "roughness", "complete", "exclude", "note",
)  # fmt: skip
COPIED = (
    "machine", "band", "material", "work_thickness", "cut_travel", "band_speed", "feed_rate", "feed_force",
    "coolant", "exclude", "note",
)  # fmt: skip
FIRST_DAY = "2027-03-01"
SHIFT = 480.0
"""Minutes of a working day, from 07:00."""
HANDLING = 2.0
"""Between pieces [min]."""
LOST_TRAVEL = 0.5
"""Least count of how far a lost piece was cut [mm]."""


class Logbook:
    """Rows so far, and the random numbers of the measuring."""

    def __init__(self, config: ShopConfig) -> None:
        self.config = config
        self.blocks: list[pd.DataFrame] = []
        self.minutes = 0.0
        self.rows = 0
        self._random = np.random.default_rng([config.seed, 3])

    def write(self, table: pd.DataFrame, work: Work, records: Array, band_of: NDArray[np.object_]) -> pd.DataFrame:
        """Measure the records of a run (`cutting.COLUMNS`) and add them to the log; the rows added."""
        made = dict(zip(COLUMNS, records.T, strict=True))
        row, whole = made["row"].astype(np.intp), made["complete"] > 0
        log: pd.DataFrame = table[list(COPIED)].iloc[row].reset_index(drop=True)
        log["band"] = band_of[row]
        lost = np.maximum(np.round(made["travel"] / LOST_TRAVEL), 1.0) * LOST_TRAVEL
        log["cut_travel"] = np.where(whole, made["travel"], lost)
        log["pieces"], log["complete"] = made["pieces"].astype(int), whole
        measured = self._measure(work, row, made)
        for name in SIGNALS:
            kept = name == "cut_time" or self._measured(log["machine"], name)
            log[name] = np.where(kept, measured[name], np.nan)
        log["cut"] = [str(self.rows + i + 1) for i in range(len(log))]
        log["started"] = self._clock(made)
        self.rows += len(log)
        log = log[list(LOG)]
        if len(log):
            self.blocks.append(log)
        return log

    def table(self) -> pd.DataFrame:
        """Every row so far."""
        import pandas as pd

        return pd.concat(self.blocks, ignore_index=True) if self.blocks else pd.DataFrame(columns=list(LOG))

    def _measured(self, machines: pd.Series, signal: str) -> NDArray[np.bool_]:
        having = [m.sheet.id for m in self.config.machines if signal in m.signals]
        return machines.isin(having).to_numpy()

    def _measure(self, work: Work, row: NDArray[np.integer], made: dict[str, Array]) -> dict[str, Array]:
        """True signals at the end of each record, then as measured."""
        E, true = made["wear_used"], {name: np.empty(len(row)) for name in SIGNALS}
        true["cut_time"] = made["last"]
        for i, m in enumerate(work.mechanics):
            for forced in (False, True):
                at = np.flatnonzero((work.which[row] == i) & (work.forced[row] == forced))
                V, L, feed, e = work.V[row[at]], work.L[row[at]], work.feed[row[at]], E[at]
                h = m.chip_load_at_force(feed, L, e) if forced else work.chip_load[row[at]]
                force = feed if forced else m.feed_force(h, L, e)
                true["motor_power"][at] = m.motor_power(V, h, L, e)
                true["deviation"][at] = m.deviation(force, L, e)
                true["roughness"][at] = m.roughness(h, e)
        uniforms = self._random.random((len(row), UNIFORMS))
        return measure_all(true, work.forced[row], uniforms, self.config.noise)

    def _clock(self, made: dict[str, Array]) -> list[str]:
        """Time each row was started, Monday to Friday."""
        spent = made["minutes"] + HANDLING * made["pieces"]
        before = self.minutes + np.cumsum(spent) - spent
        self.minutes += float(spent.sum())
        days = np.busday_offset(FIRST_DAY, (before // SHIFT).astype(int), roll="forward")
        of_day = (7 * 60 + before % SHIFT).astype(int)
        return [f"{d}T{m // 60:02d}:{m % 60:02d}" for d, m in zip(days, of_day.tolist(), strict=True)]
