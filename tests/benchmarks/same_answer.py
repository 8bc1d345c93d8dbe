"""Is it the same answer whatever the seed and the processor? Every job of a study, many seeds, several core types.

    nice python tests/benchmarks/same_answer.py [--seeds 50] [--cores SkylakeX Haswell Nehalem] [STUDY ...]

Each core type runs in a process of its own, as OpenBLAS and NumPy choose their kernels when they load; below SkylakeX
NumPy goes without AVX-512, below Haswell without AVX2. Where Haswell's kernels end the process (see .ci), leave
them out. A line a job: how often the dial, the feed, the verdict and each limit's verdict are those that most seeds
get, and the least and greatest of the cost and of the ends of its interval, as parts of the width of the interval. Demo
and sample study unless studies are named.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
HERE = Path(__file__).resolve()
STUDIES = [HERE.parents[2] / "trial_data" / "demo_shop"]
WITHOUT = {
    "SkylakeX": "",
    "Haswell": "AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL AVX512_ICL AVX512_SPR",
    "Sandybridge": "AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL AVX512_ICL AVX512_SPR AVX2 FMA3",
    "Nehalem": "AVX512F AVX512CD AVX512_SKX AVX512_CLX AVX512_CNL AVX512_ICL AVX512_SPR AVX2 FMA3",
}


def main() -> None:
    """Run each core type, then print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("studies", nargs="*", type=Path, default=STUDIES, metavar="STUDY")
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--cores", nargs="+", default=list(WITHOUT), choices=list(WITHOUT))
    parser.add_argument("--here", action="store_true", help="run in this process and print the answers as JSON")
    args = parser.parse_args()
    if args.here:
        for answer in answers(args.studies, args.seeds):
            print(json.dumps(answer), flush=True)
        return
    got = []
    for core in args.cores:
        known = _features(WITHOUT[core].split())
        env = os.environ | {"OPENBLAS_CORETYPE": core, "NPY_DISABLE_CPU_FEATURES": " ".join(known)}
        command = [sys.executable, str(HERE), "--here", "--seeds", str(args.seeds), *map(str, args.studies)]
        lines = subprocess.run(command, env=env, stdout=subprocess.PIPE, text=True, check=True).stdout.splitlines()
        got += [json.loads(line) | {"core": core} for line in lines]
    for job in dict.fromkeys(answer["job"] for answer in got):
        table(job, [answer for answer in got if answer["job"] == job], args.cores)


def _features(names: list[str]) -> list[str]:
    """Those that this NumPy can do without: of others it says a warning."""
    code = "from numpy._core._multiarray_umath import __cpu_dispatch__; print(*__cpu_dispatch__)"
    said = subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, check=True).stdout.split()
    return [name for name in names if name in said]


def answers(studies: list[Path], seeds: int):
    """The answer to every job of every study, by seed."""
    from bandtrial import wear
    from bandtrial.recommend import NotYet, recommend
    from bandtrial.study import open_study

    for path in studies:
        study = open_study(path)
        stock = study.bands.set_index("band")["stock"]
        used = study.cuts.assign(stock=study.cuts["band"].map(stock))
        jobs = used.groupby(["machine", "stock", "material"])["work_thickness"].agg(lambda x: x.mode().iloc[0])
        for seed in range(seeds):
            fit = wear.fit(study, seed=seed)
            for (machine, band, material), thick in jobs.items():
                job = f"{path.name}: {material}, {thick:g} mm, {machine}, {band}"
                try:
                    told = recommend(fit, study, machine, band, material, float(thick))
                except NotYet as no:
                    yield {"job": job, "seed": seed, "verdict": type(no).__name__}
                    continue
                limits = {limit.name: bool(limit.ok) for limit in told.limits}
                yield {
                    "job": job,
                    "seed": seed,
                    "verdict": told.status.split(":")[0],
                    "dial": round(told.setting.indicated, 1),
                    "feed": round(told.setting.feed, 1),
                    "limits": limits,
                    "cost": [told.setting.cost.value, told.setting.cost.low, told.setting.cost.high],
                }


def table(job: str, got: list[dict], cores: list[str]) -> None:
    """One job's lines: all core types together, and each."""
    print(job)
    for core in ["all", *cores]:
        mine = [answer for answer in got if core in ("all", answer["core"])]
        said = [f"{len(mine)} answers"]
        for key in ("dial", "feed", "verdict"):
            value, n = Counter(answer.get(key) for answer in mine).most_common(1)[0]
            said.append(f"{key} {value} in {n}")
        names = {name for answer in mine for name in answer.get("limits", {})}
        least = min(
            (Counter(a.get("limits", {}).get(name) for a in mine).most_common(1)[0][1], name) for name in names | {""}
        )
        said.append(f"limits agree in {least[0]} at least{f' ({least[1]})' if least[1] else ''}")
        costs = np.array([answer["cost"] for answer in mine if "cost" in answer])
        if len(costs):
            width = np.median(costs[:, 2] - costs[:, 1])
            spread = np.ptp(costs, axis=0) / width
            said.append("cost, low, high move by " + ", ".join(f"{100 * x:.0f}" for x in spread) + " % of the width")
        print(f"  {core:<9}", "; ".join(said), flush=True)


if __name__ == "__main__":
    main()
