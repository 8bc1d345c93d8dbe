"""How well the end of a real tool is foretold: leave one tool out, the others whole, at 25, 50 and 75 % of its life.

    python tests/benchmarks/real_tools.py [--fleets milling turning] [--shares 0.25 0.5 0.75] [--plot FILE.png]

The tools and what is bent to make bands of them: tests/data/realdata/README.md. Errors are of the remaining life, as
shares of the tool's whole life. `watch` is asked as a user would ask it. surpyval beside bandtrial is compared too
(`pip install surpyval`). A tool on which something fails counts as a failure, not as an error.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import numpy as np
from asked import ask
from tool_rivals import end_level, rivals
from worn_tools import FLEETS, write

COLLAPSED = 0.01
"""Width of an 80 % interval, in lives, under which it says more than anybody can know."""


def bandtrial_says(fleet, at: int, share: float):
    """Remaining life of a tool and its 80 % interval, by `bandtrial watch`, in the table's own time."""
    with tempfile.TemporaryDirectory() as home:
        got = ask("watch", write(Path(home) / "study", fleet, at, share))
    if got.code:
        raise RuntimeError(got.words)
    band = next(band for band in got.json["bands"] if band["band"] == fleet.tools[at].name)
    return tuple(fleet.slice * band[key] for key in ("pieces_left", "pieces_left_low", "pieces_left_high"))


def forecasts(fleet, shares) -> dict:
    """{who: [(tool, share, middle, low, high in lives, truth in lives) or the failure's words]}"""
    found = defaultdict(list)
    for at, tool in enumerate(fleet.tools):
        others = fleet.tools[:at] + fleet.tools[at + 1 :]
        level = end_level(others, fleet.limit if fleet.name.startswith("milling") else None)
        for share in shares:
            ways = {"bandtrial watch": lambda: bandtrial_says(fleet, at, share)}  # noqa: B023 - called at once
            ways |= {name: lambda way=way: way(others, tool, share * tool.life, level)  # noqa: B023
                     for name, way in rivals().items()}  # fmt: skip
            for name, way in ways.items():
                try:
                    told = np.array(way()) / tool.life
                    found[name].append((tool, share, *told, 1 - share))
                except Exception as error:
                    found[name].append((tool, share, f"{type(error).__name__}: {' '.join(str(error).split())}"))
    return found


def line(rows) -> str:
    """One line of the table, of the forecasts of one who at one share of life."""
    told = np.array([row[2:] for row in rows if len(row) == 6], float)
    failed = len(rows) - len(told)
    if not len(told):
        return f"{'':>56}{failed:>9d}"
    middle, low, high, truth = told.T
    error, known = middle - truth, np.isfinite(low)
    held = (low <= truth + 1e-9) & (truth <= high + 1e-9)
    intervals = f"{'-':>8}{'-':>8}{'-':>8}"
    if known.any():
        width = (high - low)[known]
        narrow = int((width < COLLAPSED).sum())
        intervals = f"{held[known].mean():>8.0%}{np.median(width):>8.2f}{narrow:>8d}"
    size = np.abs(error)
    errors = f"{np.mean(size):>8.3f}{np.median(size):>8.3f}{np.mean(error):>+8.3f}{np.median(error):>+8.3f}"
    return f"{errors}{intervals}{failed:>9d}"


def draw(path: str, fleets) -> None:
    """Each tool's forecasts as they would have been seen, against what came."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt

    panels = [(fleet, tool, found) for fleet, found in fleets for tool in fleet.tools]
    columns = 6
    figure, axes = plt.subplots(-(-len(panels) // columns), columns, figsize=(15, 13), squeeze=False)
    for ax in axes.flat:
        ax.set_axis_off()
    for ax, (fleet, tool, found) in zip(axes.flat, panels, strict=False):
        ax.set_axis_on()
        for row in found["bandtrial watch"]:
            if row[0] is tool and len(row) == 6:
                _, share, middle, low, high, _ = row
                ax.plot([share + low, share + high], [share] * 2, color="tab:blue")
                ax.plot([share + middle], [share], "o", color="tab:blue", ms=4)
        ax.axvline(1.0, color="black", lw=1)
        ax.set(title=f"{fleet.name}: {tool.name}", xlim=(0, 2.5), ylim=(0, 1))
    figure.supxlabel("end as foretold (80 % interval) and as it came (line), in lives of the tool")
    figure.supylabel("when it was foretold, share of life")
    figure.tight_layout()
    figure.savefig(path, dpi=70)


def tell(fleet, found, args, seconds: float) -> None:
    """Print the table of a fleet, and what failed."""
    print(f"\n{fleet.name}: {len(fleet.tools)} tools; errors of the remaining life in lives, {seconds:.0f} s")
    print(f"{'':<42}{'error':^16}{'bias':^16}{'80 % interval':^24}")
    heads = ("mean", "median", "mean", "median", "holds", "width", "<0.01")
    print(f"{'share of life':<42}{''.join(f'{head:>8}' for head in heads)}{'failed':>9}")
    for share in args.shares:
        for who, rows in found.items():
            print(f"{share:<15.0%}{who:<27}{line([row for row in rows if row[1] == share])}")
    for who, rows in found.items():
        for row in rows:
            if len(row) == 3:
                print(f"failed: {who}, {row[0].name} at {row[1]:.0%}: {row[2][:200]}")
            elif args.verbose and who == "bandtrial watch":
                print(f"{row[0].name:<5}{row[1]:.0%} left {row[5]:.2f}: {row[2]:.2f} ({row[3]:.2f} to {row[4]:.2f})")


def main(argv=None) -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--fleets", nargs="+", default=list(FLEETS), choices=list(FLEETS))
    parser.add_argument("--shares", nargs="+", type=float, default=[0.25, 0.5, 0.75])
    parser.add_argument("--plot", metavar="FILE", help="also draw every tool's forecasts")
    parser.add_argument("--verbose", action="store_true", help="every forecast of bandtrial, one a line")
    args = parser.parse_args(argv)
    drawn = []
    for name in args.fleets:
        start, fleet = time.perf_counter(), FLEETS[name]()
        found = forecasts(fleet, args.shares)
        drawn.append((fleet, found))
        tell(fleet, found, args, time.perf_counter() - start)
    if args.plot:
        draw(args.plot, drawn)


if __name__ == "__main__":
    main()
