"""Cuts and bands in time: logged twice, before a band was fitted, two at once, far away from all others."""

from itertools import pairwise

import numpy as np
import pandas as pd

from bandtrial.study.plausible.entries import Entries
from bandtrial.study.typed import Sheet
from bandtrial.words import quoted

FAR_DAYS = 550
"""A step in time of more than this, and more than all of the rest of the log, is asked about."""
OVERLAP_SHARE = 0.2
"""Share of a cut's own time that the next may begin before its end."""
OFTEN = 0.1
"""Share of a log's cuts that overlap from which it is the way the log is kept, and said once."""


def logged_twice(e: Entries) -> None:
    """Two rows that are alike in all that is written, their number aside."""
    names = [name for name in e.sheet.raw if name not in ("cut", "note") and _says_something(e.sheet.raw[name])]
    dated = ~np.isnat(e.started)
    measured = np.isfinite(e["motor_power"]) & np.isfinite(e["deviation"])
    written = pd.DataFrame({name: [str(cell).strip() for cell in e.sheet.raw[name]] for name in names})
    first = written.duplicated(keep="first").to_numpy(bool)
    if not first.any():
        return
    keys = pd.MultiIndex.from_frame(written)
    place = pd.Series(np.arange(len(e))).groupby(pd.factorize(keys)[0]).transform("first").to_numpy()
    next_to = place == np.arange(len(e)) - 1
    for n in np.flatnonzero(first & (dated | (measured & next_to))):
        other = place[n]
        e.ask("cut", int(n), f"{quoted(e.sheet.raw['cut'][n])} is in all else the row {e.sheet.rows[other]}, cut "
              f"{quoted(e.sheet.raw['cut'][other])}; logged twice?")  # fmt: skip


def _says_something(cells: np.ndarray) -> bool:
    return any(str(cell).strip() for cell in cells)


def before_fitted(e: Entries, bands: Sheet) -> None:
    """A cut dated before its band was fitted."""
    first = bands.frame.drop_duplicates("band")
    fitted_on = dict(zip(first["band"], first["fitted"].to_numpy("datetime64[s]"), strict=True))
    never = np.datetime64("NaT", "s")
    fitted = np.array([fitted_on.get(band, never) for band in e["band"]], "datetime64[s]")
    day = fitted.astype("datetime64[D]").astype("datetime64[s]")
    for n in np.flatnonzero(e.started < day):
        when = fitted[n].astype("datetime64[D]")
        words = f"{quoted(e.sheet.raw['started'][n])} is before band {e['band'][n]} was fitted, {when}"
        e.ask("started", int(n), words, severity="warning")


def odd_band(e: Entries) -> dict[int, str]:
    """A single cut of another band in the midst of a run of one band on a machine."""
    asked = {}
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero(e["machine"] == machine)
        band = e["band"][at]
        if len(at) < 5:
            continue
        two, one, own, next_one, next_two = (band[k : len(band) - 4 + k] for k in range(5))
        alone = (two == one) & (one == next_one) & (next_one == next_two) & (own != one)
        for k in np.flatnonzero(alone) + 2:
            asked[int(at[k])] = "band"
            e.ask("band", int(at[k]), f"{quoted(band[k])} on {machine}, where the cuts before and after are of "
                  f"{band[k - 1]}; the right band?")  # fmt: skip
    return asked


def overlapping(e: Entries) -> None:
    """A cut that begins on a machine well before the one before it can have ended."""
    for machine in pd.unique(e["machine"]):
        at = np.flatnonzero((e["machine"] == machine) & ~np.isnat(e.started))
        if len(at) < 2:
            continue
        began = e.started[at].astype("int64") / 60.0
        took = e["cut_time"][at] * e["pieces"][at]
        early = began[:-1] + took[:-1] - began[1:]
        with np.errstate(invalid="ignore"):
            odd = (early > np.fmax(OVERLAP_SHARE * took[:-1], 2.0)) & (began[1:] >= began[:-1])
            same = (began[1:] == began[:-1]) & (early > 0)
        if odd.mean() > OFTEN or same.mean() > OFTEN:
            continue  # `started` is then no time at which a cut began
        for k in np.flatnonzero(odd):
            n, before = int(at[k + 1]), int(at[k])
            e.ask("started", n, f"{quoted(e.sheet.raw['started'][n])} is {early[k]:.0f} min before the cut in row "
                  f"{e.sheet.rows[before]} can have ended ({e['pieces'][before]:.0f} x {e.typed('cut_time', before)}); "
                  "is that so?")  # fmt: skip


def far_in_time(e: Entries) -> None:
    """A date far from all others of the log."""
    at = np.flatnonzero(~np.isnat(e.started))
    if len(at) < 3:
        return
    days = e.started[at].astype("int64") / 86400.0
    middle = float(np.median(days))
    order = np.argsort(np.abs(days - middle))
    gaps = np.diff(np.abs(days - middle)[order])
    reach = np.abs(days - middle)[order][:-1]
    cut = np.flatnonzero((gaps > FAR_DAYS) & (gaps > 2 * reach))
    if len(cut) and len(at) - (cut[0] + 1) <= max(2, 0.1 * len(at)):
        others = days[order[: cut[0] + 1]]
        for k in order[cut[0] + 1 :]:
            e.ask("started", int(at[k]), f"{quoted(e.sheet.raw['started'][at[k]])} is read as {_day(days[k])}, far "
                  f"from the other cuts, {_day(others.min())} to {_day(others.max())}; the right year?")  # fmt: skip


def _day(days: float) -> str:
    return str(np.datetime64(int(days), "D"))


def two_at_once(bands: Sheet, e: Entries) -> None:
    """Two bands that by bands.csv were on one machine at the same time."""
    frame = bands.frame
    removed, fitted = (frame[name].to_numpy("datetime64[D]") for name in ("removed", "fitted"))
    for machine in pd.unique(frame["machine"].to_numpy(object)):
        at = np.flatnonzero((frame["machine"] == machine).to_numpy(bool) & ~np.isnat(fitted))
        at = at[np.argsort(fitted[at], kind="stable")]
        for one, two in pairwise(at if machine else []):
            if removed[one] > fitted[two]:
                words = (f"{bands.raw['fitted'][two]}, when band {frame['band'][one]} was still on {machine}, removed "
                         f"{bands.raw['removed'][one]}; two bands at once?")  # fmt: skip
                e.problems.add("question", bands.file, words, row=int(bands.rows[two]), column="fitted",
                               value=bands.raw["fitted"][two])  # fmt: skip
