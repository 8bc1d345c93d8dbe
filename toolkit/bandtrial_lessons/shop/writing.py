"""A virtual shop's log as a study folder: study.toml, bands.csv, cuts.csv."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from bandtrial import units
from bandtrial.disk import make_folder, whole
from bandtrial.study.columns import CUTS
from bandtrial.study.model import BandStock, Machine, Material

from bandtrial_lessons.shop.as_study import INVENTED, QUANTITIES, band_frame, cut_frame, info_of

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial_lessons.shop.shop import Shop

METRIC = {
    "work_thickness": ("mm", 2),
    "cut_travel": ("mm", 1),
    "band_speed": ("m/min", 1),
    "feed_rate": ("mm/min", 1),
    "feed_force": ("N", 0),
    "cut_time": ("s", 0),
    "motor_power": ("W", 0),
    "deviation": ("mm", 2),
    "roughness": ("um", 1),
}
"""Column -> unit and decimals of a metric log."""
US = {
    "work_thickness": ("in", 3),
    "cut_travel": ("in", 2),
    "band_speed": ("ft/min", 0),
    "feed_rate": ("in/min", 2),
    "feed_force": ("lbf", 0),
    "cut_time": ("s", 0),
    "motor_power": ("kW", 3),
    "deviation": ("in", 4),
    "roughness": ("uin", 0),
}
KEPT = ("cut", "started", "machine", "band", "material", "band_speed", "cut_time")
"""Columns written even if nothing is in them."""


def write_study(shop: Shop, folder: str | Path, columns: dict[str, tuple[str, int]] | None = None, **info: str) -> Path:
    """Write the log so far as a study folder (made if needed); its path.

    columns : unit and decimals of columns, where they differ from those of the shop's system of units
    info : fields of [study]: name, question, author, ...
    """
    path = make_folder(folder)
    told = info_of(shop, **info)
    written = {**(US if told["units"] == "us" else METRIC), **(columns or {})}
    texts = {"study.toml": study_toml(shop, told), "cuts.csv": cuts_csv(cut_frame(shop), written),
             "bands.csv": bands_csv(band_frame(shop))}  # fmt: skip
    with whole(*(path / name for name in texts)) as spares:
        for spare, text in zip(spares, texts.values(), strict=True):
            spare.write_bytes(text.encode())
    return path


def cuts_csv(cuts: pd.DataFrame, written: dict[str, tuple[str, int]]) -> str:
    """cuts.csv as text; columns in which nothing was logged are left out."""
    out: dict[str, list[Any]] = {}
    for column in CUTS:
        name, values = column.name, cuts[column.name]
        if name not in KEPT and (values.isna() | (values == column.empty)).all():
            continue
        if column.kind in QUANTITIES:
            unit, decimals = written[name]
            numbers = np.asarray(units.from_inside(values.to_numpy(float), column.kind, unit))
            out[f"{name} [{unit}]"] = ["" if np.isnan(x) else f"{x:.{decimals}f}" for x in numbers]
        elif name == "started":
            out[name] = values.dt.strftime("%Y-%m-%dT%H:%M").tolist()
        elif name == "complete":
            out[name] = ["yes" if whole else "no" for whole in values]
        else:
            out[name] = values.astype(int).tolist() if name == "pieces" else values.tolist()
    return _csv(out)


def bands_csv(bands: pd.DataFrame) -> str:
    """bands.csv as text."""
    days = {name: bands[name].dt.strftime("%Y-%m-%d").fillna("") for name in ("fitted", "removed")}
    return _csv(bands.assign(**days).to_dict("list"))


def _csv(columns: dict[Any, list[Any]]) -> str:
    import pandas as pd

    return pd.DataFrame(columns).to_csv(index=False, lineterminator="\n")


def study_toml(shop: Shop, info: dict[str, Any]) -> str:
    """study.toml as text: a comment that all of it is invented, then the tables."""
    system = str(info["units"])
    tables = {"study": {key: value for key, value in info.items() if value}, "costs": dict(shop.costs)}
    tables |= {f"machines.{id}": _machine(m, system) for id, m in shop.machines.items()}
    tables |= {f"band_stock.{id}": _stock(s, system) for id, s in shop.band_stock.items()}
    tables |= {f"materials.{id}": _material(m) for id, m in shop.materials.items()}
    parts = [f"# {INVENTED}"]
    for head, values in tables.items():
        lines = [f"{key} = {_toml(value)}" for key, value in values.items() if value is not None]
        parts.append("\n".join([f"[{head}]", *lines]))
    return "\n\n".join(parts) + "\n"


def _toml(value: Any) -> str:
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(one) for one in value) + "]"
    return repr(value)


def _quantity(value: Any, kind: str, system: str) -> Any:
    """A value or nested pairs of values with the unit of the system; None where it is not known."""
    if isinstance(value, list | tuple):
        return [_quantity(one, kind, system) for one in value] or None
    if value is None or np.isnan(value):
        return None
    unit = {"power": "kW"}.get(kind) or units.display_unit(kind, system)
    return f"{units.from_inside(value, kind, unit):.7g} {unit}"


def _machine(m: Machine, system: str) -> dict[str, Any]:
    lengths = {
        name: _quantity(getattr(m, name), "length", system) for name in ("wheel_diameter", "band_length", "throat")
    }
    return {
        "kind": m.kind,
        "feed": m.feed,
        "band_speed_ranges": _quantity(m.band_speed_ranges, "speed", system),
        **lengths,
        "motor_power": _quantity(m.motor_power, "power", system),
        "drive_efficiency": m.drive_efficiency,
        "feed_rate_range": _quantity(m.feed_rate_range, "feed_rate", system),
        "feed_force_range": _quantity(m.feed_force_range, "force", system),
        "speed_check": _quantity(m.speed_check, "speed", system),
    }


def _stock(s: BandStock, system: str) -> dict[str, Any]:
    return {
        "pitch": f"{s.pitch_tpi:g} tpi",
        "tooth_form": s.tooth_form,
        "set": s.set,
        "edge": s.edge,
        **{name: _quantity(getattr(s, name), "length", system) for name in ("width", "thickness", "kerf")},
        "gullet_area": _quantity(s.gullet_area, "gullet_area", system),
        "price": s.price,
    }


def _material(m: Material) -> dict[str, Any]:
    return {
        "name": m.name,
        "group": m.group,
        "hardness": None if np.isnan(m.hardness) else f"{m.hardness:g} HB",
    }
