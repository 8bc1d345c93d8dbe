"""Time and memory to open and check a long log and to make its cut table, from a thousand cuts to a million.

    python tests/benchmarks/study_scale.py --cuts 1000 10000 100000 1000000

The log repeats the cuts of tests/data/sample_study, each with a number and a start of its own; each size runs in a
process of its own, so that the peak memory is its own too.
"""

import argparse
import csv
import json
import resource
import subprocess
import sys
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path

SAMPLE = Path(__file__).parent.parent / "data/sample_study"


def write(folder: Path, cuts: int) -> None:
    """A study folder with so many cuts, each band with as many as the sample gives it, times over."""
    for name in ("study.toml", "bands.csv"):
        (folder / name).write_bytes((SAMPLE / name).read_bytes())
    with (SAMPLE / "cuts.csv").open(newline="") as file:
        head, *sample = csv.reader(file)
    start = datetime(2020, 1, 1)
    with (folder / "cuts.csv").open("w", newline="") as file:
        log = csv.writer(file, lineterminator="\n")
        log.writerow(head)
        for n in range(cuts):
            when = start + timedelta(minutes=n)
            log.writerow([n + 1, when.isoformat(timespec="minutes"), *sample[n % len(sample)][2:]])


def measure(folder: Path) -> dict[str, float]:
    """Seconds to open (which checks), to make the cut table, of the processor in all; peak memory [GB]."""
    from bandtrial import study

    begin = time.perf_counter()
    opened = study.open_study(folder)
    open_s = time.perf_counter() - begin
    table = study.cut_table(opened)
    table_s = time.perf_counter() - begin - open_s
    cpu_s = time.process_time()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    return {"cuts": len(table), "open_s": open_s, "cut_table_s": table_s, "cpu_s": cpu_s, "peak_GB": peak}


def main() -> int:
    parser = argparse.ArgumentParser(description="Time and memory of long logs.")
    parser.add_argument("--cuts", type=int, nargs="+", default=[1000, 10_000, 100_000, 1_000_000])
    parser.add_argument("--folder", help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.folder:
        print(json.dumps(measure(Path(arguments.folder))))
        return 0
    for cuts in arguments.cuts:
        with tempfile.TemporaryDirectory() as folder:
            write(Path(folder), cuts)
            run = [sys.executable, __file__, "--folder", folder]
            found = json.loads(subprocess.run(run, capture_output=True, text=True, check=True).stdout)
        print(", ".join(f"{name} {value:.2f}" if value % 1 else f"{name} {value:.0f}" for name, value in found.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
