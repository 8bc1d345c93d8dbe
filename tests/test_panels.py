"""Panels without a browser: what they say, what they refuse, that nothing typed or named becomes markup."""

import re
import shutil
from html import unescape
from pathlib import Path

import pytest
from bandtrial import study
from bandtrial.panels import base, import_table, log_cuts, practice_copy, session, starting_settings
from bandtrial.panels.picture import Picture
from bandtrial.study import StudyError

SAMPLE = Path(__file__).parent / "data" / "sample_study"


def words(widget) -> str:
    return " ".join(unescape(re.sub("<[^>]+>", " ", widget.value)).split())


@pytest.fixture
def form(tmp_path):
    shutil.copytree(SAMPLE, tmp_path / "shop")
    panel = log_cuts(tmp_path / "shop")
    for name, value in {
        "band": "B10", "material": "plate_304", "work_thickness": "3/4", "cut_travel": "6", "band_speed": "140",
        "feed_rate": "7.4", "cut_time": "49",
    }.items():  # fmt: skip
        panel.fields.controls[name].value = value
    return panel


def test_the_start_follows_its_controls():
    panel = starting_settings()
    # Machinery's Handbook, worked example: 168 ft/min
    assert panel.start.to_json()["band_speed_m_min"] / 0.3048 == pytest.approx(168, rel=0.01)  # the table's rounding
    panel.coolant.value = "dry"
    assert panel.start.to_json()["coolant"] == "dry"
    panel.thickness.value = "wide"
    assert panel.start is None
    assert words(panel.says).endswith('"wide" is not a length; write a number with a unit, such as "5/8 in" or "16 mm"')


def test_a_saved_cut_is_in_the_log_and_can_be_taken_back(form):
    before = (form.folder / "cuts.csv").read_bytes()
    form.save.click()
    assert words(form.done) == "Saved as cut 184 of band B10."
    last = study.open_study(form.folder).cuts.iloc[-1]
    assert last["cut"] == "184"
    assert [last["work_thickness"], last["band_speed"]] == pytest.approx([19.05, 42.672])  # 3/4 in, 140 ft/min
    assert form.fields.controls["cut_time"].value == ""
    assert form.fields.controls["work_thickness"].value == "3/4"
    form.undo.click()
    assert words(form.done) == "Cut 184 is out of the log again."
    assert (form.folder / "cuts.csv").read_bytes() == before
    form.undo.click()
    assert words(form.done) == "Nothing to take back: this form has saved no cut that is still in the log."


def test_only_the_fields_a_cut_needs_are_shown(form):
    def shown():
        return {name for name, one in form.fields.controls.items() if one.layout.display != "none"}

    assert {"work_thickness", "cut_travel", "feed_rate"} <= shown()
    assert not {"diameter", "wall", "feed_force"} & shown()
    form.fields.controls["section"].value = "tube"
    form.fields.controls["machine"].value = "saw2"
    assert {"diameter", "wall", "feed_force"} <= shown()
    assert not {"work_thickness", "cut_travel", "feed_rate"} & shown()


def test_a_study_that_cannot_be_read_shows_its_problems(tmp_path):
    panel = log_cuts(tmp_path)
    assert "study.toml: is missing from" in words(panel.says)


def test_the_import_panel_waits_for_a_file(tmp_path):
    panel = import_table(tmp_path)
    assert panel.add.layout.display == "none"


def test_practice_leaves_the_study_alone():
    copy = Path(practice_copy(SAMPLE))
    (copy / "cuts.csv").unlink()
    assert (SAMPLE / "cuts.csv").exists()
    assert copy.name == "sample_study"


def test_nothing_becomes_markup():
    says = base.Says()
    says.problems(["<script>x</script>"], ["<b>"])
    assert "<script>" not in says.value and "<b>" not in says.value.replace("<b>To mend:</b>", "").replace(
        "<b>Look again:</b>", ""
    )
    assert "<i>" not in base.table(["<i>"], [["<i>"]], "<i>")
    picture = Picture("<i>")
    assert "<i>" not in picture.words.value


def test_names_are_not_read_as_formulas():
    picture = Picture("dollars")
    picture.draw(lambda ax: ax.set_title("$\\frac{ of $3"))
    assert bytes(picture.image.value).startswith(b"\x89PNG")


def test_errors_are_told_without_a_traceback(monkeypatch):
    says = base.Says()

    def run(error):
        def action():
            raise error

        base.guarded(says, action)()
        return words(says)

    monkeypatch.delenv("BANDTRIAL_DEBUG", raising=False)
    assert run(ValueError("no")) == "To mend: no"
    assert run(KeyboardInterrupt()) == "Stopped; nothing was changed."
    assert run(ZeroDivisionError("0")) == (
        "To mend: This is a fault in bandtrial, not in your entry (ZeroDivisionError: 0)."
    )
    monkeypatch.setenv("BANDTRIAL_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run(ZeroDivisionError("0"))


def test_error_lines_of_a_cell():
    with pytest.raises(StudyError) as caught:
        study.open_study(SAMPLE.parent / "sample_study_as_typed")
    lines = session.error_lines(caught.value)
    assert lines[0] == "The study has problems to mend first:"
    assert any("row 11, column band_speed" in line for line in lines)
    assert session.error_lines(NameError("name 'fit' is not defined", name="fit")) == [
        "fit is not there yet: run the cells above first (Run > Run All Cells)."
    ]
    assert session.error_lines(KeyboardInterrupt()) == [
        "Stopped. Nothing was changed; run the cell again to start anew."
    ]
