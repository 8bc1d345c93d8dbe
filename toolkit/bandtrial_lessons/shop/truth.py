"""What only the virtual shop knows: true speeds, long-run costs, limits, and the best setting there is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol, TypeVar

import numpy as np
from bandtrial.sawing import Numbers
from numpy.typing import NDArray

from bandtrial_lessons.shop import dial
from bandtrial_lessons.shop.best import Best, best_setting
from bandtrial_lessons.shop.config import ShopConfig, VirtualMachine
from bandtrial_lessons.shop.limits import Limits, kept, limits_of
from bandtrial_lessons.shop.long_run import LongRun, long_run
from bandtrial_lessons.shop.mechanics import Mechanics
from bandtrial_lessons.shop.settings import ShopError


class _Sheet(Protocol):
    @property
    def id(self) -> str: ...


class _WithSheet(Protocol):
    @property
    def sheet(self) -> _Sheet: ...


Thing = TypeVar("Thing", bound=_WithSheet)


class Truth:
    """The true answers of a shop. Feeds are rates [mm/min] or forces [N], as the machine takes them.

    Wherever a machine, stock or material is not named, it is the first of its kind. `which` stands for
    machine, stock and coolant, by name.
    """

    def __init__(self, config: ShopConfig) -> None:
        self.config = config

    def mechanics(
        self,
        machine: str | None = None,
        stock: str | None = None,
        material: str | None = None,
        coolant: str = "flood",
    ) -> Mechanics:
        """The hidden mechanics of a machine, a stock, a material and a coolant."""
        c = self.config
        return Mechanics(
            _named("machine", machine, c.machines),
            _named("stock", stock, c.stock),
            _named("material", material, c.materials),
            coolant,
        )

    def true_speed(self, indicated: Numbers, machine: str | None = None) -> Numbers:
        """True band speed [m/min] at an indicated one, without the errors of the speed check."""
        return dial.true_speed(self._machine(machine), indicated)

    def indicated_speed(self, true: Numbers, machine: str | None = None) -> Numbers:
        """Indicated band speed [m/min] that gives a true one."""
        return dial.indicated_speed(self._machine(machine), true)

    def long_run(
        self,
        band_speed: Numbers,
        feed: Numbers,
        material: str | None = None,
        work_thickness: Numbers = 50.0,
        change_after: Numbers = None,
        **which: str,
    ) -> LongRun:
        """True long-run figures of settings; arrays broadcast. See `long_run.long_run`.

        band_speed : true [m/min]
        feed : [mm/min] or [N]
        work_thickness : [mm]
        change_after : area at which a sound band is changed [cm2]; None: run to the end
        """
        c, mechanics = self.config, self.mechanics(material=material, **which)
        return long_run(mechanics, c.scatter, c.costs, band_speed, work_thickness, feed, change_after)

    def true_cost(
        self,
        band_speed: Numbers,
        feed: Numbers,
        material: str | None = None,
        work_thickness: Numbers = 50.0,
        change_after: Numbers = None,
        **which: str,
    ) -> NDArray[np.float64]:
        """True long-run cost per area [currency/cm2]; arguments of `long_run`."""
        return self.long_run(band_speed, feed, material, work_thickness, change_after, **which).cost

    def true_life(
        self,
        band_speed: Numbers,
        feed: Numbers,
        material: str | None = None,
        work_thickness: Numbers = 50.0,
        change_after: Numbers = None,
        **which: str,
    ) -> NDArray[np.float64]:
        """True mean area a band saws to its end, or to its change [cm2]; arguments of `long_run`."""
        return self.long_run(band_speed, feed, material, work_thickness, change_after, **which).area

    def limits(self, machine: str | None = None, **changes: object) -> Limits:
        """The limits of a machine, true speeds; changes replace fields, as deviation=0.2."""
        return limits_of(self.mechanics(machine), **changes)

    def within_limits(
        self,
        band_speed: Numbers,
        feed: Numbers,
        material: str | None = None,
        work_thickness: Numbers = 50.0,
        bounds: Limits | None = None,
        **which: str,
    ) -> dict[str, NDArray[np.bool_]]:
        """Which limits settings at true band speed [m/min] truly keep: name -> array of bool."""
        m = self.mechanics(material=material, **which)
        return kept(m, bounds or limits_of(m), band_speed, work_thickness, feed)

    def best_setting(
        self,
        material: str | None = None,
        work_thickness: float = 50.0,
        bounds: Limits | None = None,
        changes: bool = True,
        **which: str,
    ) -> Best:
        """The setting of least true long-run cost within the limits; see `best.best_setting`."""
        c, m = self.config, self.mechanics(material=material, **which)
        return best_setting(m, c.scatter, c.costs, bounds or limits_of(m), work_thickness, changes)

    def _machine(self, id: str | None) -> VirtualMachine:
        return _named("machine", id, self.config.machines)


def _named(what: str, id: str | None, things: tuple[Thing, ...]) -> Thing:
    known = {thing.sheet.id: thing for thing in things}
    return known[check_known(what, id or things[0].sheet.id, known)]


def check_known(what: str, id: str, known: Mapping[str, object]) -> str:
    """The id itself; `ShopError` that lists the known ones if it is none of them."""
    if id not in known:
        raise ShopError(f'{what} "{id}" is not in this shop; it has {", ".join(known) or "none"}.')
    return id
