"""Is there always an answer, and do its grades hold? Hand-fed and set-force shops after 100 minutes of planned cuts.

    python tests/benchmarks/no_dead_end.py [--shops 100] [--minutes 100] [--feeds hand force] [--step 16] [--verbose]

Virtual shops whose physics are not the model's, of all kinds in turn. By hand: the pace is held to 10 %, times and
deviations are logged, no power. At a set force: times and deviations, no power. Cuts are those that `plan` asks for,
first for FIRST minutes and then --step at a time. Prints for each feed how many shops were left without an answer, and
for each grade how often the 80 % interval of the cost holds the true one, the regret (true cost over that of the best
setting, less 1), the true limits broken and the bands that ended. Ends with 1 where a shop has no answer.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only get in each other's way

import argparse
import sys
import time
import traceback
from dataclasses import replace
from pathlib import Path

import numpy as np
from bandtrial import trials, wear
from bandtrial.recommend import NotYet, recommend
from bandtrial_lessons.shop import NoSettingError
from bandtrial_lessons.shop.as_study import study_of

sys.path.insert(0, str(Path(__file__).parent))
import designs
from trial_shop import DRAWS, TrialShop

FIRST = 36.0
PACE = 0.10
"""sd of the log of a pace held by hand."""
KINDS = {"hand": ("any", "gentle", "bent_life", "strong_chip"), "force": ("any", "force_feed_thinning")}
MACHINES = {"hand": "vertical", "force": "weight_feed"}


class NoPowerShop(TrialShop):
    """A trial shop of a feed that logs no motor power; by hand its pace strays."""

    def __init__(self, feed: str, kind: str, seed: int):
        super().__init__(kind, seed, MACHINES[feed])
        self.by_hand = feed == "hand"
        self.rng = np.random.default_rng([seed, 13])
        if self.by_hand:
            self.machine = replace(self.machine, feed="hand", feed_rate_range=None)

    def cut(self, band, indicated, feed, cuts, minutes=np.inf):
        """Trial cuts as asked; by hand each at its own pace."""
        if not self.by_hand:
            return super().cut(band, indicated, feed, cuts, minutes)
        self.machine = replace(self.machine, feed="rate")
        for _ in range(cuts):
            pace = feed * float(np.exp(PACE * self.rng.standard_normal()))
            band = super().cut(band, indicated, pace, 1)
            if not self.shop.bands[band].alive:
                break
        self.machine = replace(self.machine, feed="hand")
        return band

    def study(self):
        """The log so far, as this shop would have written it."""
        made = study_of(self.shop)
        cuts = made.cuts.assign(motor_power=np.nan)
        if self.by_hand:
            cuts["feed_rate"] = np.nan
        return replace(made, machines={**made.machines, self.machine_id: self.machine}, cuts=cuts)

    def fit(self):
        """(fit, study) of the log so far."""
        study = self.study()
        return wear.fit(study, draws=DRAWS), study


def campaign(shop, minutes: float, step: float):
    """Cuts as `plan` asks for them until the minutes are used or it stops; (fit, study) at the end."""
    designs.make(shop, trials.plan(None, shop.study(), **shop.job, minutes=FIRST))
    while True:
        fit, study = shop.fit()
        left = minutes - shop.minutes
        if left < designs.LEAST:
            return fit, study
        plan = trials.plan(fit, study, **shop.job, minutes=min(step, left), horizon_cm2=1e9)
        if plan.stop:
            return fit, study
        designs.make(shop, plan)


def judged(feed: str, kind: str, seed: int, minutes: float, step: float) -> dict | None:
    """What came of one shop; None where it has no job."""
    try:
        shop = NoPowerShop(feed, kind, seed)
    except NoSettingError:
        return None
    row = {"kind": kind, "seed": seed, "grade": "none", "said": ""}
    try:
        fit, study = campaign(shop, minutes, step)
        got = recommend(fit, study, **shop.job)
    except (NotYet, ValueError, ArithmeticError, LookupError, np.linalg.LinAlgError) as no:
        last = traceback.extract_tb(no.__traceback__)[-1]
        at = "" if isinstance(no, NotYet) else f" ({Path(last.filename).name}:{last.lineno})"
        return row | {"said": f"{type(no).__name__}: {no}".replace("\n", " ") + at, "dead": shop.dead()}
    s = got.setting
    cost = shop.cost(s.indicated, s.feed, s.change_after)
    return row | {
        "grade": got.grade,
        "said": got.status,
        "regret": shop.regret(s.indicated, s.feed, s.change_after),
        "holds": s.cost.low <= cost <= s.cost.high,
        "width": np.log(s.cost.high / s.cost.low),
        "over": np.log(s.cost.value / cost),
        "broken": shop.broken(s.indicated, s.feed),
        "dead": shop.dead(),
        "failed": got.evidence["failed"],
    }


def shops_of(feed: str, args: argparse.Namespace):
    """Judged shops of a feed, as many as asked for."""
    rows, seed = [], args.first
    while len(rows) < args.shops:
        kind = KINDS[feed][seed % len(KINDS[feed])]
        row = judged(feed, kind, seed, args.minutes, args.step)
        seed += 1
        if row:
            rows.append(row)
            if args.verbose:
                figures = {k: round(v, 3) if isinstance(v, float) else v for k, v in row.items() if k != "said"}
                print(feed, figures, row["said"] if row["grade"] == "none" else "", flush=True)
    return rows


def main() -> int:
    """Run what is asked for and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--shops", type=int, default=100)
    parser.add_argument("--first", type=int, default=0, help="seed of the first shop")
    parser.add_argument("--minutes", type=float, default=100.0)
    parser.add_argument("--step", type=float, default=16.0, help="minutes of cuts between one fit and the next")
    parser.add_argument("--feeds", nargs="+", default=list(MACHINES), choices=list(MACHINES))
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args()
    started, silent = time.perf_counter(), 0
    for feed in args.feeds:
        rows = shops_of(feed, args)
        without = [row for row in rows if row["grade"] == "none"]
        silent += len(without)
        dead = sum(row["dead"] for row in rows)
        print(f"\n{feed}: {len(rows)} shops, {len(without)} without an answer, {dead} bands ended in their trials")
        for row in without:
            print(f"  {row['kind']} {row['seed']}: {row['said']}")
        print("grade     shops  80 % holds   width  regret 50    90 %   worst  limits")
        for grade in ("good", "rough"):
            own = [row for row in rows if row["grade"] == grade]
            if own:
                regret = [row["regret"] for row in own]
                print(
                    f"{grade:<8}{len(own):7d}{np.mean([row['holds'] for row in own]):12.0%}"
                    f"{np.median([row['width'] for row in own]):8.2f}{np.median(regret):11.3f}"
                    f"{np.quantile(regret, 0.9):8.3f}{max(regret):8.3f}{sum(bool(row['broken']) for row in own):8d}"
                )
    print(f"\n{time.perf_counter() - started:.0f} s")
    return int(silent > 0)


if __name__ == "__main__":
    sys.exit(main())
