"""Draws of a study's posterior: Hamiltonian moves of many chains from the top, until pairs of chains agree."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from ..inference import Affine, Mover, drift, effective
from .density import Density
from .mapping import Map
from .rows import Rows
from .top import Top

Seen = Callable[[float, str], None]
"""Called with the share done and what is being done, as the work goes on; may raise to stop it."""

WARM, SETTLE, STRETCH = 10, 6, 8  # moves before and after the map is refined, and of a stretch of draws
LEAST, MOST = 20, 400  # moves whose draws are kept, and after which none is begun
ENOUGH, ENOUGH_OF_ALL = 400, 200  # effective draws asked of the middle parameter, and of the worst
STILL = 4.5  # standard errors that the later half of the draws may have moved from the earlier
AT_ONCE = 160_000  # readings times chains that are worked on at once
LOST = 60.0  # log density below the middle one, beyond which a chain has lost its way
MOST_TURNED = 500  # coordinates that are all turned among each other; of more, the few that many others follow
ALIKE = 4.0  # draws of moves in a row that tell as much as one
REFINED = 2  # times the map is fitted to the chains before any draw is kept
USUAL = 100, 32  # parameters, and pairs of chains
FORGOTTEN = 3  # of the moves kept, the first of so many parts still remembers where the chains began: left out
START = 0.8  # of the map's own scatter, with which chains start


@dataclass(frozen=True)
class Draws:
    """theta (n, d) and what was drawn beside it (n, m, 1 + S): each band's log wear rate and signal levels.

    method: "hamiltonian", or "normal" about the top of a long log; effective: independent draws that would know mean
    and sd of the worst parameter as well (`Told.worst`); drift: of the worst from the earlier to the later half, in
    standard errors; errors (d,): standard errors of the parameters' means; moves: of each chain; slopes: in all.
    """

    theta: np.ndarray
    beside: np.ndarray
    method: str
    effective: float
    drift: float
    errors: np.ndarray
    accepted: float
    moves: int
    slopes: int

    @property
    def good(self) -> bool:
        """Whether averages over the draws can be relied on to a tenth of the scatter."""
        return self.method == "normal" or (self.effective >= 100 and self.drift < 1.5 * STILL)

    @property
    def usable(self) -> bool:
        """Whether the draws say anything at all."""
        return self.method == "normal" or self.effective >= 20


class Target:
    """The density of z by the map, as the chains see it: through an affine map that they teach it."""

    def __init__(self, density: Density, mapping: Map) -> None:
        self.density, self.map = density, mapping
        few = np.union1d(mapping.core, mapping.first)
        self.affine = Affine.none(mapping.size, np.arange(mapping.size) if mapping.size <= MOST_TURNED else few)

    def __call__(self, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        at = self.map.place(self.affine(z))
        value, by_theta, by_w, by_z = self.density.placed(at.theta, at.w, at.levels)
        return value + at.volume, self.affine.carried(self.map.carried(at, by_theta, by_w, by_z))


def sample(density: Density, top: Top, draws: int, rng: np.random.Generator, seen: Seen | None = None) -> Draws:
    """`Draws` of the posterior about its `Top`; seen: called at each move."""
    readings = len(density.rows.contact) + sum(len(s.y) for s in density.rows.signals)
    chains = int(2 ** np.clip(np.floor(np.log2(AT_ONCE / readings)), 4, 6))
    target = Target(density, Map(top, density))
    with np.errstate(all="ignore"):
        mover = Mover(target, target.map.size, chains, rng, START)
        _advance(mover, WARM, 1.2, seen, "finding the width")
        _found_again(mover)
        _refine(mover, target, target.affine(mover.z))
        for _ in range(REFINED):
            z = _advance(mover, SETTLE, 1.0, seen, "settling")
            _refine(mover, target, target.affine(np.concatenate(z, axis=1)), ALIKE)
        return _draws(_drawn(mover, target, seen), target, draws, mover)


def _advance(mover: Mover, moves: int, tune: float, seen: Seen | None, words: str) -> list[np.ndarray]:
    """At least `moves` moves, until the last four were taken as often as they should be; the step follows. Where the
    chains then were (list of (D, N)), the first half left out."""
    taken: list[float] = []
    kept: list[np.ndarray] = []
    while len(taken) < moves or (len(taken) < 6 * moves and not 0.6 < np.mean(taken[-4:]) < 0.9):
        taken.append(mover.advance(tune * max(1 - 0.5 * len(taken) / moves, 0.5)))
        kept.append(mover.z.copy())
        if seen:
            seen(0.25 * min(len(taken) / moves, 1.0), words)
    return kept[len(kept) // 2 :]


def _found_again(mover: Mover) -> None:
    """Chains that have lost their way take the place of one that has not: still the same start for all pairs."""
    lost = mover.value < np.median(mover.value) - LOST - len(mover.z)
    if lost.any():
        sound = np.flatnonzero(~lost)
        mover.z[:, lost] = mover.z[:, sound[np.arange(lost.sum()) % len(sound)]]
        mover.restart(mover.z)


def _refine(mover: Mover, target: Target, places: np.ndarray, alike: float = 1.0) -> None:
    """Fit the affine map to places (D, n) that chains were at; the chains stay where they are."""
    there = target.affine(mover.z)
    target.affine = target.affine.refined(target.affine.inverse(places), alike)
    mover.restart(target.affine.inverse(there))


class Told(NamedTuple):
    """Of each parameter (d,) the draws that know its mean, and those that know mean and sd as well, independent; drift
    of the worst, in standard errors, where it is over a twentieth of its sd: of many parameters, or told by few pairs
    of chains, the worst is far off by chance, so that it is as many as would be as rare among USUAL of each."""

    of_mean: np.ndarray
    effective: np.ndarray
    drift: float

    @property
    def worst(self) -> float:
        """Effective draws of the worst parameter; of hundreds, of all but one in a hundred."""
        few = len(self.effective) // 100
        return float(np.partition(self.effective, few)[few])

    @property
    def enough(self) -> bool:
        """Whether the draws tell what is asked of them."""
        return bool(np.median(self.effective) >= ENOUGH and self.worst >= ENOUGH_OF_ALL and self.drift < STILL)


def told(z: np.ndarray) -> Told:
    """What draws (d, n, N) say of themselves: `Told`.

    Pairs of chains know means far better than they know how wide the draws scatter, so that the worse counts: as n
    draws know a mean to sd / n^(1/2) and a sd to sd / (2 n)^(1/2), twice those that know the squares about the mean."""
    errors, sds = drift(z)
    squares = (z - z.mean(axis=(-2, -1), keepdims=True)) ** 2
    of_mean = effective(z)
    worst = np.max(np.where(sds > 0.05, errors, 0.0))
    return Told(of_mean, np.minimum(of_mean, 2 * effective(squares)), _usual(float(worst), len(z), z.shape[-1] // 2))


def _usual(drift: float, parameters: int, pairs: int) -> float:
    """The drift that is as rare among USUAL parameters, told by as many pairs of chains, as `drift` is of these."""
    many = max(parameters / USUAL[0], 1.0)
    if (many, pairs) == (1.0, USUAL[1]):
        return drift
    from scipy.special import stdtr, stdtrit  # most logs do without: its import takes as long as half a fit

    return -float(stdtrit(USUAL[1] - 1, min(many * stdtr(pairs - 1, -drift), 0.5)))


class Moves(NamedTuple):
    """Places (D, n, N) and parameters (d, n, N) that chains moved to, and what the latter say of themselves."""

    places: np.ndarray
    theta: np.ndarray
    known: Told


def _drawn(mover: Mover, target: Target, seen: Seen | None) -> Moves:
    """The moves kept, in stretches until they say enough; the affine map is fitted anew each time that they have
    doubled."""
    kept: list[np.ndarray] = []
    thetas: list[np.ndarray] = []
    settled, refine = mover.moves, LEAST
    while True:
        for _ in range(max(STRETCH, len(kept) // 5) if kept else LEAST):
            mover.advance(tune=1 / (2 + mover.moves - settled))
            kept.append(target.affine(mover.z))
            thetas.append(target.map.theta(kept[-1][target.map.slices[0]]))
            if seen:
                seen(0.25 + 0.75 * min(len(kept) / LEAST / 2, 0.99), "drawing")
        sound = len(kept) // FORGOTTEN
        theta = np.stack(thetas[sound:], axis=1)
        known = told(theta)
        if known.enough or len(kept) >= MOST:
            return Moves(np.stack(kept[sound:], axis=1), theta, known)
        if len(kept) >= refine:
            _refine(mover, target, np.concatenate(kept, axis=1), ALIKE)
            settled, refine = mover.moves, 2 * len(kept)


def _draws(moves: Moves, target: Target, draws: int, mover: Mover) -> Draws:
    """As many `Draws` as asked for, evenly from all moves and chains."""
    places, theta, known = moves
    D, n, N = places.shape
    take = np.linspace(0, n * N - 1, draws).round().astype(int)
    parts = [_effects(target, part) for part in np.array_split(places.reshape(D, -1)[:, take], -(-draws // N), axis=1)]
    placed, *beside = (np.concatenate(each, axis=1) for each in zip(*parts, strict=True))
    return Draws(
        theta=placed.T.copy(),
        beside=np.stack([own.T for own in beside], axis=2),
        method="hamiltonian",
        effective=known.worst,
        drift=known.drift,
        errors=theta.std(axis=(1, 2)) / np.sqrt(np.maximum(known.of_mean, 1.0)),
        accepted=mover.accepted,
        moves=mover.moves,
        slopes=mover.slopes * N,
    )


def _effects(target: Target, places: np.ndarray) -> list[np.ndarray]:
    """Parameters (d, n), log wear rates (m, n) and the levels of each signal (m, n) at places (D, n)."""
    at = target.map.place(places)
    return [at.theta, at.w, *target.density.levels(at.theta, at.w, at.levels)]


def normal(density: Density, top: Top, draws: int, rng: np.random.Generator) -> Draws:
    """`Draws` from the normal law about the top, band effects at theirs: for long logs, unchecked by weights."""
    mapping = Map(top, density)
    d = len(top.theta)
    half = rng.standard_normal((d, (draws + 1) // 2))
    theta = mapping.theta(np.concatenate([half, -half], axis=1)[:, :draws])
    effects = np.stack([top.w, *top.g], axis=1)[None]
    return Draws(theta.T.copy(), effects, "normal", float(draws), 0.0, theta.std(axis=1) / np.sqrt(draws), 1.0, 0, 0)


def correlated(density: Density, top: Top) -> Rows:
    """The study's rows with each signal's `weight`: below 1 where residuals of a band run together along it.

    With a correlation r between neighbours, n readings tell a mean as (1 - r)/(1 + r) n readings would that stand
    alone (first-order autoregression; Priestley, Spectral Analysis and Time Series, 1981, 5.3, from memory). r is that
    of the scores at the top, less what chance would give it.
    """
    signals = []
    for i, s in enumerate(density.rows.signals):
        mean, _ = density.at_readings(i, top.theta[:, None], top.w[:, None], top.g[i][:, None])
        scale = s.scale(np.exp(min(top.theta[density.layout.blocks[i].noise], 20.0)))
        rest = (s.y - mean[:, 0]) / scale
        score = rest / (1 + rest * rest / 5)
        same = np.diff(s.bands) == 0
        total = float(np.sum(score * score))
        r = float(np.sum(score[1:] * score[:-1] * same)) / max(total, 1e-300)
        n, bands = len(score), len(s.of)
        r = max(r + bands / max(n, 1) - 1.3 / np.sqrt(max(same.sum(), 1)), 0.0) if same.any() else 0.0
        signals.append(replace(s, weight=round(float(np.clip((1 - r) / (1 + r), 0.15, 1.0)), 3)))
    return replace(density.rows, signals=tuple(signals))
