"""The study report: what it holds, that it stands alone, that it is the same twice, that it runs nothing."""

import csv
import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace

import pytest
from bandtrial import published
from bandtrial.report import NoBrowser, answers, export, html, words, write_report
from bandtrial.report.answers import Answer
from bandtrial.report.page import render
from bandtrial.study import open_study
from bandtrial.words import defused

ROOT = Path(__file__).parents[1]
SAMPLE, THIN = ROOT / "tests/data/sample_study", ROOT / "trial_data/thin_shop"
MADE = "2027-04-01"
HEADINGS = [
    "1. Question and answer", "2. Shop, machines, bands, materials", "3. The cuts: used and left out",
    "4. The model", "The model exactly", "5. What was believed before, and what the data made of it",
    "6. Does the model fit the cuts?", "7. The published start against the shop’s own cuts",
    "8. Recommendations, intervals and limits", "9. What the trial could not say, and the cuts that would",
    "10. Bands in service and alarms", "11. Costs", "12. Cautions", "13. How to make this report again",
    "14. Every cut",
]  # fmt: skip


class Page(HTMLParser):
    """Headings, text, tags and every attribute of a page."""

    def __init__(self, text):
        super().__init__()
        self.headings, self.text, self.tags, self.attributes, self._open = [], [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self._open.append(tag)
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag):
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data):
        if "style" not in self._open:
            self.text.append(data)
        if self._open and self._open[-1] in ("h2", "h3"):
            self.headings.append(data.strip())


@pytest.fixture(scope="module")
def sample(tmp_path_factory):
    out = tmp_path_factory.mktemp("sample") / "study.html"
    return write_report(SAMPLE, out, made=MADE)


@pytest.fixture(scope="module")
def thin(tmp_path_factory):
    return write_report(THIN, tmp_path_factory.mktemp("thin") / "study.html", made=MADE)


def text_of(path):
    return " ".join(" ".join(Page(path.read_text(encoding="utf-8")).text).split())


def test_sections_stand_in_their_order(sample):
    headings = Page(sample.read_text(encoding="utf-8")).headings
    assert [h for h in headings if h in HEADINGS] == HEADINGS


def test_question_and_answer_come_first(sample):
    text = text_of(sample)
    question = text.index("Which band speed and feed for 3/4 in 304 plate on saw1?")
    answer = text.index("304 plate, 0.75 in, on saw1 with band stock s8 (8 tpi, bimetal)")
    assert question < answer < text.index("2. Shop")
    assert re.search(r"Set [\d,.]+ ft/min on the dial \(true [\d,.]+ ft/min\), feed [\d.]+ in/min", text)
    assert "USD/in²" in text and "80 % intervals" in text


def test_every_cut_is_named_and_the_one_left_out_has_its_reason(sample):
    text = text_of(sample)
    assert "154 B09 plate_304 the log says: clamp slipped, cut stopped and restarted" in text
    with (SAMPLE / "cuts.csv").open(encoding="utf-8") as file:
        logged = [row["cut"] for row in csv.DictReader(file)]
    with sample.with_name("study_cuts.csv").open(encoding="utf-8") as file:
        assert [row["cut"] for row in csv.DictReader(file)] == logged


def test_cautions_stand_before_the_first_table_and_at_recommendations_and_plan(sample):
    html = sample.read_text(encoding="utf-8")
    first = Page(html[: html.index('<h2 id="shop">')])
    said = " ".join("".join(first.text).split())
    for caution in words.cautions(open_study(SAMPLE)):
        assert caution in said
    assert "Magnesium" not in said and all(caution in text_of(sample) for caution in published.CAUTIONS)
    assert html.count('aria-label="Cautions"') == 4  # answer, recommendations, plan, section of their own


def test_cautions_are_those_for_the_metals_that_the_study_saws():
    """Steel alone: none on magnesium, titanium, beryllium or friction; all where a metal's group is not known."""
    steel = open_study(SAMPLE)
    every = published.CAUTIONS
    first, burns, dust = "Wear eye protection.", every[8], every[9]
    assert words.cautions(steel) == [first, *every[1:8], every[10]]
    plate = steel.materials["plate_304"]
    for group, more in (("titanium alloy", [burns]), ("copper", [dust]), ("none (start 120 ft/min)", [burns, dust])):
        given = replace(steel, materials=steel.materials | {"other": replace(plate, name="", group=group)})
        said = every[0] if group.startswith("none") else first
        assert words.cautions(given) == [said, *every[1:8], *more, every[10]]
    metric = replace(steel, info=steel.info | {"units": "metric"})
    assert words.cautions(metric)[4] == "Upper guide 3 to 6 mm (1/8 to 1/4 in) above the work."


def test_the_page_asks_nobody_for_anything(sample):
    page = Page(sample.read_text(encoding="utf-8"))
    assert not {"script", "link", "iframe", "object", "embed", "base", "form"} & set(page.tags)
    asked = [v for _, name, v in page.attributes if name in ("src", "href", "srcset", "action", "poster", "data")]
    assert all(value.startswith(("data:image/", "#")) for value in asked)
    style = re.search(r"<style>(.*?)</style>", sample.read_text(encoding="utf-8"), re.S)[1]
    assert "url(" not in style and "@import" not in style
    policy = next(v for tag, name, v in page.attributes if tag == "meta" and name == "content" and "default" in v)
    assert policy == "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def test_pictures_have_words_for_who_cannot_see_them(sample):
    page = Page(sample.read_text(encoding="utf-8"))
    words = [value for tag, name, value in page.attributes if tag == "img" and name == "alt"]
    assert len(words) >= 6 and all(len(text) > 20 for text in words)


def test_report_says_how_to_make_it_again(sample):
    text = text_of(sample)
    assert "bandtrial report sample_study -o study.html" in text
    for name, digest in html.file_hashes(SAMPLE).items():
        assert f"{name} {digest}" in text
    for package in ("numpy", "scipy", "pandas", "matplotlib"):
        assert f"{package} {html.versions()[package]}" in text


def test_file_hash_is_what_sha256sum_prints():
    """coreutils sha256sum as the outside reference."""
    if not shutil.which("sha256sum"):
        pytest.fail("sha256sum of coreutils is needed for this check")
    names = ["study.toml", "bands.csv", "cuts.csv"]
    printed = subprocess.run(["sha256sum", *names], cwd=SAMPLE, capture_output=True, text=True, check=True).stdout
    ours = html.file_hashes(SAMPLE)
    assert printed == "".join(f"{ours[name]}  {name}\n" for name in names)


def test_numbers_beside_the_page_are_those_of_the_page(sample):
    given = json.loads(sample.with_suffix(".json").read_text(encoding="utf-8"))
    job = next(j for j in given["jobs"] if j["machine"] == "saw1" and j["material"] == "plate_304")
    speed = job["recommendation"]["indicated_band_speed_m_min"] / 0.3048  # ft by definition
    assert f"Set {speed:.0f} ft/min on the dial" in text_of(sample)
    assert given["data_sha256"] == html.data_hash(SAMPLE)
    with sample.with_name("study_numbers.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    m = next(row for row in rows if row["name"] == "speed_exponent")
    assert float(m["value"]) == given["fit"]["parameters"]["speed_exponent"]["estimate"]


def test_a_study_too_thin_for_more_than_a_rough_answer_says_so_and_plans_the_cuts_that_would_tell(thin):
    text = text_of(thin)
    assert "USE WITH CARE: the best of what was tried, known only roughly; read the warnings" in text
    assert "Band life in guide_52100 on upright is known to a factor of " in text and "Thin evidence: 2 cuts." in text
    assert "would tell most" in text and "the next faster" in text and "why not published" in text
    plan = text[text.index("Next trial cuts, in this order") :]
    assert "a new band" in plan and "break-in" in plan


def test_a_study_without_cuts_still_gets_a_report(tmp_path):
    folder = tmp_path / "empty"
    shutil.copytree(THIN, folder)
    for name in ("cuts.csv", "bands.csv"):
        head = (folder / name).read_text(encoding="utf-8").splitlines()[0]
        (folder / name).write_text(head + "\n", encoding="utf-8")
    text = text_of(write_report(folder, tmp_path / "empty.html", made=MADE))
    assert "The study is too thin to answer yet. What is missing, and the cuts that would answer it, follow." in text
    assert "Not yet: no cut of this work is logged yet." in text
    assert "Log cuts first" in text and "The log has no cut yet." in text
    assert "Next trial cuts, in this order" in text


SCRIPT = "<script>alert(1)</script>"
IMAGE = "<img src=x onerror=alert(2)>"


@pytest.fixture(scope="module")
def hostile(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hostile") / "study"
    shutil.copytree(THIN, folder)
    toml = (folder / "study.toml").read_text(encoding="utf-8")
    toml = toml.replace("Invented shop: first day with ring blanks", f'{SCRIPT} \\"}}</style>{SCRIPT}')
    toml = toml.replace("52100 ring blank, annealed", f"ring {IMAGE}").replace("A36 plate", "{{ 7 * 7 }}")
    (folder / "study.toml").write_text(toml, encoding="utf-8")
    cuts = (folder / "cuts.csv").read_text(encoding="utf-8").splitlines()
    cuts = [cuts[0] + ",exclude,note", cuts[1] + f",{IMAGE},=HYPERLINK(1)", *(line + ",," for line in cuts[2:])]
    (folder / "cuts.csv").write_text("\n".join(cuts) + "\n", encoding="utf-8")
    return write_report(folder, folder.parent / "study.html", made=MADE)


def test_names_in_a_study_are_shown_and_never_run(hostile):
    html = hostile.read_text(encoding="utf-8")
    page = Page(html)
    assert "script" not in page.tags and page.tags.count("style") == 1
    assert not [name for _, name, _ in page.attributes if name.startswith("on")]
    assert all(v.startswith("data:image/") for tag, name, v in page.attributes if tag == "img" and name == "src")
    text = " ".join(page.text)
    assert SCRIPT in text and IMAGE in text and "{{ 7 * 7 }}" in text and " 49, 30 mm" not in text


def test_formulas_in_the_csv_are_defused(hostile):
    with hostile.with_name("study_cuts.csv").open(encoding="utf-8") as file:
        first = next(csv.DictReader(file))
    assert first["note"] == "'=HYPERLINK(1)" and first["exclude"] == IMAGE


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-x", "@SUM(A1)", "\tx", "\rx"])
def test_cells_that_a_spreadsheet_would_run(text):
    """The starts of a formula listed by OWASP, CSV Injection: = + - @ tab carriage-return."""
    assert defused(text) == "'" + text


def test_json_is_strict():
    assert export.as_json({"b": float("nan"), "a": [float("inf"), 1.5]}) == (
        '{\n "a": [\n  null,\n  1.5\n ],\n "b": null\n}\n'
    )


def test_a_missing_field_is_an_error_and_never_a_gap():
    from jinja2 import UndefinedError

    with pytest.raises(UndefinedError):
        render("sheet.html", paper="A4", css="")


RUN = "import sys; from bandtrial.report import write_report; write_report(sys.argv[1], sys.argv[2], made='2027-04-01')"


def test_jobs_without_an_answer_say_what_would_help_and_never_that_no_cut_is_worth_making():
    """Of three jobs two have no answer: one with a plan, one that no run would bring nearer."""
    none = SimpleNamespace(runs=[], to_json=lambda: {"runs": [], "reason": "nothing pays"})
    helps = ("a coarser band; `bandtrial new`",)
    job = ("saw1", "s8", "plate_304", 19.05, "flood", 9)
    open_ = Answer(*job, not_yet="no setting holds", would_help=helps, plan=none)
    study = open_study(SAMPLE)
    assert answers.plan(study, open_) is None
    assert answers.unsaid(study, [open_], None) == [
        "304 plate, 0.75 in, on saw1 with band stock s8 (8 tpi, bimetal): no setting holds. A coarser band; bandtrial "
        "new."
    ]
    assert answers.overview([{}] * 3, 1) == [
        "1 of 3 jobs cut so far can be answered; of the other 2 section 9 says why not yet, and what would help."
    ]


def test_same_data_same_bytes(thin, tmp_path):
    """In a process of its own with other hash seeds, which order sets differently."""
    out = tmp_path / "study.html"
    environment = os.environ | {"PYTHONHASHSEED": "12345", "TZ": "Asia/Tokyo", "LC_ALL": "C"}
    subprocess.run([sys.executable, "-c", RUN, THIN, out], check=True, env=environment)
    for name in ("study.html", "study.json", "study_numbers.csv", "study_cuts.csv"):
        assert (tmp_path / name).read_bytes() == thin.with_name(name).read_bytes()


def test_only_the_date_changes(thin, tmp_path):
    later = write_report(THIN, tmp_path / "study.html", made="2027-05-09")
    assert later.read_text(encoding="utf-8").replace("2027-05-09", MADE) == thin.read_text(encoding="utf-8")


def test_no_browser_is_said_with_what_to_do(monkeypatch):
    monkeypatch.setattr(html.shutil, "which", lambda name: None)
    with pytest.raises(NoBrowser) as said:
        html.print_pdf("study.html", "study.pdf")
    assert str(said.value) == (
        "A PDF needs a Chromium browser on PATH (looked for: chromium, chromium-browser, google-chrome-stable, "
        "google-chrome, chrome, msedge); none was found. Install Chromium, or open the HTML file in any browser and "
        "print it there."
    )


def test_a_browser_that_fails_is_said_with_what_to_do(monkeypatch, tmp_path):
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\necho 'no display' >&2\nexit 3\n", encoding="utf-8")
    broken.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}/usr/bin{os.pathsep}/bin")
    with pytest.raises(NoBrowser) as said:
        html.print_pdf(tmp_path / "study.html", tmp_path / "study.pdf")
    assert str(said.value) == (
        f"{broken} could not print 'study.html': no display; the HTML file is complete: open it in any browser and "
        "print it to PDF there."
    )


def test_the_first_thing_is_a_card_below_the_cautions_with_one_fold(sample):
    html = sample.read_text(encoding="utf-8")
    card = html[html.index('<dl class="card">') :]
    said = " ".join(" ".join(Page(card[: card.index("</dl>")]).text).split())
    for start in (
        r"Set \d+ ft/min",
        "Take the band off When motor power",
        r"on the dial 145 ft/min 11\d ft/min",
        "A harder bar",
    ):
        assert re.search(start, said)
    assert "80 %" not in said and "probability" not in said and " um" not in said and "m/min" not in said
    assert html.index('aria-label="Cautions"') < html.index('<dl class="card">') < html.index("<details>")


def test_words_are_explained_where_they_stand_and_at_the_end(sample):
    from bandtrial.report.page import TERMS

    page = Page(sample.read_text(encoding="utf-8"))
    hovered = {value for tag, name, value in page.attributes if tag == "abbr" and name == "title"}
    assert hovered and hovered <= set(TERMS.values())
    text = text_of(sample)
    for word, meaning in TERMS.items():
        assert f"{word} {meaning}" in text[text.index("Words on this page") :]
