"""Which published material group a person means: by its name, one of its grades, or what shops call it.

material_names.csv: a name that means one line stands for it; one that can mean several stands for the slowest.
"""

import difflib
import re
from dataclasses import dataclass, replace
from functools import cache, lru_cache

from bandtrial.published.own_starts import NO_GROUP, UNKNOWN, OwnStart, own_note, own_row, own_start
from bandtrial.published.tables import HOW_KNOWN, PublishedError, SpeedRow, lines, speed_rows
from bandtrial.words import listed, printable, quoted

SPELLINGS = {"aluminium": "aluminum", "grey": "gray"}
_SHAPES = "bar plate sheet round flat rod tube tubing pipe stock hex square angle channel beam billet block strip ring"
_STATES = "crs hrs cr hr cd cf hf cold hot rolled drawn finished annealed normalized normalised ground"
_FAMILIES = "steel stainless ss sst aluminum alloy tool mild carbon low medium high speed leaded"
_LEFT_OUT = frozenset(f"{_SHAPES} {_STATES} {_FAMILIES}".split())
_BODIES = re.compile(r"^(?:en|din|jis|uns|bs|w\.? ?-?nr\.?|wst\.?)[ \-]+")
_TEMPER = re.compile(r"-?(?:t\d{1,4}|h\d{2,3}|o|f)$")


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
def _means() -> dict[str, tuple[tuple[str, ...], str]]:
    """Plain name -> (what it can mean, note)."""
    return {
        plain(name): (tuple(part.strip() for part in line["means"].split(";")), line["note"])
        for line in lines("material_names")
        for name in line["name"].split(";")
    }


@dataclass(frozen=True)
class Meaning:
    """What a written name can mean (groups, grades, starts of their own), with a note; nothing where it is unknown."""

    can_be: tuple[str, ...] = ()
    note: str = ""
    from_memory: bool = True
    """Whether the table of names was needed."""


def meaning(name: str, known: frozenset[str]) -> Meaning:
    """What a written name means; known : plain names of the published groups and grades."""
    for way in _ways(name):
        if way in known:
            return Meaning((way,), from_memory=False)
        if way in _means():
            return Meaning(*_means()[way])
    return Meaning()


def _ways(name: str) -> list[str]:
    """Plain names to look for: as written, without a temper, a shape, a state, the family; of a pair, the first."""
    words = [word for word in re.split(r"[\s,;]+", name.casefold()) if word]
    grade = [word for word in words if SPELLINGS.get(word, word) not in _LEFT_OUT]
    shapeless = [word for word in words if word not in _SHAPES.split()]
    ways = [plain(name), plain(" ".join(shapeless)), plain(_BODIES.sub("", " ".join(grade)))]
    if any(letter.isdigit() for word in grade for letter in word):
        text = " ".join(grade)
        ways += [plain(text), plain(_TEMPER.sub("", text)), *(plain(part) for part in text.split("/"))]
    elif grade:
        ways.append(plain(" ".join(grade)))
    return [way for way in dict.fromkeys(ways) if way]


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
    starts of one's own (`published.own_starts`): "none", "240 HB", "120 ft/min", "none (hardness 240 HB)".

    >>> find("304").group, find("1.4301").group, find("tool steel").base.low
    ('austenitic stainless steel', 'austenitic stainless steel', 90.0)
    >>> find("low-carbon steel").base.low, find("austenitic stainless steel").base.low
    (300.0, 120.0)
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
        can_be = listed(means.can_be, "or")
        words = (f'"{text}" can mean {can_be}{known}: read as the slowest, {shown}, '
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


def _unknown(material: str) -> str:
    near = [f"{name} ({_published(name).base.low:g} ft/min)" for name in near_names(material)]
    slowest = ", the slowest first" if len(near) > 1 else ""
    hint = f" Did you mean {listed(near, 'or')}{slowest}?" if near else ""
    return f"material {quoted(material)} is not in the published tables.{hint} {allowed()}"
