"""A saw of one's own, from an empty folder to twenty logged cuts and back, and no file opened: by mouse and by keys."""

import csv

import pytest
from bandtrial import study
from playwright.sync_api import expect

NOTEBOOK = "notebooks/3_log_trial_cuts.ipynb"
SAW = {"its name": "saw 1", "kind *": "vertical", "how the work is fed *": "hand", "band speeds *": "60 to 300",
       "band length *": "115", "throat": "14"}  # fmt: skip
STOCK = {"its name": "s10", "pitch *": "6/10", "edge *": "bimetal", "price of a band *": "38"}
METAL = {"its name": "A36 bar", "group or grade": "A36"}
COSTS = {"cost of an hour *": "60", "band change, minutes *": "10", "a scrapped piece *": "0"}
CUT = {"work thickness [in]": "1", "cut travel [in]": "4", "band speed [ft/min]": "200"}
TIMES = ["1:58", "2:02", "2:01", "1:59", "2:03", "2:05", "2:01", "2:04", "2:06", "2:03",
         "2:07", "2:05", "2:08", "2:04", "2:09", "2:07", "2:11", "2:08", "2:10", "2:12"]  # fmt: skip
"""A hand-fed saw of nobody's, growing a little duller."""


@pytest.fixture
def desk(lab_page, with_study, tmp_path):
    """The desk on an empty folder: (page, folder)."""
    (tmp_path / "own saw").mkdir()
    return lab_page.open(with_study(NOTEBOOK, tmp_path / "own saw")).run_all(), tmp_path / "own saw"


def cuts_of(folder):
    with open(folder / "cuts.csv", encoding="utf-8") as log:
        return list(csv.DictReader(line for line in log if not line.startswith("#")))


def is_whole(folder):
    shop = study.open_study(folder)
    assert shop.cuts["cut_time"].tolist() == pytest.approx([_minutes(time) for time in TIMES], rel=1e-9)
    assert set(shop.cuts["band"]) == {"B1"} and set(shop.cuts["material"]) == {"A36 bar"}
    assert shop.machines["saw 1"].band_length == pytest.approx(115 * 25.4, rel=1e-12)
    assert [problem for problem in shop.problems if problem.severity != "question"] == []


def _minutes(clock: str) -> float:
    minutes, seconds = clock.split(":")
    return int(minutes) + int(seconds) / 60


class Mouse:
    """A person with a mouse: clicks a field and types into it."""

    def __init__(self, lab):
        self.lab = lab

    def fill(self, fields):
        for name, value in fields.items():
            field = self.lab.field(name)
            if field.evaluate("one => one.tagName") == "SELECT":
                field.select_option(label=value)
            else:
                field.fill(value)
        self.lab.settle()

    def press(self, name):
        self.lab.settle()
        self.lab.button(name).click()
        self.lab.settle()


class Keys(Mouse):
    """A person without: goes through the panel with Tab, forwards or backwards, and types."""

    def __init__(self, lab):
        super().__init__(lab)
        self.last = None

    def fill(self, fields):
        for name, value in fields.items():
            field = self.lab.field(name)
            self.go_to(field)
            if field.evaluate("one => one.tagName") == "SELECT":
                self.lab.page.keyboard.type(value)
            else:
                self.lab.press("Control+a")
                self.lab.page.keyboard.type(value)
        self.lab.settle()

    def press(self, name):
        self.lab.settle()
        self.go_to(self.lab.button(name))
        self.lab.press("Enter")
        self.lab.settle()

    def go_to(self, control):
        """Tab to a control, the short way round; whoever falls out of the panel fails."""
        control.wait_for()
        here = "one => one === document.activeElement"
        back = control.evaluate("one => !!(document.activeElement.compareDocumentPosition(one) & 2)")
        for _ in range(60):
            if control.evaluate(here):
                return
            self.lab.press("Shift+Tab" if back else "Tab")
        raise AssertionError("not reached by Tab")


def set_up(hand, lab):
    """The shop, its band: what is asked, answered; each is on disk before the next."""
    hand.press("Make a study here")
    for what, fields in (("machines", SAW), ("band stock", STOCK), ("materials", METAL), ("costs", COSTS)):
        hand.fill({"what": what})
        hand.fill(fields)
        hand.press("Save")
        expect(lab.says().filter(has_text="Saved:")).to_have_count(1)
    hand.press("Bands")
    hand.fill({"new band": "B1"})
    hand.press("Fit this band")
    expect(lab.says().filter(has_text="Saved: band B1 fitted.")).to_have_count(1)
    hand.press("Log a cut")


def log(hand, lab, folder):
    hand.fill(CUT)
    for n, time in enumerate(TIMES, start=1):
        hand.fill({"cut time [s]": time})
        hand.press("Save cut")
        expect(lab.says().filter(has_text=f"Saved as cut {n} of band B1.")).to_have_count(1)
        assert len(cuts_of(folder)) == n


@pytest.mark.parametrize("hand", [Mouse, Keys])
def test_a_saw_of_ones_own_from_an_empty_folder(desk, hand, shot):
    lab, folder = desk
    by = hand(lab)
    if hand is Keys:
        lab.focus(lab.field("units"))  # from here on only keys
    set_up(by, lab)
    log(by, lab, folder)
    shot(f"3_desk_{hand.__name__}")
    is_whole(folder)
    before = (folder / "cuts.csv").read_bytes()
    by.press("All cuts")
    if hand is Mouse:
        lab.notebook.get_by_role("listbox").select_option(index=1)
    else:
        by.go_to(lab.notebook.get_by_role("listbox"))
        lab.press("ArrowDown", "ArrowDown")
    by.press("Change this cut")
    expect(lab.field("cut time [s]")).to_have_value("2:10")
    by.fill({"cut time [s]": "2:14"})
    by.press("Save changes to cut 19")
    expect(lab.says().filter(has_text="Cut 19 is changed.")).to_have_count(1)
    assert cuts_of(folder)[18]["cut_time [s]"] == "134"
    by.press("Undo")
    expect(lab.says().filter(has_text="Undone: cut 19 changed (cut time).")).to_have_count(1)
    assert (folder / "cuts.csv").read_bytes() == before
    by.press("Do again")
    assert cuts_of(folder)[18]["cut_time [s]"] == "134"
