"""Which published material group a person means: by the group's name, one of its grades, or what shops call it."""

import difflib
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from bandtrial.published.names import Meaning, meaning, plain
from bandtrial.published.own import NO_GROUP, UNKNOWN, OwnStart, own_note, own_row, own_start
from bandtrial.published.tables import HOW_KNOWN, PublishedError, SpeedRow, speed_rows
from bandtrial.units.numbers import printable, quoted

NOT_GRADES = {"general", "range over the table"}
MOST_NEAR = 5
"""Near names offered for one that is not published."""
ALIKE = 0.85
"""Likeness of two names from which one is taken for a slip of the other."""


@dataclass(frozen=True)
class Match:
    """A material found in the tables: its group, the grade asked for (or None), and their table lines."""

    group: str
    grade: str | None
    rows: tuple[SpeedRow, ...]
    """Lines of the base table: those of the grade, or all of the group."""
    others: tuple[SpeedRow, ...]
    """Lines of the group on other terms (edge or fluid not stated): shown, never reckoned with."""
    note: str = ""
    """How the name was read, where it is not a published one; else empty."""
    doubtful: bool = False
    """Whether the name can mean several lines, or none, so that its writer should look at the note."""

    @property
    def base(self) -> SpeedRow:
        """The table line to start from: the slowest of the best-known lines."""
        return min(self.rows, key=lambda row: (HOW_KNOWN.index(row.how_known), row.low))

    @property
    def is_own(self) -> bool:
        """Whether the speed is the shop's own and stands as it is."""
        return self.base.how_known == "your own"

    @property
    def is_unknown(self) -> bool:
        """Whether nothing at all is known to begin with, and the slowest line stands for it."""
        return self.group == NO_GROUP and self.base.grades == UNKNOWN


def groups() -> list[str]:
    """The published material groups, in the table's order."""
    return list(dict.fromkeys(row.group for row in speed_rows()))


@cache
def _index() -> dict[str, tuple[str, str | None]]:
    """Plain name -> (group, grade)."""
    index: dict[str, tuple[str, str | None]] = {}
    for row in speed_rows():
        for grade in row.grades:
            if grade not in NOT_GRADES:
                index[plain(grade)] = (row.group, grade)
    index.update({plain(group): (group, None) for group in groups()})
    return index


@lru_cache(maxsize=4096)
def find(material: str) -> Match:
    """The published lines for a material group or grade; `PublishedError` with the near names if none.

    Also read are names that shops use (tool steel, 1.4301, 6061-T6), the slowest where one can mean several, and
    starts of one's own (`published.own`): "none", "240 HB", "120 ft/min", "none (hardness 240 HB)".

    >>> find("304").group, find("1.4301").group, find("tool steel").base.low
    ('austenitic stainless steel', 'austenitic stainless steel', 90.0)
    >>> [row.low for row in find("low-carbon steel").rows]
    [300.0, 320.0]
    """
    text = str(material).strip()
    if own := own_start(text):
        return _own(own)
    means = meaning(text, frozenset(_index()))
    if not means.can_be:
        raise PublishedError(_unknown(text))
    if own := own_start(means.can_be[0]):
        return replace(_own(own), note=own_note(own, own_row(own), printable(text), means.note))
    match = min((_published(one) for one in means.can_be), key=lambda one: one.base.low)
    return match if plain(text) in _index() else _read_as(printable(text), match, means)


def _published(name: str) -> Match:
    group, grade = _index()[plain(name)]
    of_group = [row for row in speed_rows() if row.group == group]
    base = [row for row in of_group if row.is_base]
    of_grade = [row for row in base if grade in row.grades]
    return Match(group, grade, tuple(of_grade or base), tuple(row for row in of_group if not row.is_base))


def _own(start: OwnStart) -> Match:
    row = own_row(start)
    note, doubtful = own_note(start, row), start.by != "start" or bool(start.why)
    if start.group == "none":
        return Match(NO_GROUP, None, (row,), (), note, doubtful)
    group = find(start.group)
    return Match(group.group, group.grade, (row,), group.rows, note, doubtful or group.doubtful)


def _read_as(text: str, match: Match, means: Meaning) -> Match:
    """The match with how the name was read."""
    known, shown = f" ({means.note})" if means.note else "", match.grade or match.group
    if len(means.can_be) > 1:
        words = (f'"{text}" can mean {_either(list(means.can_be))}{known}: read as the slowest, {shown}, '
                 f"{match.base.low:g} ft/min on the table's terms. Name the grade to be nearer.")  # fmt: skip
        return replace(match, note=words, doubtful=True)
    return replace(match, note=f'"{text}" is read as {shown}{", from memory" if means.from_memory else ""}{known}.')


def near_names(material: str, n: int = MOST_NEAR) -> list[str]:
    """Groups and grades that look like what was typed: one that is nearly it alone, else the slowest first."""
    wanted = plain(material)
    shown = {key: grade or group for key, (group, grade) in _index().items()}
    inside = [key for key in shown if len(wanted) > 2 and wanted in key]
    close = difflib.get_close_matches(wanted, shown, n=n, cutoff=0.6)
    if close and difflib.SequenceMatcher(None, wanted, close[0]).ratio() >= ALIKE:
        return [shown[close[0]]]
    near = list(dict.fromkeys(shown[key] for key in [*close, *inside]))[:n]
    return sorted(near, key=lambda name: _published(name).base.low)


def allowed() -> str:
    """What may be given as a material, in a sentence."""
    return ('Give a published group or grade, such as low-carbon steel, 304 or A36; without one, the hardness '
            '("240 HB") or a band speed of your own ("120 ft/min").')  # fmt: skip


def _either(names: list[str]) -> str:
    return f"{', '.join(names[:-1])} or {names[-1]}"


def _unknown(material: str) -> str:
    near = [f"{name} ({_published(name).base.low:g} ft/min)" for name in near_names(material)]
    slowest = ", the slowest first" if len(near) > 1 else ""
    hint = f" Did you mean {_either(near) if len(near) > 1 else near[0]}{slowest}?" if near else ""
    return f"material {quoted(material)} is not in the published tables.{hint} {allowed()}"
