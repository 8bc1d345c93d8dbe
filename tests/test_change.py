"""Two studies compared: virtual shops whose truth is known, and the words."""

import dataclasses

import numpy as np
import pandas as pd
import pytest
from bandtrial import __main__ as command
from bandtrial.report import change, write_change
from bandtrial.report.change import Change, JobChange, Ratio, _ratio
from bandtrial_lessons.shop import Shop, random_shop

BASE = random_shop(5, "gentle", count=1)


def log(config, bands=6):
    """Invented: bands run to their ends at three speeds about the best setting of the shop before the change."""
    shop, before = Shop(config), Shop(BASE)
    best = before.best_setting(work_thickness=40.0)
    area = float(before.true_life(best.band_speed, best.feed, work_thickness=40.0))
    rows = []
    for n in range(bands):
        v = [0.9, 1.0, 1.1][n % 3]
        row = {"band": shop.new_band(), "band_speed": float(shop.indicated_speed(v * best.band_speed)),
               "feed_rate": v * best.feed, "work_thickness": 40.0, "cut_travel": 100.0,
               "pieces": max(1, round(area / 14 / 40))}  # fmt: skip
        rows += [row] * 40
    shop.run(pd.DataFrame(rows))
    return shop


def longer(factor, seed):
    law = BASE.materials[0].law
    law = dataclasses.replace(law, reference_life=factor * law.reference_life)
    return dataclasses.replace(BASE, seed=seed, materials=(dataclasses.replace(BASE.materials[0], law=law),))


@pytest.fixture(scope="module")
def before():
    return log(BASE).to_study(name="before")


def life(found):
    (job,) = found.jobs
    return next(r for r in job.ratios if r.quantity == "band life")


def test_bands_that_live_twice_as_long_are_seen_to(before):
    found = life(change(before, log(longer(2.0, 78)).to_study(name="after")))
    assert found.low < 2.0 < found.high
    assert found.verdict.startswith("surely longer")


def test_no_change_is_not_called_sure(before):
    found = change(before, log(longer(1.0, 79)).to_study(name="after"))
    assert life(found).low < 1.0 < life(found).high
    sure = [r.verdict for job in found.jobs for r in job.ratios if r.verdict.startswith("surely")]
    assert all(verdict.startswith("surely no change of 3 % or more") for verdict in sure)


def test_a_study_against_itself_has_not_changed(before):
    """Equal seeds draw equal draws: without another order every ratio is 1 in each draw, and all is sure."""
    found = change(before, before)
    for ratio in found.jobs[0].ratios:
        assert ratio.low < 1.0 < ratio.high
        assert ratio.above == pytest.approx(0.5, abs=0.06)  # 1,000 draws: 4 standard errors
        assert not ratio.verdict.startswith(("surely lower", "surely higher", "likely lower", "likely higher"))
    assert "A change below 3 % counts as none (our choice; --matters sets it)." in str(found)


def test_what_matters_is_the_callers_choice(before):
    """Whatever is nearer than 80 % is no change, if that is what matters."""
    found = change(before, before, matters=0.8)
    assert all(" no change of 80 % or more (" in r.verdict for r in found.jobs[0].ratios)


def test_ratio_of_two_lognormals():
    """log ratio ~ N(mu, 2 s^2): median exp(mu), 80 % at 1.2816 s sqrt(2), P(above 1) = Phi(mu / (s sqrt(2)))."""
    rng = np.random.default_rng(6)
    n, mu, s = 200_000, 0.2, 0.3
    r = _ratio("band life", np.exp(rng.normal(0, s, n)), np.exp(rng.normal(mu, s, n)))
    assert r.ratio == pytest.approx(np.exp(mu), rel=0.01)  # Monte Carlo: 0.3 sqrt(2) 1.25 / sqrt(n) = 0.0012
    assert [r.low, r.high] == pytest.approx(np.exp([mu - 1.2816 * s * 2**0.5, mu + 1.2816 * s * 2**0.5]), rel=0.01)
    assert r.above == pytest.approx(0.6813, abs=0.005)  # Phi(0.4714)


def test_jobs_cut_in_one_study_only_are_named(before):
    other = dataclasses.replace(before, cuts=before.cuts.iloc[:2], info=before.info | {"name": "after"})
    found = change(before, other)
    material = before.cuts["material"].iloc[0]
    assert found.jobs == ()
    assert found.missing == (
        f"{material} on vertical: {len(before.cuts)} and 2 cuts before and after, 3 are needed in each",
    )


def test_change_in_words():
    differs = ("coolant: flood, then mist", "price per band: 48, then 52")
    ratios = (
        Ratio("band life", 1.42, 1.05, 1.9, 0.93, 0.91, 0.05),
        Ratio("motor power", 0.99, 0.96, 1.02, 0.33, 0.05, 0.25),
        Ratio("feed force", 1.00, 0.99, 1.01, 0.53, 0.02, 0.01),
        Ratio("cost per area", 0.90, 0.86, 0.94, 0.01, 0.0, 0.99),
    )
    job = JobChange("saw1", "plate_304", differs, 30.48, 10.0, None, 19.05, (40, 36), ratios)
    told = Change("spring", "autumn", "metric", (job,), ("bar_4140 on saw2: 12 and 0 cuts before and after",))
    at = "at 30.5 m/min true, 10 µm, 19.1 mm; 40 and 36 cuts"
    assert str(told).splitlines() == [
        "autumn against spring: change with its 80 % interval, and how sure its direction is",
        f"plate_304 on saw1  {at}  differs: coolant: flood, then mist; price per band: 48, then 52",
        f"band life          {'+42 (5 to 90) %':<{len(at)}}  likely longer (91 %)",
        f"motor power        {'−1.0 (−4.0 to 2.0) %':<{len(at)}}  can't be told (5 % that it is higher by 3 % or more)",
        f"feed force         {'0.0 (−1.0 to 1.0) %':<{len(at)}}  surely no change of 3 % or more (97 %)",
        f"cost per area      {'−10.0 (−14.0 to −6.0) %':<{len(at)}}  surely lower (99 %)",
        f"not compared       {'':<{len(at)}}  bar_4140 on saw2: 12 and 0 cuts before and after",
        "A change below 3 % counts as none (our choice; --matters sets it).",
        "Whatever else changed between the two studies (bar, operator, season) counts in these figures as well; only "
        "trials in turn, before and after mixed, can tell it apart.",
    ]


def test_page_of_two_folders(before, tmp_path):
    folders = [log(BASE).write(tmp_path / "spring", name="<b>spring"), log(longer(2.0, 78)).write(tmp_path / "autumn")]
    out = write_change(*folders, tmp_path / "change.html", made="2027-04-01")
    html = out.read_text(encoding="utf-8")
    assert "&lt;b&gt;spring" in html and "<b>spring" not in html
    assert "surely longer" in html and "://" not in html


def test_the_command_prints_what_changed_and_writes_its_page(before, tmp_path, capsys):
    folders = [str(log(BASE).write(tmp_path / "spring")), str(log(longer(2.0, 78)).write(tmp_path / "autumn"))]
    page = tmp_path / "change.html"
    assert command.main(["change", *folders, "-o", str(page)]) == 0
    printed = capsys.readouterr().out
    assert "band life" in printed and "surely longer" in printed
    assert "surely longer" in page.read_text(encoding="utf-8")
    assert command.main(["change", *folders, "--pdf"]) == 2
    assert capsys.readouterr().err == (
        "bandtrial change: --pdf: it is a PDF of the page; say where the page goes, as -o change.html --pdf\n"
    )
