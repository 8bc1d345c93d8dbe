"""Slips of the pen planted in clean logs: how many are read as they were meant or said with their row, and how often
a clean cut is asked about.

    python tests/benchmarks/planted_slips.py [--logs 20] [--books 5] [--missed]

Clean logs are made by several hands: the sample study, the demo shop, and virtual shops of every kind, some in US and
some in metric units, fed at a rate, by a force, or by hand, with and without a reading of the motor; their cuts are
runs of daily work and trials. One slip at a time is planted, as CSV in every log and as a workbook in some. It is
caught where `check` names its row and did not before, or where the value read is that of the clean log.
"""

import argparse
import shutil
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
from bandtrial import study
from clean_logs import Log, clean_logs
from slips import KINDS_OF_SLIP


def run(logs: int, books: int, missed: bool) -> tuple[pd.DataFrame, int, int]:
    """(a row per slip, questions about clean cuts, clean cuts)."""
    made, asked, clean = [], 0, 0
    place = Path(tempfile.mkdtemp())
    for n, log in enumerate(clean_logs(logs)):
        for book in (False, True)[: 1 + (n < books)]:
            folder = log.write(place / "clean", book)
            opened = study.open_study(folder)
            said = before_of(folder)
            clean += len(opened.cuts)
            asked += sum(len(problem.rows) or 1 for problem in study.check(folder)) - KNOWN.get(log.name, 0)
            for k, (kind, plant) in enumerate(KINDS_OF_SLIP.items()):
                slipped = log.copy()
                where = plant(slipped, np.random.default_rng([n, k]))
                if where is None:
                    continue
                changed = slipped.write(place / "slipped", book)
                ok = caught(changed, where, said, opened)
                made.append({"log": log.name, "kind": kind, "book": book, "caught": ok})
                if missed and not ok:
                    print(f"missed: {log.name}, {where}, {kind}: {difference(log, slipped)}")
    shutil.rmtree(place)
    return pd.DataFrame(made), asked, clean


KNOWN = {"sample_study": 1}
"""Lines that a clean log deserves: in the sample study a clamp slipped, and its row is said."""


def before_of(folder: Path) -> set[tuple[str, int, str]]:
    return {(problem.file[:4], row, problem.message) for problem in study.check(folder)
            for row in problem.rows or (problem.row or 0,)}  # fmt: skip


def caught(folder: Path, where: tuple[str, int], said: set, clean: study.Study) -> bool:
    """Whether `check` names the row of the slip as it did not before, or the values read are those of the clean log."""
    now = before_of(folder)
    if any((file, row) == (where[0][:4], where[1]) and (file, row, words) not in said for file, row, words in now):
        return True
    try:
        opened = study.open_study(folder)
    except study.StudyError:
        return False
    columns = [name for name in clean.cuts if name in opened.cuts]
    return len(opened.cuts) == len(clean.cuts) and bool(
        study.cut_table(opened).equals(study.cut_table(clean)) and opened.cuts[columns].equals(clean.cuts[columns])
        and opened.bands.equals(clean.bands)
    )  # fmt: skip


def difference(one: Log, other: Log) -> str:
    for a, b in zip(one.cuts, other.cuts, strict=False):
        if a != b:
            return "; ".join(f"{x} -> {y}" for x, y in zip(a, b, strict=False) if x != y)
    return ""


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--logs", type=int, default=20)
    parser.add_argument("--books", type=int, default=5, help="logs that are tried as workbooks too")
    parser.add_argument("--missed", action="store_true", help="print every slip that was missed")
    args = parser.parse_args()
    made, asked, clean = run(args.logs, args.books, args.missed)
    table = made.groupby("kind")["caught"].agg(["sum", "count"]).rename(columns={"sum": "caught", "count": "planted"})
    print(table.to_string())
    shares = [f"{words} {made.loc[made['book'] == book, 'caught'].mean():.1%}"
              for words, book in (("CSV", False), ("workbook", True)) if (made["book"] == book).any()]  # fmt: skip
    share, logs = made["caught"].mean(), made["log"].nunique()
    print(f"{len(made)} slips of {len(table)} kinds in {logs} logs: {share:.1%} caught ({', '.join(shares)})")
    print(f"{asked} lines about {clean:,} clean cuts: {100 * asked / clean:.2f} per 100")


if __name__ == "__main__":
    main()
