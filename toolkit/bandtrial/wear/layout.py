"""Which number of the parameter vector is what, with its prior."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from typing import Any, NamedTuple

import numpy as np

from ..inference import Prior
from ..published.tables import priors
from .design import GROUPS
from .rows import Rows, SignalRows
from .signals import BY_NAME
from .terms import GROWTH, Adds, Leaves

EDGE_ROWS = {"carbon": "carbon edge", "bimetal": "bimetal edge (high-speed-steel teeth)", "carbide": "carbide edge"}
LEAST_SPREAD = 0.02  # a column of the design whose own spread is below this has not been varied


class Rise(NamedTuple):
    """By how much dulling raises the log of a signal (n, N), its slopes with the edge's growth and with log E, and
    (place, slope) of each parameter: of the growth, for those of the growth, and of the rise, for those of the law."""

    value: np.ndarray
    steep: np.ndarray
    by_log_E: np.ndarray
    of_growth: list[tuple[int, np.ndarray]]
    of_law: list[tuple[int, np.ndarray]]


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

    def growth_values(self, theta: np.ndarray) -> list[np.ndarray | None]:
        """The growth's parameters on their own scale (N,), None where not there; theta (d, N)."""
        return [
            None if place is None else np.exp(np.minimum(theta[place], 50.0)) if p.positive else theta[place]
            for place, p in zip(self.growth, GROWTH.parameters, strict=True)
        ]

    def rise(self, theta: np.ndarray, log_E: np.ndarray, x: np.ndarray) -> Rise:
        """`Rise` of the signal; theta (d, N), log_E (n, N), x (n,)."""
        u, by_log_E, slopes = GROWTH.rise(self.growth_values(theta), log_E, x)
        rise, steep, own = self.law.rise([theta[place] for place in self.of_law], u)
        by_log_E *= steep
        places = [place for place in self.growth if place is not None]
        of_growth, of_law = zip(places, slopes, strict=True), zip(self.of_law, own, strict=True)
        return Rise(rise, steep, by_log_E, list(of_growth), list(of_law))


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
    def names(self) -> list[str]:
        """Names of the parameters, in their order in theta."""
        return [p.name for p in self.priors]

    @cached_property
    def positive(self) -> np.ndarray:
        """Which parameters stand in theta as logs (p,)."""
        return np.array([p.positive for p in self.priors])

    @cached_property
    def pooled_at(self) -> np.ndarray:
        """Places of the effects of all groups."""
        return np.concatenate([group.at for group in self.groups]) if self.groups else np.zeros(0, int)

    @cached_property
    def scatters(self) -> np.ndarray:
        """Places of what says how far things scatter: noises, the spreads of bands and groups, the Weibull shape."""
        own = [self.shape, *([] if self.band_scatter is None else [self.band_scatter])]
        own += [place for block in self.blocks for place in (block.noise, block.band)]
        return np.array([*own, *(group.spread for group in self.groups)])

    @property
    def eta(self) -> slice:
        """Where the log wear life and what moves it stand in theta."""
        return slice(0, len(self.columns))

    @cached_property
    def mean(self) -> np.ndarray:
        """Prior means of theta (p,)."""
        return np.array([p.mean for p in self.priors])

    @cached_property
    def sd(self) -> np.ndarray:
        """Prior sds of theta (p,)."""
        return np.array([p.sd for p in self.priors])

    def coefficients(self, theta: np.ndarray) -> np.ndarray:
        """Coefficients (p, N) of the clock's design; theta (d, N)."""
        eta = theta[self.eta]
        return np.where(self.positive[self.eta, None], np.exp(np.minimum(eta, 50.0)), eta)


def build(rows: Rows, pooled: bool = True) -> Layout:
    """Layout for the arrays of a study; `pooled` False is plain maximum likelihood."""
    names = rows.X.columns
    columns = np.arange(len(names)) if pooled else told_by_ends(rows)
    priors = [_clock_prior(names[c], rows, pooled) for c in columns]

    def place(p: Prior) -> int:
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
def prior(quantity: str, applies_to: str | None = None, name: str | None = None, positive: bool = False) -> Prior:
    """The Prior of one row of published/model_priors.csv: of `quantity`, and `applies_to` where it has several."""
    rows = _prior_rows()[quantity]
    row = next(r for r in rows if applies_to in (None, r["applies_to"]))
    low, typical, high = (float(row[column]) for column in ("low", "typical", "high"))
    about = {column: row[column] for column in ("unit", "source", "how_known")}
    return Prior.from_range(name or quantity, low, typical, high, positive=positive, **about)


@cache
def _prior_rows() -> dict[str, list[dict[str, Any]]]:
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in priors().to_dict("records"):
        row["unit"] = row["unit"] if isinstance(row["unit"], str) else ""
        rows.setdefault(row["quantity"], []).append({str(column): value for column, value in row.items()})
    return rows


def _clock_prior(column: str, rows: Rows, pooled: bool) -> Prior:
    kind, _, inner = column.partition("[")
    if kind in GROUPS:
        spread = prior("spread", kind, positive=True)
        return Prior(column, 0.0, float(np.exp(spread.mean)), source=spread.source, how_known=spread.how_known)
    if kind == "speed_exponent":
        edge = inner.rstrip("]") or rows.levels["edge"][0]
        n = prior("taylor_n", EDGE_ROWS.get(edge, EDGE_ROWS["bimetal"]), positive=True)
        if pooled:
            return replace(n, name=column, mean=-n.mean, unit="")
        m = float(np.exp(-n.mean))
        return replace(n, name=column, mean=m, sd=n.sd * m, positive=False, unit="")
    if kind == "coolant":
        return prior("coolant_effect", name=column)
    if kind == "log_scale":
        return replace(prior("log_scale", positive=True), positive=False, unit="log min")
    return prior(column)


def _level_prior(s: SignalRows, column: str) -> Prior:
    full = f"{s.name}.{column}"
    if column.startswith("level["):
        return prior("signal_level_spread", column[6:].split()[0], name=full)
    if column == "level":
        level = prior(full, positive=True)
        return replace(level, positive=False, unit=f"log {level.unit}")
    return prior(full)


def _signal_block(s: SignalRows, place: Callable[[Prior], int], priors: list[Prior], length: int | None) -> Block:
    """Places and priors of one signal; the break-in's length is shared by all."""
    first, kind = len(priors), BY_NAME[s.name]
    for column in s.X.columns:
        place(_level_prior(s, column))
    beta = slice(first, len(priors))
    shared: dict[str, int | None] = {"break_in_length": length, "dulling_share": None}
    if kind.shares:
        shared["dulling_share"] = place(prior(f"{s.name}.dulling[{kind.shares[1]}]"))
    growth = tuple(
        shared[p.name] if p.name in shared else place(prior(f"{s.name}.{p.name}", positive=p.positive))
        for p in GROWTH.parameters
    )
    law = Leaves() if kind.inverse else Adds()
    of_law = tuple(place(prior(f"{s.name}.{own.name}")) for own in law.parameters)
    noise, band = (place(prior(f"{s.name}.{name}", positive=True)) for name in ("noise", "band"))
    return Block(beta, growth, law, of_law, noise, band)


def told_by_ends(rows: Rows) -> np.ndarray:
    """Columns of the clock that plain maximum likelihood fits: exponents first, groups after, one fewer than
    the bands that ended by wear (but always the scale), in the design's order."""
    kept = varied(rows.X.dense(), rows.X.columns)
    most = max(1, int(rows.worn.sum()) - 1)
    return np.sort(kept[:most])


def varied(X: np.ndarray, names: Sequence[str]) -> np.ndarray:
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
