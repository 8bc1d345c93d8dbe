"""What the rows of bands must agree with: each other and study.toml."""

import numpy as np

from bandtrial.study.cut_checks import known_names
from bandtrial.study.problems import Problems
from bandtrial.study.same_names import same_names
from bandtrial.study.settings import Settings
from bandtrial.study.toml import FILE
from bandtrial.study.typed import Sheet
from bandtrial.words import quoted


def check(bands: Sheet, settings: Settings, problems: Problems) -> None:
    """Every problem of the bands that a single cell does not show."""
    same_names(bands, "stock", settings.band_stock, problems)
    same_names(bands, "machine", settings.machines, problems)
    known_names(bands, "stock", settings.band_stock, settings.faulty, FILE, "band stock", problems)
    known_names(bands, "machine", settings.machines, settings.faulty, FILE, "machine", problems)
    _entered_twice(bands, problems)
    _ends(bands, problems)


def _entered_twice(bands: Sheet, problems: Problems) -> None:
    band = bands.frame["band"]
    again = (band.duplicated() & (band != "")).to_numpy(bool)
    first = dict(zip(band[::-1], bands.rows[::-1], strict=True))
    at = np.flatnonzero(again)
    problems.each(
        "error",
        bands.file,
        "band",
        bands.rows[at],
        [band.to_numpy(object)[at]],
        lambda name: f"{quoted(name)} is already in row {first[name]}; a band has one row, delete the other",
    )


def _ends(bands: Sheet, problems: Problems) -> None:
    """A band without an end is in service; dates and end agree."""
    frame = bands.frame
    written = np.array([str(cell).strip() != "" for cell in bands.raw["end"]], bool)
    gone = ~frame["removed"].isna().to_numpy(bool)
    at = np.flatnonzero(~written & ~gone)
    problems.each("warning", bands.file, "end", bands.rows[at], [[""] * len(at)], lambda _: "empty, read as in_service")
    at = np.flatnonzero(~written & gone)
    problems.each(
        "error",
        bands.file,
        "end",
        bands.rows[at],
        [[""] * len(at)],
        lambda _: "empty, though the band was removed; say how it ended, removed_sound if it was still good",
    )
    at = np.flatnonzero(written & gone & (frame["end"] == "in_service").to_numpy(bool) & ~bands.bad["end"])
    problems.each(
        "warning",
        bands.file,
        "end",
        bands.rows[at],
        [bands.raw["removed"][at]],
        lambda when: f"in_service, though the band was removed {when}",
    )
    at = np.flatnonzero((frame["removed"] < frame["fitted"]).to_numpy(bool))
    problems.each(
        "error",
        bands.file,
        "removed",
        bands.rows[at],
        [bands.raw["removed"][at], bands.raw["fitted"][at]],
        lambda removed, fitted: f"{removed} is before the band was fitted, {fitted}",
    )
