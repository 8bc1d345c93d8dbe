"""Studies bent out of others, and studies of virtual shops, as folders: what the referee and the stress tests fit."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import numpy as np
import pandas as pd
from bandtrial import published, sawing, wear
from bandtrial.study import open_study
from bandtrial_lessons.shop import Shop
from bandtrial_lessons.worlds import World, logs

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "trial_data" / "demo_shop"
THIN = ROOT / "trial_data" / "thin_shop"
SAMPLE = ROOT / "tests" / "data" / "sample_study"
OF_SIGNAL = {"motor_power": "motor_power", "feed_force": "feed_force", "chip_load": "cut_time",
             "deviation": "deviation", "roughness": "roughness"}  # fmt: skip
"""Column of cuts.csv that a signal is read from."""


class Table:
    """A CSV of a study: head as written, rows as lists, columns found by their name without the unit."""

    def __init__(self, path: Path):
        self.path = path
        with path.open(encoding="utf-8", newline="") as file:
            self.head, *self.rows = list(csv.reader(file))

    def at(self, name: str) -> int | None:
        """Place of a column, None where there is none."""
        names = [head.partition("[")[0].strip().lower().replace(" ", "_") for head in self.head]
        return names.index(name) if name in names else None

    def save(self) -> None:
        with self.path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([self.head, *self.rows])


def copied(folder: Path, source: Path = DEMO) -> Path:
    """A copy of a study in a folder that is not there yet."""
    shutil.copytree(source, folder, ignore=shutil.ignore_patterns(".bandtrial"))
    return folder


def noisier(folder: Path, factor: float, source: Path = DEMO) -> Path:
    """Residuals times a factor: y becomes predicted (y / predicted)^factor, a chip load by the time of its cut."""
    residuals = wear.fit(open_study(source)).residuals
    cuts = Table(copied(folder, source) / "cuts.csv")
    own = {row[cuts.at("cut")]: row for row in cuts.rows}
    for one in residuals.itertuples():
        row, at = own[str(one.cut)], cuts.at(OF_SIGNAL[one.signal])
        off = (one.observed / one.predicted) ** (factor - 1)
        off = 1 / off if one.signal == "chip_load" else off
        try:
            row[at] = f"{float(row[at]) * off:.6g}"
        except ValueError:
            continue
    cuts.save()
    return folder


def split(folder: Path, kind: str, parts: int, source: Path = DEMO) -> Path:
    """Each material or machine, as `kind` says ("material" or "machine"), in so many names, turn by turn; a band stays
    on one machine."""
    text = (copied(folder, source) / "study.toml").read_text("utf-8")
    for name, body in re.findall(rf"^\[{kind}s\.(\S+)\]\n((?:(?!\[)[^\n]*\n?)*)", text, flags=re.M):
        text += "".join(f"\n[{kind}s.{name}_{part}]\n{body}" for part in range(parts))
    (folder / "study.toml").write_text(text, "utf-8")
    cuts, bands = Table(folder / "cuts.csv"), Table(folder / "bands.csv")
    seen: dict[str, int] = {}
    for row in bands.rows if kind == "machine" else cuts.rows:
        at = (bands if kind == "machine" else cuts).at(kind)
        count = seen.get(row[at], 0)
        seen[row[at]] = count + 1
        row[at] = f"{row[at]}_{count % parts}"
    if kind == "machine":
        of = {row[bands.at("band")]: row[bands.at("machine")] for row in bands.rows}
        for row in cuts.rows:
            row[cuts.at("machine")] = of[row[cuts.at("band")]]
    cuts.save()
    bands.save()
    return folder


def repeated(folder: Path, times: int, source: Path = DEMO) -> Path:
    """All bands and cuts so many times over, to the digit."""
    copied(folder, source)
    cuts, bands = Table(folder / "cuts.csv"), Table(folder / "bands.csv")
    for table in (bands, cuts):
        at, rows = table.at("band"), table.rows
        table.rows = [[*row[:at], f"{row[at]}x{i}", *row[at + 1 :]] for i in range(times) for row in rows]
    for number, row in enumerate(cuts.rows, start=1):
        row[cuts.at("cut")] = str(number)
    cuts.save()
    bands.save()
    return folder


def virtual(folder: Path, seed: int, kind: str = "any", cuts: int = 60, bands: int = 6, metals: int = 3) -> Path:
    """The log of a virtual shop's first machine: mixed work about the published start, a dead band replaced."""
    shop = Shop(seed, kind, count=metals)
    rng = np.random.default_rng([seed, 21])
    ids = [shop.new_band() for _ in range(bands)]
    machine, stock, rows = shop.machine, shop.stock, []
    mechanics = {name: shop.mechanics(machine.id, material=name) for name in shop.materials}
    for i in range(cuts):
        name = list(shop.materials)[int(rng.integers(len(shop.materials)))]
        L = float(rng.uniform(20.0, 60.0))
        V = published.band_speed(shop.materials[name].group, L, stock.edge) * float(np.exp(rng.normal(-0.15, 0.15)))
        shown = float(machine.indicated_speed(V))
        shown = min((float(np.clip(shown, *pair)) for pair in machine.band_speed_ranges), key=lambda x: abs(x - shown))
        h = float(np.exp(rng.normal(np.log(11.0), 0.3)))
        if machine.feed == "force":
            feed = float(np.clip(mechanics[name].feed_force(h, L, 0.05), *machine.feed_force_range))
        else:
            feed = float(np.clip(sawing.feed_rate(V, h, stock.tooth_spacing), *machine.feed_rate_range))
        row = {"band": ids[i * bands // cuts], "band_speed": shown, "work_thickness": L, "cut_travel": 100.0}
        rows.append(row | {"material": name, "feed_force" if machine.feed == "force" else "feed_rate": feed,
                           "pieces": int(rng.integers(1, 20))})  # fmt: skip
    shop.run(pd.DataFrame(rows), on_death="new_band")
    return shop.write(folder)


def world(folder: Path, seed: int, kind: str) -> Path:
    """100 minutes on three bands of a world (`bandtrial_lessons.worlds`), after a few old bands at even seeds."""
    shop = World(seed, kind, folder)
    if seed % 2 == 0:
        logs.old_bands(shop)
    logs.narrow_trial(shop)
    return folder
