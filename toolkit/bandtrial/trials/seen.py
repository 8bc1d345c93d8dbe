"""The readings a plan will have brought: draw by draw, and how their errors hang together.

Two errors are shared. Readings of one band all carry its own level of a signal. And the wear of a run may not be the
model's (`board.DISCREPANCY`): its growth, and every later reading of that band, is then off by the same share. So the
covariance of the errors is diag(noise) + H H', a column of H for each level of a band and for each run.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Cause:
    """What moves several readings together: a band's own level of one signal, or a run's own wear.

    size : by signal (q,), the sd by which it moves the mean level read from then on
    """

    band: str
    size: np.ndarray


@dataclass(frozen=True)
class Seen:
    """Readings so far: shown (S, d) draw by draw, noise (d,) their own variances, H (d, k), causes of its columns."""

    shown: np.ndarray
    noise: np.ndarray
    H: np.ndarray
    causes: tuple[Cause, ...]

    @classmethod
    def nothing(cls, draws: int) -> Seen:
        """Before any run."""
        return cls(np.zeros((draws, 0)), np.zeros(0), np.zeros((0, 0)), ())

    def and_then(self, choice, i: int, name: str) -> Seen:
        """With the readings of option i added, its band called `name`."""
        q = choice.level.shape[1]
        d = choice.shown.shape[2]
        rise = choice.away[i] * choice.shown[:, i, 1 : 2 * q : 2].mean(axis=0)
        known = any(cause.band == name for cause in self.causes)
        new = [] if known else [Cause(name, level) for level in np.diag(choice.level[i])]
        H = np.zeros((d, len(self.causes) + len(new) + 1))
        for column, cause in enumerate([*self.causes, *new]):
            if cause.band == name:
                H[0 : 2 * q : 2, column] = cause.size
        H[0 : 2 * q : 2, -1], H[1 : 2 * q : 2, -1] = rise / 2, rise
        before = np.pad(self.H, ((0, 0), (0, len(new) + 1)))
        return Seen(
            np.concatenate([self.shown, choice.shown[:, i]], axis=1),
            np.concatenate([self.noise, choice.noise[i]]),
            np.concatenate([before, H]),
            (*self.causes, *new, Cause(name, rise)),
        )

    @property
    def errors(self) -> np.ndarray:
        """Covariance of the readings' errors (d, d)."""
        return np.diag(self.noise) + self.H @ self.H.T
