"""`bandtrial new`: a study of one's own by options or by answers, and no file opened."""

import os
import sys

import pytest
from bandtrial import __main__ as command
from bandtrial import study
from bandtrial.commands.new import NEXT

OWN = ["--machine", "saw 1", "--kind", "vertical", "--feed", "hand", "--band-speeds", "60-300", "--band-length", "115",
       "--stock", "s10", "--pitch", "6/10", "--edge", "bimetal", "--price", "38", "--material", "A36", "--group", "A36",
       "--machine-and-labor-per-hour", "60", "--band-change-minutes", "10", "--scrapped-piece", "0"]  # fmt: skip


def test_options_make_a_study_that_needs_no_file_opened(tmp_path, capsys):
    place = tmp_path / "own"
    assert command.main(["new", str(place), *OWN, "--band", "B1", "--fitted", "2026-03-02"]) == 0
    assert capsys.readouterr().out == f"{place}: a new study; it lacks: nothing. {NEXT}\n"
    shop = study.open_study(place)
    assert shop.bands[["band", "stock", "machine"]].to_numpy().tolist() == [["B1", "s10", "saw 1"]]
    assert not shop.problems


def test_what_is_left_out_is_said(tmp_path, capsys):
    place = tmp_path / "own"
    assert command.main(["new", str(place), "--machine", "m", "--kind", "vertical", "--band-speeds", "60-300"]) == 0
    assert capsys.readouterr().out == (
        f"{place}: a new study; it lacks: band_stock, materials, costs.machine_and_labor_per_hour, "
        "costs.band_change_minutes, costs.scrapped_piece, machines.m.feed, machines.m.band_length. "
        f"{NEXT}\n"
    )


WRONG = [
    (["--machine", "m", "--throat", "wide", "--band-length", "115 lbs", "--stock", "s", "--price", "-3"],
     'bandtrial new: --band-length: "lbs" is not a unit of length; use in, ft, thou, mm, cm or m\n'
     '--throat: "wide" is not a length; write a number with a unit, such as "5/8 in" or "16 mm"\n'
     '--price: "-3" can\'t be right; it should be at least 0 and at most 1000000000\nNothing was written.\n'),
    (["--feed", "hand"], "bandtrial new: --feed: of which machine? Name it with --machine NAME\n"),
    (["--material-name", "x"], "bandtrial new: --material-name: of which material? Name it with --material NAME\n"),
    (["--band", "B1"], "bandtrial new: --band: say what it is and where it runs, with --stock NAME and "
     "--machine NAME\n"),
    ([*OWN, "--band", "B1", "--fitted", "soon"],
     'bandtrial new: --fitted: "soon" is not a date; write it as 2026-03-02 or 2026-03-02T14:30\n'
     "Nothing was written.\n"),
]  # fmt: skip


@pytest.mark.parametrize(("options", "said"), WRONG)
def test_what_can_not_be_right_is_told_by_its_option_and_nothing_is_written(tmp_path, capsys, options, said):
    place = tmp_path / "own"
    assert command.main(["new", str(place), *options]) == 2
    assert capsys.readouterr().err == said
    assert not place.exists()


def talk(argv: list[str], answers: list[str]) -> tuple[str, int]:
    """What a command says at a terminal to somebody who answers each of its questions."""
    pty = pytest.importorskip("pty")
    process, terminal = pty.fork()
    if process == 0:
        os.execv(sys.executable, [sys.executable, "-m", "bandtrial", *argv])
    said = b""
    while True:
        try:
            more = os.read(terminal, 4096)
        except OSError:
            break
        said += more
        if said.endswith(b": ") and answers:
            os.write(terminal, (answers.pop(0) + "\n").encode())
    return said.decode().replace("\r\n", "\n"), os.waitstatus_to_exitcode(os.waitpid(process, 0)[1])


def test_at_a_terminal_it_asks_and_asks_again_what_can_not_be_right(tmp_path):
    place = tmp_path / "asked"
    answers = ["My saw", "", "metric", "EUR", "", "bs1", "vertical", "hand", "20 to 9O", "2950", "350", "", "", "",
               "20 to 90", "s10", "10", "bimetal", "30", "", "", "", "", "", "C45", "C45", "", "", "", "0.3", "400",
               "55", "10", "0", "", "B1"]  # fmt: skip
    said, code = talk(["new", str(place)], answers)
    assert (code, answers) == (0, [])
    assert '--band-speeds: "O" is not a unit of speed known here: use ft/min, m/min or m/s\nband speeds' in said
    assert said.endswith(f"a new study; it lacks: nothing. {NEXT}\n")
    shop = study.open_study(place)
    assert (shop.units, shop.currency, shop.info["name"]) == ("metric", "EUR", "My saw")
    assert shop.machines["bs1"].band_speed_ranges == ((20.0, 90.0),)
    assert shop.bands["band"].tolist() == ["B1"]
    (metal,) = shop.materials.values()
    assert (metal.deviation_at_most, metal.pieces_per_month) == (0.3, 400.0)  # [mm], as typed in a metric study


def test_with_empty_it_asks_nothing(tmp_path):
    said, code = talk(["new", str(tmp_path / "plain"), "--empty"], [])
    assert code == 0 and "an empty study; fill in study.toml" in said


def test_a_range_that_can_t_be_read_is_asked_for_as_the_question_has_it(tmp_path, capsys):
    asked = ["--machine", "m", "--feed", "force", "--feed-force-range", "20 bis 120"]
    assert command.main(["new", str(tmp_path / "own"), *asked]) == 2
    assert "--feed-force-range: write it as 5 to 40 lbf\n" in capsys.readouterr().err
