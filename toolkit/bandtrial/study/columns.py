"""The columns of cuts and bands: what each holds, what is allowed, what an empty cell means."""

import re
from collections.abc import Sized
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from bandtrial.sawing import COOLANTS, ENDS, OPERATIONS
from bandtrial.units import display_unit, plain_unit


@dataclass(frozen=True)
class Column:
    """One column. `kind` is a kind of quantity, or text, name, date, choice, yesno, count."""

    name: str
    kind: str
    needed: bool = False
    gaps: bool = False
    """Whether a cell may be empty though the column is needed."""
    empty: Any = None
    """What an empty cell means; None: not known."""
    choices: tuple[str, ...] = ()
    meant: tuple[tuple[str, str], ...] = ()
    """Words people write -> the choice to offer for them."""
    also: tuple[tuple[str, str], ...] = ()
    """Words people write that mean one choice and no other, and are read as it."""
    also_empty: frozenset[str] = frozenset()
    """Words that say what an empty cell says, without regard to case."""
    low: float = 0.0
    high: float = float("inf")
    """Between these a value can be true at all (inside unit); `low` itself is allowed where `zero`."""
    zero: bool = False
    written: str = ""
    """The unit people read off a watch or a meter, in either system; that of the system if not given."""
    signal: bool = False
    """Whether a reading of it may grow as the band dulls (`wear.signals` says how)."""

    def unit(self, system: str) -> str:
        """The unit a person of the system writes it in; "" for a column that is no quantity.

        >>> COLUMNS["work_thickness"].unit("us"), COLUMNS["cut_time"].unit("us"), COLUMNS["note"].unit("us")
        ('in', 's', '')
        """
        return (self.written or display_unit(self.kind, system)) if self.is_quantity else ""

    @property
    def words(self) -> str:
        """What people call it."""
        return self.name.replace("_", " ")

    @property
    def every_cell(self) -> bool:
        """Whether every cell is needed."""
        return self.needed and not self.gaps

    @property
    def is_quantity(self) -> bool:
        """Whether its cells are numbers with a unit."""
        return self.kind not in ("text", "name", "date", "choice", "yesno", "count")


SECTIONS = ("rectangular", "round", "tube", "rectangular_tube", "hexagon", "angle", "channel", "beam", "hole", "other")
_SECTION_WORDS = (
    ("plate", "rectangular"), ("flat", "rectangular"), ("flat bar", "rectangular"), ("rect", "rectangular"),
    ("sq", "rectangular"), ("rectangle", "rectangular"), ("square", "rectangular"),
    ("square bar", "rectangular"), ("sheet", "rectangular"),
    ("block", "rectangular"), ("round bar", "round"), ("rod", "round"), ("dia", "round"), ("pipe", "tube"),
    ("round tube", "tube"), ("square tube", "rectangular_tube"), ("rect tube", "rectangular_tube"),
    ("rectangle tube", "rectangular_tube"), ("box", "rectangular_tube"), ("box section", "rectangular_tube"),
    ("hss", "rectangular_tube"), ("sht", "rectangular_tube"), ("tubing square", "rectangular_tube"), ("hex", "hexagon"),
    ("hex bar", "hexagon"), ("angle iron", "angle"), ("l", "angle"), ("c channel", "channel"), ("u channel", "channel"),
    ("u", "channel"), ("c", "channel"), ("i beam", "beam"), ("h beam", "beam"), ("i", "beam"), ("h", "beam"),
    ("wide flange", "beam"), ("w beam", "beam"), ("girder", "beam"), ("cutout", "hole"), ("internal", "hole"),
    ("profile", "other"), ("casting", "other"), ("odd", "other"), ("shape", "other"),
)  # fmt: skip
_END_WORDS = (
    ("worn out", "dull"), ("worn", "dull"), ("blunt", "dull"), ("not sharp", "dull"), ("running", "in_service"),
    ("in use", "in_service"), ("on the machine", "in_service"), ("removed", "removed_sound"),
    ("taken off", "removed_sound"), ("still good", "removed_sound"), ("ok", "removed_sound"), ("snapped", "broken"),
    ("cracked", "broken"), ("torn", "broken"), ("teeth gone", "stripped"), ("lost teeth", "stripped"),
    ("runs off", "crooked"), ("not straight", "crooked"), ("weld", "weld_broken"),
)  # fmt: skip
_COOLANT_WORDS = (("wet", "flood"), ("emulsion", "flood"), ("spray", "mist"), ("none", "dry"), ("no", "dry"))

REWELDS = ("sound", "weld_broken", "broken")
"""Why a band was welded anew before a cut: opened while sound (to thread it through a hole), or one of its breaks."""
_REWELD_WORDS = (("yes", "sound"), ("y", "sound"), ("x", "sound"), ("true", "sound"), ("1", "sound"), ("hole", "sound"),
                 ("opened", "sound"), ("rewelded", "sound"), ("weld", "weld_broken"), ("weld broke", "weld_broken"),
                 ("snapped", "broken"), ("broke", "broken"))  # fmt: skip
NOT_MEASURED = frozenset(("-", "--", "---", "\u2013", "\u2014", "?", "n/a", "na", "n.a.", "not measured", "unknown"))
"""What people write where a quantity or a date is not known."""
YES = frozenset(("yes", "y", "true", "1", "x", "ja", "oui"))
NO = frozenset(("no", "n", "false", "0", "nein", "non"))
_NOT_LEFT_OUT = NO | NOT_MEASURED | {"none", "nil", "null", "0.0", "keep", "ok", "include", "included", "not excluded"}

BANDS = (
    Column("band", "name", needed=True), Column("stock", "name", needed=True), Column("machine", "name", empty=""),
    Column("fitted", "date"), Column("removed", "date"),
    Column("end", "choice", empty="in_service", choices=ENDS, meant=_END_WORDS), Column("note", "text", empty=""),
)  # fmt: skip

CUTS = (
    Column("cut", "name", needed=True),
    Column("started", "date"),
    Column("operation", "choice", empty="sawing", choices=OPERATIONS),
    Column("machine", "name", needed=True),
    Column("band", "name", needed=True),
    Column("material", "name", needed=True),
    Column(
        "section", "choice", empty="", choices=SECTIONS, meant=(("bar", "round"),), also=_SECTION_WORDS,
    ),
    Column("work_thickness", "length", low=0.01, high=10_000),
    Column("cut_travel", "length", low=0.01, high=100_000),
    Column("diameter", "length", low=0.1, high=10_000),
    Column("wall", "length", low=0.01, high=5_000),
    Column("cut_area", "area", low=1e-4, high=1e6),
    Column("stacked", "count", empty=1.0, low=1, high=10_000),
    Column("band_speed", "speed", needed=True, gaps=True, low=0.1, high=10_000),
    Column("feed_rate", "feed_rate", low=0.001, high=100_000),
    Column("feed_force", "force", low=0.01, high=1e6),
    Column("cut_time", "time", needed=True, low=1e-3, high=20_000, written="s"),
    Column("coolant", "choice", empty="flood", choices=COOLANTS, meant=_COOLANT_WORDS),
    Column("motor_power", "power", low=0, high=1e6, zero=True, written="kW", signal=True),
    Column("deviation", "length", low=0, high=1000, zero=True, signal=True),
    Column("roughness", "roughness", low=0, high=10_000, zero=True, signal=True),
    Column("pieces", "count", empty=1.0, low=1, high=1_000_000),
    Column("complete", "yesno", empty=True),
    Column("rewelded", "choice", empty="", choices=REWELDS, also=_REWELD_WORDS, also_empty=NO | NOT_MEASURED),
    Column("exclude", "text", empty="", also_empty=_NOT_LEFT_OUT),
    Column("note", "text", empty=""),
)  # fmt: skip


COLUMNS = {column.name: column for column in CUTS}
SIGNALS = tuple(column.name for column in CUTS if column.signal)
"""Columns of readings beside what was set; a set feed force and the chip load are signals too, of other columns."""


def cut_columns(machines: Sized, one_speed: bool = False) -> tuple[Column, ...]:
    """The columns of cuts for a study with these machines: of a single one a log may leave out its name.

    one_speed : whether each machine has a single band speed, which then needs no column
    """
    spared = {"machine": len(machines) == 1, "band_speed": one_speed}
    return tuple(replace(one, needed=False) if spared.get(one.name) else one for one in CUTS)


@lru_cache(maxsize=1024)
def key(name: str) -> str:
    """A head's name without regard to case and blanks.

    >>> key(" Band  Speed") == key("band_speed")
    True
    """
    return re.sub(r"[\s_\-]+", "", name).casefold()


def head_of(column: Column, system: str) -> str:
    """A column's head, with its unit in a system where it has one.

    >>> head_of(CUTS[7], "us")
    'work_thickness [in]'
    """
    return f"{column.name} [{plain_unit(column.unit(system))}]" if column.is_quantity else column.name


NAMES = {key(column.name): column.name for column in CUTS}
"""Columns of cuts by their `key`."""
