"""A study whose names, notes and ids try to run something: every place that shows them shows them, and no more.

What a spreadsheet takes for a formula: OWASP, CSV Injection (from memory): a cell that begins with = + - @ tab or
carriage return. What steers a terminal: C0 and C1 controls, ECMA-48 (from memory).
"""

import csv
import re
import shutil
from datetime import datetime
from html.parser import HTMLParser
from pathlib import Path

import pytest
from bandtrial import panels, recommend, study, trials, wear
from bandtrial.__main__ import main
from bandtrial.commands.options import seen
from bandtrial.report import write_report
from bandtrial.report.sheet import write_run_sheet, write_sheet
from study_folders import BANDS, TOML, folder, lines, rows

DEMO = Path(__file__).parents[1] / "trial_data/demo_shop"
SAW = """<script>alert("m")</script>"""
STOCK = """=cmd|'/C calc'!A0"""
METAL = """<img src=x onerror='alert(3)'>$\\frac{$"""
BAND = """@SUM(1)</td><svg onload=alert(4)>"""
TITLE = """</title><script>alert(5)</script>{{ 7 * 7 }}"""
ANSI = "\\u001b[31mred\\u001b]0;title\\u0007 \\u009b2J"
NOTE = """=HYPERLINK("http://x.invalid","<b onclick=alert(6)>")"""
ALLOWED_ATTRIBUTES = {"style", "class", "id", "src", "alt", "href", "scope", "colspan", "rowspan", "lang", "charset",
                      "name", "content", "http-equiv", "aria-label", "aria-hidden", "role", "title", "open", "width",
                      "height", "for", "type", "checked", "display", "stretchy", "dir",
                      "aria-live", "viewbox", "fill", "pointer-events", "cx", "cy", "r"}  # fmt: skip


class Tags(HTMLParser):
    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags, self.attributes, self.text = set(), set(), ""
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.add("marks" if tag == "svg" and ("class", "marks") in attrs else tag)  # those of our own pictures
        self.attributes |= {name for name, _ in attrs}

    def handle_data(self, data):
        self.text += data


def runs_nothing(html: str, shows: tuple[str, ...] = ()) -> None:
    """No element or attribute of the study's making; what it tried stands there as text."""
    page = Tags(html)
    assert not page.tags & {"script", "svg", "iframe", "object", "b onclick"}, page.tags
    assert page.attributes <= ALLOWED_ATTRIBUTES, page.attributes - ALLOWED_ATTRIBUTES
    for text in shows:
        assert " ".join(text.split()) in " ".join(page.text.split()), text


def quoted(text: str) -> str:
    """A literal key or text of TOML."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """The demo shop with its ids, names and notes replaced."""
    path = tmp_path_factory.mktemp("hostile") / "<i>study"
    shutil.copytree(DEMO, path)
    toml = (path / "study.toml").read_text(encoding="utf-8")
    for old, new in (("machines.upright", SAW), ("band_stock.b27", STOCK), ("materials.shaft_1045", METAL)):
        toml = toml.replace(f"[{old}]", f"[{old.partition('.')[0]}.{quoted(new)}]")
    toml = re.sub(r'^name = "Invented.*$', lambda _: f"name = {quoted(TITLE)}", toml, flags=re.M)
    toml = re.sub(r'^(question|author|safety_notes) = .*$', rf'\1 = "{SAW[:8]} {ANSI}"'.replace("\\u", "\\\\u"), toml,
                  flags=re.M)  # fmt: skip
    toml = toml.replace('name = "1045 flat bar, hot rolled"', f'name = "{ANSI}<u>"')
    toml = toml.replace('currency = "EUR"', 'currency = "<s>$"')
    (path / "study.toml").write_text(toml, encoding="utf-8")
    new = {"upright": SAW, "b27": STOCK, "shaft_1045": METAL, "U2": BAND}
    for name in ("bands.csv", "cuts.csv"):
        with (path / name).open(encoding="utf-8", newline="") as file:
            table = [[new.get(cell, cell) for cell in row] for row in csv.reader(file)]
        for row in table[1:]:
            row[-1] = NOTE
        with (path / name).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
    return path


@pytest.fixture(scope="module")
def opened(place):
    return study.open_study(place)


@pytest.fixture(scope="module")
def fit(opened):
    return wear.fit(opened, draws=500)


@pytest.fixture(scope="module")
def job():
    return {"machine": SAW, "stock": STOCK, "material": METAL, "thickness_mm": 40.0}


def test_the_report_and_its_tables(place, tmp_path):
    page = write_report(place, tmp_path / "out.html", made="2027-04-01")
    html = page.read_text(encoding="utf-8")
    runs_nothing(html, (SAW, METAL, STOCK, BAND, TITLE))
    for name in ("out_numbers.csv", "out_cuts.csv"):
        with (tmp_path / name).open(encoding="utf-8", newline="") as file:
            cells = [cell for row in csv.reader(file) for cell in row]
        assert not [cell for cell in cells if cell.startswith(("=", "@", "\t", "\r"))]
        assert not [cell for cell in cells if cell.startswith(("+", "-")) and not number(cell)]
    assert "'" + NOTE in cells and "'" + STOCK in cells


def number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_answers_in_notebooks_and_sheets(fit, opened, job, tmp_path):
    answer, plan = recommend.recommend(fit, opened, **job), trials.plan(fit, opened, **job, minutes=200)
    for one in (fit, answer, recommend.compare(fit, opened), plan):
        runs_nothing(one._repr_html_())
    runs_nothing(recommend.compare(fit, opened)._repr_html_(), (SAW, METAL))
    runs_nothing(write_sheet(answer, opened, tmp_path / "sheet.html", fit=fit).read_text(encoding="utf-8"), (SAW,))
    if plan.runs:
        runs_nothing(write_run_sheet(plan, opened, tmp_path / "runs.html").read_text(encoding="utf-8"), (SAW,))


def widgets_of(box):
    yield box
    for child in getattr(box, "children", ()):
        yield from widgets_of(child)


def test_panels(fit, opened, place, tmp_path):
    copy = tmp_path / "study"
    shutil.copytree(place, copy)
    names = (SAW, STOCK, METAL, "40 mm")
    made = [panels.check_fit(fit, opened), panels.log_cuts(copy), panels.import_table(copy),
            panels.choose_setting(fit, opened, *names), panels.plan_trials(fit, opened, *names)]  # fmt: skip
    made[2].file.value = ({"name": "<b>.csv", "content": (place / "cuts.csv").read_bytes(), "type": "text/csv",
                           "size": 1, "last_modified": datetime(2027, 3, 1)},)  # fmt: skip
    shown = 0
    for panel in made:
        for one in widgets_of(panel):
            assert not getattr(one, "description_allow_html", False)
            if type(one).__name__ in ("HTML", "Says"):
                runs_nothing(one.value)
                shown += len(one.value)
    assert shown > 2000


@pytest.mark.parametrize("command", ["check", "watch", "compare"])
def test_the_terminal_is_not_steered(place, capsys, command):
    assert main([command, str(place)]) == 0
    said = "".join(capsys.readouterr())
    assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]", said)
    assert command != "compare" or SAW in said


def test_an_escape_sequence_is_shown_as_a_mark():
    assert seen("a\x1b[31m\x9b2J\x07\n\tb") == "a\ufffd[31m\ufffd2J\ufffd\n\tb"


@pytest.mark.parametrize("sign", ["\n", "\x1b", "\x9b", "\u202e"])
def test_names_that_cannot_be_seen_are_refused(tmp_path, sign):
    where = folder(tmp_path / "study", rows({"band": f'"B{sign}1"'}).replace('"""', '"'),
                   BANDS.replace("B1", f'"B{sign}1"'))  # fmt: skip
    problem = "holds a line end or another character that can not be seen; delete it"
    assert lines(study.check(where)) == [
        f'error: bands.csv, row 2, column band: "B 1" {problem}',
        f'error: cuts.csv, row 2, column band: "B 1" {problem}',
    ]


def test_ids_of_study_toml_that_cannot_be_seen_are_refused(tmp_path):
    toml = TOML.replace("[machines.saw2]", '[machines."saw2\\u001b[2J"]')
    where = folder(tmp_path / "study", toml=toml, bands=BANDS.replace("B2,s8,saw2,,,dull,\n", ""))
    assert lines(study.check(where))[0] == (
        'error: study.toml, machines: "saw2 [2J" holds a line end or another character that can not be seen; delete it'
    )
