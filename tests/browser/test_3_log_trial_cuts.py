"""Notebook 3 as a person uses it: three cuts logged and found on disk, one taken back, a table imported."""

import csv
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import expect

DATA = Path(__file__).parents[1] / "data"
NOTEBOOK = "notebooks/3_log_trial_cuts.ipynb"


@pytest.fixture
def own_study(with_study, tmp_path):
    """The notebook on a study of one's own: (notebook, folder)."""
    folder = tmp_path / "my shop"
    shutil.copytree(DATA / "sample_study", folder)
    return with_study(NOTEBOOK, folder), folder


def logged(folder: Path) -> list[dict]:
    with open(folder / "cuts.csv", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def says(lab, text: str):
    """The line in which a panel says it."""
    return lab.says().filter(has_text=text)


def test_three_cuts_are_on_disk(lab_page, own_study, shot):
    notebook, folder = own_study
    before = len(logged(folder))
    lab = lab_page.open(notebook).run_all()
    picture, cells = lab.plot(), lab.cells()
    lab.field("band").select_option(label="B10 · s8 · saw1")
    lab.field("material").select_option("304 plate")
    for name, value in {
        "work thickness [in]": "3/4",
        "cut travel [in]": "6",
        "band speed [ft/min]": "1400",
        "feed rate [in/min]": "7.4",
    }.items():
        lab.field(name).fill(value)
    expect(says(lab, "a slipped decimal point? 140 would fit")).to_have_count(1)
    lab.field("band speed [ft/min]").fill("140")
    expect(says(lab, "a slipped decimal point?")).to_have_count(0)

    for n, time in enumerate(("48", "0:49", "50 s"), start=1):
        lab.field("cut time [s]").fill(time)
        with lab.redraws(picture):
            if n == 2:  # once by keyboard, else by mouse
                lab.focus(lab.button("Save cut"))
                lab.press("Enter")
            else:
                lab.button("Save cut").click()
        expect(says(lab, f"Saved as cut {183 + n} of band B10.")).to_have_count(1)
        expect(lab.field("cut time [s]")).to_have_value("")
        assert len(logged(folder)) == before + n
    shot("3_log_trial_cuts")
    new = logged(folder)[-3:]
    assert [row["cut"] for row in new] == ["184", "185", "186"]
    assert [row["cut_time [s]"] for row in new] == ["48", "49", "50"]
    assert {row["work_thickness [in]"] for row in new} == {"0.75"}
    assert {row["band_speed [ft/min]"] for row in new} == {"140"}

    lab.button("Undo").click()
    expect(says(lab, "Undone: cut 186 of B10 logged.")).to_have_count(1)
    assert [row["cut"] for row in logged(folder)[-2:]] == ["184", "185"]
    lab.press("d", "d", "b", "x")
    assert len(logged(folder)) == before + 2
    assert lab.cells() == cells


def test_a_cut_without_its_time_is_not_saved(lab_page, own_study):
    notebook, folder = own_study
    before = (folder / "cuts.csv").read_bytes()
    lab = lab_page.open(notebook).run_all()
    lab.field("material").select_option("304 plate")
    lab.field("work thickness [in]").fill("3/4")
    lab.field("cut travel [in]").fill("6")
    lab.field("band speed [ft/min]").fill("140")
    lab.button("Save cut").click()
    expect(says(lab, "Nothing was saved.cut time: empty; a cut needs its cut time")).to_have_count(1)
    assert (folder / "cuts.csv").read_bytes() == before


def test_import_shows_every_slip(lab_page, own_study, shot):
    """The slips planted in sample_study_as_typed, each with its row as a spreadsheet counts it."""
    notebook, folder = own_study
    head = (folder / "cuts.csv").read_text().splitlines()[0]
    (folder / "cuts.csv").write_text(head + "\n")
    lab = lab_page.open(notebook).run_all()
    lab.button("From a spreadsheet").click()
    lab.choose_file("Choose a table", DATA / "sample_study_as_typed" / "cuts.csv")
    table = lab.notebook.get_by_role("table").filter(has_text="what to mend")
    expect(table.locator("caption")).to_have_text("6 errors, 4 to look at again in cuts.csv")
    rows = table.locator("tr")
    for row, column, words in (
        ("6", "cut", '"4" is already the number of row 5'),
        ("11", "band_speed", "a slipped decimal point? 115 would fit"),
        ("15", "cut_time", "empty; a cut needs its cut time"),
        ("19", "material", 'did you mean "plate_1018"?'),
        ("35", "band", 'no band "B44" in bands.csv; did you mean "B04"?'),
        ("42", "band_speed", "-150 ft/min is not a band speed"),
    ):
        expect(rows.filter(has_text=words)).to_contain_text(f"error{row}{column}")
    expect(lab.button("Add these cuts")).to_be_hidden()
    table.scroll_into_view_if_needed()
    shot("3_import_problems")

    lab.choose_file("Choose a table", DATA / "sample_study" / "cuts.csv")
    expect(says(lab, "183 cuts can be added; nothing is added until you press the button.")).to_have_count(1)
    shot("3_import_ready")
    lab.button("Add these cuts").click()
    expect(says(lab, f"183 cuts are in the log of {folder}.")).to_have_count(1)
    assert logged(folder) == logged(DATA / "sample_study")


def test_a_block_is_pasted_from_the_clipboard(lab_page, own_study, shot):
    """Copied as a spreadsheet copies it, with tabs, and pasted with Ctrl+V; its slip stands beside its row."""
    notebook, folder = own_study
    before = len(logged(folder))
    lab = lab_page.open(notebook).run_all()
    lab.button("From a spreadsheet").click()
    heads = "Blade\tSaw\tGrade\tThickness (in)\tLength of cut [in]\tSFPM\tTime"
    rows = ["B10\tsaw1\t304 plate\t3/4\t6\t140\t0:49", "B10\tsaw1\t304 plate\t3/4\t6\t1400\t0:50"]
    box = lab.field("or paste")
    copied = "(one, text) => { one.value = text; one.select(); document.execCommand('cut'); }"
    box.evaluate(copied, "\n".join([heads, *rows]))
    expect(box).to_have_value("")
    lab.focus(box)
    lab.press("Control+v")
    table = lab.notebook.get_by_role("table").filter(has_text="what to mend")
    expect(table.locator("tr").filter(has_text="140 would fit")).to_contain_text("error3band_speed")
    expect(lab.button("Add these cuts")).to_be_hidden()
    shot("3_pasted")
    box.fill("\n".join([heads, rows[0], rows[1].replace("1400", "140")]))
    lab.settle()
    lab.button("Add these cuts").click()
    expect(says(lab, f"2 cuts are in the log of {folder}.")).to_have_count(1)
    assert [row["cut_time [s]"] for row in logged(folder)[before:]] == ["49", "50"]
    lab.button("Undo").click()
    expect(says(lab, "Undone: 2 cuts from what was pasted.")).to_have_count(1)
    assert len(logged(folder)) == before
