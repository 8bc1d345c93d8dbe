"""Where a notebook finds a study, and where a saved file can be opened."""

from pathlib import Path

import pytest
from bandtrial.commands.lab import server_environment
from bandtrial.panels import base, study_folder
from bandtrial.panels import session as places


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A notebook's kernel: home, the folder that `bandtrial lab` opened, and the one it was called in."""
    for name in ("home", "floor/notebooks", "floor/trial_data/demo_shop", "desk/my_study"):
        (tmp_path / name).mkdir(parents=True)
    for study in ("floor/trial_data/demo_shop", "desk/my_study"):
        (tmp_path / study / "study.toml").touch()
    monkeypatch.chdir(tmp_path / "floor" / "notebooks")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("USERPROFILE", str(tmp_path / "home"))  # on Windows
    monkeypatch.setenv(places.ROOT, str(tmp_path / "floor"))
    monkeypatch.setenv(places.CALLED_IN, str(tmp_path / "desk"))
    return tmp_path


def test_the_shipped_line_stays_as_it_is_written(shop):
    assert study_folder(r"../trial_data/demo_shop") == str(Path("../trial_data/demo_shop"))


@pytest.mark.parametrize("named", [r"..\trial_data\demo_shop", r"trial_data\demo_shop", " trial_data/demo_shop "])
def test_paths_may_have_backslashes_and_blanks_about(shop, named):
    assert Path(study_folder(named)).resolve() == shop / "floor" / "trial_data" / "demo_shop"


def test_a_study_is_found_where_new_was_called(shop):
    assert study_folder("my_study") == str(shop / "desk" / "my_study")
    assert study_folder(str(shop / "desk" / "my_study")) == str(shop / "desk" / "my_study")


def test_the_nearest_comes_first_and_home_last(shop):
    for place in ("home", "desk", "floor", "floor/notebooks"):
        (shop / place / "two").mkdir()
        assert Path(study_folder("two")).resolve() == (shop / place / "two")
    (shop / "home" / "mine").mkdir()
    assert study_folder("~/mine") == str(shop / "home" / "mine")


def test_where_it_looked_and_what_is_there_is_told(shop):
    with pytest.raises(ValueError) as missing:
        study_folder("my_stdy")
    assert str(missing.value) == (
        f'STUDY: there is no folder "my_stdy". It was looked for in {shop}/floor/notebooks, {shop}/floor, {shop}/desk, '
        f"{shop}/home.\n"
        f"Studies found there: {shop}/desk/my_study.\n"
        "Give the whole path, or make one with `bandtrial new FOLDER`."
    )


@pytest.mark.parametrize("named", ["/nowhere/my_study", r"C:\Users\Ada\my_study"])
def test_a_whole_path_is_looked_for_in_one_place(shop, named):
    (shop / "desk" / "my_study" / "study.toml").unlink()
    with pytest.raises(ValueError) as missing:
        study_folder(named)
    assert str(missing.value) == (
        f'STUDY: there is no folder "{named}".\n'
        "No study was found there.\nGive the whole path, or make one with `bandtrial new FOLDER`."
    )


def test_nothing_between_the_quotes_is_told():
    with pytest.raises(ValueError, match=r"^STUDY: empty; put the folder of a study between the quotes\.$"):
        study_folder(" ")


def test_lab_tells_where_it_is(shop):
    told = server_environment(shop / "floor")
    assert (told[places.ROOT], told[places.CALLED_IN]) == (str(shop / "floor"), str(Path.cwd()))


def test_a_saved_file_is_a_link_where_the_browser_can_open_it(shop, monkeypatch):
    says = base.Says()
    says.saved(Path("reports/a & b #1.html"), "print it.")
    assert says.value == (
        "<div>Saved <a href='/files/notebooks/reports/a%20%26%20b%20%231.html' target='_blank' "
        "style='text-decoration:underline'>reports/a &amp; b #1.html</a>; print it.</div>"
    )
    says.saved(shop / "desk" / "a.html", "print it.")  # not below the folder that is open
    assert says.value == f"<div>Saved {shop / 'desk' / 'a.html'}; print it.</div>"
    monkeypatch.delenv(places.ROOT)  # a JupyterLab that somebody else started
    assert places.address("reports/a.html") is None
