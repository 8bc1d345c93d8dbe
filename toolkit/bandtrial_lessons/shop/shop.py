"""The shop: fit a band, cut, read what was measured."""

from __future__ import annotations

import hashlib
import unicodedata
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from bandtrial.study.model import Study
from numpy.typing import NDArray

from bandtrial_lessons.shop.as_study import study_of
from bandtrial_lessons.shop.bands import Band, draw_band
from bandtrial_lessons.shop.config import HEAT, ShopConfig
from bandtrial_lessons.shop.cutting import Cutting
from bandtrial_lessons.shop.kinds import random_shop
from bandtrial_lessons.shop.logbook import Logbook
from bandtrial_lessons.shop.settings import ShopError, read_settings
from bandtrial_lessons.shop.truth import Truth, check_known
from bandtrial_lessons.shop.work import prepare
from bandtrial_lessons.shop.writing import write_study

if TYPE_CHECKING:
    import pandas as pd


def seed_of(name: str) -> int:
    """Seed of a person's name: the same on every computer, whatever case and blanks it is typed with.

    >>> seed_of("Ada  Example") == seed_of(" ada example")
    True
    """
    plain = " ".join(unicodedata.normalize("NFKC", name).casefold().split())
    return int.from_bytes(hashlib.sha256(plain.encode()).digest()[:4], "big")


class Shop(Truth):
    """A virtual shop: `Shop(7)`, `Shop("a name", kind="bent_life")`, or `Shop(config)`.

    seed : a whole number, a name that stands for one, or a ready ShopConfig
    kind : one of `kinds.KINDS`
    options : metals, count of `kinds.random_shop`

    What the shop knows is as in a Study: `machines`, `band_stock`, `materials`, `costs`; `machine`, `stock`
    and `material` are the first of each, `cuts` the log. What it does not know are the methods of `Truth`.
    """

    def __init__(self, seed: int | str | ShopConfig = 0, kind: str = "any", **options: Any) -> None:
        if not isinstance(seed, ShopConfig):
            seed = random_shop(seed_of(seed) if isinstance(seed, str) else seed, kind, **options)
        super().__init__(seed)
        self.machines = {m.sheet.id: m.sheet for m in seed.machines}
        self.band_stock = {s.sheet.id: s.sheet for s in seed.stock}
        self.materials = {m.sheet.id: m.sheet for m in seed.materials}
        self.costs: dict[str, float] = dict(vars(seed.costs))
        self.machine, self.stock = seed.machines[0].sheet, seed.stock[0].sheet
        self.material = seed.materials[0].sheet
        self.bands: dict[str, Band] = {}
        self._fitted = dict.fromkeys(self.band_stock, 0)
        self._logbook = Logbook(seed)

    def new_band(self, stock: str | None = None, machine: str | None = None, id: str | None = None) -> str:
        """Fit a new band of a stock on a machine (the first of each unless named); its id, B01, B02, ... or yours."""
        stock = check_known("stock", stock or self.stock.id, self.band_stock)
        machine = check_known("machine", machine or self.machine.id, self.machines)
        mechanics, id = self.mechanics(machine, stock), id or f"B{len(self.bands) + 1:02d}"
        if id in self.bands:
            raise ShopError(f'band "{id}" is in this shop already; give another id.')
        self.bands[id] = draw_band(
            (self.config.seed, list(self.band_stock).index(stock), self._fitted[stock]),
            id,
            machine,
            mechanics.stock,
            self.config.scatter,
            mechanics.bending_life(),
        )
        self._fitted[stock] += 1
        return id

    def remove(self, band: str) -> None:
        """Take a band off that still cuts: its end is removed_sound. `ShopError` if it is off already."""
        check_known("band", band, self.bands)
        if not self.bands[band].alive:
            raise ShopError(f'band "{band}" is off already: {self.bands[band].end}.')
        self.bands[band].end = "removed_sound"

    def cut(
        self,
        band: str,
        band_speed: float,
        feed_rate: float = np.nan,
        work_thickness: float = 50.0,
        cut_travel: float = 100.0,
        material: str | None = None,
        *,
        feed_force: float = np.nan,
        pieces: int = 1,
        coolant: str = "flood",
        **others: Any,
    ) -> dict[str, Any]:
        """Make a cut (or `pieces` of it); the row as logged, in the columns of cuts.csv inside units.

        band_speed : as indicated [m/min]
        feed_rate or feed_force : [mm/min] or [N], as the machine takes it
        work_thickness, cut_travel : [mm]
        pieces : identical cuts; if the band dies in a later one, the whole ones are logged as a row before it
        others : exclude, note

        If the band dies, complete is False and `bands[band].end` says how. `ShopError` if it can't be made.
        """
        import pandas as pd

        row = {
            "band": band,
            "band_speed": band_speed,
            "feed_rate": feed_rate,
            "feed_force": feed_force,
            "work_thickness": work_thickness,
            "cut_travel": cut_travel,
            "material": material or self.material.id,
            "pieces": pieces,
            "coolant": coolant,
            **others,
        }
        return {str(k): v for k, v in self.run(pd.DataFrame([row])).iloc[-1].to_dict().items()}

    def run(self, settings: pd.DataFrame, on_death: str = "stop") -> pd.DataFrame:
        """Make many cuts; the rows as logged, in the order of the table.

        settings : columns band, band_speed (indicated) [m/min], feed_rate [mm/min] or feed_force [N],
            work_thickness [mm], cut_travel [mm]; material, pieces, coolant, exclude, note if wanted
        on_death : "stop" leaves a dead band's other rows uncut; "new_band" fits one more of its kind

        A row in which a band dies becomes two if whole pieces came first. `ShopError` lists all problems.
        """
        running = {id: band.machine for id, band in self.bands.items() if band.alive}
        feeds = {id: machine.feed for id, machine in self.machines.items()}
        table = read_settings(settings, list(self.materials), list(HEAT), running, feeds)
        table["stock"] = table["band"].map({id: self.bands[id].stock for id in running})
        work = prepare(table, self._true_speeds(table), lambda key: self.mechanics(*key))
        refit = self._refit if on_death == "new_band" else None
        cutting = Cutting(work, self.bands, table["band"].to_numpy(object), self.config.scatter, refit)
        return self._logbook.write(table, work, cutting.all(), cutting.band_of)

    @property
    def cuts(self) -> pd.DataFrame:
        """The log so far: columns of cuts.csv, inside units, speeds as indicated."""
        return self._logbook.table()

    def to_study(self, **info: str) -> Study:
        """The log so far as a Study in memory; info replaces fields of [study]: name, question, ..."""
        return study_of(self, **info)

    def write(self, folder: str | Path, columns: dict[str, tuple[str, int]] | None = None, **info: str) -> Path:
        """Write the log so far as a study folder; its path. See `writing.write_study`."""
        return write_study(self, folder, columns, **info)

    def _refit(self, old: Band) -> Band:
        return self.bands[self.new_band(old.stock, old.machine)]

    def _true_speeds(self, table: pd.DataFrame) -> NDArray[np.float64]:
        V = table["band_speed"].to_numpy(float, copy=True)
        for id, rows in table.groupby("machine").indices.items():
            V[rows] = self.true_speed(V[rows], str(id))
        return V
