"""Drawings beyond their ink: marks that say what they are when they are pointed at, and the numbers of it all; names
in any script, by a font that has their letters, else by a mark that the words below explain.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from numpy.typing import ArrayLike

_NAMES = "_bandtrial_names"  # attributes of lines and shades: matplotlib keeps them with the drawing
_SPAN = "_bandtrial_span"
SIZE = 6.0
"""Radius in which a mark hears the pointer [pt]; the script of a panel takes the nearest from further away."""
Words = Callable[[Sequence[str]], Sequence[str]]
"""What marks say, by their names: as `study.lines.Lines.of` of the names of cuts."""


def name_marks(lines: Sequence[Line2D], names: ArrayLike | None, at: Any) -> None:
    """Tie a name to each mark that `ax.plot` has drawn: those at the places `at` of all `names`, if there are any."""
    if names is not None:
        setattr(lines[0], _NAMES, np.asarray(names, object)[at])


def names_of(line: Line2D) -> list[str]:
    """The names of a line's marks, empty where they have none."""
    return [str(name) for name in getattr(line, _NAMES, ())]


def named(figure: Figure) -> list[tuple[float, float, str]]:
    """(x from the left, y from the top [pt], name) of each named mark, from left to right.

    The figure has been drawn, so that every axis has its final place; marks outside their axes are left out.
    """
    from matplotlib.lines import Line2D

    height = figure.get_figheight() * 72
    found: list[tuple[float, float, str]] = []
    for line in figure.findobj(Line2D):
        names = np.array(names_of(line), object)
        if line.axes is None or not len(names):
            continue
        places = line.get_transform().transform(np.column_stack(line.get_data(orig=False)))
        low, high = line.axes.bbox.get_points()
        inside = np.all((places >= low - 2) & (places <= high + 2), axis=1)
        x, y = 72 * places[inside].T / figure.dpi
        found += zip(x.tolist(), (height - y).tolist(), names[inside], strict=True)
    return sorted(found)


def layer(figure: Figure, words: Words) -> str:
    """An SVG to lie over the drawing: a clear circle at each named mark, its title what `words` makes of the name.

    A browser shows the title of what is pointed at without any script. Empty where no mark has a name.
    """
    marks = named(figure)
    if not marks:
        return ""
    width, height = (72 * side for side in figure.get_size_inches())
    circles = "".join(
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{SIZE:g}"><title>{escape(said)}</title></circle>'
        for (x, y, _), said in zip(marks, words([name for *_, name in marks]), strict=True)
    )
    view = f'viewBox="0 0 {width:g} {height:g}" fill="none" pointer-events="all"'
    return f'<svg class="marks" role="group" {view}>{circles}</svg>'


def keep_span(shade: Artist, name: str, x: ArrayLike, low: ArrayLike, high: ArrayLike) -> None:
    """Tie its name and the numbers (n,) it was drawn from to a shade between two lines."""
    setattr(shade, _SPAN, (name, x, low, high))


def numbers(figure: Figure) -> tuple[list[str], list[list[Any]]]:
    """(heads, rows) of a figure: what it is, along, up (a shade: from and to), and a mark's name; units in the heads.

    A line across the whole drawing, as at the recommended speed, has no height. Lines without a label are left out.
    """
    along, up = zip(*((ax.get_xlabel(), ax.get_ylabel()) for ax in figure.axes), strict=True)
    rows: list[list[Any]] = []
    for ax in figure.axes:
        for shade in ax.collections:
            if span := getattr(shade, _SPAN, None):
                name, *columns = span
                rows += [[name, *_rounded(at), ""] for at in zip(*columns, strict=True)]
        for line in ax.lines:
            label, across = str(line.get_label()), line.get_transform() != ax.transData
            if label.startswith("_"):
                continue
            x, y = (np.asarray(values, float) for values in line.get_data(orig=False))
            names = names_of(line) or [""] * len(x)
            places = [(x[0],)] if across else zip(x, y, strict=True)
            rows += [[label, *_rounded(at), *[""] * (2 if across else 1), name]
                     for at, name in zip(places, names, strict=False)]  # fmt: skip
    return ["what", along[0], up[0], f"to: {up[0]}", "cut or band"], rows


def _rounded(at: Iterable[float]) -> list[float]:
    """To six figures, more than any drawing shows."""
    return [float(f"{x:.6g}") for x in at]


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
