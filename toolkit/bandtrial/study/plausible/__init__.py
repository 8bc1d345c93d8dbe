"""Is that so? Each entry against physics and against the shop's own cuts, between reading and fitting.

`entries`         the cuts as arrays, with what was typed, and units, points and digits mixed up in it
`settings_alone`  settings alone in their run
`readings`        what no saw, machine or meter does; twice, too early, two at once, far away
`own_cuts`        rate and readings against the shop's own

`judge` looks at a whole log, `judge_new` at cuts about to be added to it. All they find is a warning or a question, a
line with its place and what was typed: a log opens with them, and a cut can be saved.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from bandtrial.study.plausible import own_cuts, readings, settings_alone
from bandtrial.study.plausible.entries import Entries, entries
from bandtrial.study.problems import Problem, Problems
from bandtrial.study.typed import Sheet

if TYPE_CHECKING:
    from bandtrial.study.settings import Settings

MOST_CUTS = 100_000
"""Of a longer log no cut is held against the others; only its cells and order are checked."""
HISTORY = 3000
"""Cuts of the log that new ones are held against."""

__all__ = ["judge", "judge_new"]


def judge(cuts: Sheet, bands: Sheet | None, settings: Settings, problems: Problems) -> None:
    """Every warning and question about the cuts of a log, added to `problems`."""
    if not len(cuts.rows) or len(cuts.rows) > MOST_CUTS:
        return
    e = entries(cuts, None if bands is None else bands.frame, settings, problems)
    _judge(e, bands)
    _left_out(e)
    if bands is not None:
        readings.two_at_once(bands, e)


def judge_new(draft: Sheet, log: pd.DataFrame, bands: Sheet | None, settings: Settings) -> list[Problem]:
    """Warnings and questions about cuts not saved yet, held against the last cuts of a log.

    draft : cuts as typed; log : the study's cuts, in inside units
    """
    problems = Problems()
    before = log.tail(HISTORY)
    frame = pd.concat([before[list(before)], draft.frame], ignore_index=True)
    n = len(before)
    raw = {name: np.concatenate([before[name].to_numpy(object), np.asarray(cells, object)])
           for name, cells in draft.raw.items() if name in before}  # fmt: skip
    rows = np.concatenate([np.zeros(n, int), draft.rows])
    sheet = Sheet(draft.file, frame, rows, raw, draft.unit, {})
    new = np.arange(len(frame)) >= n
    e = entries(sheet, None if bands is None else bands.frame, settings, problems, new)
    _judge(e, bands)
    return problems.in_order()


def _judge(e: Entries, bands: Sheet | None) -> None:
    asked = settings_alone.odd_settings(e) | readings.odd_band(e)
    readings.in_range(e, asked)
    own_cuts.odd_cuts(e, asked)
    readings.possible(e, asked)
    readings.standing_still(e)
    readings.logged_twice(e)
    readings.overlapping(e)
    readings.far_in_time(e)
    if bands is not None:
        readings.before_fitted(e, bands)


def _left_out(e: Entries) -> None:
    """A log of which most is left out."""
    out = e["exclude"] != ""
    if len(e) >= 4 and out.mean() > 0.5:
        e.problems.add("question", e.sheet.file, f"{out.sum()} of {len(e)} cuts are left out, each with a reason in "
                       "exclude; is that meant? An empty cell or no keeps a cut", column="exclude")  # fmt: skip
