"""Names in any script in a drawing: by a font that has their letters, else by a mark that the words below explain."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure

FONT = "DejaVu Sans"
"""The font of every drawing: it comes with matplotlib."""
_JOINED = ((0x0590, 0x08FF), (0x0900, 0x0DFF), (0x0F00, 0x109F), (0x1780, 0x18AF), (0xFB1D, 0xFDFF), (0xFE70, 0xFEFE))
"""Letters that join, change places or run from the right: Hebrew to Arabic, India, Tibet, Myanmar, Khmer, Mongolia."""
_COLOUR, _SCALABLE = 1 << 14, 1  # FreeType, FT_FACE_FLAG_COLOR and FT_FACE_FLAG_SCALABLE


def written(figure: Figure) -> dict[str, str]:
    """Make every text of a figure one that shows no empty boxes; what stands for what, where a text was no use.

    A letter that no font here has, or that can't be joined to its neighbours, is drawn as a mark such as [1].
    """
    from matplotlib.text import Text

    marks: dict[str, str] = {}
    for text in figure.findobj(Text):
        text.set_parse_math(False)  # a $ in a name is a $
        words = text.get_text()
        if not words.isascii():
            text.set_fontfamily(families(words))
            text.set_text(drawable(words, marks))
    for axes in figure.axes:
        for axis in (axes.xaxis, axes.yaxis):
            _ticks(axis, marks)
    return {mark: name for name, mark in marks.items()}


def explained(marks: dict[str, str]) -> str:
    """What the marks of a drawing stand for, for the words below it; nothing where there are none.

    A name is set off from the sentence, so that one that runs from the right leaves its order alone.

    >>> explained({"[1]": "上锯"}).replace("\\u2068", "<").replace("\\u2069", ">"), explained({})
    (' In the drawing [1] stands for <上锯>.', '')
    """
    if not marks:
        return ""
    return " In the drawing " + ", ".join(f"{mark} stands for \u2068{name}\u2069" for mark, name in marks.items()) + "."


def drawable(text: str, marks: dict[str, str]) -> str:
    """`text` with every stretch that can't be drawn as its mark; new ones are entered in `marks`, by stretch."""
    known = _letters(tuple(families(text)))
    bad = [ord(c) not in known or _needs_joining(c) for c in text]
    parts, at = [], 0
    for stretch in re.finditer(r"1(?:[10 ]*1)?", _pattern(text, bad)):
        name = text[stretch.start() : stretch.end()]
        parts += [text[at : stretch.start()], marks.setdefault(name, f"[{len(marks) + 1}]")]
        at = stretch.end()
    return "".join([*parts, text[at:]])


def _pattern(text: str, bad: list[bool]) -> str:
    """One sign for each letter: 1 can't be drawn, a blank may stand between two such, a dot ends a stretch."""
    return "".join("1" if wrong else " " if c == " " else "." for c, wrong in zip(text, bad, strict=True))


def families(text: str) -> list[str]:
    """Fonts that together have as many letters of a text as can be had, the usual one first."""
    lacking = frozenset(map(ord, text)) - _letters((FONT,))
    return [FONT, *(_others(lacking) if lacking else ())]


@lru_cache(maxsize=256)
def _others(lacking: frozenset[int]) -> tuple[str, ...]:
    """Installed fonts for code points that the usual one lacks, few and in a fixed order."""
    found, left = [], set(lacking)
    for name in _installed():
        more = left & _letters((name,))
        if more:
            found.append(name)
            left -= more
        if not left:
            break
    return tuple(found)


@lru_cache(maxsize=1)
def _installed() -> tuple[str, ...]:
    """Names of fonts that may help, those without serifs first."""
    return tuple(sorted(_files(), key=lambda name: ("sans" not in name.casefold(), name)))


def _files() -> dict[str, str]:
    """File of each installed font in its upright, usual weight; not that of the font whose letters are all boxes."""
    from matplotlib import font_manager

    return {
        entry.name: entry.fname
        for entry in reversed(font_manager.fontManager.ttflist)  # the first of a name is the one that is drawn with
        if entry.style == "normal" and entry.weight in (400, "normal") and not entry.name.startswith("Last Resort")
    }


@lru_cache(maxsize=512)
def _letters(names: tuple[str, ...]) -> frozenset[int]:
    """Code points that the fonts of these names have outlines for."""
    if len(names) > 1:
        return frozenset().union(*(_letters((name,)) for name in names))
    from matplotlib import ft2font

    try:
        font = ft2font.FT2Font(_files()[names[0]])
        flags: Any = font.face_flags
        flags = getattr(flags, "value", flags)
        return frozenset(font.get_charmap()) if flags & _SCALABLE and not flags & _COLOUR else frozenset()
    except (OSError, RuntimeError, KeyError):  # a file that is gone, or no font that FreeType can draw
        return frozenset()


def _needs_joining(letter: str) -> bool:
    """Whether a letter is only right beside its neighbours, where matplotlib can't set it so (before 3.11)."""
    from matplotlib import ft2font

    if hasattr(ft2font, "__libraqm_version__"):
        return False
    return unicodedata.bidirectional(letter) in ("R", "AL") or any(a <= ord(letter) <= b for a, b in _JOINED)


def _ticks(axis: Axis, marks: dict[str, str]) -> None:
    """The same for the words at the ticks of an axis, which are made anew at every drawing."""
    labels = [label.get_text() for label in axis.get_ticklabels()]
    if all(label.isascii() for label in labels):
        return
    axis.set_tick_params(labelfontfamily=families("".join(labels)))
    names = [drawable(label, marks) for label in labels]
    if names != labels:
        axis.set_ticks(axis.get_ticklocs(), names)
