"""The arrays the model works on: one row per cut in the order the bands were used, one block per signal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from ..sawing import COOLANTS, WORN
from .design import GROUPS, H_REF, Design, clock_design, share_design, signal_design
from .signals import FED_AS, Signal

CHIP_POWER = 1.2  # of the feed force, in a chip load: places the reference force, no more (model_priors.csv)


@dataclass(frozen=True)
class SignalRows:
    """Where one signal was measured: rows (n,) into those of `Rows`, log signal y (n,), its design X.

    share: log of the covariate by which the share of dulling changes (n,), 0 where it does not; rounding: what readings
    written in coarse steps add to the scatter of y; weight: of a reading among others that stray with it, 1 where each
    stands alone.
    """

    name: str
    rows: np.ndarray
    y: np.ndarray
    X: Design
    bands: np.ndarray = field(repr=False)  # band of each row
    heads: np.ndarray = field(repr=False)  # first place of each band that has the signal
    of: np.ndarray = field(repr=False)  # which band that is
    share: np.ndarray = field(repr=False)
    rounding: float = 0.0
    weight: float = 1.0

    def of_bands(self, keep: np.ndarray, place: np.ndarray) -> SignalRows:
        """Those on the bands `keep` (indices, rising); place: of each cut (n,) among theirs, -1 where it is not."""
        ok = place[self.rows] >= 0
        return self.taken(ok, place, np.searchsorted(keep, self.bands[ok]))

    def taken(self, ok: np.ndarray, place: np.ndarray, bands: np.ndarray) -> SignalRows:
        """Those marked by `ok` (n,), on the bands (k,) as numbered there; place: of each cut of `Rows` there."""
        heads = _heads(bands)
        return replace(
            self, rows=place[self.rows[ok]], y=self.y[ok], X=self.X.take(ok), bands=bands, heads=heads, of=bands[heads],
            share=self.share[ok],
        )  # fmt: skip

    def scale(self, noise: Any) -> Any:
        """Scale of the t law of y: of its noise and of rounding together."""
        return np.hypot(noise, self.rounding)


@dataclass(frozen=True)
class Rows:
    """One study as arrays: n rows, one a cut as logged, sorted by band; m bands, each with a first row in `heads` (m,).

    contact: contact minutes of the row (n,); left: share of them after the moment of measuring, half of the row's last
    piece; X: design of log tau; band: number of the row's band (n,); worn: band ended by wear (m,); bands: names (m,).
    """

    contact: np.ndarray
    left: np.ndarray
    X: Design
    band: np.ndarray
    heads: np.ndarray
    worn: np.ndarray
    bands: tuple[str, ...]
    levels: dict[str, list[str]]  # group kind -> its names, in column order
    signals: tuple[SignalRows, ...] = ()
    force_ref: dict[str, float] = field(
        default_factory=dict
    )  # material -> reference feed force per tooth in the cut [N]

    @cached_property
    def counts(self) -> np.ndarray:
        """Rows of each band (m,)."""
        return np.diff(np.append(self.heads, len(self.contact)))

    @cached_property
    def last(self) -> np.ndarray:
        """Last row of each band (m,)."""
        return np.append(self.heads[1:], len(self.contact)) - 1

    @classmethod
    def of_lives(cls, time: Any, ended: Any, covariates: Mapping[str, Any] | None = None) -> Rows:
        """Rows of a life table: each unit a band of one cut, `time` (n,) its contact minutes, `ended` (n,) whether it
        ended by wear; log tau = log_scale + sum c_k covariate_k, `covariates` {name: (n,)}.

        Fitted with `fit_rows(..., priors=False)` it is the Weibull accelerated-life regression of the textbooks."""
        time = np.asarray(time, float)
        n, covariates = len(time), covariates or {}
        design = Design(np.column_stack([np.ones(n), *covariates.values()]), ("log_scale", *covariates))
        levels: dict[str, list[str]] = {
            "material": ["m"],
            "machine": ["s"],
            "stock": ["b"],
            "coolant": [],
            "edge": ["bimetal"],
        }
        names = tuple(f"B{i}" for i in range(n))
        return cls(time, np.full(n, 0.5), design, np.arange(n), np.arange(n), np.asarray(ended, bool), names, levels)

    def of_bands(self, keep: np.ndarray) -> Rows:
        """The same study with only the bands `keep` (indices, rising)."""
        ends = np.append(self.heads[1:], len(self.contact))
        at = np.concatenate([np.arange(self.heads[b], ends[b]) for b in keep])
        place = np.full(len(self.contact), -1)
        place[at] = np.arange(len(at))
        band = np.searchsorted(keep, self.band[at])
        return replace(
            self, contact=self.contact[at], left=self.left[at], X=self.X.take(at), band=band, heads=_heads(band),
            worn=self.worn[keep], bands=tuple(self.bands[b] for b in keep),
            signals=tuple(s.of_bands(keep, place) for s in self.signals),
        )  # fmt: skip

    def totals(self, values: np.ndarray) -> np.ndarray:
        """Sum over each band: values (n, ...) -> (m, ...)."""
        return np.asarray(np.add.reduceat(values, self.heads, axis=0))

    def running(self, values: np.ndarray) -> np.ndarray:
        """Running sum within each band: values (n, ...) -> (n, ...)."""
        total = np.cumsum(values, axis=0)
        before = total[self.heads] - values[self.heads]
        total -= before.take(self.band, axis=0)
        return total


def _heads(band: np.ndarray) -> np.ndarray:
    """First place of each band, whose numbers (n,) rise."""
    return np.flatnonzero(np.diff(band, prepend=-1))


LEARNT_FROM = ("band_speed", "published_band_speed", "chip_load", "work_thickness", "coolant", *GROUPS, "feed_force",
               "feed_mode")  # fmt: skip
"""Columns of the cut table that the designs are made of."""


def from_tables(
    cuts: pd.DataFrame, bands: pd.DataFrame, edge_of: Mapping[str, str], signals: Iterable[Signal],
    set_only: bool = False,
) -> tuple[Rows, pd.DataFrame]:  # fmt: skip
    """Arrays of a study from its cut table, its band table and the edge of each band stock.

    Filing and polishing, cuts without what the clock needs, and bands without a cut are left out;
    excluded cuts stay in the clock and leave the signals. set_only: take no account of chip loads unless all
    were set and written down. Returns (Rows, sorted cut table).
    """
    chip_load, known = set_chip_load(cuts)
    cuts = cuts.assign(chip_load=chip_load if known.all() or not set_only else H_REF)
    use = (cuts["operation"] == "sawing") & (cuts["contact_minutes"] > 0) & (cuts["chip_load"] > 0)
    code = pd.Categorical(cuts["band"], categories=list(bands["band"])).codes
    use &= code >= 0
    order = np.flatnonzero(use.to_numpy())
    order = order[np.argsort(code[order], kind="stable")]
    table = cuts.iloc[order].reset_index(drop=True)
    code = code[order]
    heads = _heads(code)  # codes are places in bands.csv: of its bands those that cut, in its order
    used, edge = bands.iloc[code[heads]], table["stock"].map(edge_of)
    levels = {kind: list(pd.unique(table[kind])) for kind in GROUPS}
    levels["coolant"] = [c for c in COOLANTS[1:] if (table["coolant"] == c).any()]
    levels["edge"] = list(edge.value_counts().index)
    force_ref = reference_forces(table)
    columns = {name: table[name].to_numpy() for name in LEARNT_FROM} | {"edge": edge.to_numpy()}
    columns["force_per_tooth"] = force_over(force_ref, columns["feed_force"] / table["teeth_in_cut"], table["material"])
    rows = Rows(
        table["contact_minutes"].to_numpy(float), 0.5 / table["pieces"].to_numpy(float),
        clock_design(columns, levels, levels["edge"]), np.cumsum(np.diff(code, prepend=-1) != 0) - 1, heads,
        used["end"].isin(WORN).to_numpy(), tuple(used["band"]), levels,
    )  # fmt: skip
    blocks = tuple(b for s in signals if (b := _signal_rows(s, table, columns, rows)) is not None)
    return replace(rows, signals=blocks, force_ref=force_ref), table


def reference_forces(table: pd.DataFrame) -> dict[str, float]:
    """By material the feed force per tooth [N] that gives about the reference chip load H_REF; "" that of all.

    What a sharp and a dull edge take for themselves is a share of it: in N that depends on kerf and metal.
    """
    force = table["feed_force"] / table["teeth_in_cut"] * (H_REF / table["chip_load"]) ** (1 / CHIP_POWER)
    force = force[np.isfinite(force) & (force > 0)]
    if not len(force):
        return {}
    of_each = force.groupby(table["material"]).median()
    return {"": float(force.median())} | {str(name): float(value) for name, value in of_each.items()}


def force_over(force_ref: Mapping[str, float], force: Iterable[float], material: Iterable[str]) -> np.ndarray:
    """Feed forces per tooth [N] (n,) over the reference force of their materials."""
    return np.array([f / force_ref.get(m, force_ref.get("", 1.0)) for f, m in zip(force, material, strict=True)])


def set_chip_load(cuts: pd.DataFrame) -> tuple[pd.Series[float], pd.Series[bool]]:
    """Chip load [um] that was set, where the feed rate was set and written down; else that of travel and time.
    Also where it was set, as a bool for each cut.

    h_set = h F_set / F: the time of a cut must not come back as the cause of its own length.
    """
    ratio = cuts["set_feed_rate"] / cuts["feed_rate"]
    known = (cuts["feed_mode"] == "rate") & np.isfinite(ratio) & (ratio > 0)
    return cuts["chip_load"] * ratio.where(known, 1.0), known


FEWEST = 3  # readings of a signal


def _signal_rows(signal: Signal, table: pd.DataFrame, columns: Mapping[str, Any], rows: Rows) -> SignalRows | None:
    """Rows of one signal, or None where it was measured fewer than FEWEST times."""
    value = table[signal.column].to_numpy(float)
    ok = np.isfinite(value) & table["feed_mode"].map(FED_AS).isin(signal.feeds).to_numpy()
    ok &= (table["exclude"] == "").to_numpy() & table["complete"].to_numpy(bool)
    positive = ok & (value > 0)
    if positive.sum() < FEWEST:
        return None
    floor = 0.5 * value[positive].min()  # a reading of nothing is below half the smallest one seen
    value = np.where(value > 0, value, floor)
    for name in signal.powers:
        ok &= np.isfinite(np.asarray(columns[name], float)) & (np.asarray(columns[name], float) > 0)
    at = np.flatnonzero(ok)
    if len(at) < FEWEST:
        return None
    here = {name: np.asarray(v)[at] for name, v in columns.items()}
    levels = {kind: [n for n in rows.levels[kind] if (here[kind] == n).any()] for kind in ("material", "machine")}
    X = signal_design(signal, here, levels)
    band = rows.band[at]
    heads, y = _heads(band), np.log(value[at])
    y, share = -y if signal.inverse else y, share_design(signal, here)
    return SignalRows(signal.name, at, y, X, band, heads, band[heads], share, rounding(value[at]))


def rounding(values: np.ndarray) -> float:
    """sd that rounding gives the log of the middle one of readings (n,): step / (12^(1/2) reading).

    The step is the smallest difference between two readings; where all are alike it is the reading itself.
    """
    gaps = np.diff(np.unique(values))
    gaps = gaps[gaps > 1e-6 * values.max()]
    step = gaps.min() if len(gaps) else values.max()
    return float(step / np.median(values) / np.sqrt(12))
