"""The sign to look for: the reading at which a band is taken off, and what that gives."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

from bandtrial import units, words
from bandtrial.recommend.job import Value
from bandtrial.study.columns import COLUMNS
from bandtrial.wear.signals import BY_NAME, in_words

CUT_TIME = "cut_time"
"""What a signal of the chip load is read as: the time of a piece."""


def kind(reading: str) -> str:
    """Kind of quantity of a reading, as `units` has it.

    >>> kind("motor_power"), unit("cut_time")
    ('power', 'min')
    """
    return COLUMNS[BY_NAME[reading].column].kind


def unit(reading: str) -> str:
    """Inside unit of a reading."""
    return "min" if reading == CUT_TIME else BY_NAME[reading].unit


@dataclass(frozen=True)
class Sign:
    """When to take a band off by what is read at the saw, and what that gives.

    reading: motor_power [W], feed_force [N], deviation [mm] or cut_time [min per piece]; limit, fresh: at which to
    change, and that of a new band; in_a_row: cuts running that are over it; after [cm2]: or when so much is sawn;
    area [cm2], minutes of cutting and pieces that a band gives until it is changed or ends; ended: share of the bands
    that end before; saves_to_end, saves_after: share of the cost saved against running bands to the end, and against
    changing after the best area (best_after [cm2], None: the end); surely: probability that it is no dearer than both;
    pays: "sign", "after" or "end"; piece [cm2], known: whether it was ever cut.
    """

    reading: str
    limit: float
    fresh: float
    in_a_row: int
    after: float | None
    area: Value
    minutes: Value
    pieces: Value
    ended: float
    saves_to_end: Value
    saves_after: Value
    best_after: float | None
    surely: float
    pays: str
    piece: float
    known: bool

    @property
    def saves(self) -> Value:
        """Against the cheaper of the other two ways."""
        return min(self.saves_to_end, self.saves_after, key=lambda value: value.value)

    def to_json(self) -> dict[str, Any]:
        """Keys of `sign_to_look_for` in `recommend --json`: `_low` and `_high` bound 80 % intervals."""
        out: dict[str, Any] = {"unit": unit(self.reading)}
        for name in (one.name for one in fields(self)):
            value = getattr(self, name)
            if isinstance(value, Value):
                out |= {name: value.value, f"{name}_low": value.low, f"{name}_high": value.high}
            else:
                out[name] = value
        return out

    def parts(self, system: str) -> tuple[str, str, str]:
        """What is read, over how much, and in how many cuts.

        >>> shown(950.0, "motor_power", "metric"), shown(1.4333, "cut_time", "us"), shown(12.3, "cut_time", "us")
        ('950 W', '86 s', '12.3 min')
        """
        running = "in one cut" if self.in_a_row == 1 else f"in {self.in_a_row} cuts running"
        if self.reading == CUT_TIME and not self.known:
            return "a piece takes over", f"{self.limit / self.fresh:.2g} times a new band's time", running
        limit, fresh = (shown(value, self.reading, system) for value in (self.limit, self.fresh))
        what = "a piece takes over" if self.reading == CUT_TIME else f"{in_words(self.reading)} is over"
        return what, limit, f"{running} (new band: {fresh})"

    def look(self, system: str) -> str:
        """The sign itself."""
        what, limit, rest = self.parts(system)
        return f"{what} {limit}, {rest}"

    def said(self, system: str) -> tuple[str, str]:
        """The sign and what it is worth; where it does not pay, that, and what was tried."""
        if self.pays != "sign":
            return "none that pays", f"{self.look(system)}: {self.worth()}"
        return self.look(system), f"{self.until()}; {self.worth()}"

    def until(self) -> str:
        """How long a band lasts until then, in pieces and minutes of cutting."""
        minutes = f"about {rough(self.minutes.value)} min of cutting"
        if not self.known:
            return minutes
        low, high = (rough(value) for value in (self.pieces.low, self.pieces.high))
        return f"about {rough(self.pieces.value)} pieces ({low} to {high}), {minutes}"

    def worth(self) -> str:
        """Which of the three ways pays, and by how much."""
        other = self.other()
        if self.pays != "sign":
            return f"changing by it saves nothing against {other}"
        low, high = 100 * self.saves.low, 100 * self.saves.high
        return f"saves {100 * self.saves.value:.1f} % (80 %: {low:.1f} to {high:.1f}) against {other}"

    def other(self) -> str:
        """The cheaper of the other two ways."""
        return "running to the end" if self.saves is self.saves_to_end else "changing after a set area"


def shown(value: float, reading: str, system: str) -> str:
    """A reading as it is read."""
    if reading != CUT_TIME:
        return units.show(value, kind(reading), system)
    return f"{60 * value:.0f} s" if value < 3 else f"{words.shown(value)} min"


def rough(value: float) -> str:
    """A count to two figures.

    >>> rough(1234.0), rough(7.4)
    ('1,200', '7')
    """
    return f"{float(f'{value:.2g}'):,.0f}"
