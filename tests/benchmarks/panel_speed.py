"""How fast panels follow: a control is moved, the answer worked out, the picture drawn.

    python tests/benchmarks/panel_speed.py [--study trial_data/demo_shop] [--moves 11]

Prints the median and the slowest move of each control, in processor time and by the clock; ends with 1 where a
median is above 0.2 s by the clock. Runs without a browser: sending the picture to one takes some ms more.
"""

import argparse
import statistics
import sys
import time

from bandtrial import study, wear
from bandtrial.panels import check_fit, choose_setting, log_cuts, practice_copy, starting_settings

LONGEST = 0.2


def moves(count: int, folder: str):
    """(name, control, values to go through) of one control of each kind and panel."""
    shop = study.open_study(folder)
    fit = wear.fit(shop)
    first = fit.data.iloc[0]
    start, log = starting_settings(), log_cuts(practice_copy(folder))
    view = check_fit(fit, shop)
    view.view.value = "life against band speed"
    job = [first[name] for name in ("machine", "stock", "material")]
    choice = choose_setting(fit, shop, *job, f"{first['work_thickness']} mm")
    hour = choice.controls["hourly"]
    yield "start: material", start.material, [start.material.options[i] for i in range(1, count + 1)]
    yield "start: thickness", start.thickness, [f"{10 + i} mm" for i in range(count)]
    yield "log: work thickness, typed", log.fields.controls["work_thickness"], [f"{10 + i} mm" for i in range(count)]
    yield "fit: chip load, life view", view.controls["chip_load"], [5 + i for i in range(count)]
    yield "recommend: cost of an hour", hour, [hour.min + (i + 1) * hour.step for i in range(count)]
    yield "recommend: goal", choice.controls["goal"], ["highest-output", "lowest-cost"] * (count // 2)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--study", default="trial_data/demo_shop")
    parser.add_argument("--moves", type=int, default=11)
    args = parser.parse_args()
    slow = False
    print(f"{'control':30s} {'processor':>20s} {'clock':>20s}   (median, slowest) [s]")
    for name, control, values in moves(args.moves, args.study):
        spent, passed = [], []
        for value in values:
            cpu, clock = time.process_time(), time.perf_counter()
            control.value = value
            spent.append(time.process_time() - cpu)
            passed.append(time.perf_counter() - clock)
        slow |= statistics.median(passed) > LONGEST
        print(f"{name:30s} " + " ".join(f"{statistics.median(t):12.3f}, {max(t):6.3f}" for t in (spent, passed)))
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
