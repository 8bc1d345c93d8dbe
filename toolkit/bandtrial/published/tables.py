"""The published figures as read from the CSV files beside this module: each row with source and how_known."""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from bandtrial.units import convert

if TYPE_CHECKING:
    import pandas as pd

FOLDER = Path(__file__).parent
BASE_THICKNESS_IN = 4.0
"""Work thickness of the band speed table [in]."""
HOW_KNOWN = ("read", "trade fact", "worked out", "your own", "our choice", "memory", "memory, unsure")
"""How a figure is known, the best first."""


class PublishedError(ValueError):
    """A look-up that the published tables can't answer; the message says what is allowed."""


@dataclass(frozen=True)
class SpeedRow:
    """One line of band_speeds.csv; speeds in ft/min as printed."""

    group: str
    grades: tuple[str, ...]
    low: float
    high: float
    edge: str
    thickness_in: float | None
    fluid: str
    source: str
    how_known: str
    note: str

    @property
    def is_base(self) -> bool:
        """Belongs to the table that the adjustments apply to (bimetal, 4 in, flood)."""
        return self.edge == "bimetal" and self.thickness_in == BASE_THICKNESS_IN and self.fluid == "flood"


@dataclass(frozen=True)
class Figure:
    """A figure of one of the smaller tables, kept as text: what for, value, unit, source."""

    kind: str
    work: str
    low: str
    high: str
    unit: str
    source: str
    how_known: str
    note: str


@cache
def lines(name: str) -> tuple[dict[str, str], ...]:
    """Every line of the table `name` (without .csv) as text by column."""
    with open(FOLDER / f"{name}.csv", newline="", encoding="utf-8") as file:
        return tuple(csv.DictReader(file))


@cache
def speed_rows() -> tuple[SpeedRow, ...]:
    """band_speeds.csv, in its order."""
    return tuple(
        SpeedRow(
            group=line["material_group"], grades=tuple(grade.strip() for grade in line["grades"].split(",")),
            low=float(line["band_speed_low_ft_min"]), high=float(line["band_speed_high_ft_min"]), edge=line["edge"],
            thickness_in=float(line["work_thickness_in"]) if line["work_thickness_in"] else None,
            fluid=line["cutting_fluid"], source=line["source"], how_known=line["how_known"], note=line["note"],
        )
        for line in lines("band_speeds")
    )  # fmt: skip


def _figures(name: str, columns: str) -> tuple[Figure, ...]:
    """The lines of a table; `columns` are those of kind, work, low, high and unit."""
    wanted = (*columns.split(), "source", "how_known", "note")
    return tuple(Figure(*(line[column] for column in wanted)) for line in lines(name))


@cache
def adjustments(kind: str) -> tuple[Figure, ...]:
    """The lines of speed_adjustments.csv of one kind: work_thickness, cutting_fluid or edge."""
    every = _figures("speed_adjustments", "adjustment condition factor_low factor_high pitch_used_tpi")
    return tuple(one for one in every if one.kind == kind)


@cache
def tooth_rules(kind: str) -> tuple[Figure, ...]:
    """The lines of tooth_pitch.csv whose rule starts with `kind`."""
    return tuple(one for one in _figures("tooth_pitch", "rule work value value unit") if one.kind.startswith(kind))


@cache
def operation_figures(operation: str, item: str = "") -> tuple[Figure, ...]:
    """The lines of file_polish_friction.csv of one operation (and one item of it)."""
    every = zip(lines("file_polish_friction"), _figures("file_polish_friction", "item work low high unit"), strict=True)
    return tuple(one for line, one in every if line["operation"] == operation and item in ("", one.kind))


@cache
def prior_figure(quantity: str) -> Figure:
    """The first line of model_priors.csv with this quantity."""
    return next(one for one in _figures("model_priors", "quantity applies_to low high unit") if one.kind == quantity)


@cache
def source_titles() -> dict[str, str]:
    """Each source's short name with its author, title, year and place."""
    titles = {}
    for line in lines("sources"):
        parts = (line["author"], line["title"], line["year"], line["locator"])
        titles[line["source"]] = ", ".join(part for part in parts if part)
    return titles


def source_name(source: str) -> str:
    """Who printed a figure, in short; the editions of one handbook alike.

    >>> source_name("handbook_older"), source_name("open_textbook"), source_name("study.toml")
    ("Machinery's Handbook", 'Introduction to Machining', 'study.toml')
    """
    titles = {line["source"]: line["title"] for line in lines("sources")}
    source = source.partition("; ")[0].replace("_older", "_31")
    return titles.get(source, source).partition(", ")[0]


def worst_known(*how_known: str) -> str:
    """The weakest of several ways of knowing.

    >>> worst_known("read", "memory", "read")
    'memory'
    """
    return max(how_known, key=HOW_KNOWN.index)


def priors() -> "pd.DataFrame":
    """model_priors.csv, a row per prior figure, with its source and how it is known."""
    import pandas as pd

    return pd.read_csv(FOLDER / "model_priors.csv")


CAUTIONS: list[str] = [
    "Wear eye protection; add a face shield for friction sawing.",
    "No gloves, rings, watches or loose sleeves.",
    "Take chips off with a brush, never with a hand or a rag.",
    "All wheel and band guards in place.",
    "Upper guide 1/8 to 1/4 in (3 to 6 mm) above the work.",
    "Change the speed range only as the machine's maker says.",
    "Hands out of the band's line; push with a block.",
    "Switch the machine off and lock it out before a band is changed.",
    "Magnesium and titanium chips burn: keep them away from sparks and water.",
    "Dust of some alloys (beryllium copper) is poisonous.",
    "Recommendations are starting points for a qualified person; the machine maker's limits, the band "
    "maker's limits and local rules come first.",
]


def contour_chart() -> tuple[np.ndarray, np.ndarray]:
    """Band widths and their smallest radii [mm], narrow to wide. Common practice, from memory."""
    rows = [(line["band_width_in"], line["min_radius_in"]) for line in lines("contour_radius")]
    width, radius = convert(np.array(rows, dtype=float).T, "in", "length")
    return width, radius


def contour_radius(width_mm: float) -> float:
    """Smallest contour radius [mm] of a band of width w [mm]: straight in log w and log r on the chart.

    Raises `PublishedError` outside the chart (1/8 to 1 in). Common practice, from memory.

    >>> contour_radius(12.7) / 25.4
    2.5
    """
    width, radius = contour_chart()
    if not width[0] * (1 - 1e-9) <= width_mm <= width[-1] * (1 + 1e-9):
        raise PublishedError(
            f"band width {width_mm:g} mm is outside the contour chart, {width[0]:g} to {width[-1]:g} mm "
            "(1/8 to 1 in); cut a curve with a band of the chart, or a straight line with a wider one."
        )
    return float(np.exp(np.interp(np.log(width_mm), np.log(width), np.log(radius))))
