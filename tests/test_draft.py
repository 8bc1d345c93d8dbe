"""Cuts before they are saved: what is wrong with an entry, and how another table's columns are matched."""

import shutil
from pathlib import Path

import pytest
from bandtrial import study
from bandtrial.study import StudyError, draft, editing, matching

SAMPLE = Path(__file__).parent / "data" / "sample_study"
ENTRY = {
    "cut": "184", "machine": "saw1", "band": "B10", "material": "plate_304", "work_thickness": "3/4",
    "cut_travel": "6", "band_speed": "140", "feed_rate": "7.4", "cut_time": "49", "coolant": "flood",
}  # fmt: skip


@pytest.fixture(scope="module")
def desk():
    return draft.Desk(SAMPLE, study.open_study(SAMPLE))


def said(desk, **changes):
    return [(p.severity, p.column, p.message) for p in desk.check_cut(ENTRY | changes)[1]]


def test_a_sound_entry_has_nothing_to_mend(desk):
    assert said(desk) == []


def test_the_cutting_rate_of_an_entry(desk):
    # by hand: 0.75 in x 6 in = 4.5 in2 = 29.03 cm2 in 49 s
    assert desk.check_cut(ENTRY)[0] == pytest.approx(29.0322 / (49 / 60), rel=1e-6)
    assert desk.check_cut(ENTRY | {"cut_time": ""})[0] != desk.check_cut(ENTRY | {"cut_time": ""})[0]


def test_slips_are_told_while_they_are_typed(desk):
    assert said(desk, band_speed="1400")[0] == (
        "error", "band_speed",
        "1400 ft/min is outside the speeds of saw1, 50 to 160 or 180 to 490 ft/min; "
        "a slipped decimal point? 140 would fit",
    )  # fmt: skip
    assert said(desk, cut="12") == [("error", "cut", '"12" is already the number of a cut of the study')]
    assert said(desk, work_thickness="thick") == [
        ("error", "work_thickness",
         '"thick" is not a length; write a number with a unit, such as "5/8 in" or "16 mm"'),
    ]  # fmt: skip


def test_a_cut_unlike_the_band_before_is_worth_a_look(desk):
    # B10 in plate_304 took 48 to 49 s for 6 in (rows 179 to 184 of the sample); 2:30 is 3.1 times that
    found = said(desk, feed_rate="", cut_time="2:30")
    assert [one[:2] for one in found] == [("warning", "cut_time")]
    assert "times as slow as B10 before in plate_304; check the time" in found[0][2]
    assert said(desk, feed_rate="", cut_time="60") == []


def test_a_bare_number_is_in_the_unit_beside_the_field():
    assert draft.with_units({"work_thickness": "3/4", "cut_time": "49", "band": "B10"}, "us") == {
        "work_thickness [in]": "3/4", "cut_time [s]": "49", "band": "B10",
    }  # fmt: skip
    assert draft.with_units({"work_thickness": "19"}, "metric") == {"work_thickness [mm]": "19"}


def test_columns_are_matched_once_and_by_meaning():
    heads = ["No", "Saw", "Blade", "Grade", "Thickness (in)", "Length [in]", "Speed", "seconds", "Operator", "time"]
    assert matching.match(heads) == [
        "cut", "machine", "band", "material", "work_thickness", "cut_travel", "band_speed", "cut_time", None, None,
    ]  # fmt: skip


def test_rows_are_added_all_or_none(tmp_path):
    folder = tmp_path / "shop"
    shutil.copytree(SAMPLE, folder)
    head, first, *_ = (SAMPLE / "cuts.csv").read_text().splitlines()
    before = (folder / "cuts.csv").read_bytes()

    def table(*numbers):
        rows = [first.replace("1,2026-03-02", f"{n},2026-04-02", 1) for n in numbers]
        raw = matching.read_table("more.csv", "\n".join([head, *rows, ""]).encode())
        columns = matching.match(raw.heads)
        units = [matching.unit_of(h, c, "us") for h, c in zip(raw.heads, columns, strict=True)]
        return matching.matched(raw, columns, units)

    with pytest.raises(StudyError, match="is already the number"):
        editing.log_table(folder, table(301, 302, 5))
    assert (folder / "cuts.csv").read_bytes() == before
    assert editing.log_table(folder, table(301, 302)) == 2
    assert list(study.open_study(folder).cuts["cut"])[-2:] == ["301", "302"]


@pytest.mark.parametrize(("name", "data"), [("empty.csv", b""), ("no.xlsx", b"no workbook")])
def test_a_table_that_is_none_is_said_to_be_none(name, data):
    with pytest.raises(StudyError, match=name):
        matching.read_table(name, data)
