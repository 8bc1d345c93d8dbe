"""Every notebook on a study of one's own: one line is changed, and it runs to its end without an error."""

import shutil
from pathlib import Path

import nbformat
import pytest
from playwright.sync_api import expect

SAMPLE = Path(__file__).parents[1] / "data" / "sample_study"
SEEN = {  # what only this study has
    "1_starting_settings": "304 plate: true",
    "2_plan_trial_cuts": "s8",
    "4_fit_and_check": "Which band speed and feed for 3/4 in 304 plate on saw1?",
    "5_recommend": "plate_304, 0.75 in, saw1, s8",
    "6_study_report": "plate_304 on saw1",
    "7_keep_watch": "saw1, plate_304",
}


@pytest.mark.parametrize("name", SEEN)
def test_one_line_makes_it_ones_own(lab_page, with_study, name, tmp_path):
    shop = shutil.copytree(SAMPLE, tmp_path / "shop")  # the watch writes its forecasts into it
    lab = lab_page.open(with_study(f"notebooks/{name}.ipynb", shop)).run_all()
    expect(lab.notebook.locator(".jp-Notebook")).to_contain_text(SEEN[name])


def test_a_path_may_be_typed_as_windows_writes_it(lab_page, server):
    """Only what stands between the quotes is changed, to `..\\shops\\my shop`."""
    shutil.copytree(SAMPLE, server.root / "shops" / "my shop", dirs_exist_ok=True)
    notebook = nbformat.read(server.root / "notebooks" / "1_starting_settings.ipynb", as_version=4)
    line = notebook.cells[1].source
    notebook.cells[1].source = line.replace("../trial_data/demo_shop", r"..\shops\my shop")
    assert notebook.cells[1].source != line
    nbformat.write(notebook, server.root / "notebooks" / "own_windows.ipynb")
    lab = lab_page.open("notebooks/own_windows.ipynb").run_all()
    expect(lab.notebook.locator(".jp-Notebook")).to_contain_text(SEEN["1_starting_settings"])


def test_a_folder_that_is_not_there_is_told_with_where_it_was_looked_for(lab_page, with_study, server):
    lab = lab_page.open(with_study("notebooks/1_starting_settings.ipynb", "my_study"))
    lab.press_restart_and_run_all()
    told = lab.notebook.locator(".jp-OutputArea-output").filter(has_text='STUDY: there is no folder "my_study".')
    expect(told).to_contain_text(f"It was looked for in {server.root}/notebooks, {server.root}, ")
    expect(lab.notebook.get_by_text("Traceback")).to_have_count(0)
    lab.settle()
    lab.expected = lab.kernel_said()
    assert len(lab.expected) == 1
