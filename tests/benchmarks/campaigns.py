"""Campaigns in worlds that nobody here wrote: about 100 minutes of the cuts that `plan` asks for, then `recommend`.

    python tests/benchmarks/campaigns.py --kind rate --seeds 0:20
    python tests/benchmarks/campaigns.py --kind hand --seeds 0:20 --leave-out deviation --old-bands
    python tests/benchmarks/campaigns.py --kind rate --seeds 0:20 --fixed-narrow --ideal --rivals book blind

Worlds are `bandtrial_lessons.worlds`: forms and constants both vary. Even seeds are for development; odd ones are
opened once, for a release's note (`--final`). Regret: true long-run cost of the setting over that of the best within
limits, less 1; the last line counts a refusal as the book's. Rivals in the same world: book (published speed, 10 um),
blind (0.72 of it, 16 um), factorial and random (as many minutes over a grid or at random, then `recommend`), gp
(scikit-optimize on costs read off short runs, if it is installed). --ideal: the ideal observer on the same cuts, who
knows the generator. A ! marks broken limits, a * an interval that missed. One process; start it with `nice`.
"""

from __future__ import annotations

import argparse
import signal
import tempfile
import time
import traceback
from collections import defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import campaign_rivals
import numpy as np
from asked import ask
from bandtrial_lessons.worlds import KINDS, World, logs
from bandtrial_lessons.worlds.observer import decide, observe
from bandtrial_lessons.worlds.path import read_log
from campaign_rivals import asked_for

LEAST = 4.0
"""Minutes below which no further run is asked for."""


@dataclass
class Outcome:
    """What came of one world. regret: {who: (regret, limits broken)}; held: {who: the 80 % interval holds}."""

    seed: int
    forms: dict[str, str]
    regret: dict[str, tuple[float, list[str]]] = field(default_factory=dict)
    held: dict[str, bool] = field(default_factory=dict)
    width: dict[str, float] = field(default_factory=dict)
    refused: str = ""
    crashed: str = ""
    note: str = ""
    lost: int = 0
    bands: int = 0
    minutes: float = 0.0
    seconds: float = 0.0


class TooLongError(Exception):
    """A world took more than its time."""


def campaign(world: World, args) -> str:
    """Follow `plan` until the minutes are used or it says stop; what went wrong on the way, "" if nothing."""
    while world.minutes < args.minutes - LEAST:
        left = args.minutes - world.minutes
        step = min(max(args.first - world.minutes, args.step), left)
        got = ask("plan", world.folder, *asked_for(world), "--minutes", f"{left if args.ahead else step:.1f}")
        if got.code or got.crashed or got.json is None:
            return f"plan: {got.words}"
        if got.json["stop"] or not got.json["runs"]:
            return ""
        make(world, got.json["runs"], step)
    return ""


def make(world: World, runs, step: float) -> None:
    """Make the runs of a plan, until `step` minutes are used; no more of it once a band has ended."""
    until, now = world.minutes + step, {}
    for run in runs:
        feed = run["feed_force_n"] if world.sheet.force_set else run["feed_rate_mm_min"]
        name = now.get(run["band"], run["band"])
        if name == "new":
            name = world.new_band()
        elif name not in world.bands:  # the plan's name for the band that it has just had fitted
            name = now[run["band"]] = list(world.bands)[-1]
        most = 1.5 * run["minutes"] + 1 if world.sheet.force_set else np.inf
        made = world.run(name, run["indicated_band_speed_m_min"], feed, run["cuts"], most)
        if made.ended or world.minutes >= until - 1:
            return


def recommended(world: World, out: Outcome, who: str = "bandtrial") -> None:
    """Ask for the setting and hold it against the truth."""
    got = ask("recommend", world.folder, *asked_for(world))
    if got.crashed or (got.code == 0 and got.json is None):
        out.crashed = out.crashed or f"recommend: {got.words}"
    elif got.code:
        out.refused = out.refused or f"recommend: {got.words}"
    if got.code or got.json is None:
        return
    feed = got.json["feed_force_n"] if world.sheet.force_set else got.json["feed_rate_mm_min"]
    at = got.json["indicated_band_speed_m_min"], feed
    cost = world.cost(*at, got.json["change_band_after_cm2"])
    low, high = got.json["cost_per_cm2_low"], got.json["cost_per_cm2_high"]
    out.held[who], out.width[who] = bool(low <= cost <= high), float(np.log(high / low))
    judge(world, out, who, *at, got.json["change_band_after_cm2"])


def judge(world: World, out: Outcome, who: str, indicated: float, feed: float, change_after=None) -> None:
    """Write down regret and limits broken of a setting."""
    regret = world.cost(indicated, feed, change_after) / world.truth.cost - 1
    out.regret[who] = float(regret), world.broken(indicated, feed)


def ideal(world: World, out: Outcome, seed: int) -> None:
    """The ideal observer on the same log."""
    worlds = observe(read_log(world.folder, world.sheet, world.dial), world.sheet, seed)
    told = decide(worlds)
    cost = world.cost(told.best.indicated, told.best.feed, told.best.change_after)
    out.held["ideal"], out.width["ideal"] = told.low <= cost <= told.high, float(np.log(told.high / told.low))
    judge(world, out, "ideal", told.best.indicated, told.best.feed, told.best.change_after)


def one_world(seed: int, args, home: Path) -> Outcome:
    """Everything asked for in one world; whatever goes wrong is written down."""
    world = World(seed, args.kind, home / "study", args.leave_out)
    out, start = Outcome(seed, world.forms), time.perf_counter()
    try:
        world.truth = world.best()
        if args.old_bands:
            logs.old_bands(world)
        before = world.lost()
        if args.fixed_narrow:
            logs.narrow_trial(world, args.minutes)
            said = ""
        else:
            said = campaign(world, args)
        out.lost, out.bands, out.minutes = world.lost() - before, len(world.bands), world.minutes
        out.note = said
        if "this is a fault in bandtrial" in said:
            out.crashed = said
        recommended(world, out)
        out.seconds = time.perf_counter() - start
        judge(world, out, "book", *campaign_rivals.book(world))
        if args.ideal:
            ideal(world, out, seed)
        for name in args.rivals:
            campaign_rivals.play(name, seed, args, home / name, out, judge, recommended)
    except Exception as error:
        if args.verbose:
            traceback.print_exc()
        out.crashed = out.crashed or f"{type(error).__name__}: {' '.join(str(error).split())}"
        out.seconds = out.seconds or time.perf_counter() - start
    return out


def line(out: Outcome) -> str:
    """One world in one line."""
    regrets = " ".join(f"{who} {regret:.3f}{'!' * bool(broken)}{'' if out.held.get(who, True) else '*'}"
                       for who, (regret, broken) in out.regret.items())  # fmt: skip
    over = out.regret.get("bandtrial", (0.0, []))[1]
    words = out.crashed or out.refused or out.note or (over and "breaks " + ", ".join(over)) or ""
    forms = ",".join(out.forms[what] for what in ("speed", "chip", "dulling", "deviation", "end"))
    told = f"{out.minutes:.0f} min, {out.bands} bands, {out.lost} lost, {out.seconds:.0f} s [{forms}]"
    return f"{out.seed:>5} {regrets} {told} {' '.join(words.split())[:160]}"


def table(outs: list[Outcome], args) -> None:
    """What the worlds say together."""
    broken = sum(bool(out.regret.get("bandtrial", (0, []))[1]) for out in outs)
    lost, took = [out.lost for out in outs], [out.seconds for out in outs]
    print(
        f"\n{args.kind}: {len(outs)} worlds; refused {sum(bool(o.refused) for o in outs)}, "
        f"crashed {sum(bool(o.crashed) for o in outs)}, plan refused {sum(bool(o.note) for o in outs)}, "
        f"limits broken {broken}; bands lost a campaign {np.mean(lost):.2f} (most {max(lost)}); "
        f"{np.mean([o.minutes for o in outs]):.0f} min of cutting, "
        f"{np.mean(took):.0f} s a campaign (longest {max(took):.0f})"
    )
    heads = f"{'median':>8}{'90 %':>8}{'worst':>8}{'worlds':>8}{'limits broken':>15}{'80 % holds':>12}{'width':>7}"
    print(f"{'regret':<30}{heads}")
    names = list(dict.fromkeys(who for out in outs for who in out.regret))
    for who in names:
        got = [out.regret[who] for out in outs if who in out.regret]
        of(who, [regret for regret, _ in got], sum(bool(b) for _, b in got), outs)
    counted = [out.regret.get("bandtrial", out.regret.get("book", (np.nan,)))[0] for out in outs]
    of("bandtrial, book where refused", counted, broken, [])
    by_form(outs)


def of(who: str, regrets: list[float], broken: int, outs: list[Outcome]) -> None:
    """One line of the table."""
    held = [out.held[who] for out in outs if who in out.held]
    width = [out.width[who] for out in outs if who in out.width]
    cover = f"{np.mean(held):>12.0%}{np.median(width):>7.2f}" if held else f"{'-':>12}{'-':>7}"
    told = f"{np.median(regrets):>8.3f}{np.quantile(regrets, 0.9):>8.3f}{max(regrets):>8.3f}{len(regrets):>8d}"
    print(f"{who:<30}{told}{broken:>15d}{cover}")


def by_form(outs: list[Outcome]) -> None:
    """Regret and coverage of bandtrial by the worlds' forms."""
    for what in outs[0].forms:
        groups = defaultdict(list)
        for out in outs:
            if "bandtrial" in out.regret:
                groups[out.forms[what]].append(out)
        told = (
            f"{name} {np.mean([o.held['bandtrial'] for o in some]):.0%} of {len(some)}, "
            f"{np.median([o.regret['bandtrial'][0] for o in some]):.2f}"
            for name, some in sorted(groups.items())
        )
        print(f"  {what + ', holds and median:':<30}{'; '.join(told)}")


def parsed(argv):
    """The options."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kind", default="rate", choices=KINDS)
    parser.add_argument("--seeds", default="0:20", metavar="FROM:TO", help="even seeds from FROM up to TO (0:20)")
    parser.add_argument("--final", action="store_true", help="the odd seeds instead: once, for the note")
    parser.add_argument("--minutes", type=float, default=100.0)
    parser.add_argument("--first", type=float, default=36.0, help="minutes of the first plans")
    parser.add_argument("--step", type=float, default=16.0, help="minutes of each plan after it")
    parser.add_argument("--ahead", action="store_true", help="plan all the minutes left, make --first or --step of it")
    parser.add_argument("--leave-out", default="", choices=("", "motor_power", "deviation"), metavar="SIGNAL")
    parser.add_argument("--old-bands", action="store_true", help="four old bands of mixed work in the log")
    parser.add_argument("--fixed-narrow", action="store_true", help="no plan: 3 bands, chips of 8 to 14 um")
    parser.add_argument("--rivals", nargs="+", default=[], choices=list(campaign_rivals.RIVALS))
    parser.add_argument("--ideal", action="store_true")
    parser.add_argument("--seconds", type=int, default=300, help="time limit of a world")
    parser.add_argument("--keep", metavar="FOLDER", help="keep the study folders here")
    parser.add_argument("--verbose", action="store_true")
    return parser.parse_args(argv)


def main(argv=None) -> None:
    """Run the worlds and print the table."""
    args = parsed(argv)
    low, high = (int(end) for end in args.seeds.split(":"))
    outs = []
    for seed in range(low + (low % 2 != args.final), high, 2):
        with tempfile.TemporaryDirectory() as home:
            where = Path(args.keep) / f"{args.kind}_{seed}" if args.keep else Path(home)
            outs.append(timed(seed, args, where))
        print(line(outs[-1]), flush=True)
    table(outs, args)


def timed(seed: int, args, where: Path) -> Outcome:
    """`one_world` within the time limit."""

    def stop(*_):
        raise TooLongError(f"more than {args.seconds} s")

    signal.signal(signal.SIGALRM, stop)
    signal.alarm(args.seconds * (1 + len(args.rivals)))
    try:
        return one_world(seed, args, where)
    finally:
        signal.alarm(0)


if __name__ == "__main__":
    main()
