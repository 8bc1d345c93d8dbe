"""Which published material group a person means: by the group's name or by one of its grades."""

import difflib
import re
from dataclasses import dataclass
from functools import cache

from bandtrial.published.tables import PublishedError, SpeedRow, speed_rows

SPELLINGS = {"aluminium": "aluminum", "grey": "gray"}
NOT_GRADES = {"general", "range over the table"}


@dataclass(frozen=True)
class Match:
    """A material found in the tables: its group, the grade asked for (or None), and their table lines."""

    group: str
    grade: str | None
    rows: tuple[SpeedRow, ...]
    """Lines of the base table: those of the grade, or all of the group."""
    others: tuple[SpeedRow, ...]
    """Lines of the group on other terms (edge or fluid not stated): shown, never reckoned with."""


def groups() -> list[str]:
    """The published material groups, in the table's order."""
    return list(dict.fromkeys(row.group for row in speed_rows()))


def plain(name: str) -> str:
    """Letters and digits of a name, in one case and one spelling, to compare with.

    >>> plain("AISI A-36"), plain("Grey cast iron")
    ('a36', 'graycastiron')
    """
    text = name.casefold()
    for other, ours in SPELLINGS.items():
        text = text.replace(other, ours)
    return re.sub(r"[^a-z0-9]", "", re.sub(r"^(aisi|sae|astm|en aw|type|grade)\b", "", text.strip()))


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


@cache
def find(material: str) -> Match:
    """The published lines for a material group or grade; `PublishedError` with the near names if none.

    >>> find("304").group
    'austenitic stainless steel'
    >>> [row.low for row in find("low-carbon steel").rows]
    [300.0, 320.0]
    """
    if plain(str(material)) not in _index():
        raise PublishedError(_unknown(str(material)))
    group, grade = _index()[plain(material)]
    of_group = [row for row in speed_rows() if row.group == group]
    base = [row for row in of_group if row.is_base]
    of_grade = [row for row in base if grade in row.grades]
    return Match(group, grade, tuple(of_grade or base), tuple(row for row in of_group if not row.is_base))


def near_names(material: str, n: int = 3) -> list[str]:
    """Groups and grades that look like what was typed, the likeliest first."""
    wanted = plain(material)
    shown = {key: grade or group for key, (group, grade) in _index().items()}
    inside = [key for key in shown if len(wanted) > 2 and wanted in key]
    close = difflib.get_close_matches(wanted, shown, n=n, cutoff=0.6)
    return list(dict.fromkeys(shown[key] for key in [*close, *inside]))[: max(n, min(len(inside), 6))]


def allowed() -> str:
    """What may be given as a material, in a sentence."""
    return f"Give one of the groups ({'; '.join(groups())}) or a grade of one, such as 304 or A36."


def _unknown(material: str) -> str:
    near = near_names(material)
    hint = f" Did you mean {' or '.join(near)}?" if near else ""
    return f'material "{material}" is not in the published tables.{hint} {allowed()}'
