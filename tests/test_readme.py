"""The README is kept by running it: its commands parse, its Python runs, its lists are what is there."""

import re
import shlex
from pathlib import Path

import pytest
from bandtrial import __main__ as command
from bandtrial import commands
from bandtrial.asked import FORMS
from bandtrial.commands import new

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```$", README, re.M | re.S)


def documented() -> list[list[str]]:
    """Each `bandtrial ...` line of the README as words, wherever it stands in a shell block."""
    lines = "".join(blocks("sh") + blocks("bash")).splitlines()
    found = [re.search(r"(?:^|bin/)bandtrial (.*?)(?: &&)?$", line) for line in lines]
    return [shlex.split(match[1]) for match in found if match]


@pytest.mark.parametrize("words", documented(), ids=" ".join)
def test_each_documented_command_parses(words):
    assert command.parser().parse_args(words).command == words[0]


def test_every_command_is_documented_and_no_other():
    there = {command.name for command in commands.ALL}
    assert {words[0] for words in documented()} == there
    assert set(re.findall(r"^\| `([a-z]+)` \|", README, re.M)) == there


def test_the_options_in_the_table_are_those_of_the_parser():
    for name, cell in re.findall(r"^\| `([a-z]+)` \|.*?\|(.*?)\|$", README, re.M):
        listed = set(re.findall(r"`(-[-a-z]+)`", cell))
        # required options are shown in the block of commands, not in the table
        actions = command.parser()._subparsers._group_actions[0].choices[name]._actions
        optional = {a.option_strings[0] for a in actions if a.option_strings and not a.required}
        asked = {f"--{new.option(table, one.name)}" for table, form in FORMS.items() for one in form}
        assert listed == optional - {"-h"} - (asked if name == "new" else set()), name


def test_the_notebooks_in_the_table_are_those_on_disk():
    listed = re.findall(r"^\| `(\d_[a-z_]+)` \|", README, re.M)
    assert listed == sorted(file.stem for file in (ROOT / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("code", blocks("python"))
def test_python_blocks_run(code, monkeypatch, capsys):
    monkeypatch.chdir(ROOT)
    exec(compile(code, "README.md", "exec"), {})
    assert capsys.readouterr().out.strip()


def test_two_shell_blocks_set_a_fresh_machine_up():
    report, tests = blocks("sh")
    for block in (report, tests):
        assert block.startswith("python3 -m venv .venv &&\n.venv/bin/pip install -q -c toolkit/constraints.txt -e ")
    assert "bandtrial report trial_data/" in report
    assert tests.rstrip().endswith("-m pytest")
