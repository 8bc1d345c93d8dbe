"""What is written is written whole or not at all, and what stands in its way is one sentence with its name."""

import os
import stat
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from bandtrial import disk, study
from bandtrial.__main__ import main
from bandtrial.panels import setting_choice
from study_folders import folder

DEMO = Path(__file__).parents[1] / "trial_data/demo_shop"
BANDTRIAL = [sys.executable, "-m", "bandtrial"]
LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), resource.RLIM_INFINITY))
from bandtrial.__main__ import main
sys.exit(main(sys.argv[2:]))
"""
posix = pytest.mark.skipif(os.name != "posix", reason="made with POSIX means")


def names(place: Path) -> list[str]:
    return sorted(path.name for path in place.iterdir())


def test_an_output_is_put_in_place_whole_and_keeps_its_permissions(tmp_path):
    out = tmp_path / "sheet.html"
    assert disk.save(out, "one\n") == out
    out.chmod(0o640)
    with disk.whole(out, tmp_path / "sheet.csv") as (page, table):
        page.write_text("two")
        table.write_bytes(b"a,b\n")
        assert out.read_text() == "one\n"
    assert (out.read_text(), names(tmp_path)) == ("two", ["sheet.csv", "sheet.html"])
    assert stat.S_IMODE(out.stat().st_mode) == 0o640


def test_of_several_outputs_none_is_written_where_one_fails(tmp_path):
    out = disk.save(tmp_path / "page.html", "old")
    with pytest.raises(ZeroDivisionError), disk.whole(out, tmp_path / "page.csv") as (page, _):
        page.write_text("new")
        raise ZeroDivisionError
    with pytest.raises(disk.NotWrittenError) as said, disk.whole(tmp_path / "a.csv", out) as (_, page):
        page.write_text("new")
        raise OSError(28, "No space left on device")
    assert str(said.value) == f"'{out}' can't be written: no space left on device; nothing was written"
    assert (out.read_text(), names(tmp_path)) == ("old", ["page.html"])


def test_a_name_that_no_output_can_have_is_said(tmp_path):
    for name, words in (
        (tmp_path, f"'{tmp_path}' is a folder; name a file in it, as {tmp_path}{os.sep}study.html"),
        (tmp_path / "no" / "x.html", f"'{tmp_path / 'no' / 'x.html'}' can't be written: there is no folder "
                                     f"'{tmp_path / 'no'}'; nothing was written"),
    ):  # fmt: skip
        with pytest.raises(disk.WrongNameError) as said:
            disk.save(name, "x")
        assert str(said.value) == words
    with pytest.raises(disk.NotWrittenError) as long:
        disk.save(tmp_path / ("a" * 5000), "x")
    assert str(long.value).endswith("a' can't be written: file name too long; nothing was written")
    assert len(str(long.value)) < 300
    assert names(tmp_path) == []


@posix
def test_a_device_is_not_replaced_and_a_link_is_followed(tmp_path):
    with pytest.raises(disk.WrongNameError) as said:
        disk.save("/dev/null", "x")
    assert str(said.value) == "'/dev/null' is not a file that can be replaced; name another"
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)
    (tmp_path / "kept").mkdir()
    (tmp_path / "page.html").symlink_to(tmp_path / "kept/page.html")
    disk.save(tmp_path / "page.html", "x")
    assert (tmp_path / "kept/page.html").read_text() == "x" and (tmp_path / "page.html").is_symlink()
    (tmp_path / "round").symlink_to(tmp_path / "round")
    with pytest.raises(disk.NotWrittenError, match=r"'.*round' can't be written: "):
        disk.save(tmp_path / "round", "x")


def test_what_a_killed_program_left_beside_an_output_goes_the_next_day(tmp_path):
    left = [tmp_path / name for name in ("page.html.0123abcd.new", "page.html.4567abcd.new", "page.html.note.new")]
    for path in left:
        path.touch()
    for path in left[::2]:
        os.utime(path, (time.time() - 86_400,) * 2)
    disk.save(tmp_path / "page.html", "x")
    assert names(tmp_path) == ["page.html", "page.html.4567abcd.new", "page.html.note.new"]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("setup_a/b\\c:d", "setup_a_b_c_d.html"),
        ("../../etc", "_.._etc.html"),
        ("con", "_con.html"),
        ("COM1.x", "_COM1.x.html"),
        ("上锯 منشار 🪚", "上锯 منشار 🪚.html"),
        ("上" * 200, "上" * 65 + ".html"),
        ("a\x1b\u202eb", "a__b.html"),
        (". ", "_.html"),
    ],
)
def test_a_file_name_is_one_that_every_system_takes(text, name):
    """Signs and names that Windows refuses, and the 255 bytes of a name on Linux: from memory."""
    assert disk.file_name(text, ".html") == name
    assert len(disk.file_name(text, ".html").encode()) <= 200


def test_the_command_names_what_stands_in_the_way_of_its_page(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "pages").mkdir()
    for out, code, words in (
        ("pages", 2, f"bandtrial report: -o: 'pages' is a folder; name a file in it, as pages{os.sep}study.html\n"),
        ("no/x.html", 2, f"bandtrial report: -o: '{Path('no/x.html')}' can't be written: there is no folder 'no'; "
                         "nothing was written\n"),
        ("y" * 300, 1, f"'{'y' * 100}...{'y' * 100}' can't be written: file name too long; nothing was written\n"),
    ):  # fmt: skip
        assert main(["report", str(DEMO), "-o", out]) == code
        assert capsys.readouterr() == ("", words)
        assert main(["change", str(DEMO), str(DEMO), "-o", out]) == code
        assert capsys.readouterr() == ("", words.replace("bandtrial report", "bandtrial change"))
    assert names(tmp_path) == ["pages"]


@posix
@pytest.mark.parametrize("limit", [0, 20_000])
def test_a_report_that_finds_no_room_leaves_nothing(tmp_path, limit):
    """A limit on the size of files stands for a full disk; `benchmarks/faults.py outputs` fills a real one."""
    out = tmp_path / "study.html"
    run = [sys.executable, "-c", LIMITED, str(limit), "report", str(DEMO), "-o", str(out)]
    done = subprocess.run(run, capture_output=True, text=True, timeout=300)
    words = "can't be written: file too large; nothing was written"
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr in (f"'{tmp_path / name}' {words}\n" for name in ("study_cuts.csv", "study.html"))
    assert names(tmp_path) == []


@posix
def test_a_new_study_that_finds_no_room_leaves_nothing(tmp_path):
    place = tmp_path / "deep" / "study"
    run = [sys.executable, "-c", LIMITED, "1000", "new", str(place)]
    done = subprocess.run(run, capture_output=True, text=True, timeout=60)
    assert (done.returncode, done.stdout, done.stderr) == (
        2, "", f"bandtrial new: error: {place}: can't hold a new study: file too large; nothing was written\n"
    )  # fmt: skip
    assert names(tmp_path) == []


def test_a_name_of_5000_letters_is_said_in_short(capsys):
    long = "a" * 5000
    short = f"{'a' * 100}...{'a' * 100}"
    advice = "; `bandtrial new FOLDER` makes an empty one"
    assert main(["check", long]) == 2
    assert capsys.readouterr().err == f"bandtrial check: the study folder '{short}' can't be opened: " \
        f"file name too long{advice}\n"  # fmt: skip
    assert main(["new", long]) == 2
    assert capsys.readouterr().err == (
        f"bandtrial new: error: {short}: can't hold a new study: file name too long; nothing was written\n"
    )
    assert [str(one) for one in study.check(long)] == [
        f"error: {short}: can't be opened: file name too long; give the folder that holds study.toml"
    ]
    with pytest.raises(study.SaveError) as said:
        study.append_cut(long, {})
    assert str(said.value) == f"error: {short}: is not a study folder; bandtrial new makes one"


@posix
@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("words", [["check", str(DEMO)], ["--help"]])
def test_a_full_disk_behind_the_answer_is_said(words, unbuffered):
    if not Path("/dev/full").exists():
        pytest.skip("this system has no /dev/full")
    environment = os.environ | {"PYTHONUNBUFFERED": unbuffered}
    with open("/dev/full", "w") as full:
        done = subprocess.run([*BANDTRIAL, *words], stdout=full, stderr=subprocess.PIPE, text=True, env=environment)
        assert (done.returncode, done.stderr) == (
            1, "bandtrial: standard output can't be written: no space left on device\n"
        )  # fmt: skip
        mute = subprocess.run([*BANDTRIAL, *words], stdout=full, stderr=full, env=environment)
    assert mute.returncode == 1


@posix
@pytest.mark.parametrize("unbuffered", ["", "1"])
@pytest.mark.parametrize("closed", ["| true", ">&-", "2>&-", ">&- 2>&-"])
def test_an_answer_that_nobody_reads_ends_without_a_word(closed, unbuffered, tmp_path):
    place = folder(tmp_path / "study")
    command = f'"$0" -m bandtrial check "$1" {closed}; exit ${{PIPESTATUS[0]}}'
    environment = os.environ | {"PYTHONUNBUFFERED": unbuffered}
    run = ["bash", "-c", command, sys.executable, str(place)]
    done = subprocess.run(run, capture_output=True, text=True, env=environment, timeout=60)
    out = f"{place}: no errors, no warnings\n" if closed == "2>&-" else ""
    assert (done.returncode, done.stdout, done.stderr) == (0, out, "")


def test_panels_save_sheets_of_machines_with_any_name(tmp_path, monkeypatch):
    """An id with a slash in it once named a folder that did not exist, or one outside."""
    made = []
    monkeypatch.setattr(
        setting_choice, "write_sheet", lambda answer, study, out, fit: made.append(out) or disk.save(out, "x")
    )
    job = SimpleNamespace(machine=SimpleNamespace(id="../a/b"), material=SimpleNamespace(id="c:d"), thickness=25.4)
    panel = SimpleNamespace(
        recommendation=SimpleNamespace(job=job), folder=tmp_path / "deep/sheets", fit=None,
        study=SimpleNamespace(units="us"), saved=SimpleNamespace(saved=lambda *said: made.append(said)),
    )  # fmt: skip
    setting_choice.ChooseSetting.save_sheet(panel)
    assert made[0] == tmp_path / "deep/sheets" / "setup_.._a_b_c_d_1in.html"
    assert made[0].read_text() == "x" and made[1] == (made[0], "print it for the machine.")
