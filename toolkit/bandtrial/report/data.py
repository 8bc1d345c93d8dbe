"""The study's things and data as tables of texts, in the study's units: (heads, rows) each."""

from __future__ import annotations

import numpy as np

from bandtrial.report import words

FEEDS = {"rate": "set feed rate", "force": "set feed force", "hand": "hand feed"}
ENDS = {
    "in_service": "in service",
    "removed_sound": "taken off sound",
    "dull": "ended: dull",
    "crooked": "ended: cuts crooked",
    "stripped": "ended: teeth stripped",
    "broken": "ended: broken",
    "weld_broken": "ended: broken at the weld",
}


def machines(study):
    """What is known of each machine."""
    heads = [
        "machine",
        "kind",
        "feed",
        "band speed, as the dial shows it",
        "speed check",
        "band length",
        "motor",
    ]
    rows = []
    for m in study.machines.values():
        ranges = [
            f"{words.quantity(lo, 'speed', study.units)} to {words.quantity(hi, 'speed', study.units)}"
            for lo, hi in m.band_speed_ranges
        ]
        rows.append(
            [
                m.id,
                m.kind,
                FEEDS.get(m.feed, m.feed),
                "; ".join(ranges),
                _speed_check(m, study.units),
                words.quantity(m.band_length, "length", study.units),
                words.quantity(m.motor_power, "power", study.units),
            ]
        )
    return heads, rows


def _speed_check(machine, system) -> str:
    if not machine.speed_check:
        return "none: dial taken as true"
    points = [
        f"{words.quantity(dial, 'speed', system)} is {words.quantity(true, 'speed', system)}"
        for dial, true in machine.speed_check
    ]
    return "dial " + "; ".join(points)


def band_stock(study):
    """What is known of each band stock."""
    heads = ["band stock", "pitch", "teeth", "set", "edge", "width × thickness", "kerf", "price per band"]
    rows = [
        [
            s.id,
            f"{s.pitch_tpi:g} tpi",
            s.tooth_form,
            s.set,
            s.edge,
            " × ".join(words.quantity(size, "length", study.units) for size in (s.width, s.thickness)),
            words.quantity(s.kerf, "length", study.units),
            words.money(s.price, study.currency),
        ]
        for s in study.band_stock.values()
    ]
    return heads, rows


def materials(study):
    """What is known of each material."""
    heads = ["material", "name", "published group", "hardness"]
    rows = [
        [m.id, m.name, m.group, words.quantity(m.hardness, "hardness", study.units)] for m in study.materials.values()
    ]
    return heads, rows


def costs(study):
    """The costs the answers rest on."""
    minutes = study.costs.get("band_change_minutes")
    return ["cost", "as given"], [
        [
            "machine and labor per hour",
            words.money(study.costs.get("machine_and_labor_per_hour"), study.currency),
        ],
        ["minutes for a band change", "–" if minutes is None else f"{minutes:g} min"],
        ["a scrapped piece", words.money(study.costs.get("scrapped_piece"), study.currency)],
    ]


def summary(study, cuts):
    """Cuts by machine, material and band stock: how much, and over which settings."""
    heads = ["machine", "material", "band stock", "cuts", "pieces", "hours", "area sawn", "work thickness",
             "true band speed", "chip load", "bands"]  # fmt: skip
    rows = []
    used = cuts[(cuts["operation"] == "sawing") & (cuts["exclude"] == "")]
    for (machine, material, stock), group in used.groupby(["machine", "material", "stock"], sort=True):
        pieces = group["pieces"].to_numpy(float)
        rows.append(
            [
                machine,
                material,
                stock,
                f"{len(group):,}",
                f"{int(pieces.sum()):,}",
                f"{(group['cut_time'] * pieces).sum() / 60:.1f}",
                words.quantity((group["cut_area"] * pieces).sum(), "area", study.units),
                span(group["work_thickness"], "length", study.units),
                span(group["band_speed"], "speed", study.units),
                span(group["chip_load"], "chip_load", study.units),
                f"{group['band'].nunique():,}",
            ]
        )
    return heads, rows


def bands(study, cuts, band_table):
    """Every band, what it did, how it ended, and which cuts it made that are used."""
    heads = ["band", "stock", "machine", "end", "cuts", "hours", "area sawn", "cuts used"]
    groups = {group["band"].iloc[0]: group for _, group in cuts.groupby("band", sort=False)}
    rows = []
    for row in band_table.itertuples():
        group = groups.get(row.band, cuts.iloc[:0])
        pieces = group["pieces"].to_numpy(float)
        rows.append(
            [
                row.band,
                row.stock,
                row.machine,
                ENDS.get(row.end, row.end),
                f"{len(group):,}",
                f"{(group['cut_time'] * pieces).sum() / 60:.1f}",
                words.quantity((group["cut_area"] * pieces).sum(), "area", study.units),
                words.runs(group.loc[group["exclude"] == "", "cut"].astype(str)),
            ]
        )
    return heads, rows


def left_out(cuts, excluded):
    """Cuts left out of the fit, each with its reason: the shop's words or the fit's."""
    heads = ["cut", "band", "material", "why it is left out", "note"]
    reasons = {str(row.cut): str(row.reason) for row in excluded.itertuples()}
    given = zip(cuts["cut"].astype(str), cuts["exclude"], strict=True)
    reasons |= {cut: f"the log says: {why}" for cut, why in given if why}
    rows = [
        [str(row.cut), row.band, row.material, reasons[str(row.cut)], str(row.note or "")]
        for row in cuts.itertuples()
        if str(row.cut) in reasons
    ]
    return heads, rows


def every_cut(study, cuts):
    """The whole log, a row for each cut, as it is reckoned with."""
    shown = {
        "work_thickness": ("thickness", "length"),
        "band_speed": ("true speed", "speed"),
        "feed_rate": ("feed rate", "feed_rate"),
        "feed_force": ("feed force", "force"),
        "cut_time": ("time", "time"),
        "pieces": ("pieces", None),
        "chip_load": ("chip load", "chip_load"),
        "motor_power": ("power", "power"),
        "deviation": ("deviation", "length"),
    }
    heads = ["cut", "band", "material", *(head for head, _ in shown.values()), "used"]
    rows = []
    for row in cuts.to_dict("records"):
        cells = [
            f"{int(row[name])}" if kind is None else words.quantity(row[name], kind, study.units)
            for name, (_, kind) in shown.items()
        ]
        used = "left out" if row["exclude"] else "yes"
        rows.append([str(row["cut"]), row["band"], row["material"], *cells, used])
    return heads, rows


def span(values, kind: str, system: str) -> str:
    """Least to greatest of a column, or its one value."""
    values = np.asarray(values, float)
    values = values[np.isfinite(values)]
    if not len(values):
        return "–"
    low, high = words.quantity(values.min(), kind, system), words.quantity(values.max(), kind, system)
    return low if low == high else f"{low.split(' ')[0]} to {high}"
