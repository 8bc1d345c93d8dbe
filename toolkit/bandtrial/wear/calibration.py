"""Calibration on a study's own cuts: logs that the priors could have made of them, fitted, and held against what made
them.

Parameters are drawn from the priors, then for each band of the log its own rate, end and readings, on the cuts that
were made: what comes after its end falls away. Of intervals that are right, 4 in 5 hold the truth (S. Talts,
M. Betancourt, D. Simpson, A. Vehtari, A. Gelman, Validating Bayesian inference algorithms with simulation-based
calibration, arXiv 1804.06788). `tests/benchmarks/calibration.py` does the same for shops drawn at random.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from math import comb
from typing import Any

import numpy as np

from ..progress import Progress
from .density import Density
from .layout import Layout, build
from .rows import Rows
from .terms import LEVEL, NU, WEAR_END

LOGS = 20
RARE = 0.05
"""Of the intervals; the chance of so few, or so many, below which it is said to be hardly chance."""
LEAST = 3
"""Readings of each signal without which a drawn log is drawn anew."""
THINNEST = 5.0
"""How many times as thin as its first one a chip at a set force is when a band is taken off."""
DRAWS = 1000
ASKED = {
    "life": "the life of a typical band at the setting cut most", "speed_exponent": "what speed does to it",
    "chip_load_exponent": "what feed does to it", "weibull_shape": "how alike bands live",
}  # fmt: skip


@dataclass(frozen=True)
class Held:
    """Of one quantity: in how many of `logs` its interval held the truth, and shares (logs,) of the draws below it."""

    quantity: str
    held: int
    logs: int
    ranks: tuple[float, ...]

    def __str__(self) -> str:
        few = at_most(self.held, self.logs)
        odd = few < RARE or 1 - at_most(self.held - 1, self.logs) < RARE
        return f"{ASKED[self.quantity]}: {self.held} of {self.logs}{', which is hardly chance' if odd else ''}"


@dataclass(frozen=True)
class Calibration:
    """How the 80 % intervals of logs drawn from the priors held."""

    quantities: tuple[Held, ...]

    def __str__(self) -> str:
        logs = self.quantities[0].logs
        head = f"{logs} logs that the priors could have made of these cuts; the 80 % interval held (4 in 5 should) of"
        return "\n".join([head, *map(str, self.quantities)])

    def to_json(self) -> dict[str, Any]:
        """For `bandtrial fit --calibration --json`."""
        return {"level": LEVEL, "quantities": [asdict(one) for one in self.quantities]}


def at_most(k: int, n: int, p: float = LEVEL) -> float:
    """Chance of k or fewer of n, each with p: binomial.

    >>> round(at_most(6, 14), 4)
    0.0024
    """
    return sum(comb(n, i) * p**i * (1 - p) ** (n - i) for i in range(k + 1))


def calibration(rows: Rows, logs: int = LOGS, seed: int = 1) -> Calibration:
    """`Calibration` of a study's rows (Fit.rows)."""
    from .fitting import fit_rows

    layout, told = build(rows), Progress("fitting logs drawn from the priors")
    usual = _usual(rows)
    shares = []
    try:
        for number in range(logs):
            made, truth = drawn_log(rows, layout, np.random.default_rng([seed, number]))
            told(number / logs, f"log {number + 1} of {logs}")
            theta = fit_rows(made, draws=DRAWS, seed=seed).drawn.theta
            below = asked(theta, layout, usual) < asked(truth[None], layout, usual)
            shares.append((below.sum(axis=1) + 0.5) / (DRAWS + 1))
    finally:
        told.done()
    ranks = np.array(shares).T
    held = (np.abs(ranks - 0.5) < LEVEL / 2).sum(axis=1)
    return Calibration(tuple(Held(name, int(k), logs, tuple(map(float, own)))
                             for name, k, own in zip(ASKED, held, ranks, strict=True)))  # fmt: skip


def _usual(rows: Rows) -> np.ndarray:
    """Design (1, columns) of the setting cut most."""
    X = rows.X.dense()
    kinds, counts = np.unique(X, axis=0, return_counts=True)
    return np.asarray(kinds[[int(np.argmax(counts))]])


def asked(theta: np.ndarray, layout: Layout, usual: np.ndarray) -> np.ndarray:
    """The quantities `ASKED` (4, n) of parameter vectors (n, d), on their working scale."""
    places = [layout.names.index(name) for name in list(ASKED)[1:]]
    return np.vstack([usual @ layout.coefficients(theta.T), theta[:, places].T])


def drawn_log(rows: Rows, layout: Layout, rng: np.random.Generator) -> tuple[Rows, np.ndarray]:
    """Rows as the priors could have made them of the cuts of `rows`, and the parameters that did; drawn anew where a
    signal would be read fewer than LEAST times (which is seen in the log, so that intervals still have to hold)."""
    while True:
        theta = draw_theta(layout, rng)
        w = np.exp(theta[layout.band_scatter]) * rng.standard_normal(len(rows.heads))
        made = made_by(rows, layout, theta, w, rng)
        if all(len(s.y) >= LEAST for s in made.signals):
            return made, theta


def draw_theta(layout: Layout, rng: np.random.Generator) -> np.ndarray:
    """Parameters (d,) drawn from the priors."""
    theta: np.ndarray = layout.mean + layout.sd * rng.standard_normal(len(layout.mean))
    for group in layout.groups:
        theta[group.at] = rng.standard_normal(len(group.at)) * np.exp(theta[group.spread])
    return theta


def made_by(rows: Rows, layout: Layout, theta: np.ndarray, w: np.ndarray, rng: np.random.Generator) -> Rows:
    """Rows with ends and readings that parameters (d,) and bands' log wear rates (m,) made of the cuts of `rows`."""
    life = rng.weibull(WEAR_END.shape(theta[layout.shape])[0], len(rows.heads))
    step = rows.contact * np.exp(w[rows.band] - rows.X.times(layout.coefficients(theta[:, None]))[:, 0])
    E = rows.running(step)
    alive = E - step < life[rows.band]
    dies = alive & (life[rows.band] <= E)
    contact = rows.contact.copy()
    contact[dies] *= ((life[rows.band] - E + step) / step)[dies]
    made = kept(rows, alive, contact, rows.totals(dies) > 0, dies)
    return stopped(with_readings(made, layout, theta, w, rng))


def kept(rows: Rows, alive: np.ndarray, contact: np.ndarray, died: np.ndarray, unread: np.ndarray) -> Rows:
    """The rows `alive` (n,), at least the first of each band, with contact minutes and the bands that wear ended; rows
    `unread` wear but carry no signal: a band's last cut."""
    place = np.cumsum(alive) - 1
    band = rows.band[alive]
    read = [(s, alive[s.rows] & ~unread[s.rows]) for s in rows.signals]
    blocks = [replace(s.taken(ok, place, s.bands[ok]), weight=1.0) for s, ok in read]
    return replace(rows, contact=contact[alive], left=rows.left[alive], X=rows.X.take(alive), band=band, worn=died,
                   heads=np.flatnonzero(np.diff(band, prepend=-1)), signals=tuple(blocks))  # fmt: skip


def with_readings(rows: Rows, layout: Layout, theta: np.ndarray, w: np.ndarray, rng: np.random.Generator) -> Rows:
    """The rows with readings drawn: each band's own level, then Student's t."""
    density, blocks = Density(rows, layout), []
    for i, (s, block) in enumerate(zip(rows.signals, layout.blocks, strict=True)):
        g = np.exp(theta[block.band]) * rng.standard_normal(len(rows.heads))
        mean, _ = density.at_readings(i, theta[:, None], w[:, None], g[:, None])
        noise = s.scale(np.exp(theta[block.noise])) * rng.standard_t(NU, len(mean))
        blocks.append(replace(s, y=mean[:, 0] + noise))
    return replace(rows, signals=tuple(blocks))


def stopped(rows: Rows) -> Rows:
    """The rows up to each band's first chip seen that is THINNEST times as thin as its first one: it is taken off."""
    done = np.zeros(len(rows.contact))
    for s in rows.signals:
        if s.name == "chip_load":
            first = np.zeros(len(rows.heads))
            first[s.of] = s.y[s.heads]
            done[s.rows] = s.y - first[s.bands] > np.log(THINNEST)
    alive = rows.running(done) - done == 0
    died = rows.worn & (rows.totals(~alive) == 0)
    return kept(rows, alive, rows.contact, died, np.zeros(len(alive), bool))
