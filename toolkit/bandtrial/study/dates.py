"""Dates and times as people write them; the order of day and month is never guessed in silence."""

import datetime
import re
from typing import Any

import numpy as np
import pandas as pd

from bandtrial.study.quantities import Distinct
from bandtrial.words import quoted

_DATE = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})(?:[ T,]+(.*))?")
_TIME = re.compile(r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2}))?(?:\.\d+)?\s*([ap])?\.?m?\.?", re.I)
_ISO = re.compile(r"\d{4}-\d\d-\d\d(?:[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?)?")
_OFFSET = re.compile(r"\d\d:?\d\d(?::\d\d(?:\.\d+)?)?\s*(Z|UTC|GMT|[+-]\d\d:?\d\d)\s*$")
_FIRST, _LAST = np.datetime64("1950-01-01", "us"), np.datetime64("2100-01-01", "us")
_SAMPLE = "write it as 2026-03-02 or 2026-03-02T14:30"


def read_dates(one: Distinct, system: str) -> np.ndarray:
    """Times of the different cells, wall clock as written; NaT, and an entry in `one.wrong`, where there is none."""
    values = np.full(len(one.cells), np.datetime64("NaT", "us"))
    plain = np.array([isinstance(cell, str) and _ISO.fullmatch(cell) is not None for cell in one.cells], bool)
    if plain.any():
        text = pd.Series(one.cells[plain], dtype=object)
        times = pd.to_datetime(text, format="ISO8601", errors="coerce").to_numpy()
        values[plain] = times.astype("datetime64[us]")
    either: set[Any] = set()
    for n in np.flatnonzero(np.isnat(values) & ~one.empty):
        try:
            values[n] = np.datetime64(_one(one.cells[n], system == "us", either), "us")
        except ValueError as error:
            one.wrong[one.cells[n]] = str(error)
    for n in np.flatnonzero((values < _FIRST) | (values > _LAST)):
        one.wrong[one.cells[n]] = f"{quoted(one.cells[n])} is not a date between 1950 and 2100; {_SAMPLE}"
        values[n] = np.datetime64("NaT", "us")
    _offsets(one, values)
    order = "month/day/year, as units are us" if system == "us" else "day/month/year, as units are metric"
    one.report("warning", np.array([cell in either for cell in one.cells.tolist()], bool), lambda cell:
               f"{quoted(cell)} can be read two ways and is read as {order}; {_SAMPLE}")  # fmt: skip
    return values


def _offsets(one: Distinct, values: np.ndarray) -> None:
    """Say which offsets from universal time were left out: times are those of the clock on the wall."""
    offset = [found[1] if isinstance(cell, str) and (found := _OFFSET.search(cell)) else "" for cell in one.cells]
    written = np.array(offset, object)
    written[np.isnat(values)] = ""
    at = np.flatnonzero((written != "")[one.codes]) if (written != "").any() else np.empty(0, int)
    one.problems.each("warning", one.raw.file, one.column.name, one.raw.rows[at], [written[one.codes[at]]],
                      lambda text: f"{quoted(text)} is left out: times are read as the clock at the machine shows "
                      "them")  # fmt: skip


def _one(cell: Any, month_first: bool, either: set[Any]) -> datetime.datetime:
    """One date with or without a time; ValueError with a sentence."""
    if isinstance(cell, datetime.datetime):
        return cell.replace(tzinfo=None)
    if isinstance(cell, datetime.date):
        return datetime.datetime(cell.year, cell.month, cell.day)
    text = " ".join(str(cell).split())
    try:
        return datetime.datetime.fromisoformat(text).replace(tzinfo=None)
    except ValueError:
        pass
    found = _DATE.fullmatch(text)
    if not found:
        raise ValueError(f"{quoted(text)} is not a date; {_SAMPLE}")
    first, sign, second, third, time = found.groups()
    hour, minute, sec = _clock(time, text)
    (year, month, day), doubtful = _order((int(first), int(second), int(third)), len(first) > 2, sign, month_first)
    if doubtful:
        either.add(cell)
    try:
        return datetime.datetime(year if year > 99 else 2000 + year, month, day, hour, minute, sec)
    except ValueError:
        raise ValueError(f"{quoted(text)} is not a date of the calendar; {_SAMPLE}") from None


def _order(
    parts: tuple[int, int, int], year_first: bool, sign: str, month_first: bool
) -> tuple[tuple[int, int, int], bool]:
    """Year, month and day of three numbers, and whether they can be read two ways.

    Points are written day first; a slash either way.
    """
    first, second, third = parts
    if year_first:
        return parts, False
    if sign == "." or (first > 12 >= second):
        return (third, second, first), False
    if second > 12 >= first:
        return (third, first, second), False
    return ((third, first, second) if month_first else (third, second, first)), first != second


def _clock(time: str | None, text: str) -> tuple[int, int, int]:
    if not time:
        return 0, 0, 0
    found = _TIME.fullmatch(time.strip())
    if not found:
        raise ValueError(f"{quoted(text)} has no time of day that can be read; {_SAMPLE}")
    hour, half = int(found[1]), (found[4] or "").lower()
    if half and not 1 <= hour <= 12:
        raise ValueError(f"{quoted(text)} has no time of day that can be read; {_SAMPLE}")
    hour = hour % 12 + 12 if half == "p" else hour % 12 if half == "a" else hour
    return hour, int(found[2]), int(found[3] or 0)
