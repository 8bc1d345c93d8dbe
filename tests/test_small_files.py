"""Small files that once hung the program or broke it: each is answered in lines, in a few seconds at most."""

import time

import pytest
from bandtrial import study
from bandtrial.__main__ import main
from bandtrial.study.draft import next_number
from bandtrial.study.toml import Lines
from study_folders import BANDS, TOML, folder, lines, rows

SECONDS, LOOP = 8.0, 0.12
"""Processor time allowed where a loop of a million steps takes LOOP: they take 0.2 to 3.5 s; with their number squared
the first two took 18 s, the keys over 60 s."""
BEYOND = "is nested too deeply or holds a number too long to read"


def answered(place) -> list[str]:
    begin = time.process_time()
    said = lines(study.check(place))
    taken, begin = time.process_time() - begin, time.process_time()
    assert sum(i * i % 7 for i in range(1_000_000)) > 0
    assert taken < SECONDS * max((time.process_time() - begin) / LOOP, 1.0)
    return said


def machines(count: int, body: str) -> str:
    return TOML + "".join(f"[machines.m{n}]\n{body}" for n in range(count))


def test_2000_faulty_machines(tmp_path):
    said = answered(folder(tmp_path / "study", toml=machines(2000, "foo = 1\n")))
    assert len(said) == 2002
    assert said[:5] == [
        "error: study.toml, line 32, machines.m0.kind: missing",
        "error: study.toml, line 32, machines.m0.feed: missing",
        "error: study.toml, line 32, machines.m0.band_speed_ranges: missing",
        "error: study.toml, line 32, machines.m0.band_length: missing",
        'warning: study.toml, line 33, machines.m0.foo: "foo" is not a name used here and is left alone',
    ]
    assert [line for line in said if "more" in line] == [
        "error: study.toml: and 7000 more errors, which are not listed; mend these first",
        "warning: study.toml: and 1000 more warnings, which are not listed; mend these first",
    ]
    assert said[-3] == 'warning: study.toml, line 2031, machines.m999.foo: "foo" is not a name used here and is ' \
        "left alone"  # fmt: skip


def test_2000_unknown_machines_among_2000_known(tmp_path):
    known = machines(2000, 'kind = "vertical"\nfeed = "rate"\nband_speed_ranges = [["50 ft/min", "500 ft/min"]]\n'
                           'band_length = "157 in"\n')  # fmt: skip
    bands = BANDS + "".join(f"C{n},s8,n{n},,,dull,\n" for n in range(2000))
    cuts = rows(*({"machine": f"k{n}"} for n in range(2000)))
    said = answered(folder(tmp_path / "study", cuts, bands, known))
    assert len(said) == 2002
    assert said[0] == "error: bands.csv, machine: and 1000 more rows like this, each in its own way"
    assert said[1].startswith('error: bands.csv, row 4, column machine: no machine "n0" in study.toml; did you mean "m')
    assert said[900] == (
        'error: bands.csv, row 903, column machine: no machine "n899" in study.toml (there: m0, m1, m10, m100, '
        "m1000, m1001, m1002, m1003, m1004, m1005, m1006, m1007, m1008, m1009, m101, m1010, m1011, m1012, m1013, "
        "m1014 and 1982 more)"
    )


@pytest.mark.parametrize("where", ["top", "study", "materials"])
def test_60000_keys(tmp_path, where):
    keys = "".join(f"k{n}=1\n" for n in range(60_000))
    at, name = {"top": (0, ""), "study": (TOML.index("[costs]"), "study."),
                "materials": (len(TOML), "materials.plate.")}[where]  # fmt: skip
    said = answered(folder(tmp_path / "study", toml=TOML[:at] + keys + TOML[at:]))
    first = TOML[:at].count("\n") + 1
    assert said[0] == (f'warning: study.toml, line {first}, {name}k0: "k0" is not a name used here and is left alone')
    assert said[999].startswith(f"warning: study.toml, line {first + 999}, {name}k999: ")
    assert said[1000:] == ["warning: study.toml: and 59000 more warnings, which are not listed; mend these first"]


DEEP = {
    "headers": ("[" + ".".join("a" * 20_000) + "]\nx = 1\n", ", line 32"),
    "headers of machines": ("[machines." + ".".join("a" * 20_000) + "]\nx = 1\n", ", line 32"),
    "quoted headers": ("[" + " . ".join(['"a b"'] * 20_000) + "]\n", ", line 32"),
    "400,000 parts of a key": ("a" + ".a" * 400_000 + " = 1\n", ", line 32"),
    "tables of tables": ("[" + ".".join("a" * 90) + "]\n", ", a.a.a"),
    "lists": ("x = " + "[" * 20_000, ""),
    "lists of 300 levels": ("x = " + "[" * 300 + "]" * 300, ", line 32, materials.plate.x"),
    "a number of 4,301 digits": ("hardness = " + "9" * 4301, ""),
    "a number of 4,300 digits": ("hardness = " + "9" * 4300, ", line 32, materials.plate.hardness"),
    "a number of 5,000 hex digits": ("hardness = 0x" + "f" * 5000, ", line 32, materials.plate.hardness"),
}


@pytest.mark.parametrize("name", DEEP)
def test_what_is_nested_too_deeply_or_too_long(tmp_path, capsys, name):
    text, where = DEEP[name]
    place = folder(tmp_path / "study", toml=TOML + text)
    assert answered(place) == [f"error: study.toml{where}: {BEYOND}"]
    assert main(["check", str(place)]) == 1
    assert capsys.readouterr().err == f"error: study.toml{where}: {BEYOND}\n"


@pytest.mark.parametrize("name", ["x", '"x y"'])
def test_a_name_of_450000_letters_is_said_in_short(tmp_path, name):
    long = name.replace("x", "x" * 450_000)
    said = answered(folder(tmp_path / "study", toml=TOML + f"{long} = 1\n[{long}]\n"))
    assert [len(line) < 200 for line in said] == [True, True]
    short = "x" * 37 + "..."
    assert said[0] == f'warning: study.toml, line 32, materials.plate.{short}: "{short}" is not a name used here and ' \
        "is left alone"  # fmt: skip


@pytest.mark.parametrize("digits", [4300, 4301])
def test_a_cut_number_of_many_digits(tmp_path, capsys, digits):
    number = "9" * digits
    place = folder(tmp_path / "study", rows({"cut": number}, {"cut": number}, {"cut": "7"}, {"cut": "7"}))
    problems = [
        f'error: cuts.csv, row 3, column cut: "{"9" * 37}..." is already the number of row 2; each cut needs a number '
        "of its own",
        'error: cuts.csv, row 5, column cut: "7" is already the number of row 4; each cut needs a number of its own; '
        "8 is still free",
    ]
    assert answered(place) == problems
    assert main(["check", str(place)]) == 1
    assert capsys.readouterr().err.splitlines() == problems
    sound = folder(place, rows({"cut": number}, {"cut": "7"}))
    values = {"machine": "saw1", "band": "B1", "material": "plate", "work_thickness": 1, "cut_travel": 10,
              "band_speed": 200, "feed_rate": 5, "cut_time": 120}  # fmt: skip
    assert study.append_cut(sound, values).cut == "8"
    assert next_number([number, "7"]) == "8"


def test_lines_of_tables_and_values_as_they_are_written():
    text = """\
[study]
name = "x"
note = \"\"\"
[machines.no]
kind = "vertical"
\"\"\"
[ machines . "saw 1" ] # the large one
"kind" = "vertical"
feed="rate"
[[list]]
a.b = 1
[machines.'saw2']
"""
    at = Lines(text).of
    assert [at(["study"], "name"), at(["study"], "note"), at(["study"], None), at(["study"], "missing")] == [2, 3, 1, 1]
    assert [at(["machines", "saw 1"], "kind"), at(["machines", "saw 1"], "feed"), at(["machines", "saw2"], "kind")] == [
        8, 9, 12]  # fmt: skip
    assert at(["machines", "no"], "kind") is None and at(["machines"], None) is None
    assert [at([], "machines"), at([], "list"), at(["list"], "a"), at([], "none")] == [7, 10, 11, None]
