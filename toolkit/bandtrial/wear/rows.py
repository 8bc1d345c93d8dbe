"""The arrays the model works on: one row per cut in the order the bands were used, one block per signal."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from .design import Design, grouped
from .terms import BENDS

H_REF, L_REF = 10.0, 25.0  # reference chip load [um] and work thickness [mm] of the wear clock
CHIP_POWER = 1.2  # of the feed force, in a chip load: places the reference force, no more (model_priors.csv)
WEAR_ENDS = ("dull", "crooked", "stripped")
BREAK_ENDS = ("broken", "weld_broken")
COOLANTS = ("mist", "air", "dry")  # beside flood
GROUPS = ("material", "machine", "stock")


@dataclass(frozen=True)
class SignalRows:
    """Where one signal was measured: rows (n,) into the cuts, log signal y (n,), its design X, the log of the
    covariate by which the share of dulling changes (n,), 0 where it does not, and what readings written in coarse
    steps add to the scatter of y; weight: of a reading among others that stray with it, 1 where each stands alone."""

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

    def scale(self, noise):
        """Scale of the t law of y: of its noise and of rounding together."""
        return np.hypot(noise, self.rounding)


@dataclass(frozen=True)
class Rows:
    """One study as arrays. Cuts are sorted by band; `heads` marks the first cut of each band.

    contact: contact minutes of the row (n,); left: share of them after the moment of measuring;
    X: design of log tau; worn: band ended by wear (m,).
    """

    contact: np.ndarray
    left: np.ndarray
    X: Design
    band: np.ndarray
    heads: np.ndarray
    worn: np.ndarray
    bands: tuple[str, ...]
    levels: dict  # group kind -> its names, in column order
    signals: tuple[SignalRows, ...] = ()
    force_ref: dict = field(default_factory=dict)  # material -> reference feed force per tooth in the cut [N]

    @cached_property
    def counts(self):
        """Rows of each band (m,)."""
        return np.diff(np.append(self.heads, len(self.contact)))

    @cached_property
    def last(self):
        """Last row of each band (m,)."""
        return np.append(self.heads[1:], len(self.contact)) - 1

    @classmethod
    def of_lives(cls, time, ended, covariates=None):
        """Rows of a life table: each unit a band of one cut, `time` (n,) its contact minutes, `ended` (n,) whether it
        ended by wear; log tau = log_scale + sum c_k covariate_k, `covariates` {name: (n,)}.

        Fitted with `fit_rows(..., priors=False)` it is the Weibull accelerated-life regression of the textbooks."""
        time = np.asarray(time, float)
        n, covariates = len(time), covariates or {}
        design = Design(np.column_stack([np.ones(n), *covariates.values()]), ("log_scale", *covariates))
        levels = {"material": ["m"], "machine": ["s"], "stock": ["b"], "coolant": [], "edge": ["bimetal"]}
        return cls(
            time,
            np.full(n, 0.5),
            design,
            np.arange(n),
            np.arange(n),
            np.asarray(ended, bool),
            tuple(f"B{i}" for i in range(n)),
            levels,
        )

    def of_bands(self, keep):
        """The same study with only the bands `keep` (indices, rising)."""
        ends = np.append(self.heads[1:], len(self.contact))
        at = np.concatenate([np.arange(self.heads[b], ends[b]) for b in keep])
        place = np.full(len(self.contact), -1)
        place[at] = np.arange(len(at))
        band = np.searchsorted(keep, self.band[at])
        blocks = []
        for s in self.signals:
            ok = place[s.rows] >= 0
            here = np.searchsorted(keep, s.bands[ok])
            heads = np.flatnonzero(np.diff(here, prepend=-1))
            blocks.append(
                replace(
                    s,
                    rows=place[s.rows[ok]],
                    y=s.y[ok],
                    X=s.X.take(ok),
                    bands=here,
                    heads=heads,
                    of=here[heads],
                    share=s.share[ok],
                )
            )
        return replace(
            self,
            contact=self.contact[at],
            left=self.left[at],
            X=self.X.take(at),
            band=band,
            heads=np.flatnonzero(np.diff(band, prepend=-1)),
            worn=self.worn[keep],
            bands=tuple(self.bands[b] for b in keep),
            signals=tuple(blocks),
        )

    def totals(self, values):
        """Sum over each band: values (n, ...) -> (m, ...)."""
        return np.add.reduceat(values, self.heads, axis=0)

    def running(self, values):
        """Running sum within each band: values (n, ...) -> (n, ...)."""
        total = np.cumsum(values, axis=0)
        before = total[self.heads] - values[self.heads]
        total -= before.take(self.band, axis=0)
        return total


def clock_design(cuts, levels, edges):
    """Design of log tau, a `Design` of n rows.

    log tau = a0 - m x - a y - b z - bends(x, y) + coolant + u[material] + u[machine] + u[stock],
    bends as in `terms.BENDS`, x = log(V/V*), y = log(h/H_REF), z = log(L/L_REF). `cuts` is a mapping of columns (n,):
    band_speed, published_band_speed, chip_load, work_thickness, coolant, material, machine, stock, edge.
    A material, machine or stock gets a column of its own only where there are two or more.
    """
    x = np.log(np.asarray(cuts["band_speed"], float) / np.asarray(cuts["published_band_speed"], float))
    y = np.log(np.asarray(cuts["chip_load"], float) / H_REF)
    z = np.log(np.asarray(cuts["work_thickness"], float) / L_REF)
    columns, parts = ["log_scale"], [np.ones_like(x)]
    edge = np.asarray(cuts["edge"], object)
    for name in edges:
        columns.append("speed_exponent" if name == edges[0] else f"speed_exponent[{name}]")
        parts.append(-x * (edge == name))
    columns += ["chip_load_exponent", "thickness_exponent", *(bend.name for bend in BENDS)]
    parts += [-y, -z, *(-bend.column(x, y) for bend in BENDS)]
    coolant = np.asarray(cuts["coolant"], object)
    for name in levels["coolant"]:
        columns.append(f"coolant[{name}]")
        parts.append((coolant == name).astype(float))
    return Design(np.column_stack(parts), tuple(columns), *_groups(cuts, levels, GROUPS, "{kind}[{name}]"))


def _groups(cuts, levels, kinds, label):
    """Names and codes of the columns of groupings; none where one has a single name."""
    kinds = [kind for kind in kinds if len(levels[kind]) > 1]
    names = tuple(tuple(label.format(kind=kind, name=name) for name in levels[kind]) for kind in kinds)
    return names, tuple(grouped(cuts[kind], levels[kind]) for kind in kinds)


def signal_design(signal, cuts, levels):
    """Design of a signal's log level; covariates as logs of ratios, edge's inverted."""
    columns, parts = ["level"], [np.ones(len(cuts["band_speed"]))]
    for name in signal.powers:
        columns.append(f"power[{name}]")
        parts.append(_log_ratio(cuts, name))
    if signal.edge:
        columns.append(f"edge[{signal.edge}]")
        parts.append(np.expm1(-_log_ratio(cuts, signal.edge)))
    groups = _groups(cuts, levels, ("material", "machine"), "level[{kind} {name}]")
    return Design(np.column_stack(parts), tuple(columns), *groups)


def share_design(signal, cuts):
    """Log of the covariate by which the share of dulling changes (n,): 0 at other kinds of feed, or at all."""
    mode, by = signal.shares or ("", "band_speed")
    return np.where(np.asarray(cuts["feed_mode"], object) == mode, _log_ratio(cuts, by), 0.0)


def _log_ratio(cuts, name):
    """Log of a covariate over its reference (n,)."""
    scale = {
        "band_speed": np.asarray(cuts["published_band_speed"], float),
        "chip_load": H_REF,
        "work_thickness": L_REF,
        "force_per_tooth": 1.0,  # it is over the material's reference force already
    }
    return np.log(np.asarray(cuts[name], float) / scale[name])


def from_tables(cuts, bands, edge_of, signals, set_only=False):
    """Arrays of a study from its cut table, its band table and the edge of each band stock.

    Filing and polishing, cuts without what the clock needs, and bands without a cut are left out;
    excluded cuts stay in the clock and leave the signals. set_only: take no account of chip loads unless all
    were set and written down. Returns (Rows, sorted cut table).
    """
    import pandas as pd

    chip_load, known = set_chip_load(cuts)
    cuts = cuts.assign(chip_load=chip_load if known.all() or not set_only else H_REF)
    use = (cuts["operation"] == "sawing") & (cuts["contact_minutes"] > 0) & (cuts["chip_load"] > 0)
    code = pd.Categorical(cuts["band"], categories=list(bands["band"])).codes
    use &= code >= 0
    order = np.flatnonzero(use.to_numpy())
    order = order[np.argsort(code[order], kind="stable")]
    table = cuts.iloc[order].reset_index(drop=True)
    code = code[order]
    heads = np.flatnonzero(np.diff(code, prepend=-1))
    band = np.cumsum(np.diff(code, prepend=-1) != 0) - 1
    used = bands.iloc[code[heads]]
    edge_by_row = table["stock"].map(edge_of)
    edges = list(edge_by_row.value_counts().index)
    levels = {kind: list(pd.unique(table[kind])) for kind in ("material", "machine", "stock")}
    levels["coolant"] = [c for c in COOLANTS if (table["coolant"] == c).any()]
    levels["edge"] = edges
    columns = {
        name: table[name].to_numpy()
        for name in (
            "band_speed",
            "published_band_speed",
            "chip_load",
            "work_thickness",
            "coolant",
            "material",
            "machine",
            "stock",
            "feed_force",
            "feed_mode",
        )
    } | {"edge": edge_by_row.to_numpy()}
    force_ref = reference_forces(table)
    columns["force_per_tooth"] = force_over(force_ref, columns["feed_force"] / table["teeth_in_cut"], table["material"])
    X = clock_design(columns, levels, edges)
    pieces = table["pieces"].to_numpy(float)
    rows = Rows(
        table["contact_minutes"].to_numpy(float),
        0.5 / pieces,
        X,
        band,
        heads,
        used["end"].isin(WEAR_ENDS).to_numpy(),
        tuple(used["band"]),
        levels,
    )
    blocks = tuple(b for s in signals if (b := _signal_rows(s, table, columns, rows)) is not None)
    return replace(rows, signals=blocks, force_ref=force_ref), table


def reference_forces(table):
    """By material the feed force per tooth [N] that gives about the reference chip load H_REF; "" that of all.

    What a sharp and a dull edge take for themselves is a share of it: in N that depends on kerf and metal.
    """
    force = table["feed_force"] / table["teeth_in_cut"] * (H_REF / table["chip_load"]) ** (1 / CHIP_POWER)
    force = force[np.isfinite(force) & (force > 0)]
    if not len(force):
        return {}
    return {"": float(force.median()), **force.groupby(table["material"]).median().to_dict()}


def force_over(force_ref, force, material):
    """Feed forces per tooth [N] (n,) over the reference force of their materials."""
    return np.array([f / force_ref.get(m, force_ref.get("", 1.0)) for f, m in zip(force, material, strict=True)])


def set_chip_load(cuts):
    """Chip load [um] that was set, where the feed rate was set and written down; else that of travel and time.
    Also where it was set, as a bool for each cut.

    h_set = h F_set / F: the time of a cut must not come back as the cause of its own length.
    """
    ratio = cuts["set_feed_rate"] / cuts["feed_rate"]
    known = (cuts["feed_mode"] == "rate") & np.isfinite(ratio) & (ratio > 0)
    return cuts["chip_load"] * ratio.where(known, 1.0), known


def _signal_rows(signal, table, columns, rows, least=3):
    """Rows of one signal, or None where it was measured fewer than `least` times."""
    value = table[signal.column].to_numpy(float)
    ok = np.isfinite(value) & table["feed_mode"].isin(signal.feeds).to_numpy()
    ok &= (table["exclude"] == "").to_numpy() & table["complete"].to_numpy(bool)
    positive = ok & (value > 0)
    if positive.sum() < least:
        return None
    floor = 0.5 * value[positive].min()  # a reading of nothing is below half the smallest one seen
    value = np.where(value > 0, value, floor)
    for name in signal.powers:
        ok &= np.isfinite(np.asarray(columns[name], float)) & (np.asarray(columns[name], float) > 0)
    at = np.flatnonzero(ok)
    if len(at) < least:
        return None
    here = {name: np.asarray(v)[at] for name, v in columns.items()}
    levels = {kind: [n for n in rows.levels[kind] if (here[kind] == n).any()] for kind in ("material", "machine")}
    X = signal_design(signal, here, levels)
    band = rows.band[at]
    heads = np.flatnonzero(np.diff(band, prepend=-1))
    sign = -1.0 if signal.inverse else 1.0
    return SignalRows(
        signal.name,
        at,
        sign * np.log(value[at]),
        X,
        band,
        heads,
        band[heads],
        share_design(signal, here),
        rounding(value[at]),
    )


def rounding(values):
    """sd that rounding gives the log of the middle one of readings (n,): step / (12^(1/2) reading).

    The step is the smallest difference between two readings; where all are alike it is the reading itself.
    """
    gaps = np.diff(np.unique(values))
    gaps = gaps[gaps > 1e-6 * values.max()]
    step = gaps.min() if len(gaps) else values.max()
    return float(step / np.median(values) / np.sqrt(12))
