"""Study folders for tests: a small invented shop whose files a test changes one by one."""

import csv
import io
from pathlib import Path

import openpyxl
import pytest
from bandtrial import study

TOML = """\
[study]
name = "Invented shop"
units = "us"
currency = "USD"

[costs]
machine_and_labor_per_hour = 60.0
band_change_minutes = 10
scrapped_piece = 5

[machines.saw1]
kind = "vertical"
feed = "rate"
band_speed_ranges = [["50 ft/min", "500 ft/min"]]
band_length = "157 in"
motor_power = "1.5 kW"
throat = "24 in"

[machines.saw2]
kind = "horizontal"
feed = "force"
band_speed_ranges = [["15 m/min", "90 m/min"]]
band_length = "3350 mm"

[band_stock.s8]
pitch = "8 tpi"
edge = "bimetal"
price = 48

[materials.plate]
group = "low-carbon steel"
"""
BANDS = "band,stock,machine,fitted,removed,end,note\nB1,s8,saw1,,,in_service,\nB2,s8,saw2,,,dull,\n"
HEAD = (
    "cut,started,machine,band,material,section,work_thickness [in],cut_travel [in],diameter [in],wall [in],"
    "band_speed [ft/min],feed_rate [in/min],feed_force [lbf],cut_time [s],pieces,coolant,motor_power [kW],"
    "complete,exclude,note"
)
NAMES = [head.partition(" ")[0] for head in HEAD.split(",")]
CUT = {
    "cut": "1", "machine": "saw1", "band": "B1", "material": "plate", "work_thickness": "1", "cut_travel": "10",
    "band_speed": "200", "feed_rate": "5", "cut_time": "120", "coolant": "flood",
}  # fmt: skip
"""A cut that nothing is wrong with: 10 in at 5 in/min take 120 s."""


def rows(*changes: dict[str, str], head: str = HEAD) -> str:
    """The text of cuts.csv: one `CUT` per change, numbered from 1."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    for n, change in enumerate(changes, start=1):
        cut = {**CUT, "cut": str(n), **change}
        writer.writerow([cut.get(name, "") for name in NAMES])
    return f"{head}\n{text.getvalue()}"


def folder(path: Path, cuts: str | bytes = "", bands: str | bytes = BANDS, toml: str | bytes = TOML) -> Path:
    """A study folder with these files; cuts: the rows below the head unless it is a whole file."""
    path.mkdir(exist_ok=True)
    for name, content in (("study.toml", toml), ("bands.csv", bands), ("cuts.csv", cuts or rows({}))):
        (path / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def lines(problems) -> list[str]:
    """Problems as people see them."""
    return [str(problem) for problem in problems]


AS_TYPED = {"machine": "saw1", "band": "B1", "material": "plate", "work_thickness": "1 in", "cut_travel": "254 mm",
            "band_speed": 200, "feed_rate": 5.0, "cut_time": "2:00"}  # fmt: skip
"""The same cut as `CUT`, as a form might hand it over: 254 mm is 10 in, 2:00 is 120 s."""


def refused(place: Path, values: dict) -> str:
    """What is said of a cut that is not saved; the log stays as it was."""
    before = (place / "cuts.csv").read_bytes()
    with pytest.raises(study.StudyError) as error:
        study.append_cut(place, values)
    assert (place / "cuts.csv").read_bytes() == before
    return str(error.value)


def book(place: Path, **cells) -> Path:
    """The study of `place` with a workbook for its cuts; further cells by their address."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "cuts"
    for line in (place / "cuts.csv").read_text().splitlines():
        sheet.append([float(cell) if cell.isdigit() else cell or None for cell in line.split(",")])
    sheet["A2"].comment = openpyxl.comments.Comment("the first of the day", "shift")
    for address, value in cells.items():
        sheet[address] = value
    workbook.save(place / "cuts.xlsx")
    (place / "cuts.csv").unlink()
    return place / "cuts.xlsx"
