"""The recipes of DEVELOPERS followed to the letter, in a copy of the package: an invented signal, and then everything
that a study can be asked. A list of signals that somebody kept elsewhere makes this fail."""

import csv
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
JOB = ["--machine", "cutoff", "--stock", "b27", "--material", "guide_52100", "--thickness", "55 mm"]
COLUMN = 'Column("sound_level", "number", low=0, high=1e4, signal=True),'
SIGNAL = 'Signal("sound_level", "sound_level", "", ("rate", "force"), ("band_speed", "work_thickness")),'
PRIORS = """sound_level.level,all,0.5,5,50,,assumption,assumed,invented
sound_level.power[band_speed],all,-0.5,0,0.5,,assumption,assumed,invented
sound_level.power[work_thickness],all,-0.5,0,0.5,,assumption,assumed,invented
sound_level.dulling,all,0.2,0.6,1.8,,assumption,assumed,invented
sound_level.growth_power,all,0.8,1.4,2.4,,assumption,assumed,invented
sound_level.break_in,all,0.04,0.1,0.25,,assumption,assumed,invented
sound_level.noise,all,0.03,0.1,0.3,,assumption,assumed,invented
sound_level.band,all,0.03,0.08,0.2,,assumption,assumed,invented
"""


def insert(file: Path, before: str, line: str) -> None:
    """A line put before the first place where `before` stands."""
    text = file.read_text(encoding="utf-8")
    at = text.index(before)
    file.write_text(text[:at] + line + "\n    " + text[at:], encoding="utf-8")


@pytest.fixture(scope="module")
def with_signal(tmp_path_factory):
    """A copy of the toolkit with an invented signal, by the recipe's three steps, and the demo study with it logged:
    (folder of the packages, study)."""
    home = tmp_path_factory.mktemp("recipe")
    package = home / "toolkit" / "bandtrial"
    shutil.copytree(ROOT / "toolkit", home / "toolkit", ignore=shutil.ignore_patterns("__pycache__"))
    insert(package / "study" / "columns.py", 'Column("pieces"', COLUMN)
    insert(package / "wear" / "signals.py", 'Signal("roughness"', SIGNAL)
    with (package / "published" / "model_priors.csv").open("a", encoding="utf-8") as priors:
        priors.write(PRIORS)
    study = home / "study"
    shutil.copytree(ROOT / "trial_data" / "demo_shop", study)
    with (study / "cuts.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    worn: dict[str, int] = {}
    for n, row in enumerate(rows):
        band = row[head.index("band")]
        worn[band] = worn.get(band, 0) + 1
        row.append(f"{5 * (1 + 0.02 * worn[band]) * (1 + 0.05 * ((n * 7) % 5 - 2) / 2):.3g}")
    with (study / "cuts.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([[*head, "sound_level"], *rows])
    return home / "toolkit", study


def run(packages, *words):
    """Standard output of a command of the copy."""
    env = os.environ | {"PYTHONPATH": str(packages), "MPLBACKEND": "agg"}
    done = subprocess.run([sys.executable, *words], capture_output=True, text=True, env=env, timeout=300)
    assert done.returncode == 0, done.stderr
    assert "Traceback" not in done.stderr and "Warning" not in done.stderr, done.stderr
    return done.stdout


@pytest.mark.parametrize(
    "words",
    [
        ["check"],
        ["fit", "--json"],
        ["compare"],
        ["watch"],
        ["recommend", *JOB],
        ["plan", *JOB, "--minutes", "60"],
        ["report", "-o"],
    ],
    ids=lambda words: words[0],
)
def test_every_command_takes_an_invented_signal(with_signal, words):
    packages, study = with_signal
    name, *more = words
    page = study.parent / "page.html"
    if name == "report":
        more = [*more, str(page)]
    said = run(packages, "-m", "bandtrial", name, str(study), *more)
    if name == "fit":
        known = json.loads(said)["parameters"]
        assert known["sound_level.dulling"]["moved"]
        assert known["sound_level.noise"]["estimate"] == pytest.approx(0.035, rel=0.5)  # sd of the cycle of five
    if name == "report":
        assert "sound level" in page.read_text(encoding="utf-8")
        assert "sound_level" in page.with_name("page_cuts.csv").read_text(encoding="utf-8").splitlines()[0]


def test_the_panels_take_it(with_signal):
    """The log form has a field for it, the fit's views its picture, the watch its chart."""
    packages, study = with_signal
    said = run(
        packages,
        "-c",
        f"""
from bandtrial import study, wear
from bandtrial.panels.cut_fields import CutFields
from bandtrial.panels.fit_views import check_fit
from bandtrial.panels.fit_views import watch_bands
shop = study.open_study({str(study)!r})
fit = wear.fit(shop)
print("sound_level" in CutFields(shop).controls)
print("sound level" in dict(check_fit(fit, shop).controls["signal"].options))
print(any("sound level" in str(words) for words, _ in watch_bands(fit, shop).chart.options))
""",
    )
    assert said.split() == ["True", "True", "True"]
