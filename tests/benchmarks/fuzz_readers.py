"""Coverage-guided fuzzing of everything that reads: units, study.toml, CSV, workbooks, tables to import.

Needs atheris, which is no dependency of the project and stays out of its environment:

    python3 -m venv fuzz
    fuzz/bin/pip install -c toolkit/constraints.txt atheris numpy pandas scipy pint openpyxl filelock
    PYTHONPATH=toolkit fuzz/bin/python tests/benchmarks/fuzz_readers.py cuts -max_total_time=600 CORPUS

The first argument names what is fuzzed: units, cells, csv are single layers, hundreds of inputs a second; toml, cuts,
bands, sheet, xlsx, table are whole studies and imports, tens a second. The rest is libFuzzer's. A finding is an
exception, a warning, an answer that names no place, a value that can't be true, more than 10 s for one input, or more
than 1 GB. Input that found something is left in the working directory as crash-*; name it to run it again.
"""

import io
import os
import sys
import tempfile
import warnings
import zipfile
from functools import cache
from pathlib import Path

import atheris

with atheris.instrument_imports(include=["bandtrial", "tomllib"]):
    import tomllib  # noqa: F401

    import bandtrial.study.writing  # noqa: F401
    from bandtrial import study, units
    from bandtrial.study import csvfile, draft, files, matching, reading
    from bandtrial.study.columns import CUTS
    from bandtrial.study.files import RawTable
    from bandtrial.study.problems import Problems
    from bandtrial.study.typed import typed

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))
from study_folders import BANDS, TOML, folder, rows

warnings.simplefilter("error")
MEMORY = Path("/dev/shm") if Path("/dev/shm").is_dir() else None
PLACE = Path(tempfile.mkdtemp(prefix="fuzz_readers", dir=MEMORY)) / "study"
DEFAULT_LIMITS = ("-timeout=10", "-rss_limit_mb=1000", "-max_len=4096")
FULL = rows(
    {"started": "2026-03-02T07:30", "note": "first", "pieces": "3"},
    {"started": "3/2/2026 8:15 am", "work_thickness": "1 1/2", "cut_time": "2:00", "exclude": "slipped"},
    {"section": "tube", "diameter": "2", "wall": "1/4", "work_thickness": "", "cut_travel": "", "complete": "no"},
    {"machine": "saw2", "band": "B2", "feed_force": "20", "feed_rate": "", "coolant": "dry", "motor_power": "0.4"},
)
SHEET = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    '<row r="1"><c r="A1" t="inlineStr"><is><t>cut</t></is></c><c r="B1" t="s"><v>0</v></c></row>'
    '<row r="2"><c r="A2"><v>1</v></c><c r="B2" s="1"><v>46083.5</v></c><c r="C2"><f>1+1</f><v>2</v></c></row>'
    '</sheetData><mergeCells count="1"><mergeCell ref="B1:C1"/></mergeCells></worksheet>'
)


def main() -> None:
    if len(sys.argv) < 2 or sys.argv[1] not in TARGETS:
        sys.exit(f"name what to fuzz: {', '.join(TARGETS)}")
    target, arguments = TARGETS[sys.argv[1]], sys.argv[2:]
    limits = [one for one in DEFAULT_LIMITS if not any(a.startswith(one.split("=")[0]) for a in arguments)]
    paths = [Path(one) for one in arguments if not one.startswith("-")]
    corpus = paths[0] if paths else PLACE.parent / "corpus"
    if not corpus.is_file():
        corpus.mkdir(exist_ok=True)
    for n, seed in enumerate(SEEDS[sys.argv[1]] if corpus.is_dir() else ()):
        (corpus / f"seed-{n}").write_bytes(seed)
    folder(PLACE)
    atheris.Setup([sys.argv[0], *limits, *arguments, *([] if paths else [str(corpus)])], target)
    atheris.Fuzz()


def answered(files: dict[str, bytes], gone: tuple[str, ...] = ()) -> None:
    """The study with these files opens to values that can be true, or every problem is a line that names its file."""
    for name, data in files.items():
        (PLACE / name).write_bytes(data)
    for name in gone:
        (PLACE / name).unlink(missing_ok=True)
    opened, problems = reading.read(PLACE)
    for problem in problems:
        line = str(problem)
        assert line.isprintable() and len(line) < 5000, line[:200]
        assert problem.file.startswith(("study.toml", "bands.csv", "cuts.")), line
        assert problem.message.strip(), line
    assert opened is not None or any(problem.severity == "error" for problem in problems)
    if opened is not None:
        true_values(opened)


def true_values(opened: study.Study) -> None:
    """What a study that opened must be: complete where complete is needed, finite, positive."""
    table = study.cut_table(opened)
    study.band_table(opened)
    for name in ("work_thickness", "cut_travel", "band_speed", "cut_time", "pieces", "feed_rate", "chip_load",
                 "contact_minutes", "bend_cycles", "published_band_speed", "cut_area"):  # fmt: skip
        values = table[name].to_numpy(float)
        assert ((values > 0) & (values < 1e300)).all(), (name, values)
    assert table["cut"].is_unique and (table["cut"] != "").all()
    assert set(table["band"]) <= set(opened.bands["band"]) and set(table["machine"]) <= set(opened.machines)


def fuzz_units(data: bytes) -> None:
    """A quantity is a finite number or one sentence; what it shows can be read again."""
    provider = atheris.FuzzedDataProvider(data)
    kind = provider.PickValueInList(list(units.KINDS))
    unit = provider.PickValueInList([None, units.KINDS[kind], *units.units_of(kind)])
    text = provider.ConsumeUnicode(120)
    try:
        value = units.read(text, kind, unit)
        assert value == value and abs(value) < 1e308, (text, value)
        assert units.show(value, kind, "us") and units.show(value, kind, "metric", abs(value) / 10)
    except units.UnitError as error:
        assert str(error).isprintable() and len(str(error)) < 400, error
    units.head(text)
    try:
        units.factor(text, kind)
    except units.UnitError as error:
        assert str(error).isprintable() and len(str(error)) < 400, error


def fuzz_cells(data: bytes) -> None:
    """Cells of one column of cuts, as texts: true values or a sentence for each that is not."""
    provider = atheris.FuzzedDataProvider(data)
    column = provider.PickValueInList(list(CUTS))
    unit = provider.PickValueInList(["", *units.units_of(column.kind)]) if column.is_quantity else ""
    texts = provider.ConsumeUnicodeNoSurrogates(200).split("\n")
    problems = Problems()
    cells = pd.DataFrame({0: pd.Series(texts, dtype=object)})
    head = f"{column.name} [{unit}]" if unit else column.name
    raw = RawTable("cuts.csv", [head], cells, np.arange(2, len(texts) + 2), semicolons=provider.ConsumeBool())
    sheet = typed(raw, (column,), provider.PickValueInList(["us", "metric"]), problems)
    assert all(str(problem).isprintable() for problem in problems.found)
    if column.is_quantity or column.kind == "count":
        values = sheet.frame[column.name].to_numpy(float)
        values = values[~np.isnan(values)]
        assert ((values >= column.low) & (values <= column.high)).all() or problems.errors, (texts, values)


def fuzz_csv(data: bytes) -> None:
    """Bytes as a table: as many cells in each row as heads, or one line that names the row."""
    problems = Problems()
    text = files.as_utf8(data, "cuts.csv", problems)
    table = None if text is None else csvfile.parse("cuts.csv", text, problems)
    assert all(str(problem).isprintable() for problem in problems.found)
    if table is None:
        assert problems.errors
    else:
        assert table.cells.shape == (len(table.rows), len(table.heads))
        assert (np.diff(table.rows) > 0).all()


def fuzz_cuts(data: bytes) -> None:
    answered({"cuts.csv": data, "bands.csv": BANDS.encode(), "study.toml": TOML.encode()}, ("cuts.xlsx",))


def fuzz_bands(data: bytes) -> None:
    answered({"cuts.csv": FULL.encode(), "bands.csv": data, "study.toml": TOML.encode()}, ("cuts.xlsx",))


def fuzz_toml(data: bytes) -> None:
    answered({"cuts.csv": FULL.encode(), "bands.csv": BANDS.encode(), "study.toml": data}, ("cuts.xlsx",))


def fuzz_sheet(data: bytes) -> None:
    """The sheet of a sound workbook."""
    fuzz_xlsx(packed(data))


def fuzz_xlsx(data: bytes) -> None:
    answered({"cuts.xlsx": data, "bands.csv": BANDS.encode(), "study.toml": TOML.encode()}, ("cuts.csv",))


def fuzz_table(data: bytes) -> None:
    """A table to import, in the form its first byte says."""
    name, data = ("log.xlsx", packed(data[1:])) if data[:1] == b"x" else ("log.csv", data[1:])
    try:
        table = matching.read_table(name, data)
    except study.StudyError as error:
        assert error.problems and all(str(problem).isprintable() for problem in error.problems)
        return
    columns = matching.match(table.heads)
    chosen = [matching.unit_of(head, column, "us") if column else "" for head, column in
              zip(table.heads, columns, strict=True)]  # fmt: skip
    if any(columns):
        desk().check(matching.matched(table, columns, chosen))


@cache
def desk() -> draft.Desk:
    folder(PLACE, FULL)
    return draft.Desk(PLACE, study.open_study(PLACE))


def packed(sheet: bytes) -> bytes:
    """A workbook of one sheet, `cuts`, with the given XML."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as sound, zipfile.ZipFile(out, "w") as made:
        for part in sound.namelist():
            made.writestr(part, sheet if part == "xl/worksheets/sheet1.xml" else sound.read(part))
    return out.getvalue()


def workbook() -> bytes:
    """A sound workbook: texts, a date, a time, numbers."""
    import datetime

    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "cuts"
    for line in FULL.splitlines():
        sheet.append([float(cell) if cell.replace(".", "").isdigit() else cell for cell in line.split(",")])
    sheet["B2"], sheet["N3"] = datetime.datetime(2026, 3, 2, 7, 30), datetime.time(0, 2)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


WORKBOOK = workbook()
with zipfile.ZipFile(io.BytesIO(WORKBOOK)) as _book:
    GOOD_SHEET = _book.read("xl/worksheets/sheet1.xml")
TARGETS = {"units": fuzz_units, "cells": fuzz_cells, "csv": fuzz_csv, "toml": fuzz_toml, "cuts": fuzz_cuts,
           "bands": fuzz_bands, "sheet": fuzz_sheet, "xlsx": fuzz_xlsx, "table": fuzz_table}  # fmt: skip
CSVS = [FULL.encode(), FULL.replace(",", ";").encode(), FULL.replace(",", "\t").encode("utf-16"),
        b"\xef\xbb\xbf" + FULL.replace("\n", "\r\n").encode(),
        FULL.replace("first", '"a, ""b""\nc"').encode()]  # fmt: skip
SEEDS = {
    "units": [b"\x01\x01" + text.encode("utf-32-le") for text in
              ("5/8 in", "1 1/2 in", "12:40", "4/6 tpi", "5 ft 3 in", "1.234,5 mm/min", "40000 cm**2")],
    "cells": [b"\x05\x02" + text.encode("utf-32-le") for text in
              ("1\n1 1/2\n1,250\n-3", "3/2/2026 8:15 am\n2026-03-02T07:30", "12:40\n95 s", "yes\nN\n=1+1")],
    "csv": CSVS,
    "toml": [TOML.encode(), TOML.encode() + b'speed_check = [["30 m/min", "28.8 m/min"]]\n'],
    "cuts": CSVS,
    "bands": [BANDS.encode(), BANDS.replace(",,,", ",2026-01-02,2026-02-03,").encode()],
    "sheet": [GOOD_SHEET, SHEET.encode()],
    "xlsx": [WORKBOOK],
    "table": [b"c" + one for one in CSVS] + [b"x" + GOOD_SHEET],
}  # fmt: skip

if __name__ == "__main__":
    os.environ.setdefault("PYTHONDONTWRITEBYTECODE", "1")
    main()
