"""The command line's manners: exit codes, streams, JSON that every reader takes, no traceback."""

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from bandtrial import __main__ as command
from bandtrial.commands import options
from bandtrial.recommend.wording import cautions_text

SAMPLE = Path(__file__).parent / "data" / "sample_study"


def test_help_names_every_word(capsys):
    assert command.main(["--help"]) == 0
    printed = capsys.readouterr().out
    for word in ("check", "start", "fit", "compare", "recommend", "plan", "watch", "report", "change", "new", "lab"):
        assert f"\n    {word}" in printed


@pytest.mark.parametrize(
    ("argv", "says"),
    [
        ([], "the following arguments are required: COMMAND"),
        (["cheque", "folder"], "invalid choice: 'cheque'"),
        (["recommend", "folder", "--machine", "saw1"], "required: --stock, --material, --thickness"),
        (
            ["check", "no such folder"],
            "bandtrial check: the study folder 'no such folder' does not exist; "
            "`bandtrial new FOLDER` makes an empty one\n",
        ),
        (
            ["plan", ".", "--machine=a", "--stock=b", "--material=c", "--thickness=1 in", "--minutes=soon"],
            "bandtrial plan: --minutes: 'soon' is not a number of minutes, as 100\n",
        ),
    ],
)
def test_wrong_use_ends_with_2_and_a_sentence(argv, says, capsys):
    assert command.main(argv) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says in err
    assert "Traceback" not in err


def test_a_file_is_not_a_folder(tmp_path, capsys):
    file = tmp_path / "cuts.csv"
    file.write_text("cut\n")
    assert command.main(["check", str(file)]) == 2
    assert f"'{file}' is a file; name its folder" in capsys.readouterr().err


def test_a_fault_of_ours_is_one_honest_line(monkeypatch, capsys):
    def broken(args):
        raise ZeroDivisionError("no cuts\nat all")

    monkeypatch.delenv("BANDTRIAL_DEBUG", raising=False)
    monkeypatch.setattr("bandtrial.commands.ALL", (options.Command("check", "Broken", (options.STUDY,), broken),))
    assert command.main(["check", "folder"]) == 1
    assert capsys.readouterr().err == (
        f"bandtrial check: this is a fault in bandtrial {command.__version__}, not in your study "
        "(ZeroDivisionError: no cuts at all); please report it, "
        "with what the same command prints under BANDTRIAL_DEBUG=1\n"
    )
    monkeypatch.setenv("BANDTRIAL_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        command.main(["check", "folder"])


def test_json_is_strict(capsys):
    import numpy as np

    class Answer:
        def to_json(self):
            draws = np.array([1.5, np.inf])
            return {"life": np.float64("nan"), "draws": draws, "n": np.int64(3), "ok": np.True_}

    options.answer(Answer(), as_json=True)

    def refuse(constant):
        raise AssertionError(f"{constant} is not JSON (RFC 8259 section 6)")

    printed = json.loads(capsys.readouterr().out, parse_constant=refuse)
    assert printed == {"life": None, "draws": [1.5, None], "n": 3, "ok": True}


def test_wrong_use_costs_no_heavy_import():
    """A mistyped command must answer at once: nothing of the scientific stack is imported for it."""
    heavy = "{'numpy', 'pandas', 'scipy', 'matplotlib', 'pint', 'ipywidgets', 'jinja2'}"
    code = "import sys; from bandtrial.__main__ import main; main(['fti']); "
    code += f"sys.exit(str({heavy} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stderr.splitlines()[-1] == "set()"


JOB = ["--machine", "saw1", "--stock", "s8", "--material", "plate_304", "--thickness", "3/4 in"]
KEYS = (  # DESIGN section 7: other people's scripts call them
    "band_speed_m_min indicated_band_speed_m_min feed_rate_mm_min chip_load_um teeth_in_cut change_band_after_cm2 "
    "cutting_rate_cm2_min band_life_cm2 cost_per_cm2 band_speed_m_min_low band_speed_m_min_high "
    "cutting_rate_cm2_min_low cutting_rate_cm2_min_high band_life_cm2_low band_life_cm2_high cost_per_cm2_low "
    "cost_per_cm2_high published_band_speed_m_min limits evidence warnings "
    "grade stops telling_cut sign_to_look_for card cautions"
)


def test_recommend_prints_every_key_and_stays_light():
    """In a process of its own: nothing that only plots, panels or pages need is imported for the answer."""
    heavy = "{'matplotlib', 'ipywidgets', 'jinja2', 'scipy.stats', 'scipy.optimize', 'scipy.special', 'scipy.linalg', "
    heavy += "'scipy.sparse', 'openpyxl'}"
    code = "import sys; from bandtrial.__main__ import main; code = main(sys.argv[1:]); "
    code += f"print(sorted({heavy} & set(sys.modules)), file=sys.stderr); sys.exit(code)"
    words = [sys.executable, "-c", code, "recommend", str(SAMPLE), *JOB, "--json"]
    done = subprocess.run(words, capture_output=True, text=True, timeout=300)
    assert (done.returncode, done.stderr) == (0, "[]\n")
    printed = json.loads(done.stdout)
    assert set(KEYS.split()) == set(printed)
    assert {"name", "value", "limit", "unit", "ok", "probability"} <= set(printed["limits"][0])
    assert {"cuts", "bands", "failed", "censored", "minutes"} == set(printed["evidence"])


def test_check_tells_every_slip_and_ends_with_1(capsys):
    assert command.main(["check", str(SAMPLE.parent / "sample_study_as_typed")]) == 1
    out, err = capsys.readouterr()
    assert out.endswith("sample_study_as_typed: 8 errors, 4 warnings\n")
    for place in ("bands.csv, row 2, column end", "bands.csv, row 12, column band", "row 6, column cut",
                  "row 11, column band_speed", "row 15, column cut_time", "row 19, column material",
                  "row 35, column band", "row 42, column band_speed"):  # fmt: skip
        assert sum(f"{place}:" in line for line in err.splitlines() if line.startswith("error: ")) == 1


def test_a_sound_study_ends_with_0(capsys):
    assert command.main(["check", str(SAMPLE)]) == 0
    assert capsys.readouterr().out.endswith("sample_study: no errors, 1 warning\n")


@pytest.mark.parametrize("words", [["fit"], ["recommend", *JOB], ["compare"], ["watch"], ["report"]])
def test_a_study_with_problems_ends_every_answer_with_1(words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)  # the report has nothing to write
    first, *rest = words
    assert command.main([first, str(SAMPLE.parent / "sample_study_as_typed"), *rest]) == 1
    out, err = capsys.readouterr()
    assert out == "" and err.count("error: ") == 8 and "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_name_is_answered_with_the_nearest(capsys):
    words = ["recommend", str(SAMPLE), *JOB[:-2], "--thickness", "3/4 in"]
    words[words.index("saw1")] = "sw1"
    assert command.main(words) == 2
    assert capsys.readouterr().err == (
        f"bandtrial recommend: no machine 'sw1' in {SAMPLE / 'study.toml'}; did you mean 'saw1'? Known: saw1, saw2\n"
    )


def test_a_length_without_its_unit_is_in_that_of_the_study_or_of_the_command(capsys):
    """The sample is a US study: 3/4 is 3/4 in. Where nothing says the system it is not guessed."""
    said = []
    for thickness in ("3/4", "3/4 in"):
        assert command.main(["recommend", str(SAMPLE), *JOB[:-1], thickness, "--json"]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]
    start = ["start", "--material", "1018", "--edge", "carbon", "--json", "--thickness"]
    for words in (["2", "--units", "us"], ["2 in"], ["50.8", "--units", "metric"]):
        assert command.main([*start, *words]) == 0
        said.append(capsys.readouterr().out)
    assert said[2] == said[3]
    assert json.loads(said[4])["band_speed_m_min"] == pytest.approx(json.loads(said[3])["band_speed_m_min"], rel=1e-9)
    assert command.main([*start, "2"]) == 2
    assert capsys.readouterr().err == 'bandtrial start: --thickness: "2" has no unit; write 2 in, 2 ft or 2 thou\n'


THIN = [str(SAMPLE.parents[2] / "trial_data" / "thin_shop"), "--machine", "upright", "--stock", "b27",
        "--material", "guide_52100", "--thickness", "55 mm"]  # fmt: skip


def test_two_cuts_get_a_rough_answer_that_says_so(capsys):
    """42 m/min and 75 mm/min is what was cut, and all that was."""
    assert command.main(["recommend", *THIN, "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["grade"], said["indicated_band_speed_m_min"], said["feed_rate_mm_min"]) == ("rough", 42.0, 75.0)
    assert "thin evidence: 2 cuts" in said["warnings"]
    assert said["band_life_cm2_high"] > 10 * said["band_life_cm2_low"]
    assert said["telling_cut"]["cuts"] >= 1 and "why" in said["telling_cut"]


def test_not_yet_ends_with_1_and_with_something_to_do(capsys):
    assert command.main(["recommend", *THIN, "--deviation", "0.2 mm"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert re.fullmatch(
        r"Not yet: a deviation was asked for, and the study has no deviation of enough cuts\.\n"
        r"The study has 2 cuts\.\n"
        r"What would help: measure and log the deviation of every trial cut; until then stay at 42 m/min on the "
        r"dial, 75 mm/min, which costs 0\.\d+ EUR/cm² for machine and labor, and 0\.\d+ EUR/cm² if no band sawed "
        r"more than it has so far\.\n\n" + re.escape(cautions_text()) + r"\n",
        err,
    )


def test_minutes_used_up_are_no_wrong_use(capsys):
    for minutes in ("0", "-3"):
        assert command.main(["plan", *THIN, "--minutes", minutes, "--work-ahead", "20000 cm**2"]) == 0
        assert capsys.readouterr().out.startswith("status      STOP: more trial cuts do not pay  [no minutes are left")
    assert command.main(["plan", *THIN, "--minutes", "0", "--work-ahead", "20 mm"]) == 2
    assert capsys.readouterr().err.startswith("bandtrial plan: --work-ahead: ")


def test_a_share_that_matters_is_read_as_people_write_it(capsys):
    from bandtrial.commands.answers import _share

    assert [_share(text) for text in ("3%", "3 %", "3", " 12.5%")] == [0.03, 0.03, 0.03, 0.125]
    assert command.main(["change", THIN[0], THIN[0], "--matters", "much"]) == 2
    assert capsys.readouterr().err == "bandtrial change: --matters: 'much' is not a share of 0 % to 100 %, as 3%\n"


def test_a_new_study_is_empty_and_nothing_is_overwritten(tmp_path, capsys):
    folder = tmp_path / "mine"
    assert command.main(["new", str(folder)]) == 0
    assert {file.name for file in folder.iterdir()} >= {"study.toml", "bands.csv", "cuts.csv"}
    assert command.main(["new", str(folder)]) == 2
    assert "is there already, and a new study overwrites nothing" in capsys.readouterr().err


def test_start_answers_a_group_and_a_grade(capsys):
    """Machinery's Handbook, worked example: 5/8 in low-carbon plate, carbon edge, 168 ft/min; navy_14345 says 165."""
    job = ["--thickness", "5/8 in", "--edge", "carbon", "--json"]
    assert command.main(["start", "--material", "low-carbon steel", *job]) == 0
    said = json.loads(capsys.readouterr().out)
    assert said["band_speed_m_min"] / 0.3048 == pytest.approx(165, rel=0.05)  # the two sources differ by 2 %
    assert said["pitch_tpi"] == 10
    assert command.main(["start", "--material", "1018", *job]) == 0
    assert command.main(["start", "--material", "low carbon stele", *job]) == 2
    assert "Did you mean low-carbon steel" in capsys.readouterr().err
