"""Draws by Hamiltonian moves of many chains at once, in antithetic pairs that say how far to trust their means.

The target is a log density of z (D, N), near enough to a standard normal one; its slopes are exact. Each chain moves by
the leapfrog along random momenta and takes or refuses the end by Metropolis' rule (Neal, MCMC using Hamiltonian
dynamics, in Handbook of Markov Chain Monte Carlo, 2011). Chains come in pairs that start at z and -z and get momenta p
and -p and the same chance of refusal: what is odd about the centre cancels between the two, so that means are known far
better than from as many chains alone (Piponi, Hoffman, Sountsov, Hamiltonian Monte Carlo swindles, AISTATS 2020).
Pairs know nothing of each other: how their means scatter and last is the error of the mean of all, whatever is inside.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Law = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]
"""A target: of z (D, N) its log density (N,) and the slopes of that (D, N)."""

ACCEPT = 0.8  # share of moves to be taken, to which the step is tuned
LENGTH = 1.5  # of a move, as an angle: nearly a quarter of a turn
MOST_LEAPS = 16
SHORT, SHORTEST = 0.12, 0.03  # share of moves with a shorter step, however long that is: out of where the law is narrow
LEAST_SHARE = 0.25  # of the scatter of pairs, below which moves that turn back and forth are not believed
WORST = -1e280
GRID = 4096.0  # places of a coordinate in one sd of the law, about


class Mover:
    """Chains on a target; `advance` moves them all once."""

    def __init__(
        self,
        target: Law,
        size: int,
        chains: int,
        rng: np.random.Generator,
        spread: float = 1.0,
        step: float | None = None,
    ) -> None:
        self.target, self.rng, self.half = target, rng, chains // 2
        z = spread * rng.standard_normal((size, self.half))
        self.accepted, self.slopes, self.moves = 1.0, 0, 0
        self.step = step or 1.0 / (1 + size) ** 0.25
        self.restart(np.concatenate([z, -z], axis=1))

    def restart(self, z: np.ndarray) -> None:
        """From z (D, N) on, whose density the target may have changed."""
        self.z = on_grid(z)
        self.value, self.slope = self._evaluated(self.z)
        self.slopes += 1

    def _evaluated(self, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Log density and slopes; where either is no number the move is refused, whatever overflowed."""
        with np.errstate(all="ignore"):
            value, slope = self.target(z)
        bad = ~(np.isfinite(value) & np.isfinite(slope).all(axis=0))
        if bad.any():
            value, slope = np.where(bad, WORST, value), np.where(bad, 0.0, slope)
        return value, slope

    def advance(self, tune: float = 0.0) -> float:
        """One move of every chain; tune: how strongly the step follows the acceptance, which is returned."""
        size = min(self.step * (0.85 + 0.3 * self.rng.random()), 1.4)
        leaps = int(np.clip(round(LENGTH * (0.7 + 0.6 * self.rng.random()) / size), 1, MOST_LEAPS))
        shorter = np.where(self.rng.random(self.half) < SHORT, SHORTEST ** self.rng.random(self.half), 1.0)
        angle = size * np.concatenate([shorter, shorter])
        cos, sin = np.cos(angle), np.sin(angle)
        half = self.rng.standard_normal((len(self.z), self.half))
        p = np.concatenate([half, -half], axis=1)
        chance = np.log(self.rng.random(self.half))
        energy = self.value - 0.5 * np.einsum("ij,ij->j", p, p)
        z, slope = self.z.copy(), self.slope
        p += 0.5 * angle * (slope + z)
        for leap in range(leaps):
            z, p = on_grid(cos * z + sin * p), cos * p - sin * z
            value, slope = self._evaluated(z)
            p += (angle if leap < leaps - 1 else 0.5 * angle) * (slope + z)
        ratio = value - 0.5 * np.einsum("ij,ij->j", p, p) - energy
        ratio = np.where(np.isfinite(ratio), ratio, -np.inf)
        taken = np.concatenate([chance, chance]) < ratio
        self.z[:, taken], self.slope[:, taken], self.value[taken] = z[:, taken], slope[:, taken], value[taken]
        usual = np.concatenate([shorter, shorter]) == 1
        if usual.any():  # told to 1/10,000: the step follows it, and the chains follow the step
            self.accepted = round(float(np.exp(np.minimum(ratio[usual], 0.0)).mean()), 4)
        self.slopes += leaps
        self.moves += 1
        if tune:
            self.step = float(np.clip(self.step * np.exp(tune * (self.accepted - ACCEPT)), 0.02, 1.4))
        return self.accepted


def on_grid(values: np.ndarray, step: float | np.ndarray = 1 / GRID) -> np.ndarray:
    """Values on a grid of `step`, a power of two far finer than anything that draws can tell. Processors round the last
    digit of a density each in its own way, and chains would carry that on until they have nothing in common: here it is
    gone at the next place."""
    return np.asarray(np.rint(values / step) * step)


def drift(draws: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How far the later half of the draws (..., n, N) has moved from the earlier, in standard errors by pairs of
    chains; and in sd of the draws: (...,) each."""
    n = draws.shape[-2]
    pairs = _paired(draws[..., n - n // 2 :, :].mean(axis=-2) - draws[..., : n // 2, :].mean(axis=-2))
    error = pairs.std(axis=-1, ddof=1) / np.sqrt(pairs.shape[-1])
    sd = np.maximum(draws.std(axis=(-2, -1)), 1e-300)
    return np.abs(pairs.mean(axis=-1)) / np.maximum(error, 1e-300), np.abs(pairs.mean(axis=-1)) / sd


def effective(draws: np.ndarray) -> np.ndarray:
    """Independent draws that would know the mean of each of (..., n, N) as well; at most ten times as many as these.

    The means of pairs are chains of their own. Their autocovariances about the mean of all, so that a chain that stays
    where it began counts against them, are summed in twos until a sum is negative (Geyer, Practical Markov chain Monte
    Carlo, Statistical Science 7, 1992)."""
    n, N = draws.shape[-2:]
    pairs = _paired(draws)
    pairs = pairs - pairs.mean(axis=(-2, -1), keepdims=True)
    first = np.mean(pairs**2, axis=(-2, -1))
    long_run, least, kept = -first, np.full(first.shape, np.inf), np.ones(first.shape, bool)
    for k in range(0, n - 1, 2):
        two = sum(np.mean(pairs[..., j:, :] * pairs[..., : n - j, :], axis=(-2, -1)) for j in (k, k + 1))
        kept = kept & (two > 0)
        if not kept.any():
            break
        least = np.minimum(least, two)
        long_run = long_run + np.where(kept, 2 * least, 0.0)
    error = np.maximum(long_run, LEAST_SHARE * first) / (n * (N // 2))
    return np.asarray(np.minimum(draws.var(axis=(-2, -1)) / np.maximum(error, 1e-300), 10.0 * n * N))


def _paired(values: np.ndarray) -> np.ndarray:
    """Means of the two chains of each pair (..., N) -> (..., N/2)."""
    half = values.shape[-1] // 2
    return np.asarray(0.5 * (values[..., :half] + values[..., half:]))


STEADY = 10.0  # draws' worth of trust in the mean and the widths as they were


@dataclass(frozen=True)
class Affine:
    """y = centre + L z of z (D, N): L is a triangle (k, k) over the coordinates `turned` (k,), `width` (D,) on the
    others."""

    centre: np.ndarray
    axes: np.ndarray
    width: np.ndarray
    turned: np.ndarray

    @classmethod
    def none(cls, size: int, turned: np.ndarray) -> Affine:
        """y = z of `size` coordinates, of which those at `turned` (k,) may be turned among each other later."""
        return cls(np.zeros(size), np.eye(len(turned)), np.ones(size), turned)

    def __call__(self, z: np.ndarray) -> np.ndarray:
        return np.asarray(self.centre[:, None] + self._times(z, self.axes))

    def carried(self, slopes: np.ndarray) -> np.ndarray:
        """Slopes with z (D, N) of slopes with y (D, N)."""
        return self._times(slopes, self.axes.T)

    def inverse(self, y: np.ndarray) -> np.ndarray:
        """z (D, N) of y (D, N)."""
        rest = y - self.centre[:, None]
        out = rest / self.width[:, None]
        out[self.turned] = np.linalg.solve(self.axes, rest[self.turned])
        return np.asarray(out)

    def _times(self, values: np.ndarray, axes: np.ndarray) -> np.ndarray:
        out = self.width[:, None] * values
        out[self.turned] = axes @ values[self.turned]
        return np.asarray(out)

    def refined(self, z: np.ndarray, alike: float = 1.0) -> Affine:
        """The same, centred, turned and stretched as draws z (D, n) of it say, `alike` of which tell as much as one.

        Their covariance is shrunk to its diagonal, and that to what it was, as if by as many more as there are
        coordinates to turn."""
        at, n = self.turned, z.shape[1] / alike
        mean = z.mean(axis=1) * n / (n + STEADY)
        width = np.sqrt((n * np.maximum(z.std(axis=1), 1e-3) ** 2 + STEADY) / (n + STEADY))
        weight = n / (n + 2 * len(at))
        correlation = np.nan_to_num(np.corrcoef(z[at]).reshape(len(at), len(at)))
        correlation = weight * correlation + (1 - weight) * np.eye(len(at))
        axes = self.axes @ (width[at, None] * np.linalg.cholesky(correlation))
        centre = self.centre + self._times(mean[:, None], self.axes)[:, 0]
        return Affine(centre, axes, self.width * width, at)
