"""The log as people type it: every planted slip is read as its writer meant it, or reported in one line.

The slips are the difference between data/sample_study and data/sample_study_as_typed; what each should become is
the value in data/sample_study, or stated beside the check.
"""

import shutil
from pathlib import Path

import pandas as pd
import pytest
from bandtrial import study
from study_folders import lines

DATA = Path(__file__).parent / "data"
AS_TYPED = DATA / "sample_study_as_typed"

REPORTED = [
    'error: bands.csv, row 2, column end: "worn out" is not one of in_service, removed_sound, dull, crooked, '
    'stripped, broken, weld_broken; did you mean "dull"?',
    'error: bands.csv, row 12, column band: "B02" is already in row 3; a band has one row, delete the other',
    'error: cuts.csv, row 6, column cut: "4" is already the number of row 5; each cut needs a number of its own; '
    "5 is still free",
    "error: cuts.csv, row 11, column band_speed: 1150 ft/min is outside the speeds of saw1, 50 to 160 or 180 to "
    "490 ft/min; a slipped decimal point? 115 would fit",
    "error: cuts.csv, row 15, column cut_time: empty; a cut needs its cut time",
    'error: cuts.csv, row 19, column material: no material "plate 1018" in study.toml; did you mean '
    '"plate_1018"? (there: bar_4140, plate_1018, plate_304)',
    "warning: cuts.csv, row 27, column cut_time: 12:40 is read as 12 min 40 s; with its cut travel that is a feed "
    "rate of 1.42 in/min, but feed_rate says 7.77 in/min; check time, travel and feed rate",
    'error: cuts.csv, row 35, column band: no band "B44" in bands.csv; did you mean "B04"? (there: B01, B02, B03, '
    "B04, B05, B06, B07, B08, B09, B10)",
    "error: cuts.csv, row 42, column band_speed: -150 ft/min is not a band speed; it must be more than 0",
    'warning: cuts.csv, row 48, column started: "3/17/26 2:30 PM" is read as 2026-03-17T14:30, out of order with '
    "its neighbors: row 47 says 2026-03-04T13:30 and row 49 says 2026-03-04T14:30",
    "warning: cuts.csv, row 62, column cut_time: 74 s is read as 1 min 14 s; with its cut travel that is a feed "
    "rate of 4.86 in/min, but feed_rate says 6.48 in/min; check time, travel and feed rate",
    "warning: cuts.csv, row 155, column cut_time: 282 s is read as 4 min 42 s; with its cut travel that is a feed "
    "rate of 1.28 in/min, but feed_rate says 3.78 in/min; check time, travel and feed rate",
]
"""Row 155 is in the clean study too: the clamp slipped there. Row 62 is what the decimal comma leads to."""


def test_every_slip_that_cannot_be_read_is_one_line():
    assert lines(study.check(AS_TYPED)) == REPORTED


def test_a_study_with_errors_does_not_open_and_says_them_all():
    with pytest.raises(study.StudyError) as refused:
        study.open_study(AS_TYPED)
    assert lines(refused.value.problems) == REPORTED
    assert str(refused.value) == "\n".join(REPORTED)


def test_the_clean_study_opens_with_the_one_warning_it_deserves():
    opened = study.open_study(DATA / "sample_study")
    assert lines(opened.problems) == REPORTED[-1:]
    assert (len(opened.cuts), len(opened.bands), opened.units, opened.currency) == (183, 10, "us", "USD")


@pytest.fixture(scope="module")
def mended(tmp_path_factory):
    """The study as typed with only the reported errors mended, each as its message says."""
    folder = tmp_path_factory.mktemp("mended")
    clean = (DATA / "sample_study/cuts.csv").read_text().splitlines()
    typed = (AS_TYPED / "cuts.csv").read_text().splitlines()
    for row in (6, 11, 15, 19, 35, 42):
        typed[row - 1] = clean[row - 1]
    (folder / "cuts.csv").write_text("\n".join(typed) + "\n")
    for name in ("study.toml", "bands.csv"):
        shutil.copy(DATA / "sample_study" / name, folder)
    return study.open_study(folder).cuts.set_index("cut")


def test_every_other_slip_is_read_as_it_was_meant(mended):
    clean = study.open_study(DATA / "sample_study").cuts.set_index("cut")
    changed = {(cut, column) for column in clean for cut in clean.index
               if not _same(clean.loc[cut, column], mended.loc[cut, column])}  # fmt: skip
    assert changed == {("26", "cut_time"), ("47", "started"), ("61", "cut_travel")}
    assert mended.loc["31", "work_thickness"] == clean.loc["31", "work_thickness"]  # 3/4 is 0.750
    assert mended.loc["53", "complete"]  # Y is yes
    assert mended.loc["26", "cut_time"] == pytest.approx(760 / 60, rel=1e-12)  # 12:40 in a column of seconds
    assert mended.loc["47", "started"] == pd.Timestamp("2026-03-17T14:30")  # no month 17: month first
    assert mended.loc["61", "cut_travel"] == pytest.approx(6.0 * 25.4, rel=1e-12)  # 6,0 in


def _same(one, other) -> bool:
    return one == other or (pd.isna(one) and pd.isna(other))
