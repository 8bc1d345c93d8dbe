"""The score that the watch keeps over a virtual year: does the interval hold what it says?

    python tests/benchmarks/score_kept.py [--kinds rate force_power] [--seeds 0:4] [--bands 30] [--every 5]

A shop in a world that nobody here wrote runs `--bands` bands one after another at one setting, each to its end, logs
about 25 rows a band, and asks the watch after every `--every` rows from the third band on. Printed is what the record
itself says at the end of the year, and of all years together how often the 80 % interval held, its width and how much
too long the rest was said to be, in lives. Even seeds are for development.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import tempfile
import time
import warnings
from pathlib import Path

from bandtrial import watch, wear
from bandtrial.study import band_table, cut_table, open_study
from bandtrial.watch.record import ROWS, Score, score
from bandtrial_lessons.worlds import World
from campaign_rivals import blind
from condition import ROWS as LOGGED
from condition import pieces_of_a_life

LEARNED = 2
"""Bands that end before the watch is asked for the first time."""


def year(seed: int, kind: str, args, home: Path) -> Score:
    """The record of one shop at the end of its year."""
    world = World(seed, kind, home / "study")
    setting = blind(world)
    pieces = max(1, round(pieces_of_a_life(world, *setting) / LOGGED))
    world.holding = True
    for number in range(args.bands):
        band, rows = world.new_band(), 0
        while world.bands[band].end == "in_service":
            world.run(band, *setting, 1, pieces=pieces)
            rows += 1
            if number >= LEARNED and rows % args.every == 0 and world.bands[band].end == "in_service":
                world.save()
                study = open_study(world.folder)
                watch.keep(watch.watch(wear.fit(study, draws=500), study), study)
    world.save()
    study = open_study(world.folder)
    return score(study, cut_table(study), band_table(study)) or Score(())


def table(kept: Score) -> str:
    """The record's own table."""
    return "\n".join("  ".join(f"{cell:>24}" for cell in row) for row in (ROWS, *kept.rows()))


def main(argv=None) -> None:
    """Print a year at a time, then all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kinds", nargs="+", default=["rate", "force_power"], choices=["rate", "force_power", "force"])
    parser.add_argument("--seeds", default="0:4", help="FROM:TO, every second one")
    parser.add_argument("--bands", type=int, default=30)
    parser.add_argument("--every", type=int, default=5)
    args = parser.parse_args(argv)
    start, every = time.perf_counter(), []
    first, last = (int(x) for x in args.seeds.split(":"))
    for kind in args.kinds:
        for seed in range(first, last, 2):
            with tempfile.TemporaryDirectory() as home:
                kept = year(seed, kind, args, Path(home))
            every.append(kept)
            print(f"\n{kind} {seed}, {time.perf_counter() - start:.0f} s: {kept.say()}\n{table(kept)}", flush=True)
    named = [(f"{n} ", kept) for n, kept in enumerate(every)]
    from dataclasses import replace

    past = [replace(one, band=name + one.band) for name, kept in named for one in kept.past]
    print(f"\nall: {Score(tuple(past)).say()}\n{table(Score(tuple(past)))}")


if __name__ == "__main__":
    warnings.filterwarnings("ignore")
    main()
