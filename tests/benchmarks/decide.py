"""Benchmark of the decision: how far the recommended setting is from the best, and how soon `plan` gets there.

    python tests/benchmarks/decide.py [--shops 30] [--minutes 100] [--parts settings sequential] [--kinds ...]

Virtual shops whose physics are not the model's. The first table: regret, the true long-run cost of the setting over
that of the best one within limits, less 1, after `--minutes` of trial cuts. The second: minutes of trial cutting to a
regret of 0.05. The optimiser needs `pip install bayesian-optimization`. Everything is drawn from the seeds.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only get in each other's way

import argparse
import sys
import time
import warnings
from importlib.util import find_spec
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
import designs
import rivals
from diagnosis import diagnose, summary
from trial_shop import KINDS, TrialShop, shops

TARGET = 0.05
FIRST, STEP = 36.0, 16.0
"""Minutes of the first plan and of each that follows, where the whole trial is planned ahead."""
EARLY, SHORT, LATEST = 24.0, 8.0, 160.0
"""The same where minutes are counted, and when counting ends."""


def main(argv=None) -> None:
    """Run what is asked for and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--shops", type=int, default=30)
    parser.add_argument("--first", type=int, default=0, help="seed of the first shop")
    parser.add_argument("--minutes", type=float, default=100.0)
    parser.add_argument("--kinds", nargs="+", default=list(KINDS), choices=list(KINDS))
    parser.add_argument("--parts", nargs="+", default=["settings", "sequential"], choices=["settings", "sequential"])
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args(argv)
    started = time.perf_counter()
    if "settings" in args.parts:
        for kind in args.kinds:
            settings(kind, args)
    if "sequential" in args.parts:
        for kind in args.kinds:
            sequential(kind, args)
    print(f"\n{time.perf_counter() - started:.0f} s")


def settings(kind: str, args) -> None:
    """Regret of the recommendation and of its rivals after the same minutes."""
    ways = {"published start": rivals.published_start, "two-speed Taylor": rivals.two_speed_taylor}
    if find_spec("bayes_opt"):
        ways["Bayesian optimiser"] = rivals.bayesian_optimiser
    regret = {name: [] for name in ["recommend", *ways]}
    broken = dict.fromkeys(regret, 0)
    covered, why, bands, dead, refused = [], [], [], 0, 0
    for seed, shop in shops(kind, args.shops, args.first):
        got = None
        for fit, study in designs.by_plan(shop, FIRST, STEP, args.minutes):
            got = designs.answer(fit, study, shop)
        if got is None:
            refused += 1
        else:
            s = got.setting
            regret["recommend"].append(shop.regret(s.indicated, s.feed, s.change_after))
            broken["recommend"] += bool(shop.broken(s.indicated, s.feed))
            cost = shop.cost(s.indicated, s.feed, s.change_after)
            covered.append(s.cost.low <= cost <= s.cost.high)
            why.append(diagnose(fit, study, shop, got))
        dead += shop.dead()
        bands.append(len(shop.shop.bands))
        for name, way in ways.items():
            rival = TrialShop(kind, seed)
            setting = way(rival, args.minutes)
            regret[name].append(rival.regret(*setting))
            broken[name] += bool(rival.broken(*setting))
        if args.verbose:
            print(kind, seed, *(f"{name} {values[-1]:.3f}" for name, values in regret.items() if values), end=" ")
            print(" ".join(f"{name} {value:.2f}" for name, value in why[-1].items()) if got else "not yet", flush=True)
    print(f"\n{kind}: {args.shops} shops, {args.minutes:g} minutes of trial cuts")
    print(f"{'':<20}{'median':>8}{'90 %':>8}{'limits broken':>15}")
    for name, values in regret.items():
        print(f"{name:<20}{np.median(values):8.3f}{np.quantile(values, 0.9):8.3f}{broken[name]:15d}")
    print(
        f"80 % cost interval holds the truth in {np.mean(covered):.0%}; not yet: {refused}; "
        f"bands used: {sum(bands)}, of them ended: {dead}"
    )
    print(summary(why), flush=True)


def sequential(kind: str, args) -> None:
    """Minutes of trial cutting until the recommendation comes within TARGET of the best."""
    minutes: dict[str, list[float]] = {"plan": [], "factorial": [], "random": []}
    for seed, _ in shops(kind, args.shops, args.first):
        for name, of in minutes.items():
            shop = TrialShop(kind, seed)
            of.append(until_close(shop, chooser(name, shop)))
        if args.verbose:
            print(kind, seed, *(f"{name} {of[-1]:.0f}" for name, of in minutes.items()), flush=True)
    print(f"\n{kind}: minutes to a regret of {TARGET} ({LATEST:g} where not reached)")
    for name, of in minutes.items():
        missed = sum(m >= LATEST for m in of)
        print(f"{name:<20}{np.median(of):8.0f} median{np.mean(of):8.0f} mean{missed:4d} not reached")
    rival = np.minimum(*(np.median(minutes[name]) for name in ("factorial", "random")))
    print(f"better of factorial and random over plan: {rival / np.median(minutes['plan']):.2f}")


def chooser(name: str, shop):
    """The runs of one way of choosing, as fits after each."""
    if name == "plan":
        return designs.by_plan(shop, EARLY, SHORT, LATEST)
    return {"factorial": designs.factorial, "random": designs.random_settings}[name](shop, SHORT, LATEST)


def until_close(shop, fits) -> float:
    """Minutes when the regret first is within TARGET, LATEST if never."""
    for fit, study in fits:
        if shop.minutes >= LATEST:
            break
        got = designs.answer(fit, study, shop)
        if got and shop.regret(got.setting.indicated, got.setting.feed, got.setting.change_after) <= TARGET:
            return shop.minutes
    return LATEST


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    main()
