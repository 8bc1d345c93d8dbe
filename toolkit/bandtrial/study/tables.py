"""The cut table and the band table: one row per logged cut with its sawing arithmetic, per band, per weld."""

from typing import Any

import numpy as np
import pandas as pd

from bandtrial import sawing
from bandtrial.published.speeds import band_speeds
from bandtrial.study.columns import SIGNALS
from bandtrial.study.model import Study
from bandtrial.study.sections import assumed_speeds, geometry, true_speeds

_ORDER = (
    "cut", "started", "operation", "machine", "band", "stock", "material", "feed_mode", "indicated_band_speed",
    "band_speed", "published_band_speed", "work_thickness", "cut_travel", "cut_area", "feed_rate", "set_feed_rate",
    "feed_force", "cut_time", "pieces", "coolant", *SIGNALS, "complete", "exclude", "chip_load", "teeth_in_cut",
    "contact_minutes", "bend_cycles", "band_length", "weld", "note",
)  # fmt: skip


def cut_table(study: Study) -> pd.DataFrame:
    """One row per logged cut, in the order of the file, with the sawing arithmetic.

    band_speed : true band speed V [m/min]; indicated_band_speed : as logged [m/min]
    published_band_speed : V* of the material's group, the thickness, the edge and the coolant [m/min]
    work_thickness : mean L [mm]; cut_travel : D [mm]; cut_area : of one piece [cm2]
    feed_rate : achieved, F = D / t [mm/min]; set_feed_rate : as logged [mm/min]; feed_force [N]
    cut_time : t of one piece [min]; pieces : n [-]
    chip_load : h = F p / V [um]; teeth_in_cut : L / p [-]
    contact_minutes : n t L / B [min]; bend_cycles : 2 V t n / B [-]; band_length : B [mm]
    weld : how often the band had been welded anew before the cut [-]

    A cut whose band speed was not logged has the one taken for it, and `exclude` says so: it wears its band, but
    teaches nothing.
    """
    cuts = study.cuts
    stock_of = dict(zip(study.bands["band"], study.bands["stock"], strict=True))
    stock = cuts["band"].map(stock_of).to_numpy(object)
    spacing = _of(stock, {name: one.tooth_spacing for name, one in study.band_stock.items()})
    machine = cuts["machine"].to_numpy(object)
    B = _of(machine, {name: one.band_length for name, one in study.machines.items()})
    indicated, why = assumed_speeds(cuts, study.machines, study.units)
    V, (L, D, area, _) = true_speeds(study.machines, machine, indicated), geometry(cuts)
    t, n = cuts["cut_time"].to_numpy(float), cuts["pieces"].to_numpy(float)
    F = D / t
    table = cuts[[name for name in _ORDER if name in cuts]].assign(
        stock=stock, feed_mode=_of(machine, {name: one.feed for name, one in study.machines.items()}),
        indicated_band_speed=indicated, band_speed=V, published_band_speed=_published(study, stock, L),
        work_thickness=L, cut_travel=D, cut_area=area, feed_rate=F, set_feed_rate=cuts["feed_rate"],
        chip_load=sawing.chip_load(V, F, spacing), teeth_in_cut=sawing.teeth_in_cut(L, spacing),
        contact_minutes=n * sawing.contact_minutes(t, L, B), bend_cycles=sawing.bend_cycles(V, n * t, B), band_length=B,
        exclude=np.where((cuts["exclude"] == "").to_numpy(bool), why, cuts["exclude"].to_numpy(object)),
        weld=welds(cuts["band"].to_numpy(object), cuts["rewelded"].to_numpy(object)),
    )  # fmt: skip
    return table[list(_ORDER)]


def band_table(study: Study) -> pd.DataFrame:
    """One row per band, in the order of bands.csv: band, stock, machine, end, note, fitted, removed."""
    return study.bands[["band", "stock", "machine", "end", "note", "fitted", "removed"]]


def weld_table(study: Study, cuts: pd.DataFrame | None = None) -> pd.DataFrame:
    """One row per weld of a band that cut, in order: band, weld (0, 1, ...), bend_cycles [-], end.

    The wear of a band goes on when it is welded anew, its weld begins anew: bending cycles are counted for each weld.
    end : of the last weld that of the band; of any other why it was welded anew: sound, weld_broken or broken
    cuts : the study's cut table, where it is at hand
    """
    cuts = cut_table(study) if cuts is None else cuts
    why = study.cuts["rewelded"].to_numpy(object)
    keys, cycles = cuts[["band", "weld"]], cuts["bend_cycles"]
    sums = cycles.groupby([keys["band"], keys["weld"]], sort=False).sum().reset_index()
    own = dict(zip(study.bands["band"], study.bands["end"], strict=True))
    begun = {(band, weld): reason for band, weld, reason in zip(cuts["band"], cuts["weld"], why, strict=True) if reason}
    pairs = zip(sums["band"], sums["weld"], strict=True)
    sums["end"] = [str(begun.get((band, weld + 1), own.get(band))) for band, weld in pairs]
    return pd.DataFrame(sums)


def welds(band: np.ndarray, rewelded: np.ndarray) -> np.ndarray:
    """How often each cut's band had been welded anew, in the order of the log (n,).

    >>> welds(np.array(["A", "B", "A", "A"]), np.array(["", "", "sound", ""])).tolist()
    [0, 0, 1, 1]
    """
    new = pd.Series((rewelded != "").astype(int))
    return new.groupby(pd.factorize(band)[0], sort=False).cumsum().to_numpy() if len(band) else np.empty(0, int)


def _published(study: Study, stock: np.ndarray, L: np.ndarray) -> np.ndarray:
    if not len(L):
        return np.empty(0)
    group = _of(study.cuts["material"].to_numpy(object), {name: one.group for name, one in study.materials.items()})
    edge = _of(stock, {name: one.edge for name, one in study.band_stock.items()})
    return band_speeds(group, L, edge, study.cuts["coolant"].to_numpy(object))


def _of(names: np.ndarray, values: dict[str, Any]) -> np.ndarray:
    """values[name] of each name."""
    codes, different = pd.factorize(names)
    return np.array([values[name] for name in different])[codes] if len(names) else np.empty(0)
