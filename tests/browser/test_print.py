"""Report and setup sheet printed to PDF by a real browser: paper, pages, one page for the sheet at its fullest."""

import dataclasses
import re
import shutil
import sys
from pathlib import Path

import pytest
from bandtrial.report import html, write_report, write_sheet
from bandtrial.study import open_study

sys.path.insert(0, str(Path(__file__).parents[1]))
from study_folders import folder as study_folder
from test_sheet import HOLDS, KnownSignals, recommendation
from test_small_shop_answers import BANDS, BY_HAND, HEAD, TOML

pytestmark = pytest.mark.browser
ROOT = Path(__file__).parents[2]
LETTER, A4 = (612.0, 792.0), (595.0, 842.0)  # points: 8.5 x 11 in, ISO 216 210 x 297 mm


def pages(path):
    return len(re.findall(rb"/Type\s*/Page\b", path.read_bytes()))


def paper(path):
    box = re.search(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)", path.read_bytes())
    return float(box[1]), float(box[2])


@pytest.mark.parametrize("units, size", [("us", LETTER), ("metric", A4)])
def test_sheet_is_one_page_of_the_studys_paper_at_its_fullest(tmp_path, units, size):
    study = open_study(ROOT / "tests/data/sample_study")
    study = dataclasses.replace(study, info=study.info | {"units": units, "safety_notes": "Lock the doors. " * 4})
    warnings = ("no band has ended in this work yet: its life rests on how the signals grow and on published priors",
                "thin evidence: 3 cuts", "30 mm is outside the thicknesses tried (40 to 50 mm)")  # fmt: skip
    step = "this setting is at the edge of what the cuts can defend; go there in two steps with three cuts each; stop "
    step += "if deviation, noise or power jump; log the cuts and ask again: the limit moves with them."
    given = recommendation(study, limits=(HOLDS,), warnings=warnings, next_step=step)
    out = write_sheet(given, study, tmp_path / "sheet.html", pdf=True, fit=KnownSignals())
    assert pages(out.with_suffix(".pdf")) == 1
    assert paper(out.with_suffix(".pdf")) == pytest.approx(size, abs=1.0)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_sheet_without_a_banner_fills_one_page_with_bigger_letters(tmp_path, units):
    study = open_study(ROOT / "tests/data/sample_study")
    study = dataclasses.replace(study, info=study.info | {"units": units, "safety_notes": "Lock the doors. " * 4})
    out = write_sheet(recommendation(study), study, tmp_path / "sheet.html", pdf=True, fit=KnownSignals())
    assert 'class="roomy"' in out.read_text(encoding="utf-8")
    assert pages(out.with_suffix(".pdf")) == 1


def test_a_small_shop_s_summary_is_one_page_too(tmp_path):
    """By hand every setting is said twice, and a first log is warned about at length."""
    head = HEAD.replace(",cut_time", ",deviation [in],cut_time")
    cuts = "".join(f"{n},2026-03-02T{7 + n}:00,B1,a36,1,2,{80 + 20 * (n > 3)},{off},{time}\n"
                   for n, (time, off) in enumerate(BY_HAND, 1))  # fmt: skip
    toml = TOML.replace("[materials.a36]", "[materials.a36]\npieces_per_month = 200")
    shop = study_folder(tmp_path / "shop", head + cuts, BANDS, toml)
    out = write_report(shop, tmp_path / "study.html", pdf=True, summary=True)
    assert pages(out.with_name("study_summary") / "summary.pdf") == 1


@pytest.mark.parametrize("shop, size", [("tests/data/sample_study", LETTER), ("trial_data/demo_shop", A4)])
def test_summary_is_one_page_with_all_that_goes_with_it(tmp_path, shop, size):
    out = write_report(ROOT / shop, tmp_path / "study.html", pdf=True, summary=True)
    folder = out.with_name("study_summary")
    assert pages(folder / "summary.pdf") == 1
    assert paper(folder / "summary.pdf") == pytest.approx(size, abs=1.0)
    figures = sorted({path.stem for path in folder.glob("*.svg")})
    assert figures == ["band_life_against_band_speed", "cost_against_band_speed", "how_fast_the_shop_cuts",
                       "what_more_output_costs"]  # fmt: skip
    assert all((folder / f"{name}{kind}").stat().st_size > 200 for name in figures for kind in (".png", ".csv"))


@pytest.mark.parametrize("shop", ["tests/data/sample_study", "trial_data/demo_shop", "trial_data/thin_shop"])
def test_the_card_ends_on_the_first_page(tmp_path, shop):
    page = write_report(ROOT / shop, tmp_path / "study.html")
    text = page.read_text(encoding="utf-8")
    assert text.count('class="answer') == 1
    page.write_text(text[: text.index("</section>")] + "</section></main></body></html>", encoding="utf-8")
    assert pages(html.print_pdf(page, page.with_suffix(".pdf"))) == 1


def test_report_prints_on_its_paper(tmp_path):
    shutil.copytree(ROOT / "trial_data/thin_shop", tmp_path / "thin_shop")
    out = write_report(tmp_path / "thin_shop", tmp_path / "study.html", pdf=True)
    printed = out.with_suffix(".pdf")
    assert paper(printed) == pytest.approx(A4, abs=1.0)
    assert 4 <= pages(printed) <= 15


def test_name_with_blanks_and_umlauts(tmp_path):
    page = tmp_path / "Säge 1 #2.html"
    page.write_text("<!doctype html><title>x</title><p>x", encoding="utf-8")
    assert pages(html.print_pdf(page, page.with_suffix(".pdf"))) == 1
