"""A study changed without opening a file: what was meant is changed, nothing else, and it can be undone."""

import tomllib

import openpyxl
import pytest
from bandtrial import asked, study
from bandtrial.study import editing
from bandtrial.study.writing import tomltext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from study_folders import BANDS, CUT, HEAD, TOML, folder, lines, rows

FILES = ("study.toml", "bands.csv", "cuts.csv")
SAW = {"kind": "vertical", "feed": "hand", "band_speeds": "60 to 300", "band_length": "115", "throat": "14"}
NEW = {k: v for k, v in CUT.items() if k != "cut"}


@pytest.fixture
def place(tmp_path):
    return folder(tmp_path / "study", rows({}, {}, {}))


def content(place):
    return {name: (place / name).read_bytes() for name in FILES}


def text(place, name):
    return (place / name).read_text("utf-8")


def refused(action):
    with pytest.raises(study.StudyError) as caught:
        action()
    return lines(caught.value.problems)


def test_an_empty_study_is_filled_in_by_answers_alone(tmp_path):
    """A saw, its band and its metal, each put under the comment that explains it; the comments stay."""
    place = study.new_study(tmp_path / "own")
    comments = [line for line in text(place, "study.toml").splitlines() if line.startswith("#")]
    for table, name, typed in (
        ("costs", "", {"machine_and_labor_per_hour": "60", "band_change_minutes": "10", "scrapped_piece": "0"}),
        ("machines", "saw 1", SAW),
        ("band_stock", "s10", {"pitch": "6/10", "edge": "bimetal", "price": "38"}),
        ("materials", "A36", {"group": "A36"}),
    ):
        editing.entry(place, table, name, asked.answers(table, typed, "us")).save()
    editing.fit_band(place, "B1", {"stock": "s10", "machine": "saw 1", "fitted": "2026-11-27"}).save()
    shop = study.open_study(place)
    saw = shop.machines["saw 1"]
    assert (saw.throat, saw.band_length) == pytest.approx((355.6, 2921.0), rel=1e-12)  # 14 and 115 in, by definition
    assert saw.band_speed_ranges[0] == pytest.approx((18.288, 91.44), rel=1e-12)
    assert shop.band_stock["s10"].pitch == "6/10 tpi"
    assert shop.bands[["band", "stock", "machine", "end"]].to_numpy().tolist() == [["B1", "s10", "saw 1", "in_service"]]
    kept = [line for line in text(place, "study.toml").splitlines() if line.startswith("#")]
    assert [line for line in comments if "per_hour" not in line and "band_change" not in line
            and "scrapped" not in line] == kept  # fmt: skip
    before = text(place, "study.toml")
    assert before.index("# [machines.saw1]") < before.index('[machines."saw 1"]') < before.index("# [band_stock")


def test_one_value_of_a_machine_is_changed_and_every_other_line_stays(place):
    (place / "study.toml").write_text(TOML.replace('throat = "24 in"', "throat =   '24 in'   # measured"), "utf-8")
    before = text(place, "study.toml").splitlines()
    editing.entry(place, "machines", "saw1", {"throat": "23.5 in"}).save()
    after = text(place, "study.toml").splitlines()
    assert [b for a, b in zip(before, after, strict=True) if a != b] == ['throat = "23.5 in"   # measured']


def test_a_value_taken_out_becomes_a_comment_and_one_over_several_lines_is_one(place):
    many = 'band_speed_ranges = [\n  ["50 ft/min", "90 ft/min"],  # low\n  ["100 ft/min", "500 ft/min"],\n]'
    (place / "study.toml").write_text(TOML.replace('band_speed_ranges = [["50 ft/min", "500 ft/min"]]', many), "utf-8")
    steps = asked.answers("machines", {"band_speeds": "100, 200, 300"}, "us")
    editing.entry(place, "machines", "saw1", steps).save()
    assert "".join("# " + line + "\n" for line in many.splitlines()) in text(place, "study.toml")
    assert study.open_study(place).machines["saw1"].band_speeds == pytest.approx((30.48, 60.96, 91.44), rel=1e-12)


def test_what_would_be_an_error_is_said_and_nothing_is_changed(place):
    before = content(place)
    change = editing.entry(place, "machines", "saw1", {"throat": "24"})
    wanted = ['error: study.toml, line 17, machines.saw1.throat: "24" has no unit; write 24 in, 24 ft or 24 thou']
    assert [line for line in lines(change.problems()) if "throat" in line] == wanted
    assert refused(change.save)[0] == wanted[0]
    assert refused(editing.fit_band(place, "b1", {"stock": "s8", "machine": "saw1"}).save) == [
        "error: bands.csv, band: has that band already; give each band a name of its own"
    ]
    assert refused(editing.fit_band(place, "B3", {"stock": "s9", "machine": "saw1"}).save) == [
        'error: bands.csv, row 4, column stock: no band stock "s9" in study.toml; did you mean "s8"? (there: s8)'
    ]
    assert refused(editing.change_cut(place, "2", {"cut_time": "0"}).save) == [
        "error: cuts.csv, row 3, column cut_time: 0 s is not a cut time; it must be more than 0"
    ]
    assert refused(editing.change_cut(place, "9", {"note": "x"}).save) == [
        'error: cuts.csv: has no row with cut "9"; nothing was changed'
    ]
    assert content(place) == before and not editing.history(place).done


def test_faults_that_were_there_before_do_not_stop_a_change(tmp_path):
    place = folder(tmp_path / "study", rows({"material": "unheard of"}, {}))
    editing.change_cut(place, "2", {"note": "burr"}).save()
    assert text(place, "cuts.csv").splitlines()[2].endswith(",burr")


def test_a_band_is_fitted_ended_and_welded_anew(place):
    editing.fit_band(place, "B3", {"stock": "s8", "machine": "saw1", "fitted": "2026-03-02"}).save()
    editing.end_band(place, "B3", "weld_broken", "2026-03-04", "in a cut").save()
    assert text(place, "bands.csv") == BANDS + "B3,s8,saw1,2026-03-02,2026-03-04,weld_broken,in a cut\n"
    editing.reweld_band(place, "B3").save()
    assert text(place, "bands.csv") == BANDS + "B3,s8,saw1,2026-03-02,,in_service,in a cut\n"


FORMS = {
    "windows": lambda text: text.replace("\n", "\r\n").encode(),
    "byte order mark": lambda text: b"\xef\xbb\xbf" + text.encode(),
    "utf-16": lambda text: text.encode("utf-16"),
    "semicolons": lambda text: text.replace(",", ";").encode(),
    "no last line end": lambda text: text.encode().rstrip(b"\n"),
    "comments and quotes": lambda text: text.replace("\n2,", "\n# B\n\n2,", 1).replace("plate", '"plate"').encode(),
}  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_of_a_log_only_the_changed_cells_change(tmp_path, form):
    make = FORMS[form]
    place = folder(tmp_path / "study", make(rows({}, {}, {}, head="Job," + HEAD.removesuffix(",note") + ",note")))
    data = (place / "cuts.csv").read_bytes()
    whole = rows({}, {"cut_time": "130", "note": "slow"}, {})
    changed = make(whole)
    (place / "cuts.csv").write_bytes(make(rows({}, {}, {})))
    editing.change_cut(place, "2", {"cut_time": "130 s", "note": "slow"}).save()
    if form == "comments and quotes":  # the row that was changed is written plainly, the others are as they were
        changed = changed.replace(b'2,,saw1,B1,"plate"', b"2,,saw1,B1,plate")
    assert (place / "cuts.csv").read_bytes() == changed
    editing.delete_cut(place, "2").save()
    assert (place / "cuts.csv").read_bytes() == changed.replace(_line_of(changed, make), b"", 1)
    editing.undo(place)
    editing.undo(place)
    assert (place / "cuts.csv").read_bytes() == make(rows({}, {}, {}))
    assert data


def _line_of(changed: bytes, make) -> bytes:
    codec = "utf-16-le" if changed[:2] == b"\xff\xfe" else "utf-8"
    mark = changed[:2] if codec == "utf-16-le" else b""
    lines = changed[len(mark) :].decode(codec).splitlines(keepends=True)
    return next(line for line in lines if line.startswith(("2,", "2;"))).encode(codec)


def test_a_column_that_the_log_lacks_is_added_to_every_row(tmp_path):
    head = "cut,machine,band,material,work_thickness [mm],cut_travel [mm],band_speed [m/min],cut_time [min]"
    log = f'# ours\n{head}\n1,saw1,B1,plate,20,"100",60,2\n2,saw1,B1\n'
    place = folder(tmp_path / "study", log)
    editing.add_columns(place, ["note", "roughness", "band"]).save()
    assert text(place, "cuts.csv") == (
        f'# ours\n{head},note,roughness [uin]\n1,saw1,B1,plate,20,"100",60,2,,\n2,saw1,B1,,,,,,,\n'
    )


def test_a_workbook_is_changed_in_its_cells(tmp_path):
    place = folder(tmp_path / "study")
    book = openpyxl.Workbook()
    book.active.title = "Cuts"
    book.active.append(HEAD.split(","))
    for n in (1, 2):
        book.active.append([{**CUT, "cut": str(n)}.get(head.partition(" ")[0], "") or None for head in HEAD.split(",")])
    book.active["A1"].font = openpyxl.styles.Font(bold=True)
    book.save(place / "cuts.xlsx")
    (place / "cuts.csv").unlink()
    before = (place / "cuts.xlsx").read_bytes()
    editing.change_cut(place, "2", {"cut_time": "2:10", "deviation": "0.01 in"}).save()
    sheet = openpyxl.load_workbook(place / "cuts.xlsx").active
    assert sheet["A1"].font.bold and sheet["N3"].value == 130 and sheet["U1"].value == "deviation [in]"
    assert sheet["U3"].value == 0.01
    editing.delete_cut(place, "1").save()
    assert study.open_study(place).cuts["cut"].tolist() == ["2"]
    editing.undo(place)
    editing.undo(place)
    assert (place / "cuts.xlsx").read_bytes() == before


def test_all_that_was_done_can_be_undone_and_done_again(place):
    states = [content(place)]
    for change in (
        editing.entry(place, "machines", "saw3", asked.answers("machines", SAW, "us")),
        editing.fit_band(place, "B3", {"stock": "s8", "machine": "saw3"}),
        lambda: editing.log_cuts(place, [NEW, {**NEW, "cut_time": "125"}]),
        lambda: editing.log_cuts(place, [NEW | {"rewelded": "sound"}]),  # two steps: the column, the cut
        editing.change_cut(place, "2", {"note": "burr"}),
        editing.delete_cut(place, "1"),
    ):
        change() if callable(change) else change.save()
        states.append(content(place))
    assert [step.what for step in editing.history(place).done] == [
        "machine saw3", "band B3 fitted", "2 cuts of B1 logged", "columns for rewelded", "a cut of B1 logged",
        "cut 2 changed (note)", "cut 1 deleted",
    ]  # fmt: skip
    for n in (5, 4, 3, 3, 2, 1, 0):
        editing.undo(place)
        assert content(place) == states[n] or n == 3
    assert refused(lambda: editing.undo(place)) == ["error: study: has nothing to undo"]
    assert not study.check(place)  # no cut that was taken back is missed
    for _ in range(7):
        editing.redo(place)
    assert content(place) == states[-1]
    assert refused(lambda: editing.redo(place)) == ["error: study: has nothing to do again"]
    assert "no longer in the file" not in "".join(lines(study.check(place)))
    editing.undo(place)
    editing.change_cut(place, "3", {"note": "x"}).save()
    assert not editing.history(place).undone  # what was undone is not done again over a newer change


def test_what_another_program_changed_since_is_not_undone(place):
    editing.change_cut(place, "2", {"note": "burr"}).save()
    with open(place / "cuts.csv", "a", encoding="utf-8") as log:
        log.write("4,,saw1,B1,plate,,1,10,,,200,5,,120,,flood,,,,\n")
    before = content(place)
    assert refused(lambda: editing.undo(place)) == [
        "error: cuts.csv: was changed by another program since (cut 2 changed (note)); nothing was changed, change it "
        "by hand"
    ]
    assert content(place) == before


def test_what_somebody_else_did_since_is_not_undone_by_surprise(place):
    editing.change_cut(place, "2", {"note": "mine"}).save()
    mine = editing.history(place).done[-1].id
    editing.change_cut(place, "3", {"note": "theirs"}).save()
    assert refused(lambda: editing.undo(place, mine)) == [
        "error: study: was changed since, last: cut 3 changed (note); nothing was changed, press again to undo that"
    ]


def test_a_change_waits_for_no_spreadsheet(place):
    (place / ".~lock.cuts.csv#").write_text("")
    assert "is open in a spreadsheet program" in refused(editing.delete_cut(place, "1").save)[0]


def test_a_damaged_history_says_nothing_and_stops_nothing(place):
    editing.change_cut(place, "2", {"note": "burr"}).save()
    with open(place / ".bandtrial/changes", "ab") as kept:
        kept.write(b'{"undone": \n[1]\nnull\n{"id": "x", "old": "%%"}\n{"id"')
    assert [step.what for step in editing.history(place).done] == ["cut 2 changed (note)"]
    editing.delete_cut(place, "1").save()
    assert [step.what for step in editing.history(place).done] == ["cut 2 changed (note)", "cut 1 deleted"]


def test_a_history_that_is_a_link_is_not_written_through(place, tmp_path):
    (place / ".bandtrial").mkdir()
    (tmp_path / "theirs").write_text("theirs")
    (place / ".bandtrial/changes").symlink_to(tmp_path / "theirs")
    editing.delete_cut(place, "1").save()
    assert (tmp_path / "theirs").read_text() == "theirs" and not editing.history(place).done


@pytest.mark.parametrize(
    "inline", ['machines = {saw1 = {kind = "vertical"}}\n', '[machines]\nsaw1.kind = "vertical"\n']
)
def test_what_is_written_in_another_form_is_left_alone(inline):
    with pytest.raises(study.SaveError) as caught:
        tomltext.with_table(inline, ("machines", "saw1"), {"feed": "rate"})
    assert lines(caught.value.problems) == [
        "error: study.toml: has machines.saw1 in a form that can't be changed from here; change it in the file"
    ]


VALUES = st.text(max_size=12) | st.floats(allow_nan=False, allow_infinity=False) | st.lists(st.text(max_size=5))
NAMES = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=8)


@settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])  # on a busy machine
@given(NAMES, st.dictionaries(st.sampled_from(["kind", "throat", "speed_check", "new"]), VALUES | st.none()))
def test_what_is_written_is_what_is_read(name, values):
    """Any name and values, into a study as people write it; tomllib of the standard library reads it back."""
    made = tomltext.with_table(TOML, ("machines", name), values)
    wanted = tomllib.loads(TOML)
    table = wanted["machines"].setdefault(name, {})
    table |= values
    for key in [key for key, value in values.items() if value is None]:
        del table[key]
    got = tomllib.loads(made)
    assert got.keys() == wanted.keys()
    for key, value in got["machines"].pop(name).items():
        assert value == (pytest.approx(table[key], rel=1e-11) if isinstance(value, float) else table[key])
    wanted["machines"].pop(name)
    assert got == wanted


TYPED = [
    ("machines", "band_speeds", "60-300", "us", {"band_speed_ranges": [["60 ft/min", "300 ft/min"]],
                                                 "band_speeds": None}),
    ("machines", "band_speeds", "20 to 90 m/min; 100 to 200 m/min", "us",
     {"band_speed_ranges": [["20 m/min", "90 m/min"], ["100 m/min", "200 m/min"]], "band_speeds": None}),
    ("machines", "band_speeds", "25, 40 and 60", "metric", {"band_speeds": ["25 m/min", "40 m/min", "60 m/min"],
                                                            "band_speed_ranges": None}),
    ("machines", "feed_force_range", "5 - 40 lbs", "us", {"feed_force_range": ["5 lbs", "40 lbs"]}),
    ("machines", "speed_check", "100 = 95; 250=239", "us", {"speed_check": [["100 ft/min", "95 ft/min"],
                                                                            ["250 ft/min", "239 ft/min"]]}),
    ("machines", "throat", "1-1/2", "us", {"throat": "1-1/2 in"}),
    ("machines", "throat", "wide", "us", {"throat": "wide"}),
    ("machines", "throat", " ", "us", {"throat": None}),
    ("costs", "band_change_minutes", "8 min", "us", {"band_change_minutes": 8.0}),
    ("costs", "work_ahead", "6000", "us", {"work_ahead": "6000 in2"}),
    ("materials", "hardness", "130", "metric", {"hardness": "130 HB"}),
    ("band_stock", "pitch", "6/10", "us", {"pitch": "6/10 tpi"}),
]  # fmt: skip


@pytest.mark.parametrize(("table", "name", "typed", "system", "values"), TYPED)
def test_answers_as_people_type_them(table, name, typed, system, values):
    assert asked.answers(table, {name: typed}, system) == values
    again = asked.as_typed(table, {key: one for key, one in values.items() if one is not None})
    assert asked.answers(table, again, system) == {key: values[key] for key in values if again}


def test_where_there_is_no_room_to_try_a_change_nothing_is_changed(place, monkeypatch, tmp_path):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    before = content(place)
    assert refused(editing.delete_cut(place, "1").save) == [
        f"error: cuts.csv: can't be tried out in {tmp_path / 'gone'}: no such file or directory; nothing was changed"
    ]
    assert content(place) == before
