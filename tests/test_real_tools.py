"""The end of real tools foretold, in short (the full table: tests/benchmarks/real_tools.py).

Milling tools of A. Agogino and K. Goebel, "Milling Data Set", NASA Ames Prognostics Data Repository, 2007, written as
bands: what is bent is in tests/data/realdata/README.md.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from real_tools import bandtrial_says
from tool_rivals import ruler
from worn_tools import milling

SHARE = 0.75


def test_at_three_quarters_of_life_the_watch_beats_a_ruler_and_its_interval_holds():
    """Every fourth tool left out, the others whole. A ruler through the readings to the end level is twice as far off
    at least; of four 80 % intervals, one or none would hold in 1 case of 37."""
    fleet, off, by_ruler, held = milling(), [], [], 0
    for at in range(1, len(fleet.tools), 4):
        tool, others = fleet.tools[at], fleet.tools[:at] + fleet.tools[at + 1 :]
        left = (1 - SHARE) * tool.life
        middle, low, high = bandtrial_says(fleet, at, SHARE)
        off.append(abs(middle - left) / tool.life)
        by_ruler.append(abs(ruler(others, tool, SHARE * tool.life, fleet.limit)[0] - left) / tool.life)
        held += low <= left <= high
    assert len(off) == 4 and np.mean(off) < 0.5 * np.mean(by_ruler)
    assert held >= 2
