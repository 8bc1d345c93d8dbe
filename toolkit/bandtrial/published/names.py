"""Names of metals as people write them, and which published group or grade each can stand for.

material_names.csv: a name that means one line stands for it; one that can mean several stands for the slowest.
"""

import re
from dataclasses import dataclass
from functools import cache

from bandtrial.published.tables import lines

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
