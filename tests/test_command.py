"""The command line's manners: exit codes, streams, JSON that every reader takes, no traceback."""

import json
import subprocess
import sys

import pytest
from bandtrial import __main__ as command
from bandtrial.commands import output


def test_help_names_every_word(capsys):
    assert command.main(["--help"]) == 0
    printed = capsys.readouterr().out
    for word in ("check", "start", "fit", "compare", "recommend", "plan", "watch", "report", "new", "lab"):
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
            "bandtrial plan: --minutes: 'soon' is not a number of minutes above 0, as 100\n",
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
    monkeypatch.setattr("bandtrial.commands.check.run", broken)
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

    output.answer(Answer(), as_json=True)

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


def test_an_installed_package_hands_out_its_notebooks_once(tmp_path):
    from bandtrial.commands.lab import notebooks_root

    package, home = tmp_path / "bandtrial", tmp_path / "home"
    for name in ("notebooks/1_first.ipynb", "trial_data/demo/cuts.csv"):
        (package / name).parent.mkdir(parents=True)
        (package / name).write_text("as shipped")
    root = notebooks_root(package, home)
    assert root == home / "bandtrial"
    assert (root / "trial_data/demo/cuts.csv").read_text() == "as shipped"
    (root / "notebooks/1_first.ipynb").write_text("the owner's work")
    notebooks_root(package, home)
    assert (root / "notebooks/1_first.ipynb").read_text() == "the owner's work"


def test_in_a_clone_the_notebooks_are_used_where_they_are(tmp_path):
    from bandtrial.commands.lab import notebooks_root

    package = tmp_path / "toolkit" / "bandtrial"
    package.mkdir(parents=True)
    assert notebooks_root(package, tmp_path / "home") == tmp_path
