"""Make the demo studies beside this file: `python trial_data/make_demo.py [folder]`.

Everything in them is invented: the machines, bands and metals are a virtual shop's. The same program always makes
the same bytes; a test says so. Only what the watch foretold, forecasts.csv, may differ in its last digits.
"""

import shutil
import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from bandtrial import sawing, watch, wear
from bandtrial.study import BandStock, Machine, Material, open_study
from bandtrial_lessons.shop import (
    Costs,
    Scatter,
    Shop,
    ShopConfig,
    VirtualMachine,
    VirtualMaterial,
    VirtualStock,
    WearLaw,
)

HERE = Path(__file__).parent

UPRIGHT = VirtualMachine(
    Machine(
        id="upright",
        kind="vertical",
        feed="rate",
        band_speed_ranges=((20.0, 70.0), (85.0, 220.0)),
        band_length=4300.0,
        wheel_diameter=630.0,
        motor_power=2200.0,
        throat=600.0,
        feed_rate_range=(10.0, 600.0),
        speed_check=((30.0, 28.3), (55.0, 52.1), (120.0, 114.2)),
    ),
    dial=0.95,
    dial_bend=0.012,
)
CUTOFF = VirtualMachine(
    Machine(
        id="cutoff",
        kind="horizontal",
        feed="force",
        band_speed_ranges=((20.0, 100.0),),
        band_length=3660.0,
        wheel_diameter=400.0,
        motor_power=1500.0,
        feed_force_range=(50.0, 900.0),
        speed_check=((40.0, 41.1), (80.0, 81.6)),
    ),
    dial=1.022,
    dial_bend=-0.006,
    wear_factor=1.15,
    signals=("deviation",),
)
STOCK = VirtualStock(
    BandStock(
        id="b27",
        pitch_tpi=6.0,
        tooth_form="regular",
        set="raker",
        edge="bimetal",
        price=62.0,
        width=27.0,
        thickness=0.9,
        kerf=1.4,
    ),
    edge_thrust=2.6,
    dulling=2.6,
    bending_life=5.0e4,
)
SHAFT = VirtualMaterial(
    Material("shaft_1045", "1045 flat bar, hot rolled", "medium-carbon steel", 190.0),
    kc11=2220.0,
    mc=0.14,
    law=WearLaw(66.0, 5.5, 7.0, 0.06, 0.86, heat_chip=0.01, rub_chip_load=5.0, strip_chip_load=14.0),
)
GUIDE = VirtualMaterial(
    Material("guide_52100", "52100 ring blank, annealed", "bearing steel", 200.0),
    kc11=2300.0,
    mc=0.20,
    law=WearLaw(45.0, 5.0, 7.5, 0.08, 0.80, heat_chip=0.02, rub_chip_load=5.5, strip_chip_load=12.0),
)
FRAME = VirtualMaterial(
    Material("frame_a36", "A36 plate", "structural steel", 120.0),
    kc11=1780.0,
    mc=0.17,
    law=WearLaw(84.0, 7.0, 6.5, 0.05, 0.83, heat_chip=0.01, rub_chip_load=5.0, strip_chip_load=16.0),
)
"""Machines, bands, metals: kc1.1 and mc of Kienzle tables, from memory; the rest is invented."""

CONFIG = ShopConfig(
    kind="demo",
    seed=20270301,
    machines=(UPRIGHT, CUTOFF),
    stock=(STOCK,),
    materials=(SHAFT, GUIDE, FRAME),
    costs=Costs(machine_and_labor_per_hour=58.0, band_change_minutes=14.0, scrapped_piece=24.0),
    scatter=Scatter(wear_shape=3.2, batch=0.10, band=0.09),
    currency="EUR",
)

JOBS = {
    "shaft_1045": {"L": 40.0, "D": 160.0, "pieces": 34, "V": 58.0, "h": 11.0},
    "guide_52100": {"L": 55.0, "D": 120.0, "pieces": 26, "V": 42.0, "h": 9.0},
    "frame_a36": {"L": 30.0, "D": 240.0, "pieces": 36, "V": 92.0, "h": 12.0},
}
"""Daily work: work thickness [mm], cut travel [mm], pieces of a row, dial [m/min], chip load [um] they are used to."""
HABITS = {"U1": 0.95, "U2": 1.05, "U3": 1.15, "U4": 1.0, "C1": 0.9, "C2": 1.05, "C3": 1.15}
"""Band -> how fast the man who ran it likes it, over the dial speed of JOBS."""
TRIALS = {"U5": (50.0, 8.0), "U6": (58.0, 15.0), "U7": (70.0, 11.0)}
"""Trial band -> dial [m/min] and chip load [um] its trial is about."""


def feed(shop: Shop, machine: str, material: str, dial: float, h: float, L: float) -> dict[str, float]:
    """The feed set for a chip load: whole mm/min, or tens of N for a broken-in edge."""
    m = shop.mechanics(machine, material=material)
    if machine == "cutoff":
        return {"feed_force": float(np.round(m.feed_force(h, L, 0.05), -1))}
    return {"feed_rate": float(np.round(sawing.feed_rate(shop.true_speed(dial, machine), h, m.spacing)))}


PER_MONTH = 1200
"""Pieces of the shafts that the demo shop saws a month."""


def row(shop: Shop, band: str, material: str, dial: float, h: float, pieces: int, **more) -> dict:
    """One row of the table of cuts; the dial is set to whole m/min of a range."""
    machine, job = shop.bands[band].machine, JOBS[material]
    speeds = shop.machines[machine].band_speed_ranges
    dial = float(min((np.clip(np.round(dial), *pair) for pair in speeds), key=lambda speed: abs(speed - dial)))
    return {
        "band": band,
        "material": material,
        "band_speed": dial,
        "work_thickness": job["L"],
        "cut_travel": job["D"],
        "pieces": pieces,
        **feed(shop, machine, material, dial, h, job["L"]),
        **more,
    }


def daily_work(shop: Shop, band: str, random: np.random.Generator, rows: int) -> None:
    """Rows of mixed work, a material for some rows at a time, until the band ends or the rows do."""
    table: list[dict] = []
    while len(table) < rows:
        material = str(random.choice(list(JOBS)))
        job = JOBS[material]
        dial, h = HABITS[band] * job["V"], job["h"] * random.uniform(0.8, 1.3)
        pieces = int(np.round(job["pieces"] * random.uniform(0.7, 1.4)))
        table += [row(shop, band, material, dial, h, pieces)] * int(random.integers(3, 7))
    table[0] = {**table[0], "pieces": 2, "note": "new band, run in at light feed"}
    for name in ("feed_rate", "feed_force"):
        if name in table[0]:
            table[0][name] = float(np.round(0.5 * table[0][name]))
    shop.run(pd.DataFrame(table[:rows]))


def trial(shop: Shop, band: str, n: int) -> None:
    """Trial cuts in shaft_1045: each band about its own setting, every third cut at a common one to compare."""
    dial, h = TRIALS[band]
    common = row(shop, band, "shaft_1045", 58.0, 11.0, 4, note="trial, common setting")
    own = row(shop, band, "shaft_1045", dial, h, 4, note="trial")
    shop.run(pd.DataFrame([common if i % 3 == 0 else own for i in range(n)]))


def demo_shop() -> Shop:
    """Seven bands of daily work, six of them to their end or off sound, then three bands of trial cuts."""
    shop, random = Shop(CONFIG), np.random.default_rng(11)
    for band in HABITS:
        shop.new_band(machine="upright" if band.startswith("U") else "cutoff", id=band)
        daily_work(shop, band, random, 26)
        if shop.bands[band].alive:
            shop.remove(band)
    for band in TRIALS:
        shop.new_band(machine="upright", id=band)
        trial(shop, band, 12)
    return shop


def thin_shop() -> Shop:
    """One new band, a first day: six cuts of frame plate, two of the rings asked about, nothing measured but time."""
    config = ShopConfig(
        kind="thin",
        seed=20270405,
        machines=(replace(UPRIGHT, signals=()),),
        stock=(STOCK,),
        materials=(GUIDE, FRAME),
        costs=CONFIG.costs,
        currency="EUR",
    )
    shop = Shop(config)
    band = shop.new_band(id="N1")
    cuts = [row(shop, band, "frame_a36", 85.0, 10.0, 1)] * 6 + [row(shop, band, "guide_52100", 42.0, 8.0, 1)] * 2
    shop.run(pd.DataFrame(cuts))
    return shop


def main(folder: Path = HERE) -> None:
    """Write both studies into a folder."""
    author = "invented data, for demonstration"
    columns = {"motor_power": ("kW", 3), "band_speed": ("m/min", 0), "feed_rate": ("mm/min", 0)}
    demo_shop().write(
        folder / "demo_shop",
        columns,
        name="Invented shop: shafts, rings and frames",
        question="Band speed, feed and change-out for 40 mm 1045 flat bar on the upright machine?",
        author=author,
    )
    said = folder / "demo_shop" / "study.toml"
    head = b"[materials.shaft_1045]\n"
    said.write_bytes(said.read_bytes().replace(head, head + f"pieces_per_month = {PER_MONTH}\n".encode()))
    thin_shop().write(
        folder / "thin_shop",
        columns,
        name="Invented shop: first day with ring blanks",
        question="Band speed and feed for 55 mm 52100 ring blanks on the upright machine?",
        author=author,
    )


def foretell(folder: Path, first: int = 40, every: int = 6) -> None:
    """Write the forecasts.csv of a study: the watch asked after every so many rows of its log, as the shop would have.

    Not to the byte the same on every machine: the last digits of a fit go into it.
    """
    cuts = (folder / "cuts.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    head, *bands = (folder / "bands.csv").read_text(encoding="utf-8").splitlines()
    place = [name.partition(" ")[0] for name in cuts[0].split(",")].index("band")
    of = [line.split(",")[place] for line in cuts]
    with tempfile.TemporaryDirectory() as home:
        then = Path(shutil.copytree(folder, Path(home) / "then"))
        (then / "forecasts.csv").unlink(missing_ok=True)
        for rows in [*range(first, len(cuts) - 1, every), len(cuts) - 1]:
            (then / "cuts.csv").write_text("".join(cuts[: rows + 1]), encoding="utf-8")
            known = [band.split(",") for band in bands if band.split(",")[0] in of[: rows + 1]]
            running = {*of[rows + 1 :]}
            lines = [",".join([*b[:4], "", "in_service", b[6]]) if b[0] in running else ",".join(b) for b in known]
            (then / "bands.csv").write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
            now = open_study(then)
            watch.keep(watch.watch(wear.fit(now), now), now)
        shutil.copy(then / "forecasts.csv", folder / "forecasts.csv")


if __name__ == "__main__":
    where = Path(*sys.argv[1:2]) if sys.argv[1:] else HERE
    main(where)
    foretell(where / "demo_shop")
