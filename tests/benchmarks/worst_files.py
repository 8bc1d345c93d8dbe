"""Memory and time of the largest files a study may have, and of hostile ones: at most 1 GB each. All invented.

    python tests/benchmarks/worst_files.py [--only NAME ...]

Each file is written into a sound study and checked (`study.check`) in a process of its own. Shown are its size, the
seconds, the peak memory of that process and the last thing said. Ends with 1 where one took more than 1 GB.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))
from study_folders import BANDS, HEAD, TOML

LIMIT_MB = 1000
MOST = 150_000_000
WIDE = HEAD + ",deviation [mm],roughness [um]"
SHEET = '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
BOOK = {
    "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default '
    'Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Override '
    'PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main'
    '+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument'
    '.spreadsheetml.worksheet+xml"/></Types>',
    "_rels/.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship '
    'Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" '
    'Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://'
    'schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="cuts" sheetId="1" r:id="r1"/>'
    "</sheets></workbook>",
    "xl/_rels/workbook.xml.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" '
    'Target="worksheets/sheet1.xml"/></Relationships>',
}


def whole_log(n: int, note: Callable[[int], str] = lambda k: "") -> Iterator[str]:
    """A sound log of n cuts, every column filled."""
    yield WIDE + "\n"
    for k in range(n):
        yield (f"{k},2026-03-02T07:{k % 60:02},saw1,B1,plate,rectangular,1,10,,,200,5,,120,3,flood,"
               f"0.{k % 9999:04},yes,,{note(k)},0.0{k % 97},1.{k % 89}\n")  # fmt: skip


def letters(text: str, size: int, head: str = "cut,note\n") -> Iterator[str]:
    """Rows of a number and a text, up to a size in UTF-8."""
    yield head
    each = len(text.encode()) + 9
    for k in range(size // each):
        yield f"{k:07},{text}\n"


def limited(lines: Iterator[str], most: int = MOST - 200) -> Iterator[bytes]:
    """Lines as bytes until the file is as large as may be."""
    for line in lines:
        most -= len(raw := line.encode())
        if most < 0:
            return
        yield raw


def cells_of(columns: int, text: Callable[[int], str]) -> Iterator[str]:
    yield ",".join(["cut", *(f"c{n}" for n in range(1, columns))]) + "\n"
    k = 0
    while True:
        yield ",".join(text(k + n) for n in range(columns)) + "\n"
        k += columns


CSV: dict[str, Callable[[], Iterator[bytes]]] = {
    "a million cuts, every column": lambda: limited(whole_log(1_000_000)),
    "1,500,000 rows of 16 cells": lambda: limited(
        line for _, line in zip(range(1_500_000), cells_of(16, lambda k: str(k % 90)), strict=False)),
    "all cells different": lambda: limited(cells_of(16, lambda k: f"{k:x}")),
    "a comment in the middle": lambda: (
        raw.replace(b"700000,", b"#700000,", 1) for raw in limited(whole_log(1_000_000))),
    "10,000 columns": lambda: limited(cells_of(10_000, lambda k: "1")),
    "300 columns": lambda: limited(cells_of(300, lambda k: str(k % 9))),
    "one wide head, a million short rows": lambda: limited(iter([",".join(f"c{n}" for n in range(300)) + "\n",
                                                                 *["1\n"] * 1_400_000])),
    "letters of four bytes": lambda: limited(letters("a rare letter \U00010348 and a long text", MOST)),
    "Windows-1252, all euros": lambda: (line.encode("cp1252") for line in letters("\u20ac" * 90, 3 * MOST)),
    "UTF-16": lambda: iter(["".join(letters("x" * 50, MOST // 2 - 99)).encode("utf-16")]),
    "line ends of Windows": lambda: (raw.replace(b"\n", b"\r\n") for raw in limited(whole_log(950_000))),
    "one line": lambda: iter([b"cut," * (MOST // 4)]),
    "a quote mark never closed": lambda: limited(iter([WIDE + "\n", '"', *["1,2\n"] * 30_000_000])),
}  # fmt: skip


def sheet(row: Callable[[int], str], size: int = 99_000_000) -> Iterator[str]:
    """XML of a sheet, up to a size unpacked."""
    yield SHEET
    n = 1
    while size > 0:
        text = row(n)
        size -= len(text)
        n += 1
        yield text
    yield "</sheetData></worksheet>"


def numbers(n: int) -> str:
    return "<row>" + "".join(f"<c><v>{n * 31 % 9973 + k}.5</v></c>" for k in range(16)) + "</row>"


XLSX: dict[str, Callable[[], Iterator[str]]] = {
    "as many numbers as fit": lambda: sheet(numbers),
    "as many texts as fit": lambda: sheet(lambda n: "<row>" + "".join(
        f'<c t="inlineStr"><is><t>{n:x}{k}</t></is></c>' for k in range(16)) + "</row>"),
    "one cell far right in each row": lambda: sheet(lambda n: f'<row r="{n}"><c r="KN{n}"><v>{n}</v></c></row>'),
    "one cell beyond all columns": lambda: sheet(lambda n: f'<row r="{n}"><c r="XFD{n}"/></row>'),
    "zip bomb": lambda: sheet(lambda n: "<row><c><v>0</v></c></row>" * 10_000, size=3_000_000_000),
}  # fmt: skip


def write(name: str, place: Path) -> Path:
    """The study with the file; the path of the file."""
    (place / "study.toml").write_text(TOML, encoding="utf-8")
    (place / "bands.csv").write_text(BANDS, encoding="utf-8")
    if name in CSV:
        with (place / "cuts.csv").open("wb") as file:
            file.writelines(CSV[name]())
        return place / "cuts.csv"
    with zipfile.ZipFile(place / "cuts.xlsx", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as book:
        for part, text in BOOK.items():
            book.writestr(part, text)
        with book.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as part:
            for text in XLSX[name]():
                part.write(text.encode())
    return place / "cuts.xlsx"


def measure(place: Path) -> None:
    from bandtrial import study

    begin, before = time.perf_counter(), time.process_time()
    problems = study.check(place)
    took = (time.perf_counter() - begin, time.process_time() - before)
    said = next((p for p in problems if p.severity == "error"), problems[-1] if problems else "no problem")
    print(json.dumps([*took, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024, str(said)]))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", nargs="+", default=[*CSV, *XLSX])
    parser.add_argument("--folder", type=Path, help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.folder:
        measure(arguments.folder)
        return 0
    worst = 0.0
    print(f"{'file':<38}{'MB':>6}{'seconds':>9}{'processor':>11}{'peak MB':>9}  said", flush=True)
    for name in arguments.only:
        with tempfile.TemporaryDirectory() as place:
            size = write(name, Path(place)).stat().st_size / 1e6
            run = [sys.executable, __file__, "--folder", place]
            found = subprocess.run(run, capture_output=True, text=True, check=False)
        if found.returncode:
            print(f"{name:<38}{size:>6.0f}  ended with {found.returncode}: {found.stderr[-200:]}", flush=True)
            worst = float("inf")
            continue
        seconds, processor, peak, said = json.loads(found.stdout)
        worst = max(worst, peak)
        print(f"{name:<38}{size:>6.0f}{seconds:>9.1f}{processor:>11.1f}{peak:>9.0f}  {said[:150]}", flush=True)
    return 0 if worst <= LIMIT_MB else 1


if __name__ == "__main__":
    sys.exit(main())
