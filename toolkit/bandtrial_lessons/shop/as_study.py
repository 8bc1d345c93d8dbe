"""A virtual shop's log as a Study in memory, without a folder: what `open_study` would give."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from bandtrial.study.columns import BANDS, CUTS
from bandtrial.study.model import Study

if TYPE_CHECKING:
    import pandas as pd

    from bandtrial_lessons.shop.shop import Shop

INVENTED = "Invented by a virtual shop: no such machine, band or cut exists."
QUANTITIES = ("length", "speed", "feed_rate", "force", "time", "power", "roughness")


def info_of(shop: Shop, **info: str) -> dict[str, Any]:
    """[study] of a shop; info replaces its fields."""
    return {
        "name": f"Virtual shop {shop.config.seed}, {shop.config.kind}",
        "question": "",
        "currency": shop.config.currency,
        "author": "",
        "safety_notes": INVENTED,
        "units": shop.config.units,
        **info,
    }


def band_frame(shop: Shop) -> pd.DataFrame:
    """bands.csv of a shop: first and last cut of each band as the days it was fitted and removed."""
    import pandas as pd

    day = pd.to_datetime(shop.cuts["started"]).dt.normalize().groupby(shop.cuts["band"])
    first, last = day.min(), day.max()
    bands = list(shop.bands.values())
    frame = pd.DataFrame(
        {
            "band": [b.id for b in bands],
            "stock": [b.stock for b in bands],
            "machine": [b.machine for b in bands],
            "fitted": pd.Series([first.get(b.id, pd.NaT) for b in bands], dtype="datetime64[us]"),
            "removed": pd.Series(
                [pd.NaT if b.alive else last.get(b.id, pd.NaT) for b in bands], dtype="datetime64[us]"
            ),
            "end": [b.end for b in bands],
            "note": "",
        }
    )
    return frame[[column.name for column in BANDS]]


def cut_frame(shop: Shop) -> pd.DataFrame:
    """cuts.csv of a shop, with a column for everything that may be logged."""
    import pandas as pd

    cuts = shop.cuts
    for column in CUTS:
        if column.name not in cuts:
            cuts[column.name] = float("nan") if column.kind in QUANTITIES else column.empty
        if column.kind in QUANTITIES or column.name == "pieces":
            cuts[column.name] = cuts[column.name].astype(float)
    cuts["started"] = pd.to_datetime(cuts["started"])
    cuts["complete"] = cuts["complete"].astype(bool)
    return cuts[[column.name for column in CUTS]]


def study_of(shop: Shop, **info: str) -> Study:
    """The Study of a shop's log so far; info replaces fields of [study]."""
    return Study(
        path=Path("virtual_shop"),
        info=info_of(shop, **info),
        costs=dict(shop.costs),
        machines=dict(shop.machines),
        band_stock=dict(shop.band_stock),
        materials=dict(shop.materials),
        bands=band_frame(shop),
        cuts=cut_frame(shop),
    )
