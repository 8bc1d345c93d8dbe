"""The study folder of a world: study.toml, and the two tables, empty."""

from __future__ import annotations

from pathlib import Path

from bandtrial_lessons.worlds.sheet import Sheet

MACHINE, STOCK = "saw", "band"
FEED = {"rate": "rate", "force_power": "force", "force": "force", "hand": "hand"}
HEADS = {"rate": ["feed_rate [mm/min]"], "force_power": ["feed_force [N]"], "force": ["feed_force [N]"], "hand": []}
TOML = """\
# Invented by a generator of worlds: no such shop, machine, band or cut exists.
[study]
name = "World {seed}, {kind}"
units = "metric"
currency = "EUR"

[costs]
machine_and_labor_per_hour = {per_hour:.6g}
band_change_minutes = {change:.6g}
scrapped_piece = {scrap:.6g}

[machines.{machine}]
kind = "vertical"
feed = "{feed}"
band_speed_ranges = [{ranges}]
wheel_diameter = "{wheel:.6g} mm"
band_length = "{length:.6g} mm"
motor_power = "{motor:.6g} W"
{feed_range}{check}
[band_stock.{stock}]
pitch = "{pitch:.6g} tpi"
tooth_form = "regular"
set = "raker"
edge = "{edge}"
kerf = "{kerf:.6g} mm"
thickness = "0.9 mm"
price = {price:.6g}

"""


def write(folder: str | Path, sheet: Sheet, dial: float, without: str = "") -> Path:
    """The study of a sheet in a new folder; dial: true over indicated speed; without: a signal that is not logged."""
    folder = Path(folder)
    folder.mkdir(parents=True)
    V = sheet.job.speed
    check = f'speed_check = [["{V:.6g} m/min", "{V * dial:.6g} m/min"]]\n' if sheet.checked else ""
    low, high = sheet.feed_range
    unit, key = ("N", "feed_force_range") if sheet.force_set else ("mm/min", "feed_rate_range")
    feed_range = "" if sheet.kind == "hand" else f'{key} = ["{low:.6g} {unit}", "{high:.6g} {unit}"]\n'
    text = TOML.format(
        seed=sheet.seed, kind=sheet.kind, per_hour=60 * sheet.per_minute, change=sheet.change_minutes,
        scrap=sheet.scrap, machine=MACHINE, feed=FEED[sheet.kind], wheel=sheet.wheel, length=sheet.band_length,
        ranges=", ".join(f'["{a:.6g} m/min", "{b:.6g} m/min"]' for a, b in sheet.ranges),
        motor=sheet.motor, feed_range=feed_range, check=check, stock=STOCK, pitch=sheet.pitch, edge=sheet.edge,
        kerf=sheet.kerf, price=sheet.price,
    )  # fmt: skip
    groups = {work.name: work.group for work in sheet.works}
    text += "".join(f'[materials.{name}]\nname = "{name}"\ngroup = "{group}"\n\n' for name, group in groups.items())
    signals = ["motor_power [W]"] * sheet.power_read + ["deviation [mm]"]
    heads = ["cut", "machine", "band", "material", "work_thickness [mm]", "cut_travel [mm]", "band_speed [m/min]",
             *HEADS[sheet.kind], "cut_time [s]", *(one for one in signals if one.split()[0] != without),
             "pieces", "complete"]  # fmt: skip
    (folder / "study.toml").write_text(text, encoding="utf-8")
    (folder / "cuts.csv").write_text(",".join(heads) + "\n", encoding="utf-8")
    (folder / "bands.csv").write_text("band,stock,machine,end\n", encoding="utf-8")
    return folder
