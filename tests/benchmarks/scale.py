"""Time and memory of a study as its log grows from 1,000 to 1,000,000 cuts. Everything here is invented.

    python tests/benchmarks/scale.py [--cuts 1000 10000 100000 1000000] [--keep FOLDER]

Each size runs in a process of its own that opens and checks the folder, makes the cut table, fits, watches and
writes the report, one after the other; shown are the seconds of each and the peak memory up to there. The folders
are written straight from arrays: up to 50 cuts of 20 pieces a band on one machine, two materials, motor power that
grows with wear, Weibull lives. `--keep` leaves them there.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

PER_BAND, PIECES = 50, 20
STAGES = ("open", "cut table", "fit", "watch", "report")
LIMIT_MB = 4000
TOML = """\
# Invented by a benchmark: no such machine, band or cut exists.
[study]
name = "Invented shop, {cuts:,} cuts"
question = "Does a long log answer in time?"
units = "metric"
currency = "EUR"

[costs]
machine_and_labor_per_hour = 60
band_change_minutes = 12
scrapped_piece = 20

[machines.saw1]
kind = "vertical"
feed = "rate"
band_speed_ranges = [["20 m/min", "120 m/min"]]
band_length = "4000 mm"
motor_power = "2.2 kW"

[band_stock.s6]
pitch = "6 tpi"
edge = "bimetal"
price = 60

[materials.plate]
group = "medium-carbon steel"

[materials.ring]
group = "bearing steel"
"""


def write_folder(cuts: int, folder: Path, seed: int = 1, order: int = 1) -> Path:
    """A study folder of so many cuts: wear per cut c / tau, tau = 8 min (V/60)^-6 (h/10)^-1, shape 3.

    order : cuts in a row at one setting
    """
    rng = np.random.default_rng(seed)
    n = cuts * 2 // PER_BAND  # more than enough: some die early
    band = np.repeat(np.arange(n), PER_BAND)
    orders = len(band) // order
    V = np.repeat(np.round(60 * np.exp(rng.normal(0, 0.15, orders)), 1).clip(20, 120), order)
    h = np.repeat(10 * np.exp(rng.normal(0, 0.25, orders)), order)
    F = np.round(h * V / (25.4 / 6), 1)  # um m/min / mm = mm/min
    t = np.round(120.0 / F * 60, 1)  # s
    wear = PIECES * t / 60 * 40 / 4000 / (8 * (V / 60) ** -6 * (h / 10) ** -1)
    wear = (wear * np.exp(rng.normal(0, 0.15, n))[band]).reshape(n, PER_BAND)
    used, life = np.cumsum(wear, axis=1), rng.weibull(3, (n, 1))
    made = np.flatnonzero((used - wear < life).ravel())[:cuts]  # begun before the end
    died = (used[:, -1:] > life)[:, 0]
    power = 0.4 * (V / 60) * (h / 10) ** 0.7 * (1 + 0.8 * used.ravel()) * np.exp(rng.normal(0, 0.04, len(band)))
    table = pd.DataFrame({
        "cut": np.arange(1, cuts + 1), "machine": "saw1", "band": np.char.add("B", band[made].astype(str)),
        "material": np.where(band[made] % 2, "plate", "ring"), "work_thickness [mm]": 40, "cut_travel [mm]": 120,
        "band_speed [m/min]": V[made], "feed_rate [mm/min]": F[made], "cut_time [s]": t[made], "pieces": PIECES,
        "motor_power [kW]": np.round(power[made], 3),
        "started": np.datetime_as_string(np.datetime64("2000-01-01T07:00") + 30 * np.arange(cuts), unit="m"),
    })  # fmt: skip
    last = band[made[-1]] + 1
    end = np.where(died[:last], "dull", "removed_sound").astype(object)
    end[-4:] = "in_service"
    bands = pd.DataFrame({"band": [f"B{k}" for k in range(last)], "stock": "s6", "machine": "saw1", "end": end})
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "study.toml").write_text(TOML.format(cuts=len(table)), encoding="utf-8")
    bands.to_csv(folder / "bands.csv", index=False, lineterminator="\n")
    table.to_csv(folder / "cuts.csv", index=False, lineterminator="\n")
    return folder


def stages(folder: Path, upto: str) -> None:
    """Run the stages in this process; a line of JSON each: name, seconds, processor seconds, peak MB, what came."""
    from bandtrial import report, study, watch, wear

    began, before = time.perf_counter(), time.process_time()

    def tell(name: str, what: str) -> None:
        nonlocal began, before
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        took = (time.perf_counter() - began, time.process_time() - before)
        print(json.dumps([name, *took, peak, what]), flush=True)
        began, before = time.perf_counter(), time.process_time()

    opened = study.open_study(folder)
    tell("open", f"{len(opened.cuts):,} cuts")
    table = study.cut_table(opened)
    tell("cut table", f"{table.memory_usage(deep=False).sum() / 1e6:.0f} MB")
    if upto in ("open", "cut table"):
        return
    fit = wear.fit(opened)
    tell("fit", fit.drawn.method)
    if upto == "fit":
        return
    seen = watch.watch(fit, opened)
    tell("watch", f"{len(seen.bands)} bands in service")
    if upto == "watch":
        return
    del fit, opened, table, seen
    out = report.write_report(folder, folder.parent / "report.html", made="2027-04-01")
    tell("report", f"{out.stat().st_size / 1e6:.1f} MB page, from the folder, fit included")


def measured(cuts: int, folder: Path, upto: str) -> None:
    write_folder(cuts, folder)
    size = (folder / "cuts.csv").stat().st_size / 1e6
    command = [sys.executable, __file__, "--stages", str(folder), "--upto", upto]
    child = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False)
    for line in child.stdout.splitlines():
        name, seconds, processor, peak, what = json.loads(line)
        mark = "" if peak <= LIMIT_MB else f"  OVER {LIMIT_MB} MB"
        figures = f"{seconds:>9.1f}{processor:>11.1f}{peak:>9.0f}"
        print(f"{cuts:>10,}{size:>9.1f}  {name:<10}{figures}  {what}{mark}", flush=True)
    if child.returncode:
        print(f"{cuts:>10,}  ended with {child.returncode}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cuts", type=int, nargs="+", default=[1000, 10_000, 100_000, 1_000_000])
    parser.add_argument("--upto", default="report", choices=STAGES)
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--stages", type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.stages:
        stages(args.stages, args.upto)
        return
    print(f"{'cuts':>10}{'CSV MB':>9}  {'stage':<10}{'seconds':>9}{'processor':>11}{'peak MB':>9}")
    for cuts in args.cuts:
        with tempfile.TemporaryDirectory() as scratch:
            measured(cuts, (args.keep or Path(scratch)) / f"study_{cuts}", args.upto)


if __name__ == "__main__":
    main()
