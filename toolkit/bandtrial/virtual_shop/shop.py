"""The shop: fit a band, cut, look at what was measured; and, for teachers and tests, look at the truth."""

from __future__ import annotations

import hashlib
import unicodedata
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bandtrial.sawing.types import Numbers
from bandtrial.virtual_shop.bands import Band, draw_band
from bandtrial.virtual_shop.best import Best, best_setting
from bandtrial.virtual_shop.config import HEAT, ShopConfig
from bandtrial.virtual_shop.cutting import Cutting
from bandtrial.virtual_shop.dial import indicated_speed, true_speed
from bandtrial.virtual_shop.kinds import random_shop
from bandtrial.virtual_shop.limits import Limits, kept, limits_of
from bandtrial.virtual_shop.logbook import Logbook
from bandtrial.virtual_shop.long_run import LongRun, long_run
from bandtrial.virtual_shop.mechanics import Mechanics
from bandtrial.virtual_shop.settings import ShopError, read_settings
from bandtrial.virtual_shop.work import prepare

if TYPE_CHECKING:
    import pandas as pd


def seed_of(name: str) -> int:
    """Seed of a person's name: the same on every computer, whatever case and blanks it is typed with.

    >>> seed_of("Ada  Example") == seed_of(" ada example")
    True
    """
    plain = " ".join(unicodedata.normalize("NFKC", name).casefold().split())
    return int.from_bytes(hashlib.sha256(plain.encode()).digest()[:4], "big")


class Shop:
    """A virtual shop. `Shop(7)`, `Shop("a name", kind="bent_life")`, or `Shop(config)`.

    seed : a whole number, or a name that stands for one
    kind : "any" or one of `kinds.KINDS`

    What the shop knows: `machines`, `band_stock`, `materials`, `costs` as in a Study, `machine`, `stock` and
    `material` (the first of each), `cuts` (the log). What it does not: `mechanics`, `true_cost`, `best_setting`.
    """

    def __init__(self, seed: int | str | ShopConfig = 0, kind: str = "any", **options) -> None:
        if not isinstance(seed, ShopConfig):
            seed = random_shop(seed_of(seed) if isinstance(seed, str) else seed, kind, **options)
        self.config = seed
        self.machines = {m.sheet.id: m.sheet for m in seed.machines}
        self.band_stock = {s.sheet.id: s.sheet for s in seed.stock}
        self.materials = {m.sheet.id: m.sheet for m in seed.materials}
        self.costs = dict(vars(seed.costs))
        self.machine, self.stock, self.material = (
            next(iter(x.values())) for x in (self.machines, self.band_stock, self.materials)
        )
        self.bands: dict[str, Band] = {}
        self._fitted = dict.fromkeys(self.band_stock, 0)
        self._logbook = Logbook(seed)

    def new_band(self, stock: str | None = None, machine: str | None = None) -> str:
        """Fit a new band of a stock on a machine (the first of each unless named); its id."""
        stock, machine = stock or self.stock.id, machine or self.machine.id
        self._known("stock", stock, self.band_stock)
        self._known("machine", machine, self.machines)
        names, id = list(self.band_stock), f"B{len(self.bands) + 1:02d}"
        mechanics = self.mechanics(machine, stock)
        self.bands[id] = draw_band(
            self.config.seed, names.index(stock), self._fitted[stock], id, machine, mechanics.stock,
            self.config.scatter, mechanics.bending_life(),
        )  # fmt: skip
        self._fitted[stock] += 1
        return id

    def remove(self, band: str) -> None:
        """Take a band off that still cuts: its end becomes removed_sound."""
        self._known("band", band, self.bands)
        if not self.bands[band].alive:
            raise ShopError(f'band "{band}" is off already: {self.bands[band].end}.')
        self.bands[band].end = "removed_sound"

    def cut(
        self, band: str, band_speed: float, feed_rate: float | None = None, work_thickness: float = 50.0,
        cut_travel: float = 100.0, material: str | None = None, *, feed_force: float | None = None, pieces: int = 1,
        coolant: str = "flood", **others,
    ) -> dict:  # fmt: skip
        """Make one cut (or `pieces` of it); the row as logged, in the columns of cuts.csv and inside units.

        band_speed : as indicated [m/min]
        feed_rate or feed_force : [mm/min] or [N], as the machine takes it
        work_thickness, cut_travel : [mm]
        pieces : identical cuts; if the band dies in a later one, the whole ones are a row of their own before

        A band that dies in the cut leaves complete False, and its end in `bands[band].end`. `ShopError` if the cut
        can't be made.
        """
        import pandas as pd

        row = dict(
            band=band, band_speed=band_speed, work_thickness=work_thickness, cut_travel=cut_travel, pieces=pieces,
            feed_rate=np.nan if feed_rate is None else feed_rate,
            feed_force=np.nan if feed_force is None else feed_force,
            material=material or self.material.id, coolant=coolant, **others,
        )  # fmt: skip
        return self.run(pd.DataFrame([row])).iloc[-1].to_dict()

    def run(self, settings: pd.DataFrame, on_death: str = "stop") -> pd.DataFrame:
        """Make many cuts; the rows as logged, in the order of the table.

        settings : columns band, band_speed (indicated) [m/min], feed_rate [mm/min] or feed_force [N],
            work_thickness [mm], cut_travel [mm]; material, pieces, coolant, exclude, note if wanted
        on_death : "stop" leaves the rest of a dead band's rows uncut; "new_band" fits another of its kind for them

        A row in which a band dies becomes two if whole pieces came before. `ShopError` with all problems at once.
        """
        running = {id: band.machine for id, band in self.bands.items() if band.alive}
        feeds = {id: machine.feed for id, machine in self.machines.items()}
        table = read_settings(settings, list(self.materials), list(HEAT), running, feeds)
        table["stock"] = [self.bands[id].stock for id in table["band"]]
        refit = None if on_death == "stop" else lambda old: self.bands[self.new_band(old.stock, old.machine)]
        work = prepare(table, self._true(table), lambda key: self.mechanics(*key))
        cutting = Cutting(work, self.bands, table["band"].to_numpy(object), self.config.scatter, refit)
        return self._logbook.write(table, work, cutting.all(), cutting.band_of)

    @property
    def cuts(self) -> pd.DataFrame:
        """The log so far: columns of cuts.csv, inside units, speeds as indicated."""
        return self._logbook.table()

    def mechanics(
        self, machine: str | None = None, stock: str | None = None, material: str | None = None,
        coolant: str = "flood",
    ) -> Mechanics:  # fmt: skip
        """The hidden mechanics of a machine, stock, material (the first of each unless named) and coolant."""
        named = zip((machine, stock, material), ("machine", "stock", "material"),
                    (self.config.machines, self.config.stock, self.config.materials), strict=True)  # fmt: skip
        parts = []
        for id, what, things in named:
            known = {thing.sheet.id: thing for thing in things}
            self._known(what, id or things[0].sheet.id, known)
            parts.append(known[id or things[0].sheet.id])
        return Mechanics(*parts, coolant)

    def true_speed(self, indicated: Numbers, machine: str | None = None) -> Numbers:
        """True band speed [m/min] at an indicated one, without the errors of the speed check."""
        return true_speed(self.mechanics(machine).machine, indicated)

    def indicated_speed(self, true: Numbers, machine: str | None = None) -> Numbers:
        """Indicated band speed [m/min] that gives a true one."""
        return indicated_speed(self.mechanics(machine).machine, true)

    def long_run(
        self, band_speed: Numbers, feed: Numbers, material: str | None = None, work_thickness: Numbers = 50.0,
        change_after: Numbers = None, **which,
    ) -> LongRun:  # fmt: skip
        """True long-run figures of settings, at true band speed [m/min]; see `long_run.long_run`.

        which : machine, stock, coolant
        """
        c = self.config
        mechanics = self.mechanics(material=material, **which)
        return long_run(mechanics, c.scatter, c.costs, band_speed, work_thickness, feed, change_after)

    def true_cost(self, *settings, **which) -> NDArray[np.float64]:
        """True long-run cost per area [currency/cm2] of settings; arguments of `long_run`."""
        return self.long_run(*settings, **which).cost

    def true_life(self, *settings, **which) -> NDArray[np.float64]:
        """True mean area that a band saws to its end, or to its change [cm2]; arguments of `long_run`."""
        return self.long_run(*settings, **which).area

    def limits(self, machine: str | None = None, **changes) -> Limits:
        """The limits of a machine, true speeds; changes replace fields of `Limits` (deviation=0.2, ...)."""
        return limits_of(self.mechanics(machine), **changes)

    def within_limits(
        self, band_speed: Numbers, feed: Numbers, material: str | None = None, work_thickness: Numbers = 50.0,
        limits: Limits | None = None, **which,
    ) -> dict[str, NDArray[np.bool_]]:  # fmt: skip
        """Which limits settings at true band speed truly keep: name -> array of bool."""
        mechanics = self.mechanics(material=material, **which)
        return kept(mechanics, limits or limits_of(mechanics), band_speed, work_thickness, feed)

    def best_setting(
        self, material: str | None = None, work_thickness: float = 50.0, limits: Limits | None = None,
        changes: bool = True, **which,
    ) -> Best:  # fmt: skip
        """The setting of least true long-run cost within the limits; see `best.best_setting`."""
        c, mechanics = self.config, self.mechanics(material=material, **which)
        return best_setting(
            mechanics, c.scatter, c.costs, limits or limits_of(mechanics), work_thickness, changes
        )

    def _true(self, table: pd.DataFrame) -> NDArray[np.float64]:
        V = np.empty(len(table))
        for id, rows in table.groupby("machine").indices.items():
            V[rows] = self.true_speed(table["band_speed"].to_numpy(float)[rows], str(id))
        return V

    def _known(self, what: str, id: str, known) -> None:
        if id not in known:
            raise ShopError(f'{what} "{id}" is not in this shop; it has {", ".join(known) or "none"}.')
