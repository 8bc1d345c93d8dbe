"""Tools that others wore out, as tables and as the bands of a study; what is bent: tests/data/realdata/README.md."""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from bandtrial import published
from bandtrial.study import append_cuts

DATA = Path(__file__).parents[1] / "data" / "realdata"
BAND_LENGTH, SPACING, THICKNESS = 10_000.0, 25.4, 1000.0
"""Of the band that stands for every tool, tooth spacing of 1 tpi, and the work at the greatest depth of cut [mm]."""
MIDDLE_CHIP, ROUGHNESS = 20.0, 8.0
"""Chip load of the middle feed [um]; roughness of an edge without wear [um]."""
SLICES = 2000
"""Slices of the longest life of a table: the pieces that a life is counted in."""


@dataclass(frozen=True)
class Tool:
    """One tool: its readings `level` at `time`, its life, and what it cut. Times are in the table's own unit.

    factors : feed, depth and so on as numbers, for a regression
    """

    name: str
    time: np.ndarray
    level: np.ndarray
    life: float
    metal: str
    coolant: str
    band_speed: float
    chip_load: float
    thickness: float
    factors: tuple[float, ...]

    def until(self, age: float) -> tuple[np.ndarray, np.ndarray]:
        """Readings (time, level) made by an age; NaN levels left out."""
        keep = (self.time <= age * (1 + 1e-9)) & np.isfinite(self.level)
        return self.time[keep], self.level[keep]


@dataclass(frozen=True)
class Fleet:
    """The tools of one table; limit: flank wear that stands for 1, and, if `by_level`, ends a tool; groups: published
    group of each metal."""

    name: str
    tools: tuple[Tool, ...]
    limit: float
    groups: dict[str, str]
    by_level: bool = False

    @property
    def slice(self) -> float:
        """Time of one piece."""
        return max(tool.life for tool in self.tools) / SLICES


def milling() -> Fleet:
    """The 15 milling tools that came to 0.45 mm."""
    limit, groups = 0.45, {"iron": "gray cast iron", "steel": "medium-carbon steel"}
    tools = []
    for case, rows in _by("nasa_milling_16.csv", "case").items():
        time = np.array([float(row["time"]) for row in rows])
        level = np.array([float(row["VB"] or "nan") for row in rows])
        life = _crossing(time, level, limit)
        if not np.isfinite(life):
            continue
        metal = "steel" if rows[0]["material"] == "2" else "iron"
        feed, depth = (float(rows[0][key]) for key in ("feed", "DOC"))
        thickness = THICKNESS * depth / 1.5
        V = published.band_speed(groups[metal], thickness)
        h = MIDDLE_CHIP * feed / np.sqrt(0.25 * 0.5)
        known = time < life
        factors = (np.log(feed), np.log(depth), float(metal == "steel"))
        tools.append(Tool(f"M{case}", time[known], level[known], life, metal, "flood", V, h, thickness, factors))
    return Fleet("milling 16", tuple(tools), limit, groups, by_level=True)


def turning() -> Fleet:
    """The 18 turning tools, all ended by a chipped edge after their last reading."""
    tools = []
    for name, rows in _by("turning_18.csv", "tool_id").items():
        time = np.array([float(row["within_tool_order"]) for row in rows])
        level = np.array([float(row["vb_um"]) / 1000 for row in rows])
        V, feed, dry = float(rows[0]["vc"]), float(rows[0]["fz"]), rows[0]["cooling"] == "Dry"
        factors = (np.log(V), np.log(feed), float(dry))
        coolant = "dry" if dry else "flood"
        h = MIDDLE_CHIP * feed / 0.2
        tools.append(Tool(name, time, level, time[-1], "stainless", coolant, V, h, THICKNESS, factors))
    return Fleet("turning 18", tuple(tools), 0.2, {"stainless": "austenitic stainless steel"})


FLEETS = {"milling": milling, "turning": turning}


def write(folder: Path, fleet: Fleet, left_out: int, share: float) -> Path:
    """The study of a fleet whose tool `left_out` is in service at `share` of its life, all others worn out: dull, or
    taken off at the reading that the shop wrote down for it (`by_level`)."""
    folder.mkdir(parents=True)
    level = f'change_at_roughness = "{2 * ROUGHNESS} um"\n' if fleet.by_level else ""
    end = "removed_sound" if fleet.by_level else "dull"
    groups = "".join(f'[materials.{name}]\ngroup = "{group}"\n' for name, group in fleet.groups.items())
    (folder / "study.toml").write_text(
        TOML.format(name=fleet.name, length=BAND_LENGTH) + level + "\n" + groups, "utf-8"
    )
    ends = ("in_service" if i == left_out else end for i in range(len(fleet.tools)))
    bands = "".join(f"{t.name},tool,rig,{end}\n" for t, end in zip(fleet.tools, ends, strict=True))
    (folder / "bands.csv").write_text("band,stock,machine,end\n" + bands, "utf-8")
    (folder / "cuts.csv").write_text(HEAD, "utf-8")
    for i, tool in enumerate(fleet.tools):
        append_cuts(folder, list(rows(tool, fleet, share * tool.life if i == left_out else tool.life)))
    return folder


def rows(tool: Tool, fleet: Fleet, age: float):
    """Rows of cuts.csv of a tool up to an age: one to each reading, and one to the age, without a reading but for that
    by which a tool came off."""
    time, level = tool.until(age)
    came_off = fleet.by_level and age >= tool.life
    edges = np.concatenate([np.round(time / fleet.slice), [np.round(age / fleet.slice)]]).astype(int)
    level = np.append(level, fleet.limit if came_off else np.nan)
    minutes = fleet.slice * BAND_LENGTH / tool.thickness
    before = 0
    for end, VB in zip(edges, level, strict=True):
        if end > before:
            yield {
                "machine": "rig",
                "band": tool.name,
                "material": tool.metal,
                "work_thickness": tool.thickness,
                "cut_travel": tool.chip_load * tool.band_speed / SPACING * minutes,
                "band_speed": tool.band_speed,
                "cut_time": minutes,
                "coolant": tool.coolant,
                "pieces": end - before,
                "roughness": None if np.isnan(VB) else ROUGHNESS * (1 + VB / fleet.limit),
            }
            before = end


TOML = """\
[study]
name = "{name}: tools of another trade, written as bands"
units = "metric"
currency = "EUR"

[costs]
machine_and_labor_per_hour = 60.0
band_change_minutes = 5
scrapped_piece = 0

[machines.rig]
kind = "vertical"
feed = "rate"
band_speed_ranges = [["1 m/min", "2000 m/min"]]
band_length = "{length} mm"

[band_stock.tool]
pitch = "1 tpi"
edge = "bimetal"
price = 10
"""
HEAD = ("cut,machine,band,material,work_thickness [mm],cut_travel [mm],band_speed [m/min],cut_time [min],coolant,"
        "pieces,roughness [um]\n")  # fmt: skip


def _by(file: str, key: str) -> dict[str, list[dict[str, str]]]:
    found = defaultdict(list)
    with (DATA / file).open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            found[row[key]].append(row)
    return found


def _crossing(time, level, limit: float) -> float:
    """When straight lines through the readings first reach the limit; NaN if never."""
    known = np.isfinite(level)
    time, level = time[known], level[known]
    over = np.flatnonzero(level >= limit)
    if not len(over) or not over[0]:
        return float("nan")
    i = over[0]
    return float(np.interp(limit, level[i - 1 : i + 1], time[i - 1 : i + 1]))
