"""Several plants with more cuts than one study may have, on an engine that exists. Everything here is invented.

    python3 -m venv duck && duck/bin/pip install duckdb
    python tests/benchmarks/plants.py --engine duck/bin/python [--plants 4] [--cuts 1000000] [--check]

Writes the plants' study folders (scale.py's, 25 cuts in a row at each setting), lets the engine run plants.sql over
them into one study, then opens, fits and watches that. `--check` opens every plant's own study as well and compares
each band's contact minutes, pieces, area and end with those of the merged study. DuckDB is no dependency.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
from pathlib import Path

from scale import write_folder

ORDER = 25
SQL = Path(__file__).with_suffix(".sql")
RUN = """
import duckdb, json, resource, sys, time
begin, engine = time.perf_counter(), duckdb.connect()
for one in sys.stdin.read().split(";\\n"):
    if one.strip():
        engine.execute(one)
rows = engine.execute("SELECT count(*) FROM log").fetchall()[0][0]
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([rows, time.perf_counter() - begin, time.process_time(), peak, duckdb.__version__]))
"""


def write_plants(folder: Path, plants: int, cuts: int) -> None:
    for n in range(1, plants + 1):
        write_folder(cuts, folder / f"plant{n}", seed=n, order=ORDER)


def merge(engine: str, plants: Path, merged: Path) -> list:
    """Run the SQL in the engine's own Python; cuts read, seconds, processor seconds, peak MB, version."""
    merged.mkdir()
    sql = SQL.read_text(encoding="utf-8").replace("PLANTS/", f"{plants}/").replace("MERGED/", f"{merged}/")
    told = subprocess.run([engine, "-c", RUN], input=sql, stdout=subprocess.PIPE, text=True, check=True).stdout
    settings(sorted(plants.glob("*/study.toml")), merged / "study.toml")
    return json.loads(told.splitlines()[-1])


def settings(parts: list[Path], out: Path) -> None:
    """study.toml of all: the first one's, with every plant's machines under the names the SQL gives them."""
    first = parts[0].read_text(encoding="utf-8")
    section = re.compile(r"^\[machines\.(\w+)\]\n(?:(?!^\[).*\n)*", re.M)
    machines = [
        found[0].replace(f"[machines.{found[1]}]", f"[machines.{path.parent.name}-{found[1]}]")
        for path in parts
        for found in section.finditer(path.read_text(encoding="utf-8"))
    ]
    out.write_text(section.sub("", first) + "\n" + "\n".join(machines), encoding="utf-8")


def sums(folder: Path, prefix: str = ""):
    """Contact minutes, pieces and area of each band, and the order of its settings, by its merged name."""
    from bandtrial import study

    cuts = study.cut_table(study.open_study(folder))
    cuts = cuts.assign(band=prefix + cuts["band"], area=cuts["cut_area"] * cuts["pieces"])
    speeds = cuts.groupby("band", sort=False)["band_speed"].agg(lambda v: tuple(v[v != v.shift()]))
    return cuts.groupby("band", sort=False)[["contact_minutes", "pieces", "area"]].sum().assign(speeds=speeds)


def check(plants: Path, merged: Path) -> str:
    """Every band of the plants against the merged study; AssertionError where they differ."""
    import pandas as pd

    own = pd.concat([sums(path, f"{path.name}-") for path in sorted(plants.iterdir())])
    all_ = sums(merged)
    assert list(own.index) == list(all_.index), "bands in another order"
    assert (own["speeds"] == all_["speeds"]).all(), "settings in another order"
    off = {name: float((all_[name] / own[name] - 1).abs().max()) for name in ("contact_minutes", "pieces", "area")}
    assert max(off.values()) < 1e-14, off  # sums of up to 50 terms, rounding
    return ", ".join(f"{name} within {value:.0e}" for name, value in off.items())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--engine", required=True, help="a Python that has duckdb")
    parser.add_argument("--plants", type=int, default=4)
    parser.add_argument("--cuts", type=int, default=1_000_000, help="of each plant")
    parser.add_argument("--check", action="store_true")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        plants, merged = Path(scratch) / "plants", Path(scratch) / "merged"
        write_plants(plants, args.plants, args.cuts)
        rows, seconds, processor, peak, version = merge(args.engine, plants, merged)
        runs = sum(1 for _ in (merged / "cuts.csv").open(encoding="utf-8")) - 1
        print(f"{rows:,} cuts -> {runs:,} runs: {seconds:.1f} s, {processor:.1f} s of processor, {peak:.0f} MB "
              f"(duckdb {version})", flush=True)  # fmt: skip
        if args.check:
            print(f"every band of the plants: {check(plants, merged)}", flush=True)
        run = [sys.executable, str(SQL.with_name("scale.py")), "--stages", str(merged), "--upto", "watch"]
        for line in subprocess.run(run, capture_output=True, text=True, check=True).stdout.splitlines():
            name, took, cpu, top, what = json.loads(line)
            print(f"merged study, {name}: {took:.1f} s, {cpu:.1f} s of processor, {top:.0f} MB, {what}", flush=True)


if __name__ == "__main__":
    main()
