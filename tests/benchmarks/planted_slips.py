"""Slips of the pen planted in clean logs: how many are read as they were meant or said with their row, and how often
a clean cut is asked about.

    python tests/benchmarks/planted_slips.py [--logs 20] [--books 5] [--missed]

Clean logs are made by several hands: the sample study, the demo shop, and virtual shops of every kind, some in US and
some in metric units, fed at a rate, by a force, or by hand, with and without a reading of the motor; their cuts are
runs of daily work and trials. One slip at a time is planted, as CSV in every log and as a workbook in some. It is
caught where `check` names its row and did not before, or where the value read is that of the clean log.
"""

import argparse
import csv
import io
import shutil
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
from bandtrial import sawing, study
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


# clean logs


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
    from bandtrial import published

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


# slips: each changes a copy of the log and names the row that must be said, (table, row); None where it can't be made

Plant = Callable[[Log, np.random.Generator], tuple[str, int] | None]
KINDS_OF_SLIP: dict[str, Plant] = {}


def slip(name: str) -> Callable[[Plant], Plant]:
    def keep(plant: Plant) -> Plant:
        KINDS_OF_SLIP[name] = plant
        return plant

    return keep


def filled(log: Log, column: str, rng: np.random.Generator) -> tuple[int, int] | None:
    """A row whose cell of the column holds a number, and the cell's place; not where the cut was lost or left out."""
    at, lost, out = log.at(column), log.at("complete"), log.at("exclude")
    if at is None:
        return None
    whole = (n for n in range(1, len(log.cuts)) if lost is None or log.cuts[n][lost] != "no")
    rows = [n for n in whole if log.cuts[n][at].strip() and (out is None or not log.cuts[n][out])]
    return (int(rng.choice(rows)), at) if rows else None


def times(column: str, factor: float) -> Plant:
    """The number of a cell times a factor, written with as many digits as people write."""

    def plant(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
        found = filled(log, column, rng)
        if not found:
            return None
        row, at = found
        value = float(log.cuts[row][at]) * factor
        if value == 0:
            return None
        log.cuts[row][at] = f"{value:.4g}" if value < 1e5 else f"{value:.0f}"
        return "cuts", row + 1

    return plant


def digits(column: str) -> Plant:
    """Two neighboring digits exchanged, the first two that differ: 278 becomes 728."""

    def plant(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
        for _ in range(20):
            found = filled(log, column, rng)
            if not found:
                return None
            row, at = found
            text = log.cuts[row][at]
            for n in range(len(text) - 1):
                if text[n].isdigit() and text[n + 1].isdigit() and text[n] != text[n + 1] and text[n + 1] != "0":
                    log.cuts[row][at] = text[:n] + text[n + 1] + text[n] + text[n + 2 :]
                    return "cuts", row + 1
        return None

    return plant


def unit_slip(column: str, pairs: dict[str, float]) -> Plant:
    """The number written in another unit than the head's: pairs head's unit -> factor."""

    def plant(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
        factor = pairs.get(log.unit(column))
        return times(column, factor)(log, rng) if factor else None

    return plant


for column in ("cut_time", "cut_travel", "band_speed", "feed_rate", "feed_force", "motor_power"):
    KINDS_OF_SLIP[f"{column}: a point too far right"] = times(column, 10)
for column in ("cut_time", "cut_travel", "band_speed", "feed_rate", "feed_force"):
    KINDS_OF_SLIP[f"{column}: a point too far left"] = times(column, 0.1)
for column in ("cut_time", "cut_travel", "feed_rate", "band_speed"):
    KINDS_OF_SLIP[f"{column}: digits exchanged"] = digits(column)
KINDS_OF_SLIP |= {
    "cut_time: minutes under [s], or seconds under [min]": unit_slip("cut_time", {"s": 1 / 60, "min": 60}),
    "work_thickness: mm under [in], or inches under [mm]": unit_slip("work_thickness", {"in": 25.4, "mm": 1 / 25.4}),
    "cut_travel: mm under [in], or inches under [mm]": unit_slip("cut_travel", {"in": 25.4, "mm": 1 / 25.4}),
    "band_speed: m/min under [ft/min], or back": unit_slip("band_speed", {"ft/min": 1 / 3.2808, "m/min": 3.2808}),
    "feed_rate: mm/min under [in/min], or back": unit_slip("feed_rate", {"in/min": 25.4, "mm/min": 1 / 25.4}),
    "feed_force: N under [lbf], or back": unit_slip("feed_force", {"lbf": 4.4482, "N": 1 / 4.4482}),
    "motor_power: W under [kW], or back": unit_slip("motor_power", {"kW": 1000, "W": 1 / 1000, "hp": 745.7}),
    "deviation: thousandths": unit_slip("deviation", {"mm": 39.37, "in": 1000}),
}


def dated(log: Log) -> int | None:
    at = log.at("started")
    return at if at is not None and any(row[at] for row in log.cuts[1:]) else None


@slip("a cut logged twice")
def twice(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    if dated(log) is None:
        return None
    row = int(rng.integers(1, len(log.cuts)))
    again = list(log.cuts[row])
    again[log.at("cut") or 0] = str(len(log.cuts) + 100)
    log.cuts.insert(row + 1, again)
    return "cuts", row + 2


@slip("a cut before its band was fitted")
def before(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = dated(log)
    if at is None or "fitted" not in log.bands[0]:
        return None
    fitted = log.bands[0].index("fitted")
    row = int(rng.integers(1, len(log.cuts)))
    own = next(band for band in log.bands[1:] if band[0] == log.cuts[row][log.at("band") or 0])
    if not own[fitted]:
        return None
    log.cuts[row][at] = str(np.datetime64(own[fitted][:10]) - int(rng.integers(2, 20))) + "T09:00"
    return "cuts", row + 1


@slip("another band's name")
def other_band(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("band") or 0
    bands = [band[0] for band in log.bands[1:]]
    row = int(rng.integers(1, len(log.cuts)))
    others = [band for band in bands if band != log.cuts[row][at]]
    if not others:
        return None
    log.cuts[row][at] = str(rng.choice(others))
    return "cuts", row + 1


@slip("two bands at once on a machine")
def at_once(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    if not {"fitted", "removed"} <= set(log.bands[0]):
        return None
    machine, fitted, removed = (log.bands[0].index(name) for name in ("machine", "fitted", "removed"))
    order = sorted((n for n in range(1, len(log.bands)) if log.bands[n][fitted]),
                   key=lambda n: (log.bands[n][machine], log.bands[n][fitted]))  # fmt: skip
    pairs = [(a, b) for a, b in pairwise(order) if log.bands[a][machine] == log.bands[b][machine]
             and log.bands[a][removed]]  # fmt: skip
    if not pairs:
        return None
    one, two = pairs[int(rng.integers(len(pairs)))]
    log.bands[one][removed] = str(np.datetime64(log.bands[two][fitted][:10]) + int(rng.integers(2, 9)))
    return "bands", two + 1


@slip("a cut that overlaps the one before")
def overlap(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at, machine = dated(log), log.at("machine")
    if at is None or machine is None:
        return None
    opened = study.open_study(log.copy().write(Path(tempfile.mkdtemp()) / "study"))
    took = (opened.cuts["cut_time"] * opened.cuts["pieces"]).to_numpy(float)
    rows = [n for n in range(2, len(log.cuts)) if took[n - 2] > 8 and log.cuts[n][machine] == log.cuts[n - 1][machine]]
    if not rows:
        return None
    row = int(rng.choice(rows))
    begun = np.datetime64(log.cuts[row - 1][at]) + np.timedelta64(int(took[row - 2] * rng.uniform(0.05, 0.6)), "m")
    log.cuts[row][at] = str(begun)[:16]
    return "cuts", row + 1


@slip("a year of 2097")
def far_year(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = dated(log)
    if at is None:
        return None
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] = "2097" + log.cuts[row][at][4:]
    return "cuts", row + 1


@slip("an offset from universal time")
def offset(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = dated(log)
    if at is None:
        return None
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] += "+02:00"
    return "cuts", row + 1


@slip("a meter that stands still")
def still(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("motor_power")
    if at is None:
        return None
    rows = [n for n in range(1, len(log.cuts)) if log.cuts[n][at]]
    if len(rows) < 20:
        return None
    first = int(rng.integers(0, len(rows) - 16))
    for n in rows[first : first + 16]:
        log.cuts[n][at] = log.cuts[rows[first]][at]
    return "cuts", rows[first] + 1


@slip("a name in another case")
def other_case(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("material") or 0
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] = log.cuts[row][at].upper()
    return "cuts", row + 1


@slip("a number written another way")
def other_number(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    row, at = int(rng.integers(2, len(log.cuts))), log.at("cut") or 0
    log.cuts[row][at] = "0" + log.cuts[row - 1][at]
    return "cuts", row + 1


@slip("exclude says no")
def says_no(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    at = log.at("exclude")
    if at is None:
        log.cuts = [[*row, ""] for row in log.cuts]
        log.cuts[0][-1], at = "exclude", len(log.cuts[0]) - 1
    row = int(rng.integers(1, len(log.cuts)))
    log.cuts[row][at] = str(rng.choice(["no", "0", "FALSE", "n/a"]))
    return "cuts", row + 1


@slip("feet and inches with a dash")
def dashed(log: Log, rng: np.random.Generator) -> tuple[str, int] | None:
    found = filled(log, "cut_travel", rng)
    if not found or log.unit("cut_travel") != "in" or float(log.cuts[found[0]][found[1]]) < 12:
        return None
    row, at = found
    feet, inches = divmod(float(log.cuts[row][at]), 12)
    log.cuts[row][at] = f"{feet:.0f}'-{inches:g}\""
    return "cuts", row + 1


# the benchmark


def run(logs: int, books: int, missed: bool) -> tuple[pd.DataFrame, int, int]:
    """(a row per slip, questions about clean cuts, clean cuts)."""
    made, asked, clean = [], 0, 0
    place = Path(tempfile.mkdtemp())
    for n, log in enumerate(clean_logs(logs)):
        for book in (False, True)[: 1 + (n < books)]:
            folder = log.write(place / "clean", book)
            opened = study.open_study(folder)
            said = before_of(folder)
            clean += len(opened.cuts)
            asked += sum(len(problem.rows) or 1 for problem in study.check(folder)) - KNOWN.get(log.name, 0)
            for k, (kind, plant) in enumerate(KINDS_OF_SLIP.items()):
                slipped = log.copy()
                where = plant(slipped, np.random.default_rng([n, k]))
                if where is None:
                    continue
                changed = slipped.write(place / "slipped", book)
                ok = caught(changed, where, said, opened)
                made.append({"log": log.name, "kind": kind, "book": book, "caught": ok})
                if missed and not ok:
                    print(f"missed: {log.name}, {where}, {kind}: {difference(log, slipped)}")
    shutil.rmtree(place)
    return pd.DataFrame(made), asked, clean


KNOWN = {"sample_study": 1}
"""Lines that a clean log deserves: in the sample study a clamp slipped, and its row is said."""


def before_of(folder: Path) -> set[tuple[str, int, str]]:
    return {(problem.file[:4], row, problem.message) for problem in study.check(folder)
            for row in problem.rows or (problem.row or 0,)}  # fmt: skip


def caught(folder: Path, where: tuple[str, int], said: set, clean: study.Study) -> bool:
    """Whether `check` names the row of the slip as it did not before, or the values read are those of the clean log."""
    now = before_of(folder)
    if any((file, row) == (where[0][:4], where[1]) and (file, row, words) not in said for file, row, words in now):
        return True
    try:
        opened = study.open_study(folder)
    except study.StudyError:
        return False
    columns = [name for name in clean.cuts if name in opened.cuts]
    return len(opened.cuts) == len(clean.cuts) and bool(
        study.cut_table(opened).equals(study.cut_table(clean)) and opened.cuts[columns].equals(clean.cuts[columns])
        and opened.bands.equals(clean.bands)
    )  # fmt: skip


def difference(one: Log, other: Log) -> str:
    for a, b in zip(one.cuts, other.cuts, strict=False):
        if a != b:
            return "; ".join(f"{x} -> {y}" for x, y in zip(a, b, strict=False) if x != y)
    return ""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--logs", type=int, default=20)
    parser.add_argument("--books", type=int, default=5, help="logs that are tried as workbooks too")
    parser.add_argument("--missed", action="store_true", help="print every slip that was missed")
    args = parser.parse_args()
    made, asked, clean = run(args.logs, args.books, args.missed)
    table = made.groupby("kind")["caught"].agg(["sum", "count"]).rename(columns={"sum": "caught", "count": "planted"})
    print(table.to_string())
    shares = [f"{words} {made.loc[made['book'] == book, 'caught'].mean():.1%}"
              for words, book in (("CSV", False), ("workbook", True)) if (made["book"] == book).any()]  # fmt: skip
    share, logs = made["caught"].mean(), made["log"].nunique()
    print(f"{len(made)} slips of {len(table)} kinds in {logs} logs: {share:.1%} caught ({', '.join(shares)})")
    print(f"{asked} lines about {clean:,} clean cuts: {100 * asked / clean:.2f} per 100")


if __name__ == "__main__":
    main()
