"""Time and memory of the study report for 200 and 20,000 cuts of a virtual shop. Everything here is invented.

    python tests/benchmarks/report_scale.py [--cuts 200 20000] [--pdf]

Each report is made in a process of its own, from the study's folder to the page (and the PDF), twice: the second
figures are shown, so that no file is read from a cold disk.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd
from bandtrial_lessons.shop import Shop

ONE = "import sys; from bandtrial.report import write_report as w; w(sys.argv[1], sys.argv[2], pdf=sys.argv[3] == '1')"
PER_BAND = 25


def study_of(cuts: int, folder: Path) -> Path:
    """A log of about so many cuts: both machines and all materials of a shop, bands run for 25 cuts or to their end."""
    shop, L = Shop(11), 40.0
    best = {
        (m, k): shop.best_setting(material=k, work_thickness=L, machine=m)
        for m in shop.machines
        for k in shop.materials
    }
    rows, n = [], 0
    rng = np.random.default_rng(1)
    while n * PER_BAND < cuts:
        machine = list(shop.machines)[n % 2]
        band = shop.new_band(machine=machine)
        for i in range(PER_BAND):
            material = list(shop.materials)[i % len(shop.materials)]
            b, v, f = best[machine, material], rng.uniform(0.85, 1.1), rng.uniform(0.8, 1.1)
            feed = "feed_force" if shop.machines[machine].feed == "force" else "feed_rate"
            rows.append({"band": band, "band_speed": float(shop.indicated_speed(v * b.band_speed, machine)),
                         feed: f * b.feed * (1 if feed == "feed_force" else v), "material": material,
                         "work_thickness": L, "cut_travel": 100.0, "pieces": 8})  # fmt: skip
        n += 1
    shop.run(pd.DataFrame(rows))
    for band in list(shop.bands)[:-6]:
        if shop.bands[band].alive:
            shop.remove(band)
    return shop.write(folder, name=f"Virtual shop, {len(shop.cuts)} cuts", question="What does each job cost?")


def made(study: Path, out: Path, pdf: bool) -> tuple[float, float, float]:
    """Seconds, seconds of processor and peak MB of one report in a process of its own."""
    start, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, "-c", ONE, study, out, str(int(pdf))], check=True)
    seconds, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return seconds, processor, after.ru_maxrss / 1024


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cuts", type=int, nargs="+", default=[200, 20_000])
    parser.add_argument("--pdf", action="store_true")
    args = parser.parse_args()
    print(f"{'cuts':>8}{'seconds':>10}{'processor':>11}{'peak MB':>10}{'page MB':>10}{'beside MB':>11}")
    for cuts in sorted(args.cuts):  # the peak of children never falls, so the small one goes first
        with tempfile.TemporaryDirectory() as folder:
            study, out = study_of(cuts, Path(folder) / "study"), Path(folder) / "study.html"
            made(study, out, args.pdf)
            seconds, processor, peak = made(study, out, args.pdf)
            beside = sum(path.stat().st_size for path in Path(folder).glob("study[._]*") if path != out) / 1e6
            lines = len((study / "cuts.csv").read_text(encoding="utf-8").splitlines()) - 1
            page = out.stat().st_size / 1e6
            print(f"{lines:>8}{seconds:>10.1f}{processor:>11.1f}{peak:>10.0f}{page:>10.1f}{beside:>11.1f}", flush=True)


if __name__ == "__main__":
    main()
