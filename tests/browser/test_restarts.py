"""Each notebook restarted and run again and again: `RESTARTS=20 pytest -s tests/browser/test_restarts.py`.

Left out without a count: the other tests run each notebook once, and twenty times take half an hour.
"""

import os
import time

import pytest

TIMES = int(os.environ.get("RESTARTS", "0"))
NOTEBOOKS = ("1_starting_settings", "2_plan_trial_cuts", "3_log_trial_cuts", "4_fit_and_check", "5_recommend",
             "6_study_report", "7_keep_watch")  # fmt: skip


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_restart_and_run_all_again_and_again(lab_page, name):
    lab = lab_page.open(f"notebooks/{name}.ipynb")
    shown = set()
    for n in range(1, TIMES + 1):
        begin = time.monotonic()
        lab.restart_and_run_all()  # every cell without an error, the kernel without a word
        print(f"{name}: {n} of {TIMES}, {time.monotonic() - begin:.0f} s", flush=True)
        shown.add((lab.cells(), lab.notebook.locator(".bandtrial-panel").count(), lab.plot().count()))
    assert len(shown) == 1  # as many cells, panels and pictures each time
