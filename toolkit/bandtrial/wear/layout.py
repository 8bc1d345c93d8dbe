"""Which number of the parameter vector is what, with its prior."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

import numpy as np

from ..inference import Prior
from ..published.tables import priors
from .rows import GROUPS
from .signals import BY_NAME
from .terms import GROWTH, Adds, Leaves

EDGE_ROWS = {"carbon": "carbon edge", "bimetal": "bimetal edge (high-speed-steel teeth)", "carbide": "carbide edge"}
LEAST_SPREAD = 0.02  # a column of the design whose own spread is below this has not been varied


@dataclass(frozen=True)
class Block:
    """Places of one signal's parameters: its linear ones, those of the edge's growth (None: not there) and of the law
    by which that raises its log, its noise and the spread of the bands' own levels."""

    beta: slice
    growth: tuple[int | None, ...]
    law: Adds | Leaves
    of_law: tuple[int, ...]
    noise: int
    band: int

    def growth_values(self, theta):
        """The growth's parameters on their own scale (N,), None where not there; theta (d, N)."""
        return [
            None if place is None else np.exp(np.minimum(theta[place], 50.0)) if p.positive else theta[place]
            for place, p in zip(self.growth, GROWTH.parameters, strict=True)
        ]

    def rise(self, theta, log_E, x):
        """By how much dulling raises the log of the signal (n, N), its slopes with the edge's growth and with log E,
        and (place, slope) of each parameter: of the growth, for those of the growth, and of the rise, for those of the
        law; log_E (n, N), x (n,)."""
        u, by_log_E, slopes = GROWTH.rise(self.growth_values(theta), log_E, x)
        rise, steep, own = self.law.rise([theta[place] for place in self.of_law], u)
        by_log_E *= steep
        places = [place for place in self.growth if place is not None]
        of_growth, of_law = zip(places, slopes, strict=True), zip(self.of_law, own, strict=True)
        return rise, steep, by_log_E, list(of_growth), list(of_law)


@dataclass(frozen=True)
class Group:
    """Places `at` of the effects of one kind's names (its materials, machines or stocks), and of the log of the spread
    s between them: each is N(0, s^2)."""

    at: np.ndarray
    spread: int


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
    blocks: tuple[Block, ...]
    groups: tuple[Group, ...]
    pooled: bool

    @cached_property
    def names(self):
        """Names of the parameters, in their order in theta."""
        return [p.name for p in self.priors]

    @cached_property
    def positive(self):
        """Which parameters stand in theta as logs (p,)."""
        return np.array([p.positive for p in self.priors])

    @cached_property
    def pooled_at(self):
        """Places of the effects of all groups."""
        return np.concatenate([group.at for group in self.groups]) if self.groups else np.zeros(0, int)

    @cached_property
    def scatters(self):
        """Places of what says how far things scatter: noises, the spreads of bands and groups, the Weibull shape."""
        own = [self.shape, *([] if self.band_scatter is None else [self.band_scatter])]
        own += [place for block in self.blocks for place in (block.noise, block.band)]
        return np.array([*own, *(group.spread for group in self.groups)])

    @property
    def eta(self):
        """Where the log wear life and what moves it stand in theta."""
        return slice(0, len(self.columns))

    @cached_property
    def mean(self):
        """Prior means of theta (p,)."""
        return np.array([p.mean for p in self.priors])

    @cached_property
    def sd(self):
        """Prior sds of theta (p,)."""
        return np.array([p.sd for p in self.priors])

    def coefficients(self, theta):
        """Coefficients (p, N) of the clock's design; theta (d, N)."""
        eta = theta[self.eta]
        return np.where(self.positive[self.eta, None], np.exp(np.minimum(eta, 50.0)), eta)


def build(rows, pooled=True):
    """Layout for the arrays of a study; `pooled` False is plain maximum likelihood."""
    names = rows.X.columns
    columns = np.arange(len(names)) if pooled else told_by_ends(rows)
    priors = [_clock_prior(names[c], rows, pooled) for c in columns]

    def place(p):
        priors.append(p)
        return len(priors) - 1

    groups = []
    for kind in GROUPS:
        at = [i for i, p in enumerate(priors) if p.name.startswith(kind + "[")]
        if pooled and at:
            spread = prior("spread", kind, f"spread[{kind}]", positive=True)
            groups.append(Group(np.array(at), place(spread)))
    shape = place(prior("weibull_shape", positive=True))
    band_scatter = place(prior("band_scatter", positive=True)) if pooled else None
    length = place(prior("break_in_length", positive=True)) if rows.signals else None
    blocks = tuple(_signal_block(s, place, priors, length) for s in rows.signals)
    return Layout(tuple(priors), columns, shape, band_scatter, blocks, tuple(groups), pooled)


@lru_cache(maxsize=1000)
def prior(quantity, applies_to=None, name=None, **kw):
    """The Prior of one row of published/model_priors.csv: of `quantity`, and `applies_to` where it has several."""
    rows = _prior_rows()[quantity]
    row = next(r for r in rows if applies_to in (None, r["applies_to"]))
    return Prior.from_range(
        name or quantity,
        float(row["low"]),
        float(row["typical"]),
        float(row["high"]),
        unit=row["unit"],
        source=row["source"],
        how_known=row["how_known"],
        **kw,
    )


@cache
def _prior_rows():
    rows: dict[str, list[dict]] = {}
    for row in priors().to_dict("records"):
        row["unit"] = row["unit"] if isinstance(row["unit"], str) else ""
        rows.setdefault(row["quantity"], []).append(row)
    return rows


def _clock_prior(column, rows, pooled):
    kind, _, inner = column.partition("[")
    if kind in GROUPS:
        spread = prior("spread", kind, positive=True)
        return Prior(column, 0.0, float(np.exp(spread.mean)), source=spread.source, how_known=spread.how_known)
    if kind == "speed_exponent":
        edge = inner.rstrip("]") or rows.levels["edge"][0]
        n = prior("taylor_n", EDGE_ROWS.get(edge, EDGE_ROWS["bimetal"]), positive=True)
        m = Prior(column, -n.mean, n.sd, True, source=n.source, how_known=n.how_known)
        return (
            m
            if pooled
            else Prior(
                column, float(np.exp(m.mean)), m.sd * float(np.exp(m.mean)), source=n.source, how_known=n.how_known
            )
        )
    if kind == "coolant":
        return prior("coolant_effect", name=column)
    if kind == "log_scale":
        p = prior("log_scale", positive=True)
        return Prior(column, p.mean, p.sd, unit="log min", source=p.source, how_known=p.how_known)
    return prior(column)


def _level_prior(s, column):
    full = f"{s.name}.{column}"
    if column.startswith("level["):
        return prior("signal_level_spread", column[6:].split()[0], name=full)
    if column == "level":
        level = prior(full, positive=True)
        return Prior(
            full, level.mean, level.sd, unit="log " + level.unit, source=level.source, how_known=level.how_known
        )
    return prior(full)


def _signal_block(s, place, priors, length):
    """Places and priors of one signal; the break-in's length is shared by all."""
    first, kind = len(priors), BY_NAME[s.name]
    for column in s.X.columns:
        place(_level_prior(s, column))
    beta = slice(first, len(priors))
    shared = {"break_in_length": length, "dulling_share": None}
    if kind.shares:
        shared["dulling_share"] = place(prior(f"{s.name}.dulling[{kind.shares[1]}]"))
    growth = tuple(
        shared[p.name] if p.name in shared else place(prior(f"{s.name}.{p.name}", positive=p.positive))
        for p in GROWTH.parameters
    )
    law = Leaves() if kind.inverse else Adds()
    of_law = tuple([place(prior(f"{s.name}.{own.name}")) for own in law.parameters])
    noise, band = (place(prior(f"{s.name}.{name}", positive=True)) for name in ("noise", "band"))
    return Block(beta, growth, law, of_law, noise, band)


def told_by_ends(rows):
    """Columns of the clock that plain maximum likelihood fits: exponents first, groups after, one fewer than
    the bands that ended by wear (but always the scale), in the design's order."""
    kept = varied(rows.X.dense(), rows.X.columns)
    most = max(1, int(rows.worn.sum()) - 1)
    return np.sort(kept[:most])


def varied(X, names):
    """Columns of a design X (n, p) that these data vary, taken in order (indices).

    A column is kept when its spread about the columns kept before it (least squares) is at least
    LEAST_SPREAD; bends are left out, so that the law is Taylor's straight line in the logs.
    """
    kept: list[int] = []
    basis = np.empty((X.shape[1], len(X)))  # orthonormal rows that span the columns kept
    for c, name in enumerate(names):
        if "_bend[" in name:
            continue
        before = basis[: len(kept)]
        rest = X[:, c] - (before @ X[:, c]) @ before
        size = np.sqrt(rest @ rest)
        if size >= LEAST_SPREAD * np.sqrt(len(X)):
            basis[len(kept)] = rest / size
            kept.append(c)
    return np.array(kept)
