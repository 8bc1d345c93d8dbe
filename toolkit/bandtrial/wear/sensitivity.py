"""What hangs on the priors: what they alone foretell, and which answers would move if one were narrower or wider.

Sensitivity is by reweighting the draws: a draw counts for prior'(theta_i) / prior(theta_i), prior' with half or twice
the standard deviation. It is told only where enough draws still count, n_eff = (sum w)^2 / sum w^2 (A. Gelman et al.,
Bayesian Data Analysis, 3rd ed. 2013, 10.4; N. Kallioinen et al., Detecting and diagnosing prior and likelihood
sensitivity with power-scaling, Statistics and Computing 34 (2024), from memory).
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..inference import Prior, pareto_smooth
from ..words import shown
from .design import GROUPS, L_REF
from .layout import prior
from .terms import LEVEL

if TYPE_CHECKING:
    import pandas as pd

    from ..study.model import Study
    from .fit import Fit

FACTORS = {0.5: "half as wide", 2.0: "twice as wide"}
LEAST, HEAVY = 100.0, 0.7
"""Effective draws below which, and k-hat above which, reweighting tells nothing."""
SHIFT, STRETCH = 0.25, 1.25
"""Of its sd by which a log answer has to shift, and factor by which its sd has to change, to be said to move."""
STEP = 1.2
"""Factor of speed and feed of the settings beside the one cut most."""
DRAWS = 4000


@dataclass(frozen=True)
class Move:
    """An answer that would move: from (low, middle, high) to (new_low, new_middle, new_high), 80 %, if the prior of
    `parameter` were `factor` times as wide; effective draws behind it."""

    parameter: str
    factor: float
    answer: str
    low: float
    middle: float
    high: float
    new_low: float
    new_middle: float
    new_high: float
    effective: float

    def __str__(self) -> str:
        was, new = (f"{shown(m)} ({shown(a)} to {shown(b)})" for a, m, b in
                    ((self.low, self.middle, self.high), (self.new_low, self.new_middle, self.new_high)))  # fmt: skip
        return (
            f"Were the prior of {self.parameter} {FACTORS[self.factor]}, {self.answer} would be {new} instead of {was}."
        )


@dataclass(frozen=True)
class PriorSensitivity:
    """moves: answers that hang on a prior, the greatest shift first; untold: (parameter, factor) of which too few
    draws are left to tell; checked: priors looked at; setting: in words."""

    moves: tuple[Move, ...]
    untold: tuple[tuple[str, float], ...]
    checked: int
    setting: str

    def __str__(self) -> str:
        head = f"{self.checked} priors, each half and twice as wide; answers at {self.setting}."
        lines = [str(move) for move in self.moves] or ["No answer would move by more than a quarter of its doubt."]
        if self.untold:
            names = ", ".join(f"{name} {FACTORS[factor]}" for name, factor in self.untold)
            lines.append(f"Too few draws are left to tell what another prior would do: {names}.")
        return "\n".join([head, *lines])

    def to_json(self) -> dict[str, Any]:
        """For `bandtrial fit --prior-sensitivity --json`."""
        return {
            "priors": self.checked,
            "setting": self.setting,
            "moves": [asdict(move) for move in self.moves],
            "untold": [{"parameter": name, "factor": factor} for name, factor in self.untold],
        }


def prior_sensitivity(fit: Fit) -> PriorSensitivity:
    """Which answers at the setting cut most would move if a prior were half or twice as wide. ValueError without
    priors."""
    if not fit.pooled:
        raise ValueError("A fit without priors has none that could be wider or narrower; fit with priors.")
    grouped = set(fit.layout.pooled_at)
    setting, answers = usual_answers(fit)
    moves, untold = [], []
    for i, p in enumerate(fit.layout.priors):
        for factor in () if i in grouped else FACTORS:
            w, effective = weights(fit.theta[:, i], p.mean, p.sd, factor)
            if effective < LEAST:
                untold.append((p.name, factor))
                continue
            moves += [found for name, draws in answers.items() if (found := _moved(p.name, factor, name, draws, w))]
    moves.sort(key=lambda one: -abs(np.log(one.new_middle / one.middle)))
    return PriorSensitivity(tuple(moves), tuple(untold), len(fit.layout.priors) - len(grouped), setting)


def weights(theta: Any, mean: float, sd: float, factor: float) -> tuple[np.ndarray, float]:
    """Weights (n,), of sum 1, of draws theta (n,) under a normal prior `factor` times as wide, and how many draws they
    are worth; none where their tail is too heavy to tell."""
    z = (np.asarray(theta, float) - mean) / sd
    log_w, k_hat, effective = pareto_smooth(0.5 * z**2 * (1 - 1 / factor**2))
    return np.exp(log_w), effective if k_hat < HEAVY else 0.0


def _moved(parameter: str, factor: float, answer: str, draws: np.ndarray, w: np.ndarray) -> Move | None:
    log = np.log(draws)
    mean, sd = log.mean(), log.std()
    new_mean = float(w @ log)
    new_sd = float(np.sqrt(w @ (log - new_mean) ** 2))
    if abs(new_mean - mean) < SHIFT * sd and sd / STRETCH < new_sd < sd * STRETCH:
        return None
    at, order = np.array([0.5 - LEVEL / 2, 0.5, 0.5 + LEVEL / 2]), np.argsort(draws)
    new = np.interp(at, np.cumsum(w[order]) - 0.5 * w[order], draws[order])
    low, middle, high, new_low, new_middle, new_high = (float(x) for x in (*np.quantile(draws, at), *new))
    effective = float(1 / np.sum(w**2))
    return Move(parameter, factor, answer, low, middle, high, new_low, new_middle, new_high, effective)


def usual_answers(fit: Fit) -> tuple[str, dict[str, np.ndarray]]:
    """The setting cut most in words, and what is asked there, by draw (n,): life in minutes of cutting, and what more
    speed and more feed do to it."""
    kinds = ["machine", "stock", "material", "coolant"]
    groups = fit.data.groupby(kinds, sort=False)
    names, cuts = max(groups, key=lambda group: len(group[1]))
    of: dict[str, Any] = dict(zip(kinds, names, strict=True))
    V, h, L = (float(cuts[name].median()) for name in ("band_speed", "chip_load", "work_thickness"))
    per_contact = float((cuts["band_length"] / cuts["work_thickness"]).median()) if "band_length" in cuts else 1.0
    log_tau = fit.log_tau(np.array([V, STEP * V, V]), np.array([h, h, STEP * h]), np.full(3, L), **of)
    life = np.exp(log_tau[:, 0]) * per_contact
    setting = f"{V:.3g} m/min, {h:.2g} um chips, {L:.3g} mm of {of['material']} on {of['machine']}"
    return setting, {
        "the life of a typical band [min]": life,
        f"its life at {STEP - 1:.0%} more speed, as a share": np.exp(log_tau[:, 1] - log_tau[:, 0]),
        f"its life at {STEP - 1:.0%} more feed, as a share": np.exp(log_tau[:, 2] - log_tau[:, 0]),
        "the Weibull shape of its end": np.asarray(fit.weibull_shape, float),
    }


@dataclass(frozen=True)
class PriorLife:
    """Minutes of cutting that the priors alone expect a band to last at a published start, 90 % of them."""

    machine: str
    stock: str
    thickness: float
    low: float
    middle: float
    high: float

    def __str__(self) -> str:
        low, middle, high = (f"{float(f'{x:.2g}'):,.0f}" for x in (self.low, self.middle, self.high))
        return (
            f"With these priors we would expect a band of {self.stock} on {self.machine} to last {low} to {high} "
            f"minutes of cutting (9 in 10; middle {middle}), at the published start in {self.thickness:g} mm."
        )


@dataclass(frozen=True)
class PriorPredictive:
    """What the priors alone expect of each machine and band stock."""

    lives: tuple[PriorLife, ...]

    def __str__(self) -> str:
        return "\n".join([*map(str, self.lives), "If that is absurd for your shop, the priors do not fit it: say so."])

    def to_json(self) -> dict[str, Any]:
        """For `bandtrial fit --prior-predictive --json`."""
        return {"lives": [asdict(life) for life in self.lives]}


def prior_predictive(study: Study, cuts: pd.DataFrame) -> PriorPredictive:
    """Before the first cut: how long the priors expect bands to last, on each machine and of each stock.

    cuts : study.cut_table of the study: their median thickness stands for the work, 25 mm where there are none
    """
    L = float(cuts["work_thickness"].median()) if len(cuts) else L_REF
    lives = []
    for machine in study.machines.values():
        for stock in study.band_stock.values():
            minutes = lives_by_priors(L, machine.band_length, np.random.default_rng(1))
            low, middle, high = np.quantile(minutes, [0.05, 0.5, 0.95])
            lives.append(PriorLife(machine.id, stock.id, L, float(low), float(middle), float(high)))
    return PriorPredictive(tuple(lives))


def lives_by_priors(thickness: float, band_length: float, rng: np.random.Generator, n: int = DRAWS) -> np.ndarray:
    """Lives (n,) in minutes of cutting at the published start with chips of 10 um, drawn from the priors.

    log life = log_scale - b log(L/25 mm) + u[material] + u[machine] + u[stock] - w + (1/K) log(-log U), in contact
    minutes; over L / band length in minutes of cutting. The edge
    is in the published start.
    """

    def drawn(p: Prior) -> np.ndarray:
        return np.asarray(p.mean + p.sd * rng.standard_normal(n))

    log = drawn(prior("log_scale", positive=True)) - drawn(prior("thickness_exponent")) * np.log(thickness / L_REF)
    for kind in GROUPS:
        log += np.exp(drawn(prior("spread", kind, positive=True))) * rng.standard_normal(n)
    log -= np.exp(drawn(prior("band_scatter", positive=True))) * rng.standard_normal(n)
    log += np.log(-np.log(rng.random(n))) / np.exp(drawn(prior("weibull_shape", positive=True)))
    return np.asarray(np.exp(log) * band_length / thickness)
