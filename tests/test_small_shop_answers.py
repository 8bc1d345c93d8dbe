"""What small shops are told: a runnable answer or a cut to make wherever something was cut or asked, word for word."""

from dataclasses import replace
from types import SimpleNamespace

import known_shop as shop
import openpyxl
import pytest
from bandtrial import recommend, study, trials, wear
from bandtrial.__main__ import main
from bandtrial.recommend.card_words import Words
from bandtrial.recommend.job import NotYet, Value
from bandtrial.recommend.others import bite_giving
from bandtrial.recommend.wording import cautions_text
from study_folders import folder, lines

TOML = """\
[study]
name = "Tool room"
units = "us"
currency = "USD"
[costs]
machine_and_labor_per_hour = 65
band_change_minutes = 10
scrapped_piece = 0
[machines.saw]
kind = "vertical"
feed = "hand"
band_speed_ranges = [["60 ft/min", "300 ft/min"]]
band_length = "93 in"
[band_stock.b10]
pitch = "10 tpi"
edge = "bimetal"
price = 38
[materials.a36]
group = "A36"
"""
BANDS = "band,stock,machine,fitted,removed,end,note\nB1,b10,saw,2026-03-02,,in_service,\n"
HEAD = "cut,started,band,material,work_thickness [in],cut_travel [in],band_speed [ft/min],cut_time\n"
JOB = {"machine": "saw", "stock": "b10", "material": "a36", "thickness_mm": 25.4}
ASKED = ["--machine", "saw", "--stock", "b10", "--material", "a36", "--thickness", "1"]
BY_FORCE = TOML.replace('feed = "hand"', 'feed = "force"')


def log(*times, head=HEAD, beside=""):
    """Cuts of 1 by 2 in at 100 ft/min, an hour each from seven o'clock."""
    made = (f"{n},2026-03-{2 + n // 9:02}T{7 + n % 9:02}:00,B1,a36,1,2,100,{beside}{time}\n"
            for n, time in enumerate(times, 1))  # fmt: skip
    return head + "".join(made)


def opened(tmp_path, cuts, toml=TOML):
    return study.open_study(folder(tmp_path / "study", cuts, BANDS, toml))


def answered(tmp_path, cuts, toml=TOML):
    shop_study = opened(tmp_path, cuts, toml)
    got = recommend.recommend(wear.fit(shop_study), shop_study, **JOB)
    return got, {line.key: line.text for line in got.card_lines()}


def test_three_cuts_by_hand_are_answered_inside_what_they_were(tmp_path):
    """What three cuts held at least lay above what three held at most: nothing could be inside, and all was refused."""
    got, said = answered(tmp_path, log("3:20", "3:17", "3:22"))
    assert got.setting.indicated == pytest.approx(100 * 0.3048, rel=0.03)
    assert 50.8 / (202 / 60) / 1.02 <= got.setting.feed <= 50.8 / (197 / 60) * 1.02
    assert said["now"].endswith(" That is this setting, as far as a dial and a stopwatch tell: stay there.")
    assert "gain" not in said
    assert said["sure"] == (
        "Of figures with two more in brackets, 80 of 100 are between these. It rests on 3 lines of the log, on 1 band; "
        "none of the bands wore out or broke. Least sure is how many pieces a band makes; each worn-out band that is "
        "logged makes it surer."
    )


def test_a_pace_by_hand_has_no_knob_that_makes_it_slower(tmp_path):
    """2 in in 3:48 are 0.526 in a minute: a step of 0.1 would be a pace that costs 5 % more than what is run."""
    got, said = answered(tmp_path, log(*["3:48", "3:47", "3:49"] * 3))
    assert got.setting.feed / 25.4 == pytest.approx(2 / 3.8, rel=0.03)
    assert said["now"].endswith(" That is this setting, as far as a dial and a stopwatch tell: stay there.")


def test_a_force_that_nobody_logs_leaves_a_feed_by_hand(tmp_path):
    """A cut-off saw that sinks by its own weight has no gauge: ten timed cuts are ten cuts."""
    got, said = answered(tmp_path, log(*["3:20", "3:17", "3:22", "3:19", "3:25"] * 2), BY_FORCE)
    assert got.job.feed == "hand" and got.evidence["cuts"] == 10
    assert said["set"].startswith("100 ft/min on the dial, pace 0.6 in/min, by hand 100.0 s per inch.")
    place = tmp_path / "study"
    assert lines(study.check(place)) == [
        'warning: cuts.csv, feed_force: none is logged on "saw", so its cuts are judged by their times, as those of a '
        "hand feed; once a cut has one, by force",
        "warning: cuts.csv, row 1-11, column feed_force: empty, but saw feeds by force; the cut tells nothing of the "
        "force it needs".replace("row 1-11", "rows 2-11"),
    ]
    forced = HEAD.replace("cut_time", "feed_force [lbf],cut_time")
    with_one = log("3:20", "3:17", head=forced, beside=",").replace(",,3:17", ",20,3:17")
    assert opened(tmp_path, with_one, BY_FORCE).machines["saw"].feed == "force"


def test_a_shop_without_a_cut_gets_the_first_one_with_the_cautions(tmp_path, capsys):
    """On the band that is fitted and has not cut yet."""
    place = folder(tmp_path / "study", HEAD, BANDS, TOML)
    assert main(["recommend", str(place), *ASKED]) == 1
    said = capsys.readouterr().err
    first = trials.plan(None, study.open_study(place), **JOB, minutes=60).runs[0]
    assert first.why == "break-in of a new band, to be called B1: the same feed, as less would rub, one cut"
    assert said == (
        "Not yet: no usable cut of a36 on saw is logged yet.\n"
        "What would help: 1 cut on a new b10 at 180 ft/min on the dial, 4.25 in/min, by hand 14.1 s per inch, 0.9 "
        f"min; `bandtrial plan` lays out those after it.\n\n{cautions_text()}\n"
    )


def test_a_hand_is_not_told_to_feed_as_no_small_motor_could(tmp_path):
    """750 W at 7.8 J/mm3 and a kerf of 1.3 mm saw 35 cm2 a minute of 0.8 of that at the teeth; 5 um are the least, and
    a quarter more where a band is used hard on purpose."""
    made = trials.plan(None, opened(tmp_path, HEAD), **JOB, minutes=60)
    rate = [run.feed * 25.4 / 100 for run in made.runs]
    least = [6.25 if "hard on purpose" in run.why else 5.0 for run in made.runs]
    at_least = [um * run.band_speed / 2.54 * 25.4 / 100 for um, run in zip(least, made.runs, strict=True)]
    assert all(one <= max(0.8 * 750 * 60 / 7.8 / 130, least) * 1.05 for one, least in zip(rate, at_least, strict=True))


def test_after_one_cut_the_plan_goes_on_from_it(tmp_path):
    """It laid out settings three times as fast and five times as heavy, as if nothing were cut."""
    one = opened(tmp_path, log("3:20"))
    made = trials.plan(wear.fit(one), one, **JOB, minutes=60)
    assert made.reason == (
        "band life is too little known yet for more than a rough recommendation: make this run, log it, then plan again"
    )
    assert {run.band for run in made.runs} == {"B1"}
    assert all(1 / 1.3 < run.indicated / 30.48 < 1.3 and 1 / 1.3 < run.feed / 15.24 < 1.65 for run in made.runs)


JOB_OF_KNOWN = ("saw1", "s8", "plate", 20.0)


def test_a_chip_is_looked_for_where_chips_thicken_with_the_force():
    """Draws that let chips thicken again at hardly any force gave 10 um at 0.45 lbf."""
    fit = SimpleNamespace(thinned=lambda n: fit, chip_load_at_force=lambda F, V, L, **kw: [F / 10 + 1e4 * (F < 5)])
    job = SimpleNamespace(feed_of=lambda V, bite: bite, thickness=20.0, machine=SimpleNamespace(id="m"),
                          material=SimpleNamespace(id="k"), stock=SimpleNamespace(id="s"))  # fmt: skip
    assert bite_giving(fit, job, 30.0, 8.0) == pytest.approx(80.0, rel=0.01)


def test_figures_far_from_all_that_was_cut_are_not_foretold(tmp_path, capsys):
    """The published start is three times the speed of ten cuts by hand and ten times their chip."""
    got, said = answered(tmp_path, log(*["3:20", "3:17", "3:22", "3:19", "3:25"] * 2))
    assert got.card.beside["published"].unlike
    assert said["published"].endswith(
        ". No feed is published: that is 0.0004 in per tooth, our choice. That is so unlike all that was cut that "
        "nobody can say from the log what it would cost. Why it is not taken: ruled out: 199 % faster and 683 % more "
        "feed per tooth than anything tried, 117.8 times the step that the cuts defend."
    )
    assert main(["compare", str(tmp_path / "study")]) == 0
    assert "what the published start would cost no cut tells  [it is far from all that was cut]" in (
        capsys.readouterr().out
    )


def card_of(pieces, **kw):
    """A card of pieces of 2 in2, so many a band, and the sentences on it."""
    got = recommend.recommend(shop.fit("force", sure=0.0), shop.study("force"), *JOB_OF_KNOWN)
    card = replace(got.card, pieces=Value(pieces, pieces, pieces), piece=replace(got.card.piece, area=12.9), **kw)
    words = Words(got)
    words.card = card
    return words


@pytest.mark.parametrize(("pieces", "many"), [(2000.0, "the first 25 to 50 pieces"), (300.0, "the first 25 to 30 "
                         "pieces"), (41.0, "the first 4 pieces"), (7.8, "the first piece")])  # fmt: skip
def test_a_band_is_run_in_for_a_tenth_of_its_pieces_at_most(pieces, many):
    """50 to 100 in2 are more than the life of a band that makes 41 pieces of 2 in2."""
    assert list(card_of(pieces).setting())[-1] == (
        f"New band: the dial as it is, {many} at 10 to 25 N, a fifth to half of that feed force."
    )


def test_no_band_is_run_until_a_piece_takes_nineteen_times_as_long(tmp_path):
    """What nobody has seen is foretold without an end: three times a new band's time is the most that is said."""
    head = HEAD.replace("cut_time", "feed_force [lbf],cut_time")
    cuts = log(*(f"{200 + 3 * n} s" for n in range(12)), head=head, beside="20,").replace(" s\n", "\n")
    got, said = answered(tmp_path, cuts.replace("cut_time", "cut_time [s]"), BY_FORCE)
    (slower,) = (sign for sign in got.card.signs if sign.signal == "slower")
    assert slower.end <= 3.0
    most = f"a cut takes longer than {3 * got.card.fresh_seconds:.2g}"
    assert slower.end < 3.0 or most in said["take_off"]
    assert "whichever comes first" not in said["take_off"]


def test_a_trial_on_a_band_that_is_not_there_is_on_a_new_one(tmp_path):
    """The only band was stripped in its tenth cut."""
    times = [f"{(120 + 6 * n) // 60}:{(120 + 6 * n) % 60:02}" for n in range(9)]
    cuts = log(*times).replace("\n", ",yes\n").replace("cut_time,yes", "cut_time,complete")
    cuts += "10,2026-03-03T09:00,B1,a36,1,1.2,100,2:30,no\n"
    place = folder(tmp_path / "study", cuts, BANDS.replace(",,in_service", ",2026-03-03,stripped"), TOML)
    known = study.open_study(place)
    got = recommend.recommend(wear.fit(known), known, **JOB)
    assert got.telling_cut.band == "new"
    assert " on a new b10 at " in next(line.text for line in got.card_lines() if line.key == "next")


def test_counts_of_a_refusal_are_words():
    no = NotYet("it rains.", ["a roof."], {"cuts": 1, "bands": 1, "failed": 1, "censored": 0, "minutes": 9.9})
    assert str(no) == (
        "Not yet: it rains.\nThe study has 1 cut, 1 band, 1 failed, 0 censored, 9.9 minutes.\nWhat would help: a roof."
    )


def test_a_sheet_alone_is_that_of_the_cuts(tmp_path):
    """As spreadsheet programs call it; bands.csv beside it. A cut saved from here goes into it too."""
    place = folder(tmp_path / "study", HEAD, BANDS, TOML)
    (place / "cuts.csv").unlink()
    book = openpyxl.Workbook()
    for row in log("3:20", "3:17").splitlines():
        book.active.append(row.split(","))
    assert book.sheetnames == ["Sheet"]
    book.save(place / "cuts.xlsx")
    assert lines(study.check(place)) == []
    study.append_cut(place, {"band": "B1", "material": "a36", "work_thickness": "1 in", "cut_travel": "2 in",
                             "band_speed": "100 ft/min", "cut_time": "3:22"})  # fmt: skip
    assert study.open_study(place).cuts["cut"].tolist() == ["1", "2", "3"]
    assert openpyxl.load_workbook(place / "cuts.xlsx").sheetnames == ["Sheet"]


def test_a_head_without_its_unit_is_said_once_and_nothing_else(tmp_path):
    """Its cells are not empty: nothing is to be filled in, or taken for them."""
    head = "cut,started,band,material,work_thickness,cut_travel,band_speed,feed_force,cut_time\n"
    place = folder(tmp_path / "study", log("3:20", "3:17", head=head, beside="20,"), BANDS, BY_FORCE)
    names = (("work_thickness", "in"), ("cut_travel", "in"), ("band_speed", "ft/min"), ("feed_force", "lbf"))
    assert lines(study.check(place)) == [
        f'error: cuts.csv, row 1, column {name}: the head names no unit; write it as "{name} [{unit}]"'
        for name, unit in names
    ]


SLIPS = {
    "price in cents": ("price = 38", "price = 3800", "warning: study.toml, line 17, band_stock.b10.price: 3800 is as "
        "much as 58 hours of machine and labor, 65 each; is the price in cents, or that the cost of a minute?"),
    "the cost of a minute": ("hour = 65", "hour = 1.08", "warning: study.toml, line 17, band_stock.b10.price: 38 is as "
        "much as 35 hours of machine and labor, 1.08 each; is the price in cents, or that the cost of a minute?"),
    "a pitch in mm": ('"10 tpi"', '"10 mm"', 'warning: study.toml, line 15, band_stock.b10.pitch: "10 mm" is read as a '
        "tooth every so many mm, 2.54 tpi; if it is teeth per inch, write tpi"),
    "a variable pitch in mm": ('"10 tpi"', '"6/10 mm"', 'warning: study.toml, line 15, band_stock.b10.pitch: "6/10 mm" '
        "is read as a tooth every so many mm, 3.17 tpi; if it is teeth per inch, write tpi"),
    "a band of 75 m": ('"93 in"', '"2950 in"', "error: study.toml, line 13, machines.saw.band_length: \"2950 in\" "
        "can't be right; it should be more than 200 and at most 30000 mm"),
}  # fmt: skip


@pytest.mark.parametrize(("old", "new", "said"), SLIPS.values(), ids=SLIPS)
def test_slips_in_what_the_shop_has(tmp_path, old, new, said):
    place = folder(tmp_path / "study", log("3:20", "3:17", "3:22"), BANDS, TOML)
    assert lines(study.check(place)) == []
    (place / "study.toml").write_text(TOML.replace(old, new))
    assert lines(study.check(place)) == [said]


@pytest.mark.parametrize("pitch", ["3.2 mm", "4 mm", "2/3 tpi", "24 tpi"])
def test_pitches_that_nobody_asks_about(tmp_path, pitch):
    toml = TOML.replace('"10 tpi"', f'"{pitch}"')
    assert lines(study.check(folder(tmp_path / "study", log("3:20", "3:17", "3:22"), BANDS, toml))) == []


def test_times_that_are_minutes_in_all_of_a_log(tmp_path):
    """3:20 and the like as 3.3 under [s]: no cut stands out, but 2 in in 3.3 s at 100 ft/min and 10 teeth per inch are
    a chip of 77 um in every one; published are 5 to 50."""
    minutes = log("3.3", "3.2", "3.4", "3.3", head=HEAD.replace("cut_time", "cut_time [s]"))
    assert lines(study.check(folder(tmp_path / "study", minutes, BANDS, TOML))) == [
        "question: cuts.csv, row 2, column cut_time: 3.3 s: by this log each tooth took 77 µm in the usual cut, and 50 "
        "is much; minutes and seconds mixed up?"
    ]


def test_a_force_of_the_other_unit_between_cuts_at_the_usual_one(tmp_path):
    """25 lbf are 111 N; 25 N would be 5.6 lbf, with a chip that only 25 lbf give. Speeds alternate, so that no cut is
    like both its neighbors."""
    head = HEAD.replace("cut_time", "feed_force [lbf],cut_time")
    rows = log(*(["3:20", "2:47"] * 6), head=head, beside="25,").splitlines()
    rows[2::2] = [row.replace(",100,25", ",120,25") for row in rows[2::2]]
    rows[7] = rows[7].replace(",25,", ",5.62,")
    assert lines(study.check(folder(tmp_path / "study", "\n".join(rows) + "\n", BANDS, BY_FORCE))) == [
        "question: cuts.csv, row 8, column feed_force: 5.62 lbf, where the usual value on this machine is 25 lbf; lbf "
        "and N mixed up?"
    ]


def test_a_day_alone_is_no_time_at_which_cuts_overlap(tmp_path):
    """Twelve cuts with their hour and two of a day alone, as a workbook's date cells have it."""
    cuts = log(*["3:20"] * 12)
    cuts += "13,2026-03-20 00:00:00,B1,a36,1,2,100,3:21\n14,2026-03-20 00:00:00,B1,a36,1,2,100,3:19\n"
    assert lines(study.check(folder(tmp_path / "study", cuts, BANDS, TOML))) == []
    late = cuts.replace("20 00:00:00,B1,a36,1,2,100,3:19", "20 00:01:00,B1,a36,1,2,100,3:19")
    (tmp_path / "study/cuts.csv").write_text(late.replace("20 00:00:00", "20 00:00:30"))
    assert lines(study.check(tmp_path / "study")) == [
        'question: cuts.csv, row 15, column started: "2026-03-20 00:01:00" is 3 min before the cut in row 14 can have '
        "ended (1 x 3:21); is that so?"
    ]


def test_cuts_of_a_day_that_took_as_long_are_not_one_logged_twice(tmp_path):
    """By hand, to the second, with a day and no hour: a third cut of 3:20 is no slip."""
    cuts = log("3:20", "3:17", "3:20", "3:20", "3:22")
    for hour in range(7, 12):
        cuts = cuts.replace(f"T{hour:02}:00", "")
    assert lines(study.check(folder(tmp_path / "study", cuts, BANDS, TOML))) == []


@pytest.mark.parametrize("minutes", [30.0, 60.0])
def test_where_nothing_but_an_end_tells_the_next_run_is_the_hardest(minutes):
    """Times alone are logged: 44 minutes slower and lighter than anything tried were said to tell most of life."""
    thin = study.open_study("trial_data/thin_shop")
    fit = wear.fit(thin)
    made = trials.plan(fit, thin, "upright", "b27", "guide_52100", 55.0, minutes=minutes)
    own = fit.data[fit.data["material"] == "guide_52100"]
    assert not fit.signals and len(made.runs) == 1
    assert made.runs[0].band_speed > own["band_speed"].max() and made.runs[0].chip_load > own["chip_load"].max()


BY_HAND = (("3:20", ".004"), ("3:05", ".005"), ("3:31", ".004"), ("3:12", ".006"), ("3:38", ".007"), ("3:26", ".008"))


def test_what_is_read_at_a_saw_fed_by_hand_is_a_signal_as_at_a_set_feed(tmp_path):
    """A log of deviations was left out of the fit, and the card said that none was logged."""
    head = HEAD.replace(",cut_time", ",deviation [in],cut_time")
    rows = "".join(
        f"{n},2026-03-02T{7 + n}:00,B1,a36,1,2,100,{off},{time}\n" for n, (time, off) in enumerate(BY_HAND, 1)
    )
    got, said = answered(tmp_path, head + rows)
    assert [sign.signal for sign in got.card.signs] == ["deviation"]
    assert said["take_off"].startswith("When a cut is out of square by over 0.0")


def test_what_is_run_now_by_hand_is_the_dial_s_speed_at_its_usual_pace(tmp_path):
    """Six cuts at 100 ft/min whose pace strays, three at 80 whose pace does not."""
    steady = "".join(f"{n},2026-03-04T{n}:00,B1,a36,1,2,80,4:10\n" for n in (7, 8, 9))
    got, _ = answered(tmp_path, log(*(time for time, _ in BY_HAND)) + steady)
    now = next(one for one in got.table if one.name == "the shop now")
    assert now.indicated == pytest.approx(100 * 0.3048)
    assert now.feed == pytest.approx(50.8 / (203 / 60), rel=0.01)  # the middle of the six, 3:23


def test_a_run_far_beyond_what_was_tried_is_come_to_in_steps(tmp_path):
    _, said = answered(tmp_path, log(*(time for time, _ in BY_HAND)))
    assert "Come to it in steps of a quarter, a cut each, as bandtrial plan lists them." in said["next"]
    assert "half-way" not in said["next"]


def test_a_round_bar_is_asked_for_by_its_diameter(tmp_path, capsys):
    """A round of 2 in is pi/4 2 = 1.57 in thick on average."""
    head = HEAD.replace("work_thickness [in],cut_travel [in]", "diameter [in]")
    cuts = head + "".join(f"{n},2026-03-02T{7 + n}:00,B1,a36,2,100,{time}\n" for n, (time, _) in enumerate(BY_HAND, 1))
    place = str(folder(tmp_path / "study", cuts, BANDS, TOML))
    for thickness, hint in (("2 in", True), ("2 in round", False), ("Ø2", False)):
        main(["recommend", place, *ASKED[:-1], thickness])
        told = " ".join(capsys.readouterr().out.split())
        assert (
            "No cut was 2 in thick; if it is a round bar, ask for 2 in round, which is 1.57 in thick" in told
        ) == hint
        assert ("1.57 in by 2 in, 3.14 in² (the piece cut most)" in told) != hint


def test_a_material_is_known_by_its_grade_and_dates_before_a_band_s_are_said_once(tmp_path):
    toml = TOML.replace("[materials.a36]", '[materials.alu]\ngroup = "6061-T6"\n[materials.a36]')
    cuts = log("3:20", "3:17", "3:22").replace(",a36,", ",6061,").replace("2026-03-02", "2026-02-27")
    assert lines(study.check(folder(tmp_path / "study", cuts, BANDS, toml))) == [
        'warning: cuts.csv, rows 2-4, column material: "6061" is read as alu',
        'warning: cuts.csv, rows 2-4, column started: "2026-02-27T08:00" is before band B1 was fitted, 2026-03-02, and '
        "so are 2 more of its cuts; the right date in bands.csv?",
    ]
