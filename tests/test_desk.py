"""The desk without a browser: forms for a shop, a log that asks before it saves, lists, pasted rows."""

import re
import shutil
import time
from datetime import datetime
from html import unescape
from pathlib import Path

import pytest
from bandtrial import study
from bandtrial.panels import cut_fields, log_cuts, study_desk
from bandtrial.study import draft
from study_folders import BANDS, TOML, folder, rows

SAMPLE = Path(__file__).parent / "data" / "sample_study"
SAW = {"kind": "vertical", "feed": "hand", "band_speeds": "60 to 300", "band_length": "115"}


def words(widget) -> str:
    return " ".join(unescape(re.sub("<[^>]+>", " ", widget.value)).split())


def shown(fields) -> set[str]:
    return {name for name, one in fields.controls.items() if one.layout.display != "none"}


@pytest.fixture
def desk(tmp_path):
    shutil.copytree(SAMPLE, tmp_path / "shop")
    return study_desk(tmp_path / "shop")


def view(desk, name):
    desk.view.value = name
    return desk.body.children[0]


def enter(form, what: str, name: str, typed: dict[str, str]) -> str:
    form.which.value = what
    form.name.value = name
    for key, text in typed.items():
        form.controls[key].value = text
    form.save.click()
    return words(form.says)


def test_an_empty_folder_becomes_a_study(tmp_path):
    desk = study_desk(tmp_path)
    desk.units.value = "metric"
    desk.make.click()
    assert words(desk.says) == "Made. Now the machine, the band stock, the material and the costs; then fit a band."
    assert desk.view.value == "The shop"
    form = desk.body.children[0]
    assert enter(form, "machines", "bs", {**SAW, "band_length": ""}) == "To mend: Still needed: band length."
    assert enter(form, "machines", "bs", {**SAW, "band_speeds": "2O to 90"}) == (
        'To mend: Nothing was saved. band speeds: "O" is not a unit of speed known here: use ft/min, m/min or m/s band '
        'length: "115 mm" can\'t be right; it should be more than 200 and at most 30000 mm'
    )
    assert enter(form, "machines", "bs", {**SAW, "band_speeds": "20 to 90", "band_length": "2950"}) == (
        "Saved: machine bs."
    )
    assert (
        enter(form, "band_stock", "s10", {"pitch": "10", "edge": "bimetal", "price": "30"}) == "Saved: band stock s10."
    )
    assert enter(form, "materials", "C45", {"group": "C45"}) == "Saved: material C45."
    costs = {"machine_and_labor_per_hour": "55", "band_change_minutes": "10", "scrapped_piece": "0"}
    assert enter(form, "costs", "", costs) == "Saved: the costs."
    bands = view(desk, "Bands")
    bands.name.value = "B1"
    bands.fit.click()
    shop = study.open_study(tmp_path)
    assert (shop.units, shop.machines["bs"].band_length) == ("metric", 2950.0)
    assert shop.bands[["band", "stock", "machine"]].to_numpy().tolist() == [["B1", "s10", "bs"]]
    log = view(desk, "Log a cut")
    assert "band_speed" in shown(log.fields) and not {"feed_rate", "feed_force", "motor_power"} & shown(log.fields)


def test_a_machine_is_changed_with_what_stands_there_before_it(desk):
    form = view(desk, "The shop")
    form.one.value = "saw1"
    assert form.controls["band_speeds"].value == "50 ft/min to 160 ft/min; 180 ft/min to 490 ft/min"
    assert form.name.disabled
    form.controls["throat"].value = "20"
    form.save.click()
    assert words(form.says) == "Saved: machine saw1."
    assert study.open_study(desk.folder).machines["saw1"].throat == pytest.approx(508.0, rel=1e-12)  # 20 x 25.4
    form.one.value = "saw1"
    form.save.click()
    assert words(form.says) == "Nothing was changed."
    desk.undoing.undo.click()
    assert words(desk.undoing.says) == "Undone: machine saw1."
    view(desk, "Log a cut")
    desk.undoing.redo.click()
    assert words(desk.undoing.says) == "Done again: machine saw1."


def test_the_feed_of_a_machine_decides_what_is_asked(desk):
    form = view(desk, "The shop")
    asked = {feed: set() for feed in ("rate", "force", "hand")}
    for feed in asked:
        form.controls["feed"].value = feed
        asked[feed] = {name for name in ("feed_rate_range", "feed_force_range")
                       if form.controls[name].layout.display != "none"}  # fmt: skip
    assert asked == {"rate": {"feed_rate_range"}, "force": {"feed_force_range"}, "hand": set()}


def test_a_band_comes_off_and_goes_on_again(desk):
    bands = view(desk, "Bands")
    bands.band.value, bands.end.value, bands.removed.value = "B10", "weld_broken", "2026-03-14"
    bands.off.click()
    assert words(bands.says) == "Saved: band B10: weld broken."
    assert "B10" not in [value for _, value in view(desk, "Log a cut").fields.band.options]
    bands = view(desk, "Bands")
    bands.band.value = "B10"
    bands.weld.click()
    assert words(bands.says) == 'B10 is in service. At its next cut say why it was welded, under "welded anew before".'
    fields = view(desk, "Log a cut").fields
    fields.band.value = "B10"
    assert fields.controls["rewelded"].value == "weld_broken"  # of its next cut
    fields.band.value = "B09"
    assert fields.controls["rewelded"].value == ""


def test_a_band_that_is_there_already_is_not_fitted_again(desk):
    bands = view(desk, "Bands")
    bands.name.value = "b10"
    bands.fit.click()
    assert words(bands.says) == (
        "To mend: error: bands.csv, band: has that band already; give each band a name of its own"
    )


@pytest.fixture
def form(tmp_path):
    """The log form on a saw that has cut the same plate in 120 s each time."""
    cuts = rows(*[{"cut_time": str(time)} for time in (118, 121, 120, 119, 122, 120, 121, 119, 120, 118, 122, 120)])
    return log_cuts(folder(tmp_path / "study", cuts))


def fill(form, **cells):
    usual = {"work_thickness": "1", "cut_travel": "10", "band_speed": "200", "cut_time": "2:00", "started": ""}
    for name, value in (usual | cells).items():
        form.fields.controls[name].value = value


def test_what_is_unlike_this_shop_is_asked_before_it_is_saved(form):
    """Minutes typed as seconds: 60 times the shop's own rate. Asked once, and saved where it is so."""
    fill(form, cut_time="2")
    before = (form.folder / "cuts.csv").read_bytes()
    form.save.click()
    said = words(form.done)
    assert said.startswith("Look again: ") and "cut time:" in said
    assert said.endswith("Is that so? Then press Save cut once more; nothing was saved yet.")
    assert (form.folder / "cuts.csv").read_bytes() == before
    fill(form, cut_time="2", note="thin")  # another entry is asked anew
    form.save.click()
    assert (form.folder / "cuts.csv").read_bytes() == before
    form.save.click()
    assert words(form.done) == "Saved as cut 13 of band B1."
    fill(form)
    form.save.click()
    assert words(form.done) == "Saved as cut 14 of band B1."


def test_only_what_the_machine_uses_is_shown_and_the_rest_is_one_click_away(form):
    used = "band machine material started work_thickness cut_travel band_speed feed_rate cut_time note"
    assert shown(form.fields) == set(used.split())
    form.fields.more.click()
    assert {"coolant", "operation", "pieces", "motor_power", "rewelded", "exclude", "section"} <= shown(form.fields)
    form.fields.controls["coolant"].value = "dry"
    form.fields.more.click()
    assert "coolant" in shown(form.fields) and "pieces" not in shown(form.fields)  # what says something stays in sight
    fill(form)
    form.save.click()
    assert study.open_study(form.folder).cuts.iloc[-1]["coolant"] == "dry"


def test_the_stopwatch_fills_in_when_and_how_long(form, monkeypatch):
    moments = iter([1000.0, 1000.0, 1155.4])
    monkeypatch.setattr(time, "monotonic", lambda: next(moments))
    monkeypatch.setattr(cut_fields, "datetime", Clock)
    form.watch.button.click()
    assert form.watch.button.description == "Stop at 0:00"
    assert form.fields.controls["started"].value == "2026-03-09 14:05:30"
    form.watch.over.set()
    form.watch.button.click()
    assert form.fields.controls["cut_time"].value == "2:35"
    assert form.watch.button.description == "Start stopwatch"


class Clock(datetime):
    @classmethod
    def now(cls, tz=None):
        return cls(2026, 3, 9, 14, 5, 30)


def test_now_is_filled_in_unless_a_cut_still_runs_or_nobody_wants_it(form, monkeypatch):
    monkeypatch.setattr(cut_fields, "datetime", Clock)
    form.fields.date()
    assert form.fields.controls["started"].value == "2026-03-09 14:05:30"
    fill(form, started="2026-03-09 14:04")
    form.save.click()
    assert words(form.done) == "Saved as cut 13 of band B1."
    assert form.fields.controls["started"].value == ""  # that one runs until 14:06: the next is typed from paper
    fill(form, started="2026-03-09 13:00")
    assert draft.over_by(form.study.cuts, "saw1", datetime(2026, 3, 9, 14, 6))
    assert not draft.over_by(form.study.cuts, "saw1", datetime(2026, 3, 9, 14, 5, 59))


def test_a_cut_is_looked_up_changed_and_deleted(desk):
    cuts = view(desk, "All cuts")
    cuts.words.value, cuts.by.value = "b10 304", "cut_time"
    assert words(cuts.says) == "24 of 183 cuts"
    times = [
        study.open_study(desk.folder).cuts.set_index("cut").at[number, "cut_time"] for _, number in cuts.list.options
    ]
    assert times == sorted(times)
    cuts.edit.click()
    assert words(cuts.says) == "To mend: Choose a cut in the list first."
    cuts.list.value = "183"
    cuts.edit.click()
    log = desk.form
    assert desk.view.value == "Log a cut" and log.save.description == "Save changes to cut 183"
    before = (desk.folder / "cuts.csv").read_text("utf-8").splitlines()
    log.fields.controls["note"].value = "burr"
    log.save.click()
    assert words(log.done) == "Cut 183 is changed."
    after = (desk.folder / "cuts.csv").read_text("utf-8").splitlines()
    assert after[:-1] == before[:-1] and after[-1] == before[-1] + "burr"
    assert log.save.description == "Save cut"
    cuts = view(desk, "All cuts")
    cuts.list.value = "183"
    cuts.delete.click()
    assert words(cuts.says) == "Cut 183 is out of the log; Undo brings it back."
    desk.undoing.undo.click()
    desk.undoing.undo.click()
    assert (desk.folder / "cuts.csv").read_text("utf-8").splitlines() == before


PASTED = "Blade\tThickness (in)\tLength [in]\tSFPM\tTime\nB1\t1\t10\t200\t2:00\nB1\t1\t10\t200\t2:03\n"


@pytest.fixture
def paste(tmp_path):
    one = TOML[: TOML.index("[machines.saw2]")] + TOML[TOML.index("[band_stock") :]
    desk = study_desk(folder(tmp_path / "study", rows({}), BANDS.replace("B2,s8,saw2,,,dull,\n", ""), one))
    return view(desk, "From a spreadsheet"), desk


def test_one_pasted_row_is_one_cut(paste):
    panel, _ = paste
    panel.block.value = PASTED.rpartition("B1")[0]
    assert words(panel.says) == "1 cut can be added; nothing is added until you press the button."
    panel.add.click()
    assert words(panel.says) == f"1 cut is in the log of {panel.folder}."


def test_a_pasted_block_is_matched_looked_at_and_added_as_one(paste):
    panel, desk = paste
    before = (panel.folder / "cuts.csv").read_bytes()
    panel.block.value = PASTED
    assert words(panel.says) == "2 cuts can be added; nothing is added until you press the button."
    assert [which.value for which, _ in panel.choices] == [
        "band", "work_thickness", "cut_travel", "band_speed", "cut_time",
    ]  # fmt: skip
    panel.add.click()
    assert words(panel.says) == f"2 cuts are in the log of {panel.folder}."
    assert study.open_study(panel.folder).cuts["cut_time"].tolist() == [2.0, 2.0, 2.05]
    assert panel.block.value == "" and not panel.columns.children  # nothing of the last block stays on the screen
    desk.undoing.undo.click()
    assert words(desk.undoing.says) == "Undone: 2 cuts from what was pasted."
    assert (panel.folder / "cuts.csv").read_bytes() == before


def test_a_block_without_heads_is_matched_by_what_it_holds(paste):
    panel, _ = paste
    panel.block.value = PASTED.partition("\n")[2].replace("B1", "2026-03-02\tplate\tB1")
    assert [which.value for which, _ in panel.choices] == [
        "started", "material", "band", "(leave out)", "(leave out)", "(leave out)", "cut_time",
    ]  # fmt: skip
    for (which, _), name in zip(panel.choices[3:6], ("work_thickness", "cut_travel", "band_speed"), strict=True):
        which.value = name
    assert "2 cuts can be added" in words(panel.says)
    panel.choices[5][1].value = "parsecs"
    assert "row 0, column" not in words(panel.preview) and "parsecs" in words(panel.preview) + words(panel.says)


def test_problems_stand_beside_their_row_and_a_new_band_is_fitted_on_the_way(paste):
    panel, _ = paste
    panel.block.value = PASTED.replace("B1\t1\t10\t200\t2:03", "B7\t1\t10\t200\t2:03")
    assert panel.add.layout.display == "none"
    assert 'error 3 band no band "B7" in bands.csv' in words(panel.preview)
    assert panel.new_bands == ["B7"] and len(panel.bands.children) == 4
    panel.fit.click()
    assert "2 cuts can be added" in words(panel.says) and not panel.bands.children
    assert study.open_study(panel.folder).bands["band"].tolist() == ["B1", "B7"]


def test_times_are_shown_as_a_watch_shows_them(form):
    assert "2:00" in words(form.so_far) and "120" not in words(form.so_far)


def test_a_study_with_faults_says_them_and_can_be_mended_in_the_shop(tmp_path):
    place = folder(tmp_path / "study", toml=TOML.replace('throat = "24 in"', 'throat = "24"'))
    desk = study_desk(place)
    assert desk.view.value == "The shop"
    desk.view.value = "Log a cut"
    assert '"24" has no unit' in words(desk.says)
    form = view(desk, "The shop")
    form.one.value = "saw1"
    form.controls["throat"].value = "24 in"
    form.save.click()
    assert words(form.says) == "Saved: machine saw1."
    assert view(desk, "Log a cut").fields.band.value == "B1"
