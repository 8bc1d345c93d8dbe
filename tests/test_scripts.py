"""A shop whose names are in any script: its report shows them, without empty boxes and without a warning.

Warnings are errors in these tests, and matplotlib warns of each letter that a font lacks.
"""

import csv
import os
import re
import shutil
from pathlib import Path

import pytest
from bandtrial import panels, study
from bandtrial.__main__ import main
from bandtrial.panels.base import Picture
from bandtrial.plots import marks as scripts
from bandtrial.plots import style
from bandtrial.report import write_report
from bandtrial.report.page import isolated
from matplotlib import font_manager, ft2font

DEMO = Path(__file__).parents[1] / "trial_data/demo_shop"
NAMES = {"upright": "上锯 一号", "b27": "سلسلة ٢٧", "shaft_1045": "𓂀 钢-1045 🪚", "U2": "مِنشار-2", "U3": "带锯🪚"}
TITLE = "北方机械厂 ورشة القطع"


def named(folder: Path, name: str, plain: str) -> Path:
    """A path in this folder; the plain name where the locale's file names can't be in any script."""
    try:
        os.fsencode(name)
    except UnicodeEncodeError:
        return folder / plain
    return folder / name


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """The demo shop with its ids and names in Chinese, Arabic, hieroglyphs and emoji."""
    path = named(tmp_path_factory.mktemp("scripts"), "店 متجر", "shop")
    shutil.copytree(DEMO, path)
    toml = (path / "study.toml").read_text(encoding="utf-8")
    for old in ("machines.upright", "band_stock.b27", "materials.shaft_1045"):
        group, _, id = old.partition(".")
        toml = toml.replace(f"[{old}]", f'[{group}."{NAMES[id]}"]')
    toml = re.sub(r'^name = "Invented.*$', f'name = "{TITLE}"', toml, flags=re.M)
    toml = toml.replace('name = "1045 flat bar, hot rolled"', f'name = "{NAMES["shaft_1045"]}"')
    (path / "study.toml").write_text(toml, encoding="utf-8")
    for name in ("bands.csv", "cuts.csv"):
        with (path / name).open(encoding="utf-8", newline="") as file:
            table = [[NAMES.get(cell, cell) for cell in row] for row in csv.reader(file)]
        with (path / name).open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
    return path


def test_a_report_with_names_in_any_script(place, tmp_path):
    out = named(tmp_path, "报告 تقرير.html", "study.html")
    html = write_report(place, out, made="2027-04-01").read_text(encoding="utf-8")
    for name in (*NAMES.values(), TITLE):
        assert name in html.replace("\u2068", "").replace("\u2069", "")
    captions = re.findall(r"<figcaption>(.*?)</figcaption>", html, re.S)
    marked = [caption for caption in captions if "In the drawing [1] stands for " in caption]
    assert marked
    for caption in marked:
        assert re.search(r"\[1\] stands for \u2068[^\u2069]+\u2069", caption)


def test_the_command_writes_it_without_a_word_of_warning(place, tmp_path, capsys, caplog):
    assert main(["check", str(place)]) == 0
    capsys.readouterr()
    out = named(tmp_path, "报告.html", "study.html")
    assert main(["report", str(place), "-o", str(out)]) == 0
    assert (capsys.readouterr(), caplog.records) == ((f"{out}\n", ""), [])


def drawn(text: str, **tick) -> tuple[str, dict[str, str]]:
    fig, ax = style.figure(2, 1)
    ax.plot([0, 1], label=text)
    ax.set_title(f"cuts of {text}")
    ax.set_yticks([0, 1], [text, "saw1"])
    ax.legend()
    return style.svg(fig)


@pytest.fixture
def no_fonts(monkeypatch):
    monkeypatch.setattr(scripts, "_installed", lambda: ())
    scripts._others.cache_clear()
    yield
    scripts._others.cache_clear()


def test_what_no_font_has_is_a_mark_that_is_explained(no_fonts):
    drawing, marks = drawn("上锯-2 号")
    assert marks == {"[1]": "上锯", "[2]": "号"}
    assert drawing == drawn("[1]-2 [2]")[0]  # title, legend and ticks alike
    assert scripts.explained(marks) == (
        " In the drawing [1] stands for \u2068上锯\u2069, [2] stands for \u2068号\u2069."
    )
    assert scripts.drawable("上 锯 x 上 锯", {}) == "[1] x [1]"


def test_what_the_usual_font_has_is_drawn_as_it_is(no_fonts):
    text = "Łódź µm² ½ − Ω Жук"
    assert drawn(text)[1] == {}
    assert scripts.families(text) == [scripts.FONT]


def test_letters_that_join_are_drawn_only_where_they_can_be_joined(no_fonts, monkeypatch):
    """From matplotlib 3.11 on its text is shaped by libraqm; before, Arabic would stand backwards and apart."""
    monkeypatch.delattr(ft2font, "__libraqm_version__", raising=False)
    assert scripts.drawable("saw منشار كبير-2", {}) == "saw [1]-2"
    assert scripts.drawable("saw שלום", {}) == "saw [1]"
    monkeypatch.setattr(ft2font, "__libraqm_version__", "0.10", raising=False)
    assert scripts.drawable("منشار", {}) == "منشار"  # DejaVu Sans has Arabic letters


def made_font(path: Path, letters: str) -> str:
    """A font with a square for each of these letters; its name."""
    from fontTools.fontBuilder import FontBuilder
    from fontTools.pens.ttGlyphPen import TTGlyphPen

    pen = TTGlyphPen(None)
    for step in ((pen.moveTo, (0, 0)), (pen.lineTo, (0, 700)), (pen.lineTo, (700, 700)), (pen.lineTo, (700, 0))):
        step[0](step[1])
    pen.closePath()
    glyphs = [".notdef", *(f"g{n}" for n in range(len(letters)))]
    build = FontBuilder(1000, isTTF=True)
    build.setupGlyphOrder(glyphs)
    build.setupCharacterMap({ord(letter): f"g{n}" for n, letter in enumerate(letters)})
    build.setupGlyf(dict.fromkeys(glyphs, pen.glyph()))
    build.setupHorizontalMetrics(dict.fromkeys(glyphs, (800, 0)))
    build.setupHorizontalHeader(ascent=800, descent=-200)
    build.setupNameTable({"familyName": "Invented Sans", "styleName": "Regular"})
    build.setupOS2()
    build.setupPost()
    build.save(path)
    return "Invented Sans"


def test_an_installed_font_that_has_the_letters_is_used(tmp_path, monkeypatch):
    path = tmp_path / "invented.ttf"
    name = made_font(path, "上锯")
    entries = list(font_manager.fontManager.ttflist)
    for cache in (scripts._installed, scripts._others, scripts._letters):
        cache.cache_clear()
    font_manager.fontManager.addfont(path)
    try:
        assert scripts.families("上锯") == [scripts.FONT, name]
        drawing, marks = drawn("上锯 号")
        assert marks == {"[1]": "号"}
        assert drawing != drawn("[1] [2]")[0]
    finally:
        font_manager.fontManager.ttflist[:] = entries
        font_manager.fontManager._findfont_cached.cache_clear()
        for cache in (scripts._installed, scripts._others, scripts._letters):
            cache.cache_clear()


def test_a_panels_picture_explains_its_marks_below_it(no_fonts):
    picture = Picture("Cuts so far")
    picture.draw(lambda ax: ax.set_title("上锯"))
    assert picture.words.value == "Cuts so far In the drawing [1] stands for \u2068上锯\u2069."
    picture.draw(lambda ax: ax.set_title("saw1"))
    assert picture.words.value == "Cuts so far"


def test_panels_of_such_a_shop_open_without_a_warning(place):
    opened = study.open_study(place)
    assert panels.log_cuts(place) is not None
    assert NAMES["upright"] in opened.machines


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("saw 1", "saw 1"),
        ("上锯 3", "上锯 3"),
        ("مِنشار-2: 3 cuts", "<مِنشار-2>: 3 cuts"),
        ("(منشار كبير), 5", "(<منشار كبير>), 5"),
        ("שלום and منشار", "<שלום> and <منشار>"),
    ],
)
def test_names_that_run_from_the_right_leave_numbers_beside_them_alone(text, shown):
    """Isolates FSI and PDI, Unicode Standard Annex 9 section 2.4 (from memory)."""
    assert isolated(text).replace("\u2068", "<").replace("\u2069", ">") == shown
