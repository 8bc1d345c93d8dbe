"""Panels without a browser: what they say, what they refuse, that nothing typed or named becomes markup."""

import re
import shutil
from html import unescape
from pathlib import Path

import pytest
from bandtrial import study, wear
from bandtrial.panels import (
    base,
    check_fit,
    choose_setting,
    import_table,
    log_cuts,
    main_job,
    plan_trials,
    practice_copy,
    session,
    starting_settings,
    watch_bands,
)
from bandtrial.panels.base import Picture
from bandtrial.study import StudyError

SAMPLE = Path(__file__).parent / "data" / "sample_study"


def words(widget) -> str:
    return " ".join(unescape(re.sub("<[^>]+>", " ", widget.value)).split())


@pytest.fixture(scope="module")
def sample_fit():
    shop = study.open_study(SAMPLE)
    return shop, wear.fit(shop)


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


@pytest.mark.parametrize("options", [["a", None], [("all of them", None), ("one", 1)]])
def test_a_choice_without_a_value_is_refused(options):
    """With PYTHONHASHSEED=6 ipywidgets shows such a list blank, and the first arrow key in it chooses what it shows."""
    with pytest.raises(ValueError, match=r"^picture: a choice needs a value, which None is not$"):
        base.choice("picture", options)


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
    form.undoing.undo.click()
    assert words(form.undoing.says) == "Undone: cut 184 of B10 logged."
    assert (form.folder / "cuts.csv").read_bytes() == before
    form.undoing.undo.click()
    assert words(form.undoing.says) == "To mend: error: study: has nothing to undo"
    form.undoing.redo.click()
    assert study.open_study(form.folder).cuts.iloc[-1]["cut"] == "184"


def test_marks_of_the_bands_cuts_say_which_they_are(form):
    """The sample's first cut of B10, as cuts.csv has it."""
    heads, *rows = (line.split(",") for line in (form.folder / "cuts.csv").read_text("utf-8").splitlines())
    at = next(n for n, row in enumerate(rows) if row[heads.index("band")] == "B10")
    said = unescape(form.picture.layer.value)
    assert f"<title>cut {rows[at][0]}, row {at + 2} of cuts.csv: " in said and "Point at a mark" in said


def test_a_cut_can_be_left_out_with_its_reason(form):
    form.fields.controls["exclude"].value = "clamp slipped"
    form.save.click()
    assert study.open_study(form.folder).cuts.iloc[-1]["exclude"] == "clamp slipped"
    assert form.fields.controls["exclude"].value == ""  # of one cut


def test_a_field_that_the_log_has_no_column_for_gets_one(form):
    """The sample's log has no column for the operation."""
    before = (form.folder / "cuts.csv").read_text("utf-8").splitlines()
    form.fields.controls["operation"].value = "filing"
    form.save.click()
    assert words(form.done) == "Saved as cut 184 of band B10."
    after = (form.folder / "cuts.csv").read_text("utf-8").splitlines()
    assert after[0] == before[0] + ",operation" and after[1:-1] == [line + "," for line in before[1:]]
    assert study.open_study(form.folder).cuts.iloc[-1]["operation"] == "filing"


def test_another_operation_is_logged_where_the_log_has_a_column_for_it(form):
    log = form.folder / "cuts.csv"
    head, *rows = log.read_text(encoding="utf-8").splitlines()
    log.write_text("\n".join([f"operation,{head}", *(f"sawing,{row}" for row in rows), ""]), encoding="utf-8")
    form.fields.controls["operation"].value = "filing"
    form.save.click()
    assert words(form.done) == "Saved as cut 184 of band B10."
    assert study.open_study(form.folder).cuts.iloc[-1]["operation"] == "filing"


def test_a_panel_opens_on_the_job_that_the_study_asks_about(tmp_path):
    """The question of the sample study names 3/4 in 304 plate on saw1; without a cut as with them."""
    shutil.copytree(SAMPLE, tmp_path / "shop")
    for _ in range(2):
        job = main_job(study.open_study(tmp_path / "shop"))
        assert job.pop("thickness_mm") == pytest.approx(19.05)
        assert job == {"machine": "saw1", "stock": "s8", "material": "plate_304"}
        log = tmp_path / "shop" / "cuts.csv"
        log.write_text(log.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")


def test_the_watch_shows_what_the_command_says_and_draws_each_chart(sample_fit):
    """Bands in service of the sample, the most worn first; a chart for each of them and each machine and signal."""
    shop, fit = sample_fit
    panel = watch_bands(fit, shop)
    said = words(panel.children[3])
    for state in panel.watch.bands:
        assert f"{state.band} {state.machine}, {state.material}" in said
    assert "An alarm says that the readings" in said and panel.watch.rule_in_words() in said
    assert words(panel.children[4]).startswith("Before you cut")
    assert all(key is not None for _, key in panel.chart.options)  # which would come up blank with some hash seeds
    kinds = {key[0] for _, key in panel.chart.options[1:]}
    assert kinds == {"band", "machine"}
    seen = {panel.picture.image.value}
    for _, key in panel.chart.options[1:4]:
        panel.chart.value = key
        assert words(panel.says) == "" and panel.picture.image.value not in seen
        seen.add(panel.picture.image.value)


def test_watch_draws_past_forecasts_and_saves_its_sheet(tmp_path):
    shop = study.open_study(Path(__file__).parents[1] / "trial_data" / "demo_shop")
    panel = watch_bands(wear.fit(shop, draws=400), shop, sheets=tmp_path / "sheets")
    wear_used = panel.picture.image.value
    panel.chart.value = panel.chart.options[1][1]
    assert panel.chart.options[1][0] == "past forecasts, against what came" and panel.picture.image.value != wear_used
    panel.save.click()
    assert words(panel.saved).startswith("Saved") and (tmp_path / "sheets" / "bands_in_service.html").is_file()


def test_choices_go_by_the_names_that_people_use():
    class Named:
        def __init__(self, name):
            self.name = name

    twins = {"a1": Named("A36 plate"), "a2": Named("A36 plate"), "bar": Named("bar"), "x": Named("")}
    assert base.named(twins) == [("a1", "a1"), ("a2", "a2"), ("bar", "bar"), ("x", "x")]


@pytest.mark.parametrize("step, shown", [(10, ".0f"), (0.5, ".1f"), (2.9, ".1f"), (0.25, ".2f"), (58 / 20 / 7, ".2f")])
def test_a_slider_reads_with_the_digits_of_its_step(step, shown):
    assert base.slider("x", 0, 100, step, 0).readout_format == shown


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


def hidden(widget) -> bool:
    return widget.layout.display == "none"


def test_a_setting_can_be_saved_only_while_there_is_one(sample_fit, tmp_path):
    shop, fit = sample_fit
    panel = choose_setting(fit, shop, sheets=tmp_path)
    assert panel.controls["deviation"].placeholder == 'as "0.01 in", or empty'  # a US study
    assert panel.controls["life"].placeholder == 'as "6000 in2", or empty'
    assert words(panel.children[0]).startswith("Before you cut")  # above the speed
    assert panel.recommendation is not None
    assert not hidden(panel.save)
    panel.save.click()
    assert words(panel.saved).startswith(f"Saved {tmp_path}")
    panel.controls["thickness"].value = "25 in"
    assert words(panel.says) == 'To mend: work thickness: "25 in" is more than the throat of saw1, 24 in.'
    assert hidden(panel.save)
    assert hidden(panel.picture)
    assert [panel.saved.value, panel.summary.value, panel.answer.value] == ["", "", ""]
    panel.controls["thickness"].value = ""
    assert words(panel.says) == 'To mend: work thickness: empty; give one with its unit, as "3/4 in".'


def test_a_plan_can_be_saved_only_while_there_is_one(sample_fit, tmp_path):
    shop, fit = sample_fit
    panel = plan_trials(fit, shop, sheets=tmp_path)
    parts = (panel.save, panel.picture, panel.cautions)
    assert all(map(hidden, parts))
    panel.go.click()
    assert panel.plan is not None
    assert not any(map(hidden, parts))
    panel.save.click()
    assert words(panel.saved).startswith(f"Saved {tmp_path}")
    panel.controls["thickness"].value = "24.5 in"
    assert all(map(hidden, parts))
    assert (panel.saved.value, panel.answer.value) == ("", "")
    panel.go.click()
    assert words(panel.says) == 'To mend: work thickness: "24.5 in" is more than the throat of saw1, 24 in.'


def test_work_as_thick_as_the_throat_fits(sample_fit):
    shop, _ = sample_fit
    machine = next(iter(shop.machines.values()))
    assert base.thickness_of(base.text("work thickness", "24 in"), machine, "us") == pytest.approx(609.6)
    assert base.thickness_of(base.text("work thickness", "610 mm"), machine, "us") == 610  # 24 in, rounded


def test_no_old_answer_stays_under_a_slip():
    panel = starting_settings()
    panel.thickness.value = "wide"
    assert panel.answer.value == ""
    assert hidden(panel.picture)
    panel.thickness.value = "16 mm"
    assert "0.63 in (16 mm)" in words(panel.answer)
    assert not hidden(panel.picture)


def test_a_us_study_sets_the_chip_load_in_thousandths_of_an_inch(sample_fit):
    shop, fit = sample_fit
    panel = check_fit(fit, shop)
    slider = panel.controls["chip_load"]
    assert slider.description == "chip load [0.001 in]"
    assert slider.value == pytest.approx(fit.data["chip_load"].iloc[0] / 25.4, abs=0.005)  # rounded to two places
    panel.view.value = "life against band speed"
    before = panel.picture.image.value
    slider.value = 1.0
    assert panel.picture.image.value != before
    assert words(panel.says) == ""
