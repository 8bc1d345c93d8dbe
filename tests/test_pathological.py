"""Odd but legal studies: each question ends in an answer with its doubt, or in a refusal with its reason.

pytest turns every warning into an error, so none may leak from numpy, scipy or pandas. Nothing is checked here for
being right; that is for the other tests. All data are invented.
"""

import json
import re

import pytest
from bandtrial import recommend, study, trials, watch, wear
from bandtrial.__main__ import main
from bandtrial.report import context, page
from bandtrial.words import plain
from study_folders import TOML, folder, rows

HEAD = "band,stock,machine,fitted,removed,end,note\n"
GRADE = re.compile(r"^Status: (Good|With doubts|Rough|Plain)", re.MULTILINE)
JOB = {"machine": "saw1", "stock": "s8", "material": "plate", "thickness_mm": 25.4}
FEED = {"120": "5", "100": "6", "150": "4", "80": "7.5", "60": "10"}
"""Cut time [s] of 10 in -> feed rate [in/min]."""
GROUPS = ("low-carbon steel", "medium-carbon steel", "austenitic stainless steel", "gray cast iron", "aluminum alloy")


def bands(*ends: str, machine: str = "saw1") -> str:
    """bands.csv with B1, B2, ... that ended so."""
    return HEAD + "".join(f"B{n},s8,{machine},,,{end},\n" for n, end in enumerate(ends, start=1))


def cut(band: int = 1, speed: float = 200, time: str = "120", **more) -> dict:
    return {"band": f"B{band}", "band_speed": str(speed), "cut_time": time, "feed_rate": FEED[time], **more}


def spread(n: int, band: int = 1, **more) -> list[dict]:
    """n cuts over speeds and feeds."""
    return [cut(band, 150 + 20 * (k % 7), list(FEED)[k % 5], **more) for k in range(n)]


def each(n_bands: int, per_band: int, **more) -> list[dict]:
    return [one for band in range(1, n_bands + 1) for one in spread(per_band, band, **more)]


def power(cuts: list[dict], values) -> list[dict]:
    """The cuts with a motor power [kW] each."""
    return [{**one, "motor_power": str(value)} for one, value in zip(cuts, values, strict=True)]


def materials(n: int) -> str:
    more = "".join(f'\n[materials.m{k}]\ngroup = "{GROUPS[k % len(GROUPS)]}"\n' for k in range(n))
    return TOML + more


ONE = ("in_service",)
MIXED = ("dull", "dull", "removed_sound", "in_service")
CASES = {
    "no cut": ([], ONE, TOML),
    "one cut": ([cut()], ONE, TOML),
    "one cut of a dull band": ([cut()], ("dull",), TOML),
    "two identical cuts": ([cut(), cut()], ONE, TOML),
    "two identical cuts, two dull bands": ([cut(1), cut(2)], ("dull", "dull"), TOML),
    "one band": (spread(30), ("dull",), TOML),
    "all censored": (each(4, 12), ("removed_sound", "in_service", "in_service", "removed_sound"), TOML),
    "all broken": (each(4, 12), ("broken", "weld_broken", "broken", "broken"), TOML),
    "all broken at the first cut": ([cut(n, complete="no", cut_travel="1", cut_time="60", feed_rate="1")
                                     for n in range(1, 6)], ("broken",) * 5, TOML),
    "one setting": ([cut(band) for band in range(1, 5) for _ in range(12)], MIXED, TOML),
    "a constant signal": (power(each(2, 6), [0.5] * 12), MIXED[2:], TOML),
    "a signal of zero": (power(each(4, 12), [0] * 48), MIXED, TOML),
    "deviations of zero": ([{**one, "deviation": "0"} for one in each(4, 12)], MIXED, TOML),
    "5,000 pieces in one row": ([cut(pieces="5000", motor_power="0.5"), cut(2)], ("dull", "in_service"), TOML),
    "ten materials with one cut each": ([cut(material=f"m{k}") for k in range(10)], ONE, materials(10)),
    "only excluded cuts": (spread(20, exclude="trial run"), ("dull",), TOML),
    "only filing": (spread(20, operation="filing"), ("dull",), TOML),
    "the least that can be logged": ([cut(1, 50, work_thickness="0.0005", cut_travel="0.0005", cut_time="60",
                                          feed_rate="", motor_power="0.000001") for _ in range(6)], ONE, TOML),
    "the most that can be logged": ([cut(1, 500, work_thickness="390", cut_travel="3900", cut_time="60",
                                         feed_rate="", motor_power="900", pieces="1000000") for _ in range(6)],
                                    ("dull",), TOML),
    "both extremes on one band": ([cut(1, 50, work_thickness="0.0005", cut_travel="0.0005", feed_rate=""),
                                   cut(1, 500, work_thickness="390", cut_travel="3900", feed_rate="")] * 3,
                                  ("dull",), TOML),
    "by force, without a force": (each(2, 12, machine="saw2", feed_rate=""), ("dull", "in_service"), TOML),
    "by hand": (each(2, 12, feed_rate=""), ("dull", "in_service"), TOML.replace('feed = "rate"', 'feed = "hand"')),
    "free bands": (each(3, 12), MIXED[:3], TOML.replace("price = 48", "price = 0")),
    "costs of next to nothing": (each(3, 12), MIXED[:3], TOML.replace("= 60.0", "= 1e-9").replace("= 10", "= 0")
                                 .replace("= 5\n", "= 0\n").replace("= 48", "= 1e-9")),
    "an outlier of a thousand": (power(each(2, 6), [0.5] * 11 + [999]), MIXED[2:], TOML),
}  # fmt: skip


def shop(path, case):
    """The study folder of a case."""
    cuts, ends, toml = case
    head = rows({}).splitlines()[0].replace("section,", "section,operation,deviation [in],")
    names = [name.partition(" ")[0] for name in head.split(",")]
    plain_rows = [{"machine": "saw1", "material": "plate", "work_thickness": "1", "cut_travel": "10",
                   "coolant": "flood", **one, "cut": str(n)} for n, one in enumerate(cuts, start=1)]  # fmt: skip
    text = "\n".join([head, *(",".join(one.get(name, "") for name in names) for one in plain_rows)]) + "\n"
    return folder(path, text, bands(*ends), toml)


def answers(opened: study.Study):
    """(question, answer or refusal) of everything that can be asked of a study."""
    fit = None
    try:
        fit = wear.fit(opened)
        yield "fit", fit
    except wear.FitError as no:
        yield "fit", no
    for n, ask in enumerate((
        lambda: wear.fit(opened, priors=False),
        lambda: recommend.recommend(fit, opened, **JOB),
        lambda: recommend.compare(fit, opened),
        lambda: trials.plan(fit, opened, **JOB, minutes=100),
        lambda: watch.watch(fit, opened),
    )):  # fmt: skip
        if fit is None and n in (1, 2, 4):
            continue
        try:
            yield ("plain fit", "recommend", "compare", "plan", "watch")[n], ask()
        except (wear.FitError, recommend.NotYet) as no:
            yield ("plain fit", "recommend", "compare", "plan", "watch")[n], no
    gathered = context.gather(opened, fit)
    fields = context.page_fields(gathered, "2027-04-01", "bandtrial report STUDY", "study.csv")
    yield "report", page.render("report.html", css="", paper="A4", **fields)


def no_number_missing(value, where: str) -> None:
    """Strict JSON, each estimate inside its interval."""
    json.dumps(value, allow_nan=False)
    if isinstance(value, dict):
        for key, low in value.items():
            middle, high = value.get(key.removesuffix("_low")), value.get(key.removesuffix("_low") + "_high")
            if key.endswith("_low") and None not in (low, middle, high):
                rounding = 1e-9 * abs(middle)
                assert low <= middle + rounding and middle <= high + rounding, (where, key, low, middle, high)
            no_number_missing(low, where)


@pytest.mark.parametrize("name", CASES)
def test_an_answer_with_its_doubt_or_a_refusal_with_its_reason(tmp_path, name):
    opened = study.open_study(shop(tmp_path / "study", CASES[name]))
    asked = dict(answers(opened))
    for question, answer in asked.items():
        words = str(answer)
        assert len(words.split()) >= 5, (question, words)
        assert "nan" not in re.findall(r"\b[a-z]+\b", words.lower()) or question == "report", (question, words)
        if isinstance(answer, Exception):
            assert words.rstrip().endswith((".", "'")), (question, words)
        elif question != "report":
            no_number_missing(plain(answer.to_json()), question)
    if not isinstance(asked["fit"], Exception):
        assert GRADE.search(str(asked["fit"]))


@pytest.mark.parametrize("name", ["no cut", "only filing", "all censored"])
def test_the_command_refuses_in_sentences_without_a_traceback(tmp_path, capsys, name):
    place = str(shop(tmp_path / "study", CASES[name]))
    assert main(["fit", place, "--no-priors"]) == 1
    said = capsys.readouterr()
    reason = "No cut can be fitted" if name != "all censored" else "Plain maximum likelihood has no answer"
    assert said.out == "" and said.err.startswith(reason) and said.err.count("\n") == 1
