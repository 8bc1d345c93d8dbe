"""What a row of cuts must say by itself, and what must be known of the names in it."""

import re
import unicodedata

import numpy as np
import pandas as pd

from bandtrial import units, words
from bandtrial.study.numbering import as_count
from bandtrial.study.problems import Problems, names
from bandtrial.study.sections import geometry
from bandtrial.study.typed import Sheet
from bandtrial.words import Nearest, quoted

FEED_TOLERANCE = 1.25
"""Achieved over set feed rate (or the other way round) beyond which a row is worth a look."""


def numbers_used_twice(cuts: Sheet, problems: Problems) -> None:
    """Each cut has a number of its own."""
    number = cuts.frame["cut"]
    again = (number.duplicated() & (number != "")).to_numpy(bool)
    if not again.any():
        return
    first = dict(zip(number[::-1], cuts.rows[::-1], strict=True))
    used, at = set(number), np.flatnonzero(again)
    before = number.to_numpy(object)[np.maximum(at - 1, 0)]
    next_ones = [str(n + 1) if (n := as_count(str(one))) else "" for one in before]
    free = ["" if one in used else one for one in next_ones]
    problems.each("error", cuts.file, "cut", cuts.rows[at], [number.to_numpy(object)[at], free], lambda own, next_free:
                  f"{quoted(own)} is already the number of row {first[own]}; each cut needs a number of its own"
                  + (f"; {next_free} is still free" if next_free else ""))  # fmt: skip


def numbers_alike(cuts: Sheet, problems: Problems) -> None:
    """Numbers written in different ways: 1, 01, 1.0 and an Arabic 1 are one number to whoever reads them."""
    number = cuts.frame["cut"].to_numpy(object)
    odd = [n for n, one in enumerate(number) if not (one.isascii() and one.isdecimal() and one[0] != "0")]
    if not odd:
        return
    same = number.copy()
    same[odd] = [_as_number(one) for one in number[odd]]
    first: dict[str, int] = {}
    at = [n for n, one in enumerate(same) if one and number[first.setdefault(one, n)] != number[n]]
    keys = [number[at], [cuts.rows[first[same[n]]] for n in at], [number[first[same[n]]] for n in at]]
    problems.each("warning", cuts.file, "cut", cuts.rows[at], keys, lambda own, row, other:
                  f"{quoted(own)} is the number of row {row}, {quoted(other)}, written another way; is it another "
                  "cut?")  # fmt: skip


def _as_number(text: str) -> str:
    """A whole number in its plainest form; "" for any other text."""
    plain = unicodedata.normalize("NFKC", text).strip()
    found = re.fullmatch(r"0*(\d{1,15}?)(?:[.,]0*)?", plain)
    return str(int(found[1] or 0)) if found else ""


def known_names(
    sheet: Sheet, column: str, known: dict, faulty: frozenset[str], where: str, what: str, problems: Problems
) -> np.ndarray:
    """Where a column names something known; an unknown name is a problem, a faulty one is not."""
    cells = sheet.frame[column].to_numpy(object)
    isin = pd.Series(cells).isin(list(known)).to_numpy(bool)
    silent = pd.Series(cells).isin([*faulty, ""]).to_numpy(bool)
    at = np.flatnonzero(~isin & ~silent)
    near, there = Nearest(known), names(known)
    problems.each(
        "error",
        sheet.file,
        column,
        sheet.rows[at],
        [cells[at]],
        lambda name: f"no {what} {quoted(name)} in {where}{near(name)} (there: {there})",
    )
    return isin


def feed_and_time_agree(cuts: Sheet, problems: Problems) -> None:
    """The feed rate that was set against cut travel over cut time."""
    F, D = cuts.frame["feed_rate"].to_numpy(float), geometry(cuts.frame).cut_travel
    t = cuts.frame["cut_time"].to_numpy(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = D / t / F
    at = np.flatnonzero((ratio > FEED_TOLERANCE) | (ratio < 1 / FEED_TOLERANCE))
    unit = cuts.unit["feed_rate"] or "mm/min"
    achieved = [words.shown(units.from_inside(one, "feed_rate", unit)) for one in (D / t)[at]]
    keys = [
        [cuts.given("cut_time", n) for n in at],
        [_minutes(one) for one in t[at]],
        achieved,
        [cuts.given("feed_rate", n) for n in at],
    ]
    problems.each(
        "warning",
        cuts.file,
        "cut_time",
        cuts.rows[at],
        keys,
        lambda given, minutes, got, set_to: (
            f"{given} is read as {minutes}; with its cut travel that is a feed rate of {got} {unit}, but "
            f"feed_rate says {set_to}; check time, travel and feed rate"
        ),
    )


def _minutes(t: float) -> str:
    """A cut time in words: 12 min 40 s."""
    seconds = round(t * 60, 1)
    whole, rest = divmod(seconds, 60)
    return f"{whole:.0f} min {rest:g} s" if whole else f"{rest:g} s"
