"""The designs of the model: of the wear clock, of the level of a signal, of the share in it that dulling has.

A design matrix whose last columns may be indicators of many groups keeps these as numbers of the group of each row.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from .signals import FED_AS, Signal
from .terms import BENDS

Levels = Mapping[str, Sequence[str]]
"""Names of each kind of group, in the order of their columns."""

H_REF, L_REF = 10.0, 25.0  # reference chip load [um] and work thickness [mm] of the wear clock
GROUPS = ("material", "machine", "stock")
MOST_DENSE = 64  # columns up to which the whole matrix is multiplied


@dataclass(frozen=True)
class Design:
    """Columns `core` (n, q) with their names, then one column for each name of each group; `codes` (n,) by group.

    A code of -1 is in none of the group's columns.
    """

    core: np.ndarray
    names: tuple[str, ...]
    groups: tuple[tuple[str, ...], ...] = ()
    codes: tuple[np.ndarray, ...] = ()
    _kept: dict[Any, Any] = field(default_factory=dict, repr=False, compare=False)

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns: the covariates, then the effects of each group."""
        return (*self.names, *(name for group in self.groups for name in group))

    def __len__(self) -> int:
        return len(self.core)

    @property
    def starts(self) -> np.ndarray:
        """First column of each group."""
        return np.cumsum([len(self.names), *(len(g) for g in self.groups)])[:-1]

    def take(self, at: Any) -> "Design":
        """The rows `at`."""
        return replace(self, core=self.core[at], codes=tuple(c[at] for c in self.codes), _kept={})

    def dense(self, at: Any = slice(None), columns: np.ndarray | None = None) -> np.ndarray:
        """The matrix (n, p) of rows `at`, of all columns or those numbered `columns` (rising)."""
        core = self.core[at]
        if columns is None:
            columns = np.arange(len(self.columns))
        out = np.zeros((len(core), len(columns)))
        own = columns < len(self.names)
        out[:, : own.sum()] = core[:, columns[own]]
        for start, codes in zip(self.starts, self.codes, strict=True):
            code = codes[at]
            place = np.searchsorted(columns, code + start)
            ok = (code >= 0) & (place < len(columns))
            ok[ok] &= columns[place[ok]] == (code + start)[ok]
            out[np.flatnonzero(ok), place[ok]] = 1.0
        return out

    def occurring(self, at: Any) -> np.ndarray:
        """Columns (rising) that are not wholly zero in rows `at`: all core ones, and the groups found there."""
        found = [np.arange(len(self.names))]
        for start, codes in zip(self.starts, self.codes, strict=True):
            here = np.unique(codes[at])
            found.append(here[here >= 0] + start)
        return np.concatenate(found)

    @property
    def _all(self) -> np.ndarray | None:
        if "all" not in self._kept:
            self._kept["all"] = self.dense() if len(self.columns) <= MOST_DENSE else None
        whole: np.ndarray | None = self._kept["all"]
        return whole

    def times(self, coefficients: np.ndarray) -> np.ndarray:
        """X c (n, N) of coefficients (p, N)."""
        if self._all is not None:
            return np.asarray(self._all @ coefficients)
        out: np.ndarray = self.core @ coefficients[: len(self.names)]
        for start, group, codes in zip(self.starts, self.groups, self.codes, strict=True):
            with_none = np.vstack([coefficients[start : start + len(group)], np.zeros((1, coefficients.shape[1]))])
            out += with_none[codes]
        return out

    def transposed(self, values: np.ndarray) -> np.ndarray:
        """X' v (p, N) of values (n, N)."""
        if self._all is not None:
            return np.asarray(self._all.T @ values)
        out = np.zeros((len(self.columns), values.shape[1]))
        out[: len(self.names)] = self.core.T @ values
        for number, (start, codes) in enumerate(zip(self.starts, self.codes, strict=True)):
            order, heads, found = self._sorted(number, codes)
            if len(found):
                out[start + found] = np.add.reduceat(values[order], heads, axis=0)
        return out

    def _sorted(self, number: int, codes: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        if number not in self._kept:
            order = np.argsort(codes, kind="stable")
            order = order[np.searchsorted(codes[order], 0) :]
            heads = np.flatnonzero(np.diff(codes[order], prepend=-1))
            self._kept[number] = order, heads, codes[order][heads]
        found: tuple[np.ndarray, np.ndarray, np.ndarray] = self._kept[number]
        return found


def grouped(values: Any, names: Any) -> np.ndarray:
    """Codes (n,) of values in a group's names, None where the group has one name only and needs no column."""
    place = {name: i for i, name in enumerate(names)}
    return np.array([place.get(v, -1) for v in values], int)


def clock_design(cuts: Mapping[str, Any], levels: Levels, edges: Sequence[str]) -> Design:
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


def _groups(
    cuts: Mapping[str, Any], levels: Levels, kinds: Sequence[str], label: str
) -> tuple[tuple[tuple[str, ...], ...], tuple[np.ndarray, ...]]:
    """Names and codes of the columns of groupings; none where one has a single name."""
    kinds = [kind for kind in kinds if len(levels[kind]) > 1]
    names = tuple(tuple(label.format(kind=kind, name=name) for name in levels[kind]) for kind in kinds)
    return names, tuple(grouped(cuts[kind], levels[kind]) for kind in kinds)


def signal_design(signal: Signal, cuts: Mapping[str, Any], levels: Levels) -> Design:
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


def share_design(signal: Signal, cuts: Mapping[str, Any]) -> np.ndarray:
    """Log of the covariate by which the share of dulling changes (n,): 0 at other kinds of feed, or at all."""
    mode, by = signal.shares or ("", "band_speed")
    fed = np.array([FED_AS.get(one, "") == mode for one in cuts["feed_mode"]], bool)
    return np.where(fed, _log_ratio(cuts, by), 0.0)


def _log_ratio(cuts: Mapping[str, Any], name: str) -> np.ndarray:
    """Log of a covariate over its reference (n,)."""
    scale = {
        "band_speed": np.asarray(cuts["published_band_speed"], float),
        "chip_load": H_REF,
        "work_thickness": L_REF,
        "force_per_tooth": 1.0,  # it is over the material's reference force already
    }
    return np.asarray(np.log(np.asarray(cuts[name], float) / scale[name]))
