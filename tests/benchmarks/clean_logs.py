"""Clean logs by several hands, for slips to be planted in: the sample study, the demo shop, and virtual shops of every
kind, in US and in metric units, fed at a rate, by a force, or by hand, with and without a reading of the motor.
"""

import csv
import io
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
from bandtrial import published, sawing
from bandtrial_lessons.shop import KINDS, Shop
from bandtrial_lessons.shop.writing import write_study

TESTS = Path(__file__).parents[1]
SAMPLES = TESTS / "data/sample_study", TESTS.parent / "trial_data/demo_shop", TESTS.parent / "trial_data/thin_shop"


@dataclass
class Log:
    """A study folder's tables as text: rows of cells under heads."""

    name: str
    toml: str
    cuts: list[list[str]]
    bands: list[list[str]]
    heads: list[str] = field(default_factory=list)

    def at(self, column: str) -> int | None:
        """Place of a column of cuts, or None where the log has it not."""
        names = [head.partition(" ")[0] for head in self.cuts[0]]
        return names.index(column) if column in names else None

    def unit(self, column: str) -> str:
        place = self.at(column)
        return "" if place is None else self.cuts[0][place].partition("[")[2].rstrip("]")

    def copy(self) -> "Log":
        return Log(self.name, self.toml, [list(row) for row in self.cuts], [list(row) for row in self.bands])

    def write(self, folder: Path, book: bool = False) -> Path:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "study.toml").write_text(self.toml, encoding="utf-8")
        (folder / "bands.csv").write_text(text_of(self.bands), encoding="utf-8")
        for name in ("cuts.csv", "cuts.xlsx"):
            (folder / name).unlink(missing_ok=True)
        if book:
            write_book(self, folder / "cuts.xlsx")
        else:
            (folder / "cuts.csv").write_text(text_of(self.cuts), encoding="utf-8")
        return folder


def text_of(rows: list[list[str]]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def write_book(log: Log, path: Path) -> None:
    """The cuts as a workbook: what looks like a number is one, as a spreadsheet takes it when typed."""
    book = openpyxl.Workbook()
    book.active.title = "cuts"
    book.active.append(log.cuts[0])
    for row in log.cuts[1:]:
        book.active.append([number(cell) for cell in row])
    book.save(path)


def number(cell: str) -> str | float | None:
    try:
        return float(cell) if cell else None
    except ValueError:
        return cell


def clean_logs(count: int) -> Iterator[Log]:
    """The first `count` clean logs."""
    with tempfile.TemporaryDirectory() as place:
        for n in range(count):
            folder = SAMPLES[n] if n < len(SAMPLES) else shop_log(n, Path(place) / str(n))
            yield Log(folder.name if n < len(SAMPLES) else f"shop {n}", (folder / "study.toml").read_text("utf-8"),
                      rows_of(folder / "cuts.csv"), rows_of(folder / "bands.csv"))  # fmt: skip


def rows_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


COLUMNS = (  # how a shop writes its log
    {"cut_time": ("s", 0), "motor_power": ("kW", 3), "band_speed": ("m/min", 0)},
    {"cut_time": ("min", 2), "motor_power": ("W", 0), "work_thickness": ("mm", 1)},
    {"cut_time": ("s", 0), "band_speed": ("ft/min", 0), "work_thickness": ("in", 3), "cut_travel": ("in", 2),
     "feed_rate": ("in/min", 2), "feed_force": ("lbf", 0), "motor_power": ("kW", 3), "deviation": ("in", 4)},
    {"cut_time": ("min", 2), "band_speed": ("ft/min", 0), "work_thickness": ("in", 3), "cut_travel": ("in", 2),
     "feed_rate": ("in/min", 1), "feed_force": ("lbf", 0), "motor_power": ("hp", 2), "deviation": ("in", 4)},
)  # fmt: skip


def shop_log(seed: int, folder: Path) -> Path:
    """A virtual shop's log: on each machine some bands of daily work in runs, and one of trial cuts."""
    rng = np.random.default_rng([seed, 77])
    shop = Shop(seed, kind=list(KINDS)[seed % len(KINDS)])
    for machine in shop.machines:
        for n in range(int(rng.integers(2, 5))):
            band = shop.new_band(machine=machine)
            shop.run(pd.DataFrame(work(shop, machine, band, rng, trial=n == 0)))
            if shop.bands[band].alive:
                shop.remove(band)
    path = write_study(shop, folder, COLUMNS[seed % len(COLUMNS)])
    if seed % 5 == 4:
        by_hand(path)
    return path


def work(shop: Shop, machine: str, band: str, rng: np.random.Generator, trial: bool) -> list[dict]:
    """Rows of cuts: runs at the settings of a job, or a trial's two or three settings in turns."""
    sheet, table = shop.machines[machine], []
    for _ in range(int(rng.integers(4, 9))):
        material = str(rng.choice(list(shop.materials)))
        L, D = (float(np.round(rng.choice(some))) for some in ((20, 25, 40, 50, 76), (60, 100, 150, 300)))
        settings = []
        for _ in range(3 if trial else 1):
            low, high = sheet.band_speed_ranges[-1 if rng.random() < 0.5 else 0]
            start = published_dial(shop, machine, material, L)
            dial = float(np.clip(np.round(start * rng.uniform(0.8, 1.25)), low, high))
            settings.append({"band_speed": dial, **feed(shop, machine, material, dial, rng.uniform(5, 14), L)})
        row = {"band": band, "material": material, "work_thickness": L, "cut_travel": D,
               "pieces": int(rng.integers(1, 12))}  # fmt: skip
        table += [{**row, **settings[k % len(settings)]} for k in range(int(rng.integers(3, 7)))]
    return table


def published_dial(shop: Shop, machine: str, material: str, L: float) -> float:
    V = published.band_speed(shop.materials[material].group, L, shop.stock.edge)
    return float(shop.machines[machine].indicated_speed(V))


def feed(shop: Shop, machine: str, material: str, dial: float, h: float, L: float) -> dict[str, float]:
    sheet, mechanics = shop.machines[machine], shop.mechanics(machine, material=material)
    if sheet.feed == "force":
        force = np.clip(np.round(mechanics.feed_force(h, L, 0.05), -1), *sheet.feed_force_range)
        return {"feed_force": float(force)}
    V = shop.true_speed(dial, machine)
    while h > 2.0 and mechanics.motor_power(V, h, L, 1.0) > 0.8 * sheet.motor_power:
        h *= 0.9
    F = sawing.feed_rate(V, h, mechanics.spacing)
    return {"feed_rate": float(np.clip(np.round(F), *sheet.feed_rate_range))}


def by_hand(folder: Path) -> None:
    """The same log of a shop that feeds by hand and has no meter: no feed, no power."""
    toml = (folder / "study.toml").read_text("utf-8").replace('feed = "rate"', 'feed = "hand"')
    (folder / "study.toml").write_text(toml, encoding="utf-8")
    rows = rows_of(folder / "cuts.csv")
    kept = [n for n, head in enumerate(rows[0]) if not head.startswith(("feed_rate", "motor_power"))]
    (folder / "cuts.csv").write_text(text_of([[row[n] for n in kept] for row in rows]), encoding="utf-8")
