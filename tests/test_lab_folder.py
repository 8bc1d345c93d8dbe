"""The folder that `bandtrial lab` opens: what it holds, what happens to one's own work in it, who may start it."""

import os
from pathlib import Path

import nbformat
import pytest
from bandtrial.__main__ import main
from bandtrial.commands import lab
from bandtrial.commands.lab import lay_out
from bandtrial.commands.options import WrongUseError

FIRST, CUTS, RECORD = "notebooks/1_first.ipynb", "trial_data/demo/cuts.csv", ".bandtrial/handed_out.json"


def notebook(*cells: str, outputs: bool = False) -> str:
    made = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell, id=f"c{n}") for n, cell in enumerate(cells)])
    if outputs:
        made.cells[0].outputs = [nbformat.v4.new_output("stream", text="seen")]
    return nbformat.writes(made)


@pytest.fixture
def package(tmp_path):
    """An installed package, which carries its notebooks."""
    folder = tmp_path / "site-packages" / "bandtrial"
    for name, text in {FIRST: notebook("STUDY"), CUTS: "as shipped", "notebooks/tool.py": "ours"}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text)
    return folder


def files(root: Path) -> set[str]:
    return {file.relative_to(root).as_posix() for file in root.rglob("*") if file.is_file()}


def test_it_holds_notebooks_and_invented_shops_only(package, tmp_path):
    assert lay_out(tmp_path / "work", package) == []
    assert files(tmp_path / "work") == {FIRST, CUTS, RECORD}
    assert (tmp_path / "work" / CUTS).read_text() == "as shipped"


def test_of_a_clone_it_holds_no_more(tmp_path):
    lay_out(tmp_path / "work", lab.PACKAGE)
    assert {file.name for file in (tmp_path / "work").iterdir()} == {"notebooks", "trial_data", ".bandtrial"}
    assert (tmp_path / "work" / "notebooks" / lab.FIRST).is_file()
    assert {Path(name).suffix for name in files(tmp_path / "work")} <= {".ipynb", ".csv", ".toml", ".md", ".json"}


def test_what_is_your_own_is_kept_and_told_once_there_is_a_newer_one(package, tmp_path):
    root = tmp_path / "work"
    lay_out(root, package)
    (root / FIRST).write_text(notebook("STUDY = mine"))
    (root / "notebooks" / "own.ipynb").write_text("own")
    assert lay_out(root, package) == []  # changed, and nothing newer to be had
    (package / FIRST).write_text(notebook("STUDY", "more"))
    told = [f"{root / FIRST} is kept as you changed it; move it away to get the newer one"]
    assert [lay_out(root, package), lay_out(root, package)] == [told, told]
    assert (root / FIRST).read_text() == notebook("STUDY = mine")
    (root / FIRST).unlink()
    assert lay_out(root, package) == []
    assert (root / FIRST).read_text() == notebook("STUDY", "more")
    assert (root / "notebooks" / "own.ipynb").read_text() == "own"


def test_what_nobody_changed_follows_the_package(package, tmp_path):
    root = tmp_path / "work"
    lay_out(root, package)
    (root / FIRST).write_text(notebook("STUDY", outputs=True))  # run, not changed
    assert lay_out(root, package) == []
    assert "seen" in (root / FIRST).read_text()
    (package / FIRST).write_text(notebook("STUDY", "more"))
    (package / CUTS).write_text("newer")
    assert lay_out(root, package) == []
    assert (root / FIRST).read_text() == notebook("STUDY", "more")
    assert (root / CUTS).read_text() == "newer"


@pytest.mark.parametrize("record", [None, "", "[]", '{"x"'])
def test_without_its_record_nothing_is_written_over(package, tmp_path, record):
    root = tmp_path / "work"
    lay_out(root, package)
    (root / RECORD).unlink() if record is None else (root / RECORD).write_text(record)
    (root / CUTS).write_text("mine")
    (root / FIRST).write_text("no notebook any more")
    assert len(lay_out(root, package)) == 2
    assert (root / CUTS).read_text() == "mine"
    assert (root / FIRST).read_text() == "no notebook any more"


def test_a_study_is_not_a_folder_to_work_in(package, tmp_path):
    (tmp_path / "my_study").mkdir()
    (tmp_path / "my_study" / "study.toml").touch()
    with pytest.raises(WrongUseError) as refused:
        lay_out(tmp_path / "my_study", package)
    assert str(refused.value) == (
        f"{tmp_path / 'my_study'} is a study; give the folder to work in, as `bandtrial lab {tmp_path}`, and name the "
        "study in a notebook's line STUDY"
    )
    assert files(tmp_path / "my_study") == {"study.toml"}


def test_a_file_is_no_folder_to_work_in(package, tmp_path):
    (tmp_path / "page.html").touch()
    with pytest.raises(WrongUseError) as refused:
        lay_out(tmp_path / "page.html", package)
    assert str(refused.value) == (
        f"the folder '{tmp_path / 'page.html'}' can't be made: file exists; nothing was written; give another folder "
        "to work in"
    )


def test_what_can_not_be_written_or_read_is_told(package, tmp_path):
    root = tmp_path / "work"
    (root / CUTS).mkdir(parents=True)
    with pytest.raises(WrongUseError) as refused:
        lay_out(root, package)
    assert str(refused.value) == (f"'{root / CUTS}' can't be read: is a directory; give another folder to work in")


def test_root_is_asked_first(monkeypatch, capsys, tmp_path):
    monkeypatch.setattr(os, "geteuid", lambda: 0, raising=False)
    assert main(["lab", str(tmp_path / "work"), "--no-browser"]) == 2
    assert capsys.readouterr().err == (
        "bandtrial lab: you are root, and whatever runs in a notebook could then change anything on this machine; "
        "start it as another user or, in a container that holds nothing else, with --allow-root\n"
    )
    assert not (tmp_path / "work").exists()
    lab.check_user(allow_root=True)


@pytest.mark.parametrize("allowed", [True, False])
def test_the_server_is_told_of_root_only_where_it_was_said(monkeypatch, tmp_path, allowed):
    monkeypatch.setattr(os, "geteuid", lambda: 0, raising=False)
    assert ("--allow-root" in lab.server_command(tmp_path, 0, True, allowed)) is allowed
