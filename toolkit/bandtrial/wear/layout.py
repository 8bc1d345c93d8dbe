"""Which number of the parameter vector is what, with its prior."""
from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np

from .. import published
from ..inference import Prior
from .signals import BY_NAME

EDGE_ROWS = {"carbon": "carbon edge", "bimetal": "bimetal edge (high-speed-steel teeth)", "carbide": "carbide edge"}
LEAST_SPREAD = 0.02     # a column of the design whose own spread is below this has not been varied


@dataclass(frozen=True)
class Block:
    """Places of one signal's parameters: its linear ones, then break-in, dulling, noise, band level, the power d of the
    dulling's share (None: the same at all settings), and the bend b of its growth (None: forces add)."""

    beta: slice
    break_in: int
    dulling: int
    noise: int
    band: int
    share: int | None = None
    bend: int | None = None


@dataclass(frozen=True)
class Layout:
    """Parameter vector: names and priors, the clock's columns `eta` of the design, blocks, pooled groups.

    Without priors (`pooled=False`) only the bands' ends are fitted: no signals, no band effects, no pooled
    groups, only the columns of the clock that the ends can tell (`columns` of the design), and Taylor's
    straight line in log speed.
    """

    priors: tuple[Prior, ...]
    columns: np.ndarray
    shape: int
    band_scatter: int | None
    break_in_length: int | None
    blocks: tuple[Block, ...]
    groups: tuple[tuple[np.ndarray, Prior], ...]
    pooled: bool

    @cached_property
    def names(self):
        return [p.name for p in self.priors]

    @cached_property
    def positive(self):
        return np.array([p.positive for p in self.priors])

    @property
    def eta(self):
        return slice(0, len(self.columns))

    @cached_property
    def mean(self):
        return np.array([p.mean for p in self.priors])

    @cached_property
    def sd(self):
        return np.array([p.sd for p in self.priors])


def build(rows, pooled=True):
    """Layout for the arrays of a study; `pooled` False is plain maximum likelihood."""
    columns = np.arange(len(rows.columns)) if pooled else told_by_ends(rows)
    priors = [_clock_prior(rows.columns[c], rows, pooled) for c in columns]
    groups = []
    for kind in ("material", "machine", "stock"):
        at = [i for i, p in enumerate(priors) if p.name.startswith(kind + "[")]
        if pooled and at:
            groups.append((np.array(at), prior("spread", kind, positive=True)))
    shape, band_scatter = len(priors), None
    priors.append(prior("weibull_shape", positive=True))
    if pooled:
        band_scatter = len(priors)
        priors.append(prior("band_scatter", positive=True))
    break_in_length = None
    if rows.signals:
        break_in_length = len(priors)
        priors.append(prior("break_in_length", positive=True))
    blocks = []
    for s in rows.signals:
        blocks.append(_signal_block(s, priors))
    return Layout(tuple(priors), columns, shape, band_scatter, break_in_length, tuple(blocks),
                  tuple(groups), pooled)


@lru_cache(maxsize=1000)
def prior(quantity, applies_to=None, name=None, **kw):
    """The Prior of one row of published/model_priors.csv: of `quantity`, and `applies_to` where it has several."""
    rows = _prior_rows()[quantity]
    row = next(r for r in rows if applies_to in (None, r["applies_to"]))
    return Prior.from_range(name or quantity, float(row["low"]), float(row["typical"]), float(row["high"]),
                            unit=row["unit"], source=row["source"], how_known=row["how_known"], **kw)


@cache
def _prior_rows():
    rows: dict[str, list[dict]] = {}
    for row in published.priors().to_dict("records"):
        row["unit"] = row["unit"] if isinstance(row["unit"], str) else ""
        rows.setdefault(row["quantity"], []).append(row)
    return rows


def _clock_prior(column, rows, pooled):
    kind, _, inner = column.partition("[")
    if kind in ("material", "machine", "stock"):
        spread = prior("spread", kind, positive=True)
        return Prior(column, 0.0, float(np.exp(spread.mean)), source=spread.source, how_known=spread.how_known)
    if kind == "speed_exponent":
        edge = inner.rstrip("]") or rows.levels["edge"][0]
        n = prior("taylor_n", EDGE_ROWS.get(edge, EDGE_ROWS["bimetal"]), positive=True)
        m = Prior(column, -n.mean, n.sd, True, source=n.source, how_known=n.how_known)
        return m if pooled else Prior(column, float(np.exp(m.mean)), m.sd * float(np.exp(m.mean)),
                                      source=n.source, how_known=n.how_known)
    if kind == "coolant":
        return prior("coolant_effect", name=column)
    if kind == "log_scale":
        p = prior("log_scale", positive=True)
        return Prior(column, p.mean, p.sd, unit="log min", source=p.source, how_known=p.how_known)
    return prior(column)


def _signal_block(s, priors):
    first = len(priors)
    for column in s.columns:
        full = f"{s.name}.{column}"
        if column.startswith("level["):
            priors.append(prior("signal_level_spread", column[6:].split()[0], name=full))
        elif column == "level":
            level = prior(full, positive=True)
            priors.append(Prior(full, level.mean, level.sd, unit="log " + level.unit, source=level.source,
                                how_known=level.how_known))
        else:
            priors.append(prior(full))
    beta = slice(first, len(priors))
    places = {}
    for kind in ("break_in", "dulling", "noise", "band"):
        places[kind] = len(priors)
        priors.append(prior(f"{s.name}.{kind}", positive=True))
    share, bend, shares = None, None, BY_NAME[s.name].shares
    if shares:
        share = len(priors)
        priors.append(prior(f"{s.name}.dulling[{shares[1]}]"))
    if BY_NAME[s.name].inverse:
        bend = len(priors)
        priors.append(prior(f"{s.name}.thinning"))
    return Block(beta, places["break_in"], places["dulling"], places["noise"], places["band"], share,
                 bend)


def told_by_ends(rows):
    """Columns of the clock that plain maximum likelihood fits: exponents first, groups after, one fewer than
    the bands that ended by wear (but always the scale), in the design's order."""
    groups = ("material[", "machine[", "stock[")
    order = sorted(range(len(rows.columns)), key=lambda c: (c > 0, rows.columns[c].startswith(groups)))
    kept = varied(rows.X[:, order], [rows.columns[c] for c in order])
    most = max(1, int(rows.worn.sum()) - 1)
    return np.sort(np.array(order)[kept[:most]])


def varied(X, names):
    """Columns of a design X (n, p) that these data vary, taken in order (indices).

    A column is kept when its spread about the columns kept before it (least squares) is at least
    LEAST_SPREAD; curvatures are left out, so that the law is Taylor's straight line in the logs.
    """
    kept: list[int] = []
    basis = np.empty((X.shape[1], len(X)))                 # orthonormal rows that span the columns kept
    for c, name in enumerate(names):
        if "curvature" in name:
            continue
        before = basis[:len(kept)]
        rest = X[:, c] - (before @ X[:, c]) @ before
        size = np.sqrt(rest @ rest)
        if size >= LEAST_SPREAD * np.sqrt(len(X)):
            basis[len(kept)] = rest / size
            kept.append(c)
    return np.array(kept)
