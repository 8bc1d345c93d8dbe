"""The end of real tools foretold, in short (the full table: tests/benchmarks/real_tools.py).

Milling tools of A. Agogino and K. Goebel, "Milling Data Set", NASA Ames Prognostics Data Repository, 2007, written as
bands: what is bent is in tests/data/realdata/README.md.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from bandtrial import wear
from bandtrial.study import open_study

sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))
from real_tools import bandtrial_says
from tool_rivals import ruler
from worn_tools import milling, turning, write

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


@pytest.mark.parametrize("at", [13, 2])
def test_a_log_far_from_the_priors_is_climbed_to_its_top(tmp_path, at):
    """Turning tools live minutes where bands live hours: a climb from the priors begins where wear has run away.
    Two that once left it there: decrements of 100 and more, 39 and 45 effective draws after 500 moves of the chains."""
    fit = wear.fit(open_study(write(tmp_path / "study", turning(), at, 0.25)))
    assert fit.mode.decrement < 20
    assert fit.drawn.good and fit.drawn.moves < 200
