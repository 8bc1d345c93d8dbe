"""Short runs of `benchmarks/faults.py`: no acknowledged cut is lost or doubled, no output is there in part.

The long runs (1,000 kills, 200 of a workbook, two writers of 5,000 cuts) are the same commands with their usual counts.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

FAULTS = Path(__file__).parent / "benchmarks/faults.py"
LINE = re.compile(r"(\w+): acknowledged (\d+), found once (\d+), lost (\d+), twice (\d+), not opened (\d+), \d+ s")
SHORT = [("kill", 30, 5), ("crash", 7, 10), ("full", 2, 4), ("permission", 1, 1), ("cutoff", 5, 15),
         ("writers", 40, 80), ("spreadsheet", 8, 8), ("workbook", 8, 2), ("outputs", 1, 15)]  # fmt: skip


@pytest.mark.skipif(os.name != "posix", reason="the faults are made with POSIX means")
@pytest.mark.parametrize(("fault", "count", "at_least"), SHORT)
def test_no_acknowledged_cut_is_lost(fault, count, at_least):
    command = [sys.executable, FAULTS, fault, "--count", str(count), "--quick"]
    run = subprocess.run(command, capture_output=True, text=True, timeout=300)
    assert run.returncode == 0, run.stdout + run.stderr
    found = LINE.fullmatch(run.stdout.strip())
    assert found, run.stdout
    acknowledged, once, *wrong = map(int, found.groups()[1:])
    assert acknowledged == once >= at_least
    assert wrong == [0, 0, 0]
