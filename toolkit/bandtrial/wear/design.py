"""A design matrix whose last columns may be indicators of many groups, kept as numbers of the group of each row."""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

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
