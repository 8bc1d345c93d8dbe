"""Every notebook on a study of one's own: one line is changed, and it runs to its end without an error."""

from pathlib import Path

import pytest
from playwright.sync_api import expect

SAMPLE = Path(__file__).parents[1] / "data" / "sample_study"
SEEN = {  # what only this study has
    "1_starting_settings": "304 plate: true",
    "2_plan_trial_cuts": "s8",
    "4_fit_and_check": "Which band speed and feed for 3/4 in 304 plate on saw1?",
    "5_recommend": "plate_304, 0.75 in, saw1, s8",
    "6_study_report": "plate_304 on saw1",
}


@pytest.mark.parametrize("name", SEEN)
def test_one_line_makes_it_ones_own(lab_page, with_study, name):
    lab = lab_page.open(with_study(f"notebooks/{name}.ipynb", SAMPLE)).run_all()
    expect(lab.notebook.locator(".jp-Notebook")).to_contain_text(SEEN[name])
