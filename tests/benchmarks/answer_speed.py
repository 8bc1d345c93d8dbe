"""How long `recommend` and `plan` take: from the shell, all imports and the fit included, and from a fitted object.

    python tests/benchmarks/answer_speed.py [--study trial_data/demo_shop] [--times 5]

For each machine of the study and the material most cut on it. Prints median and greatest seconds, of the processor
and by the clock; ends with 1 where a median by the clock is above 2 s from the shell or 0.1 s from a fitted object.
`plan`, asked for 100 minutes, has no target of its own. Run it on a machine that does nothing else.
"""

import argparse
import os
import resource
import statistics
import subprocess
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only get in each other's way

from bandtrial import recommend, study, trials, wear

COLD, WARM = 2.0, 0.1
USUAL = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}  # as people run it


def jobs(shop):
    """Machine, stock, material and thickness [mm] of the most usual work of each machine."""
    for machine, cuts in shop.cuts.groupby("machine"):
        mine = cuts[cuts["material"] == cuts["material"].mode()[0]]
        stock = shop.bands.set_index("band").loc[mine["band"].iloc[0], "stock"]
        yield str(machine), str(stock), str(mine["material"].iloc[0]), float(mine["work_thickness"].median())


def timed(what, times: int):
    """(processor, clock) seconds of each of `times` calls, programs that are started counted in."""
    spent = []
    for _ in range(times):
        clock, cpu = time.perf_counter(), processor()
        what()
        spent.append((processor() - cpu, time.perf_counter() - clock))
    return list(zip(*spent, strict=True))


def processor() -> float:
    """Processor seconds of this program and of those that it has started and that have ended."""
    of = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(use.ru_utime + use.ru_stime for use in of)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--study", default="trial_data/demo_shop")
    parser.add_argument("--times", type=int, default=5)
    args = parser.parse_args()
    shop = study.open_study(args.study)
    fit = wear.fit(shop)
    slow = False
    print(f"{'':44s}{'processor':>18s}{'clock':>18s}   (median, greatest) [s]")
    for job in jobs(shop):
        machine, stock, material, thickness = job
        words = ["--machine", machine, "--stock", stock, "--material", material, "--thickness", f"{thickness} mm"]
        shell = [sys.executable, "-m", "bandtrial", "recommend", args.study, *words, "--json"]
        for name, what, most in (
            (
                "recommend, from the shell",
                lambda shell=shell: subprocess.run(shell, check=True, stdout=subprocess.DEVNULL, env=USUAL),
                COLD,
            ),
            ("recommend, from a fit", lambda job=job: recommend.recommend(fit, shop, *job), WARM),
            ("plan, from a fit", lambda job=job: trials.plan(fit, shop, *job, minutes=100.0), float("inf")),
        ):
            cpu, clock = timed(what, args.times)
            slow |= statistics.median(clock) > most
            columns = " ".join(f"{statistics.median(t):10.3f},{max(t):6.3f}" for t in (cpu, clock))
            print(f"{machine + ' ' + material + ', ' + name:44s}{columns}")
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
