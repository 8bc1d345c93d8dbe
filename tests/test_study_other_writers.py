"""Saving beside others: damaged logs, other programs, links, writers that were killed or save at the same time."""

import json
import multiprocessing
import os
import platform
import re
import shutil
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

import pytest
from bandtrial import disk, study
from bandtrial.study import files
from bandtrial.study.writing import keeping
from study_folders import AS_TYPED as CUT
from study_folders import book, folder, lines, refused, rows


@pytest.fixture
def place(tmp_path):
    return folder(tmp_path / "study", rows({}, {}))


def test_a_last_line_that_was_cut_off_is_put_aside_not_lost(place):
    whole = (place / "cuts.csv").read_bytes()
    (place / "cuts.csv").write_bytes(whole + b"3,2026-03-0")
    assert study.append_cut(place, CUT).cut == "3"
    assert (place / "cuts.csv").read_bytes().startswith(whole + b"3,,saw1,")
    assert (place / ".bandtrial/cuts.csv.cutoff").read_bytes() == b"3,2026-03-0\n"


def test_a_damaged_log_is_not_written_to(place):
    (place / "cuts.csv").write_text(rows({"note": "x"}).replace("x", '"x') + "2,,saw1\n")
    assert refused(place, CUT) == (
        "error: cuts.csv: can't be split into rows after row 1, a quote mark is out of place; mend that first "
        "(bandtrial check shows it), nothing was saved"
    )


def test_what_another_program_changed_in_between_is_kept(place):
    study.append_cut(place, CUT)
    text = (place / "cuts.csv").read_text().replace("note", "note,room").replace("\n1,", "\n101,")
    (place / "cuts.csv").write_text(text)
    assert study.append_cut(place, {**CUT, "room": "17 C"}).cut == "102"
    assert (place / "cuts.csv").read_text() == text + "102,,saw1,B1,plate,,1,10,,,200,5,,120,,,,,,,17 C\n"


def test_a_cut_that_another_program_lost_is_noticed_and_can_be_put_back(place):
    old = (place / "cuts.csv").read_bytes()
    study.append_cut(place, {**CUT, "note": "=1"})
    study.append_cut(place, CUT)
    saved = (place / "cuts.csv").read_bytes()
    (place / "cuts.csv").write_bytes(old)  # a spreadsheet that had it open saves its older copy
    when = [json.loads(line)[1] for line in (place / ".bandtrial/cuts.csv.journal").read_text().splitlines()]
    assert lines(study.check(place)) == [
        f"warning: cuts.csv, cut: cut {n}, saved {at}, is no longer in the file; another program may have saved an "
        "older copy. study.restore_cuts(folder) puts it back, study.forget_cuts(folder) lets it go"
        for n, at in zip((3, 4), when, strict=True)
    ]
    assert [one.cut for one in study.restore_cuts(place)] == ["3", "4"]
    assert (place / "cuts.csv").read_bytes() == saved
    (place / "cuts.csv").write_bytes(old)
    assert study.forget_cuts(place) == ["3", "4"]
    assert lines(study.check(place)) == []


@pytest.mark.parametrize("mark", [".~lock.cuts.csv#", "~$cuts.csv"])
def test_a_log_open_in_a_spreadsheet_is_not_written_to(place, mark):
    (place / mark).touch()
    assert refused(place, CUT) == (
        f"error: cuts.csv: is open in a spreadsheet program, which left {mark} beside it; nothing was saved. Close "
        f"it there and save again; if no program has it open, delete {mark}"
    )


@pytest.mark.parametrize("name", ["cuts.csv", ".bandtrial"])
def test_nothing_is_written_outside_the_folder(place, name):
    outside = place.parent / "outside"
    if name == "cuts.csv":
        shutil.move(place / name, outside)
    else:
        outside.mkdir()
    (place / name).symlink_to(outside)
    with pytest.raises(study.SaveError) as error:
        study.append_cut(place, CUT)
    assert "link that leads out of the study folder" in str(error.value)
    assert outside.is_file() or list(outside.iterdir()) == []


@pytest.mark.parametrize("name", ["journal", "lock", "holder", "waiting", "cutoff", "bak"])
def test_nothing_kept_is_written_through_a_link(place, name):
    """The journal was once followed to wherever it led."""
    (place / ".bandtrial").mkdir()
    outside = place.parent / "outside"
    outside.write_text("somebody's own")
    (place / f".bandtrial/cuts.csv.{name}").symlink_to(outside)
    assert refused(place, CUT) == (
        f"error: .bandtrial/cuts.csv.{name}: is a link, or no file, and is not written to; nothing was saved. Delete "
        "it and save again"
    )
    assert outside.read_text() == "somebody's own"
    (place / f".bandtrial/cuts.csv.{name}").unlink()
    assert study.append_cut(place, CUT).cut == "3"


def test_a_link_put_there_meanwhile_is_not_followed(place):
    outside = place.parent / "outside"
    outside.write_text("own\n")
    (place / "link").symlink_to(outside)
    with pytest.raises(OSError):
        disk.append_bytes(place / "link", b"more", follow=False)
    assert outside.read_text() == "own\n"
    disk.append_bytes(place / "link", b"more")
    assert outside.read_text() == "own\nmore"


def test_a_journal_that_is_a_link_is_not_read(place):
    study.append_cut(place, CUT)
    (place / ".bandtrial/cuts.csv.journal").rename(place / "elsewhere")
    (place / ".bandtrial/cuts.csv.journal").symlink_to(place / "elsewhere")
    assert files.remembered(place, "cuts.csv") == {}


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_spare_copies_of_a_killed_writer_go_with_the_next_cut(place, form):
    if form == "xlsx":
        book(place)
    left = [place / f".cuts.{form}.4711.new", place / f"cuts.{form}.0123abcd.new",
            place / f".bandtrial/cuts.{form}.bak.0123abcd.new"]  # fmt: skip
    own = [place / f"cuts.{form}.new", place / f"cuts.{form}.spring.new"]
    (place / ".bandtrial").mkdir()
    for path in left + own:
        path.touch()
    study.append_cut(place, CUT)
    assert [path.exists() for path in left + own] == [False, False, False, True, True]


def test_an_edit_that_keeps_size_and_time_is_noticed(place):
    """Another program writes over the log: as long as before, and with the time it had."""
    study.append_cut(place, CUT)
    log = place / "cuts.csv"
    state, text = log.stat(), log.read_text()
    log.write_text(text.replace("\n3,", "\n4,"))
    os.utime(log, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert log.stat().st_size == state.st_size
    assert study.append_cut(place, CUT).cut == "5"
    assert study.open_study(place).cuts["cut"].tolist() == ["1", "2", "4", "5"]


def test_an_edit_of_the_shop_that_keeps_size_and_time_is_noticed(place):
    study.append_cut(place, CUT)
    bands = place / "bands.csv"
    state = bands.stat()
    bands.write_text(bands.read_text().replace("B1,", "B7,"))
    os.utime(bands, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert refused(place, CUT) == (
        'error: cuts.csv, row 5, column band: no band "B1" in bands.csv; did you mean "B7"? (there: B2, B7)'
    )


HOLD = """
import sys, time
from bandtrial.study.writing.keeping import only_writer
from pathlib import Path
with only_writer(Path(sys.argv[1]), "cuts.csv"):
    print("held", flush=True)
    time.sleep(60)
"""


def test_who_waits_for_another_writer_is_told_who_that_is(place, monkeypatch):
    assert keeping.WAIT == 10.0
    monkeypatch.setattr(keeping, "WAIT", 1.0)
    before = time.time()
    with subprocess.Popen([sys.executable, "-c", HOLD, place], stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout.readline() == "held\n"
        said = refused(place, CUT)
        other.kill()
    words = re.fullmatch(
        r"error: cuts.csv: another program has been saving for 1 s: "
        rf"process {other.pid} on {re.escape(platform.node())} "
        r"since (\d{4}-\d\d-\d\d \d\d:\d\d:\d\d); nothing was saved, try again, or end that program", said)  # fmt: skip
    assert words, said
    assert before - 2 < datetime.fromisoformat(words[1]).timestamp() < time.time()
    assert study.append_cut(place, CUT).cut == "3"  # a killed writer holds nothing


def _append(place: Path, count: int, numbers) -> None:
    numbers.put([study.append_cut(place, CUT).cut for _ in range(count)])


def test_two_writers_at_once_lose_nothing(place):
    numbers = multiprocessing.get_context("spawn").Queue()
    writers = [multiprocessing.get_context("spawn").Process(target=_append, args=(place, 15, numbers)) for _ in "ab"]
    for writer in writers:
        writer.start()
    saved = [cut for _ in writers for cut in numbers.get(timeout=120)]
    for writer in writers:
        writer.join()
    assert sorted(map(int, saved)) == list(range(3, 33))
    assert study.open_study(place).cuts["cut"].tolist() == [str(n) for n in range(1, 33)]


BUSY = """
import sys, time
from bandtrial.study.writing.keeping import only_writer
from pathlib import Path
while True:
    with only_writer(Path(sys.argv[1]), "cuts.csv"):
        time.sleep(0.3)
        print("held", flush=True)
"""


def test_who_saves_all_the_time_leaves_others_their_turn(place):
    """The lock was taken again at once, and who waited for it found it free in a try of fifty."""
    with subprocess.Popen([sys.executable, "-c", BUSY, place], stdout=subprocess.PIPE, text=True) as other:
        assert other.stdout.readline() == "held\n"
        for n in range(3, 9):
            assert study.append_cut(place, CUT).cut == str(n)
        other.kill()
    (place / ".bandtrial/cuts.csv.waiting").touch()  # of a writer that was killed while it waited
    study.append_cut(place, CUT)
    assert not (place / ".bandtrial/cuts.csv.waiting").exists()


def test_what_another_writer_takes_away_meanwhile_is_no_refusal(place, monkeypatch):
    def taken_away(path):
        raise FileNotFoundError(2, "No such file or directory", str(path))

    assert study.append_cut(place, CUT).cut == "3"
    monkeypatch.setattr(keeping, "plain_file", taken_away)
    assert study.append_cut(place, CUT).cut == "4"
