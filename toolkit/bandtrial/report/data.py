"""The study's things and data as tables of texts, in the study's units: (heads, rows) each."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from bandtrial.report import words
from bandtrial.study.columns import COLUMNS, SIGNALS
from bandtrial.study.model import Study

FEEDS = {"rate": "set feed rate", "force": "set feed force", "hand": "hand feed"}
MOST_REASONS = 50
ENDS = {
    "in_service": "in service",
    "removed_sound": "taken off sound",
    "dull": "ended: dull",
    "crooked": "ended: cuts crooked",
    "stripped": "ended: teeth stripped",
    "broken": "ended: broken",
    "weld_broken": "ended: broken at the weld",
}


def machines(study: Study) -> words.Table:
    """What is known of each machine."""
    heads = ["machine", "kind", "feed", "band speed, as the dial shows it", "speed check", "band length", "motor"]
    rows = []
    for m in study.machines.values():
        ranges = "; ".join(_two_speeds("to", pair, study.units) for pair in m.band_speed_ranges)
        check = "; ".join(_two_speeds("is", pair, study.units) for pair in m.speed_check)
        length, power = words.quantity(m.band_length, "length", study.units), m.motor_power
        rows.append([
            m.id, m.kind, FEEDS.get(m.feed, m.feed), ranges, f"dial {check}" if check else "none: dial taken as true",
            length, words.quantity(power, "power", study.units),
        ])  # fmt: skip
    return heads, rows


def _two_speeds(between: str, pair: tuple[float, float], system: str) -> str:
    return f" {between} ".join(words.quantity(speed, "speed", system) for speed in pair)


def band_stock(study: Study) -> words.Table:
    """What is known of each band stock."""
    heads = ["band stock", "pitch", "teeth", "set", "edge", "width × thickness", "kerf", "price per band"]
    rows = [
        [
            s.id, s.pitch, s.tooth_form, s.set, s.edge,
            " × ".join(words.quantity(size, "length", study.units) for size in (s.width, s.thickness)),
            words.quantity(s.kerf, "length", study.units), words.money(s.price, study.currency),
        ]
        for s in study.band_stock.values()
    ]  # fmt: skip
    return heads, rows


def materials(study: Study) -> words.Table:
    """What is known of each material."""
    heads = ["material", "name", "published group", "hardness"]
    rows = [
        [m.id, m.name, m.group, words.quantity(m.hardness, "hardness", study.units)] for m in study.materials.values()
    ]
    return heads, rows


def costs(study: Study) -> words.Table:
    """The costs the answers rest on."""
    minutes, currency = study.costs.get("band_change_minutes"), study.currency
    return ["cost", "as given"], [
        ["machine and labor per hour", words.money(study.costs.get("machine_and_labor_per_hour"), currency)],
        ["minutes for a band change", "–" if minutes is None else f"{minutes:g} min"],
        ["a scrapped piece", words.money(study.costs.get("scrapped_piece"), currency)],
    ]


def summary(study: Study, cuts: Any) -> Any:
    """Cuts by machine, material and band stock: how much, and over which settings."""
    heads = ["machine", "material", "band stock", "cuts", "pieces", "hours", "area sawn", "work thickness",
             "true band speed", "chip load", "bands"]  # fmt: skip
    rows = []
    used = cuts[(cuts["operation"] == "sawing") & (cuts["exclude"] == "")]
    for (machine, material, stock), group in used.groupby(["machine", "material", "stock"], sort=True):
        pieces = group["pieces"].to_numpy(float)
        rows.append(
            [
                machine, material, stock, f"{len(group):,}", f"{int(pieces.sum()):,}",
                f"{(group['cut_time'] * pieces).sum() / 60:.1f}",
                words.quantity((group["cut_area"] * pieces).sum(), "area", study.units),
                span(group["work_thickness"], "length", study.units), span(group["band_speed"], "speed", study.units),
                span(group["chip_load"], "chip_load", study.units), f"{group['band'].nunique():,}",
            ]
        )  # fmt: skip
    return heads, rows


def bands(study: Study, cuts: pd.DataFrame, band_table: pd.DataFrame) -> words.Table:
    """Every band, what it did, how it ended, and which cuts it made that are used."""
    heads = ["band", "stock", "machine", "end", "cuts", "hours", "area sawn", "cuts used"]
    done, used = work_of_bands(cuts, band_table), cuts[cuts["exclude"] == ""].groupby("band", sort=False)["cut"]
    names = {band: words.runs(own.astype(str)) for band, own in used}
    rows = [
        [
            row.band, row.stock, row.machine, ENDS.get(row.end, row.end), f"{row.cuts:,}", f"{row.minutes / 60:.1f}",
            words.quantity(row.area, "area", study.units), names.get(row.band, "none"),
        ]
        for row in done.itertuples()
    ]  # fmt: skip
    return heads, rows


def bands_summed(study: Study, cuts: pd.DataFrame, band_table: pd.DataFrame) -> Any:
    """Bands of a long log together: by stock, machine and end, how many and what they did."""
    heads = ["stock", "machine", "end", "bands", "cuts", "hours", "area sawn", "area of one band: median",
             "least to greatest"]  # fmt: skip
    rows = []
    for (stock, machine, end), own in work_of_bands(cuts, band_table).groupby(["stock", "machine", "end"], sort=True):
        rows.append(
            [
                stock, machine, ENDS.get(end, end), f"{len(own):,}", f"{own['cuts'].sum():,}",
                f"{own['minutes'].sum() / 60:,.0f}", words.quantity(own["area"].sum(), "area", study.units),
                words.quantity(own["area"].median(), "area", study.units), span(own["area"], "area", study.units),
            ]
        )  # fmt: skip
    return heads, rows


def work_of_bands(cuts: pd.DataFrame, band_table: pd.DataFrame) -> Any:
    """band_table with what each band did: cuts, pieces, minutes [min] and area [cm2] sawn, 0 before its first cut."""
    pieces = cuts["pieces"].to_numpy(float)
    each = cuts[["band"]].assign(cuts=1, pieces=pieces, minutes=cuts["cut_time"].to_numpy(float) * pieces,
                                 area=cuts["cut_area"].to_numpy(float) * pieces)  # fmt: skip
    sums = each.groupby("band", sort=False).sum().reindex(band_table["band"], fill_value=0).astype({"pieces": int})
    sums = sums.reset_index(drop=True)
    return band_table[["band", "stock", "machine", "end"]].reset_index(drop=True).join(sums)


def reasons(cuts: pd.DataFrame, excluded: pd.DataFrame) -> np.ndarray:
    """Why each cut is left out of the fit (n,), in the shop's words or the fit's; "" where it is not."""
    fits = dict(zip(excluded["cut"], excluded["reason"].astype(str), strict=True))
    pairs = zip(cuts["cut"].tolist(), cuts["exclude"].tolist(), strict=True)
    return np.array([f"the log says: {why}" if why else fits.get(cut, "") for cut, why in pairs], object)


def left_out(cuts: pd.DataFrame, why: np.ndarray) -> words.Table:
    """Cuts left out of the fit, each with its reason."""
    heads = ["cut", "band", "material", "why it is left out", "note"]
    out = cuts.assign(why=why)[why != ""]
    return heads, [[str(row.cut), row.band, row.material, row.why, str(row.note or "")] for row in out.itertuples()]


def left_out_summed(cuts: pd.DataFrame, why: Any) -> Any:
    """Many cuts left out together: by reason, how many, on how many bands, from which cut to which."""
    heads = ["why it is left out", "cuts", "bands", "from cut", "to cut"]
    groups = list(cuts.assign(why=why)[why != ""].groupby("why", sort=False))
    groups.sort(key=lambda group: -len(group[1]))
    rows = [
        [why, f"{len(own):,}", f"{own['band'].nunique():,}", str(own["cut"].iloc[0]), str(own["cut"].iloc[-1])]
        for why, own in groups[:MOST_REASONS]
    ]
    rest = sum(len(own) for _, own in groups[MOST_REASONS:])
    return heads, rows + ([["other reasons", f"{rest:,}", "", "", ""]] if rest else [])


def every_cut(study: Study, cuts: pd.DataFrame) -> words.Table:
    """The whole log, a row for each cut, as it is reckoned with."""
    shown = {
        "work_thickness": ("thickness", "length"),
        "band_speed": ("true speed", "speed"),
        "feed_rate": ("feed rate", "feed_rate"),
        "feed_force": ("feed force", "force"),
        "cut_time": ("time", "time"),
        "pieces": ("pieces", None),
        "chip_load": ("chip load", "chip_load"),
    }
    logged = [name for name in SIGNALS if np.isfinite(cuts[name].astype(float)).any()]
    shown |= {name: (COLUMNS[name].words, COLUMNS[name].kind) for name in logged}
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


def span(values: Any, kind: str, system: str) -> str:
    """Least to greatest of a column, or its one value."""
    values = np.asarray(values, float)
    values = values[np.isfinite(values)]
    if not len(values):
        return "–"
    low, high = words.quantity(values.min(), kind, system), words.quantity(values.max(), kind, system)
    return low if low == high else f"{low.split(' ')[0]} to {high}"
